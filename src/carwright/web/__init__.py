"""The web app: the same histories at the bench, on a phone in one hand; every page is a folder under ``pages``."""
