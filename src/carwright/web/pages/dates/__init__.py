"""Evidence and dates: tick what is seen, and the time line answers."""
