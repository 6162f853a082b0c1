"""The ``custody`` command, joined. Exit status 0, 1 (found wrong), 2 (usage)."""

from service.commands import finding, papers, recording, serving, setting_up
from service.commands.frame import app

__all__ = ["app", "finding", "papers", "recording", "serving", "setting_up"]
