"""PURE: when stores break a limit or fill up, and the fewest pick-ups that prevent it."""
