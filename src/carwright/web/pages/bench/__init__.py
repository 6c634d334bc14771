"""The bench: a car in hand, its drawing to touch, and a pad to put down what was read."""
