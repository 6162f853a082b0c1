"""The text for who has no tool: each command runs as it stands, and finds what was planted."""

import re
import subprocess
from base64 import b64decode
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from service.bundles import names
from service.ledger.merkle import leaf_hash
from service.ledger.note import Verifier
from tests.bundles.made import (
    Q3,
    Record,
    before_and_after,
    bundle,
    files_of,
    later,
    rotated,
    signed_anew,
    signer,
    whole,
)

STEP = re.compile(r"([1-5])  THE ")


def followed(made: dict[str, bytes], folder: Path) -> tuple[int, int, str]:
    """Unpack, type what the text says; give exit status, last step begun, and output."""
    for name, content in made.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(content)
    typed = []
    for line in made[names.HOW_TO].decode().splitlines():
        step = STEP.match(line)
        typed += [f"echo STEP {step[1]}"] if step else []
        typed += [line[4:]] if line.startswith("    ") else []
    run = subprocess.run(
        ["bash", "-c", "\n".join(typed)],
        cwd=folder,
        capture_output=True,
        text=True,
        env={"PATH": "/usr/bin:/bin", "TMPDIR": str(folder.parent)},
    )
    said = run.stdout + run.stderr
    steps = re.findall(r"STEP ([1-5])", said)
    return run.returncode, int(steps[-1]) if steps else 0, said


def nothing_recorded() -> tuple[Record, bytes]:
    """A quarter in which nothing was recorded yet."""
    log, _ = before_and_after()
    return log, bundle(log, Q3)


@pytest.mark.parametrize("which", [whole, later, rotated, nothing_recorded])
def test_every_command_of_the_text_holds_on_a_good_bundle(
    which: Callable[[], tuple[Any, ...]], tmp_path: Path
) -> None:
    """From the log's beginning, from its middle, with changed keys, and with no entry at all."""
    log, *_, made = which()
    status, step, said = followed(files_of(made), tmp_path / "bundle")
    assert (status, step) == (0, 5), said
    assert "All of this holds." in said
    assert log.signers[-1].verifier.vkey in said
    assert said.count("Signature Verified Successfully") == 1 + len(log.signers)


def planted(name: str) -> tuple[dict[str, bytes], int]:
    """A bundle with a change of a kind, and the step that must find it."""
    log, _, made = later()
    files = files_of(made)
    lines = files[names.ENTRIES].splitlines(keepends=True)
    own = log.signers[0]
    match name:
        case "a file changed":
            files["csv/open.csv"] += b"one more\r\n"
            return files, 1
        case "a file laid beside":
            return files | {"csv/more.csv": b""}, 1
        case "signed by another key":
            return files_of(signed_anew(files, signer(own.name, 9))), 2
        case "an entry changed":
            lines[40] = lines[40].replace(b'"actor":"', b'"actor":"x')
        case "an entry left out":
            del lines[40]
        case "an entry changed and its hash with it" | "an entry left out and its hash with it":
            lines[40] = lines[40].replace(b'"actor":"', b'"actor":"x')
            if "left out" in name:
                del lines[40]
            hashes = [leaf_hash(line[:-1]).hex() for line in lines]
            files[names.LEAVES] = "".join(f"{one}\n" for one in hashes).encode()
        case "what was before changed":
            files[names.BEFORE] = files[names.BEFORE].replace(b"a", b"b", 1)
        case _:
            files["csv/by-unit.csv"] = files["csv/by-unit.csv"].replace(b",0\r\n", b",1\r\n", 1)
    files[names.ENTRIES] = b"".join(lines)
    step = 3 if name in ("an entry changed", "an entry left out") else 4
    return files_of(signed_anew(files, own)), 5 if name == "a total changed" else step


@pytest.mark.parametrize(
    "name",
    [
        "a file changed",
        "a file laid beside",
        "signed by another key",
        "an entry changed",
        "an entry left out",
        "an entry changed and its hash with it",
        "an entry left out and its hash with it",
        "what was before changed",
        "a total changed",
    ],
)
def test_a_planted_change_is_found_by_the_commands(name: str, tmp_path: Path) -> None:
    """By the step that is there for it, though all before it was listed and signed anew."""
    files, expected = planted(name)
    status, step, said = followed(files, tmp_path / "bundle")
    assert status != 0
    assert step == expected, said
    assert "All of this holds." not in said


def test_the_text_fits_a_terminal_and_warns() -> None:
    """No line is too wide; personal data, local codes and the key's own way are spoken of."""
    text = files_of(whole()[1])[names.HOW_TO].decode()
    assert max(map(len, text.splitlines())) <= 100
    for said in ("personal data", "local codes", "never open, press, tip", "FIRST compare"):
        assert said in " ".join(text.split())
    assert "«" not in text


def test_a_public_key_is_written_as_openssl_reads_it() -> None:
    """The example of RFC 8410, section 10.1 (its text from memory; OpenSSL reads ours above)."""
    example = "MCowBQYDK2VwAyEAGb9ECWmEzf6FQbrBZ9w7lshQhqowtrbLDFw4rXAxZuE="
    key = Verifier("example", b64decode(example)[-32:])
    assert names.pem_text(key).decode().splitlines()[1] == example
