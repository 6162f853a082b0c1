"""Check a bundle, by who holds nothing but it and a public key."""

import json
from contextlib import ExitStack
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from service.bundles.archive import BundleError
from service.bundles.verify import Check, verify
from service.commands.frame import JsonOption, app
from service.ledger.note import NoteError, Verifier
from service.terminal import FOUND_WRONG, console, read_text, stop

_WORDS = {True: "holds", False: "FAILS", None: "not checked"}
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
    notes = [read_text(path) for path in checkpoint or []]
    found: list[Check] = []
    try:
        with ExitStack() as opened:
            bundle = opened.enter_context(file.open("rb"))
            before = opened.enter_context(previous.open("rb")) if previous else None
            for check in verify(bundle, key=trusted, checkpoints=notes, previous=before):
                found.append(check)
                if not as_json:
                    typer.echo(f"{_WORDS[check.holds]:11}  {check.name}: {check.said}")
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
    typer.echo(f"{holds} hold, {fails} fail, {unknown} could not be checked.")
    if own_key:
        console.print(_OWN_KEY, highlight=False, soft_wrap=True)


def _key(path: Path) -> Verifier:
    try:
        return Verifier.parse(read_text(path))
    except NoteError as error:
        stop(f"{path} is no key in one line, name+id+key: {error}")
