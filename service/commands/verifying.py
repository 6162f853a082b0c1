"""Check a bundle, by who holds nothing but it and a public key."""

import json
import re
from contextlib import ExitStack
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from service.bundles.archive import BundleError
from service.bundles.verify import Check, verify
from service.commands.frame import JsonOption, app
from service.ledger.checkpoint import CheckpointError, parse
from service.ledger.note import NoteError, Verifier, note_text
from service.terminal import FOUND_WRONG, console, read_text, stop

_WORDS = {True: "holds", False: "FAILS", None: "not checked"}
_WARNING = "WARNING"
_SIGNED = re.compile(r"\n\n(?:— \S+ \S+\n)+\Z")
_LOOKS = (
    (r"-----BEGIN [A-Z ]*PRIVATE KEY-----", "a secret key: keep it from everybody"),
    (r"-----BEGIN PUBLIC KEY-----", "a public key as OpenSSL writes it (.pem), without a name"),
    (r"\Akey change of a custody log\n", "a note of a changed key"),
    (r"\Awaste custody bundle of ", "the contents.txt of a bundle"),
    (r"\A\S+\n\d+\n\S{44}\n\n— ", "a signed checkpoint"),
    (r"\A\S+\n\d+\n\S{44}\n\Z", "a checkpoint without a signature"),
    (r"\A\S+\+[0-9a-f]{8}\+\S+\s*\Z", "a key in one line (.vkey)"),
    (r"\A\s*\{", "an answer in JSON: give the text that is in it"),
    (r"\r\n", "a text whose line ends were changed on the way, to CR LF"),
)
"""What a file may be that is given in place of another, by what stands in it."""
_OWN_KEY = (
    "Without --key all that is shown is that the bundle agrees with itself. Compare the key above "
    "with the one you were given by another way."
)


@app.command(name="verify")
def verify_(
    file: Annotated[Path, typer.Argument(help="Bundle of a quarter, .zip.")],
    key: Annotated[Path | None, typer.Option(help="File of the key you trust, a .vkey.")] = None,
    checkpoint: Annotated[
        list[Path] | None, typer.Option(help="Signed checkpoint that you hold; may be repeated.")
    ] = None,
    previous: Annotated[Path | None, typer.Option(help="Bundle of the quarter before.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Check a quarter's bundle offline, trusting nobody; exit 1 if anything does not hold."""
    trusted = _key(key) if key else None
    notes = [_checkpoint(path) for path in checkpoint or []]
    found: list[Check] = []
    try:
        with ExitStack() as opened:
            bundle = opened.enter_context(file.open("rb"))
            before = opened.enter_context(previous.open("rb")) if previous else None
            for check in verify(bundle, key=trusted, checkpoints=notes, previous=before):
                found.append(check)
                if not as_json:
                    word = _WARNING if check.warns else _WORDS[check.holds]
                    typer.echo(f"{word:11}  {check.name}: {check.said}")
    except BundleError as error:
        stop(f"{file}: {error}")
    except OSError as error:
        stop(f"{error.filename} cannot be read: {error.strerror}")
    if as_json:
        typer.echo(json.dumps([asdict(check) for check in found], ensure_ascii=False))
    else:
        _conclude(found, own_key=key is None)
    raise typer.Exit(FOUND_WRONG if any(check.holds is False for check in found) else 0)


def _conclude(found: list[Check], *, own_key: bool) -> None:
    holds, fails, unknown = (sum(c.holds is said for c in found) for said in (True, False, None))
    warn = f" Read what is marked {_WARNING}." if any(check.warns for check in found) else ""
    typer.echo(f"{holds} hold, {fails} fail, {unknown} could not be checked.{warn}")
    if own_key:
        console.print(_OWN_KEY, highlight=False, soft_wrap=True)


def _key(path: Path) -> Verifier:
    text = read_text(path)
    try:
        return Verifier.parse(text)
    except NoteError as error:
        guessed = "" if text.count("+") > 1 and len(text.splitlines()) == 1 else _guessed(text)
        stop(
            f"{path} is no key in one line, name+id+key: {guessed or error}. Give the line of "
            "NAME.vkey, as the facility made it with 'custody key show > NAME.vkey'"
        )


def _checkpoint(path: Path) -> str:
    text = read_text(path)
    try:
        parse(note_text(text))
    except CheckpointError as error:
        stop(f"{path} is no signed checkpoint: {_guessed(text) or error}")
    if not _SIGNED.search(text):
        stop(f"{path} is no signed checkpoint: it has no signature below an empty line")
    return text


def _guessed(text: str) -> str:
    """Say what a file is that was given in place of another, if that can be seen."""
    found = (what for pattern, what in _LOOKS if re.search(pattern, text))
    return next((f"this looks like {what}" for what in found), "")
