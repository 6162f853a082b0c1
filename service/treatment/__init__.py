"""The numbers behind a treatment cycle, pure: what a trace, a gas reading or a mix shows."""
