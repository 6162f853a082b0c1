"""The JSON doors under ``/v1``: they read requests, call a duty and write answers; no rule is here.

``routers`` is all that the application takes from this folder, beside what guards the doors.
"""
