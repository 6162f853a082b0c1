"""The quarter's record as paper and files, from values alone: no queries and no clock."""
