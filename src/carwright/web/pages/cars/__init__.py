"""All cars, with search and status."""
