"""Notices of what is due, late or wrong, as letters and as signed requests to other programs."""
