"""The verdict: status, points with the chain of every one, and what would change it."""
