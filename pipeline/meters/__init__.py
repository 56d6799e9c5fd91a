"""Interval readings of electricity accounts: read, searched for day burning, and laid beside the calls."""
