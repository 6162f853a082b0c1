"""PURE: rates, intervals, control charts, balances and unusual drops: no I/O, no clock."""
