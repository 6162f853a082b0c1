"""One small function a rule: each takes a case and yields the violations it finds."""
