"""Who may come in and what may be sent: each check a layer of its own around the app."""
