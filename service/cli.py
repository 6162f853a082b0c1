"""The ``custody`` command, joined. Exit status 0, 1 (found wrong), 2 (usage)."""

from service.commands import (
    evidence,
    finding,
    keeping,
    papers,
    recording,
    serving,
    setting_up,
    verifying,
)
from service.commands.frame import app

__all__ = [
    "app",
    "evidence",
    "finding",
    "keeping",
    "papers",
    "recording",
    "serving",
    "setting_up",
    "verifying",
]
