"""Storage: the only folder that knows SQL. Events are appended; everything else is a projection."""
