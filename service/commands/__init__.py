"""The ``custody`` command, a file for each group: they parse, call a duty, and print."""
