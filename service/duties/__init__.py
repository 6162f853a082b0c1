"""The duties: one file a role or task, one function a verb, one transaction a function."""
