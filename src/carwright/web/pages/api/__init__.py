"""The interface for programs, and for what the pages ask behind a person's back."""
