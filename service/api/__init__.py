"""The JSON doors under ``/v1``: they read requests, call a duty and write answers; no rule here."""
