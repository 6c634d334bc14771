"""All that is published of a car: looked at here, and taken away as files."""
