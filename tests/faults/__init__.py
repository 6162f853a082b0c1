"""Faults on purpose: the process killed, the power cut, the disk failing, clients hanging up.

The ordinary test run tries a few of each. ``python -m tests.faults --kills 1000`` tries many.
"""
