"""Taking cars in: a new one, a bench sheet, or a table of readings."""
