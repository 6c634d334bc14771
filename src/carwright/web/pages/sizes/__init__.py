"""Facts of a car: its name, its rules, its sizes and its prototype."""
