"""Checks of the planning."""
