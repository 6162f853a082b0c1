"""The ``custody`` command, joined. Exit status 0, 1 (found wrong), 2 (usage)."""

from service.commands import (
    cycles,
    devices,
    evidence,
    finding,
    judging,
    keeping,
    notifying,
    papers,
    people,
    planning,
    recording,
    returns,
    serving,
    setting_up,
    verifying,
)
from service.commands.frame import app

__all__ = [
    "app",
    "cycles",
    "devices",
    "evidence",
    "finding",
    "judging",
    "keeping",
    "notifying",
    "papers",
    "people",
    "planning",
    "recording",
    "returns",
    "serving",
    "setting_up",
    "verifying",
]
