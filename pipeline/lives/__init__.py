"""Incidents and the register -> lives, fits, curves and rates."""
