"""Checks of the statistics."""
