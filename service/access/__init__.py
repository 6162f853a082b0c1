"""PURE: who may do what, how they prove who they are, and the log of it: no I/O, no clock."""
