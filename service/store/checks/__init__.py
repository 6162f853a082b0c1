"""What of a database can be checked against itself."""
