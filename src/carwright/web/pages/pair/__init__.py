"""Pairing: a device on the house network gives the code once."""
