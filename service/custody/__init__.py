"""The rules of the trade: pure functions and values, no clock, no file, no database."""
