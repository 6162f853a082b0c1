"""The ``custody`` command as it is started: only the file of the command that is named is loaded.

A service that is started anew, and a person who asks for help, wait for nothing they do not need.
"""

import gc
import sys
from importlib import import_module

import typer

HELP = "Register, label, hand over, treat and account for biomedical waste."
COMMANDS = {
    "access-log": (
        "devices",
        "Read who came in, who was turned away, what was changed and what went out.",
    ),
    "admit": ("devices", "Let a program in: prints its token, once."),
    "backup": ("keeping", "Copy the record into one file, checked, while the service runs."),
    "check": (
        "keeping",
        "Check the record against itself and what was signed; exit 1 if anything does not hold.",
    ),
    "checkpoint": (
        "evidence",
        "Sign the log as it stands; exit 1 if entries that were signed are lost or changed.",
    ),
    "cycle": ("cycles", "Cycles of treatment machines: runs, their evidence, their verdict."),
    "demo": (
        "serving",
        "Live through a quarter at an invented hospital: record, find, print, account, serve.",
    ),
    "device": ("devices", "Devices that many share, and programs."),
    "epcis": ("papers", "Write what happened in a period as GS1 EPCIS 2.0 events."),
    "import": (
        "recording",
        "Import events from a list kept elsewhere; may be run again at any time.",
    ),
    "judge": (
        "judging",
        "Judge a sensor trace by a regime: pass, fail or unknown; exit 1 unless it passes.",
    ),
    "key": ("evidence", "The key that signs a facility's log."),
    "label-key": ("devices", "The key that shows a label is ours."),
    "labels": (
        "recording",
        "Print labels: blank and pre-numbered, or filled for containers that are registered.",
    ),
    "manifest": (
        "papers",
        "Write the manifest of a quarter: a .zip that proves itself, or one .pdf, .xlsx or .csv.",
    ),
    "move": (
        "keeping",
        "Copy the whole record into an empty database of either kind, and show it is the same.",
    ),
    "notices": ("notifying", "Notices to people and programs outside."),
    "people": ("people", "Who may sign in, with what role and reach."),
    "plan": (
        "planning",
        "Plan the fewest pick-ups that keep every holding limit; exit 1 if one cannot be kept.",
    ),
    "rebuild": ("setting_up", "Derive containers, deadlines and violations anew from the record."),
    "regimes": ("finding", "List the regimes that come with the service, or show one."),
    "restore": (
        "keeping",
        "Put a backup in the record's place; exit 1 if entries that were signed are not in it.",
    ),
    "returns": ("returns", "List the returns that are due, or fill one from the record."),
    "revoke": (
        "devices",
        "End every token and code of a device or program at once, and the sessions on it.",
    ),
    "serve": ("serving", "Serve the interface (JSON under /v1, its description at /openapi.json)."),
    "setup": (
        "setting_up",
        "Set up a facility from a file or by questions, or change it and judge anew.",
    ),
    "verify": (
        "verifying",
        "Check a quarter's bundle offline, trusting nobody; exit 1 if anything does not hold.",
    ),
    "violations": (
        "finding",
        "List what is late, wrong, unsafe or lost, and what to do next; exit 1 if anything is.",
    ),
    "witness": ("evidence", "Sign another's log if it only grew."),
}
"""Every command with the file in ``service.commands`` that has it, and what it says of itself."""


def custody() -> None:
    """Run the command that the arguments name; without one, show what there is."""
    named = sys.argv[1] if len(sys.argv) > 1 else "--help"
    if named == "--help":
        _listed()(["--help"])
    file, _ = COMMANDS.get(named, ("", ""))
    # What is loaded stays: to look for garbage among it took a tenth of the start, and later 0.1 s
    # of the running service at each look.
    gc.disable()
    # Of a word that is no command all are loaded: one of them may have been meant.
    import_module(f"service.commands.{file}" if file else "service.cli")
    app = import_module("service.commands.frame").app
    gc.freeze()
    gc.enable()
    app()


def _listed() -> typer.Typer:
    """Give the commands by name alone, to be listed."""
    listed = typer.Typer(name="custody", help=HELP, add_completion=False)
    listed.callback()(lambda: None)
    for name, (_, said) in COMMANDS.items():
        listed.command(name, help=said)(lambda: None)
    return listed
