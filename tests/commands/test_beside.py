"""Which commands may run beside the service, tried and compared with what the operator is told."""

import re
from pathlib import Path

import pytest

import scenario
from tests.commands.running import ROOT, running
from tests.databases import CLAIMED
from tests.test_cli import LEDGER, printed_ids, run

pytestmark = CLAIMED
HOSPITAL = str(Path(scenario.__file__).parent / "hospital.toml")
PERIOD = ("--from", "2026-07-01T00:00:00Z", "--until", "2026-07-02T00:00:00Z")
TRIED: dict[str, tuple[str, ...]] = {
    "setup": ("setup", HOSPITAL),
    "import": ("import", "list.csv"),
    "labels": ("labels", "--count", "1", "--out", "blank.pdf"),
    "labels --container": ("labels", "--container", "ID", "--out", "filled.pdf"),
    "cycle run": (
        "cycle",
        "run",
        "--machine",
        "kiln-autoclave-1",
        "--actor",
        "operator-1",
        "--started",
        "2026-07-01T10:00:00Z",
        "--ended",
        "2026-07-01T11:00:00Z",
    ),
    "cycle trace": ("cycle", "trace", "K-1", "trace.csv"),
    "cycle indicator": ("cycle", "indicator", "K-1", "--turned", "--actor", "operator-1"),
    "cycle spores": (
        "cycle",
        "spores",
        "kiln-autoclave-1",
        "--no-growth",
        "--actor",
        "operator-1",
        "--ran",
        "2026-07-01T10:00:00Z",
    ),
    "cycle show": ("cycle", "show", "K-1"),
    "rebuild": ("rebuild",),
    "restore": ("restore", "copy.sqlite3", "--set-aside"),
    "restore --into": ("restore", "copy.sqlite3", "--into", "tried.sqlite3"),
    "move": ("move", "sqlite:///moved.sqlite3"),
    "serve": ("serve",),
    "admit": ("admit", "phone", "--role", "ward"),
    "revoke": ("revoke", "tablet"),
    "device invite": ("device", "invite", "ward tablet", "--role", "ward"),
    "device list": ("device", "list"),
    "people add": ("people", "add", "--name", "Ila", "--role", "ward", "--id", "p-ila"),
    "people list": ("people", "list"),
    "people change": ("people", "change", "p-ila", "--role", "handler"),
    "people activation": ("people", "activation", "p-ila"),
    "people badge": ("people", "badge", "p-ila", "--out", "badge.pdf"),
    "people reset-second-factor": ("people", "reset-second-factor", "p-ila"),
    "people end-sessions": ("people", "end-sessions", "p-ila"),
    "people disable": ("people", "disable", "p-ila"),
    "access-log": ("access-log",),
    "label-key change": ("label-key", "change"),
    "violations": ("violations", "--at", "2026-07-01T12:00:00+05:30"),
    "manifest": ("manifest", "2026-Q3", "--out", "m.zip"),
    "epcis": ("epcis", *PERIOD, "--out", "e.jsonld"),
    "checkpoint": ("checkpoint",),
    "key show": ("key", "show"),
    "key rotate": ("key", "rotate", "--reason", "yearly"),
    "check": ("check",),
    "backup": ("backup", "another.sqlite3"),
}
"""Every command that opens the record, as it is given."""


@pytest.fixture
def container(folder: Path) -> str:
    """A facility with one bag on record, a key and a backup; the bag's id."""
    run("setup", HOSPITAL)
    run("labels", "--count", "2", "--out", "two.pdf")
    ids = printed_ids(folder / "two.pdf")
    (folder / "list.csv").write_text("\n".join(LEDGER.format(*ids).split("\n")[:2]) + "\n")
    assert run("import", "list.csv", "--rejects", "no.csv").exit_code == 0
    (folder / "trace.csv").write_text("time_s,temperature_c,pressure_kpa\n0,25,101\n")
    run(*TRIED["cycle run"], "--number", "K-1")
    run("admit", "tablet", "--role", "ward")
    run("key", "show")
    (folder / "copy.sqlite3").write_bytes((folder / "custody.sqlite3").read_bytes())
    return ids[0]


def told() -> dict[str, str]:
    """What the operator's table says of each command: ``stopped`` or ``beside``."""
    text = (ROOT / "docs/operator.md").read_text(encoding="utf-8")
    table = text.partition("### Beside the service")[2].partition("\n#")[0]
    found: dict[str, str] = {}
    row = re.compile(r"^\| (`custody .*?) \| (stopped|beside)\b", re.MULTILINE)
    for commands, may in row.findall(table):
        found |= dict.fromkeys(re.findall(r"`custody ([^`]+)`", commands), may)
    return found


def test_the_operators_table_says_what_each_command_does_beside_the_service(
    tmp_path: Path, container: str
) -> None:
    """Those that must wait are refused with what to do; the others run. None is left out."""
    refused: set[str] = set()
    ran: set[str] = set()

    with running(tmp_path / "custody.sqlite3"):
        for name, words in TRIED.items():
            result = run(*(container if word == "ID" else word for word in words))
            said = " ".join(result.output.split())
            waits = "a running service most likely: ask that one, or stop it first" in said
            assert not waits or result.exit_code == 2
            (refused if waits else ran).add(name)

    said_to_us = {name: may for name, may in told().items() if name in TRIED}
    assert dict.fromkeys(refused, "stopped") | dict.fromkeys(ran, "beside") == said_to_us
    alone = {"import", "labels", "move", "rebuild", "restore", "serve", "setup"}
    of_cycles = {f"cycle {word}" for word in ("run", "trace", "indicator", "spores")}
    assert alone | of_cycles == refused


def test_an_import_beside_the_service_leaves_no_file(tmp_path: Path, container: str) -> None:
    """It did not begin, so there is no report of it: neither empty nor with a header alone."""
    before = {path.name for path in tmp_path.iterdir()}

    with running(tmp_path / "custody.sqlite3"):
        refused = run("import", "list.csv")

    assert refused.exit_code == 2
    left = {path.name for path in tmp_path.iterdir()} - before
    assert left <= {"custody.sqlite3-wal", "custody.sqlite3-shm"}
