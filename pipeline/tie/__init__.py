"""Calls tied to their place, read, and gathered into incidents."""
