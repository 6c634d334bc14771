"""One module a revision, named by it."""
