"""Check a database against itself: the file, its schema, and each facility's log and projections.

Nothing is written. What a damaged database answers with is a check that fails, never an exception.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from hashlib import sha256

from sqlalchemy import Connection, NullPool, create_engine, select, text
from sqlalchemy.exc import SQLAlchemyError
from sqlmodel import SQLModel

from service.access.entries import access_log
from service.custody.cycle_events import TraceAttached
from service.custody.fields import EARLIEST, LATEST
from service.custody.rules import Rules
from service.ledger.checkpoint import Checkpoint
from service.ledger.note import Verifier
from service.regimes.load import assemble
from service.store import refolding
from service.store.checks import access, tree
from service.store.checks.record import LogFindings, read_log
from service.store.checks.stored import Faults
from service.store.cycle_tables import TRACE
from service.store.database import NEWEST, revision
from service.store.evidence import facilities, setup_in_force
from service.store.log import STREAMED
from service.store.migrating import upgrade
from service.store.queries import entries_of_kind
from service.store.tables import CHECKPOINT, LEAF, LOG, NODE

_UNREADABLE = (SQLAlchemyError, ValueError, TypeError, LookupError, AttributeError, ArithmeticError)
"""What reading damaged rows comes to."""

_KEPT = ("setup", "event", "leaf", "node", "checkpoint", "access", "trace")
"""Tables with triggers that refuse a change."""


OTHER_VERSION = "it is of version"
"""How the check of the schema begins where the log cannot be looked at by this program."""


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was looked at.

    Attributes:
        facility: Whose; empty if it is about the whole database.
        holds: None if it could not be checked here; ``said`` then has the reason.
    """

    name: str
    facility: str
    holds: bool | None
    said: str


@dataclass(frozen=True, slots=True)
class Keys:
    """What the keyring knows of a log: its public keys and the last state signed.

    Attributes:
        trouble: Why it could not be asked.
    """

    public: Sequence[Verifier] = ()
    last: Checkpoint | None = None
    trouble: str = ""


Told = Callable[[str, int, int], None]
"""Is told how far it is: (what, done, in all)."""


def check(
    connection: Connection, keys: Callable[[str], Keys], told: Told, *, quick: bool = False
) -> Iterator[Check]:
    """Check the whole database as one transaction sees it; ``quick`` leaves the projections out.

    ``keys`` is asked for each log by the name under which it is kept.
    """
    if connection.dialect.name == "sqlite":
        yield _guarded("file", "", lambda: _file(connection))
    else:
        yield Check("file", "", None, "the files of PostgreSQL are checked by pg_amcheck")
    of_schema = _guarded("schema", "", lambda: _schema(connection))
    yield of_schema
    if of_schema.said.startswith(OTHER_VERSION):
        return
    try:
        known = facilities(connection)
    except _UNREADABLE as error:
        yield Check("set-ups", "", False, _why(error))
        return
    yield _guarded("facilities", "", lambda: _strangers(connection, known))
    if not quick:
        refolding.beside(connection)
    for facility in known:
        yield from _log(connection, facility, keys(facility), partial(told, f"{facility}: record"))
        yield _guarded("traces", facility, partial(_traces, connection, facility))
        on_the_way = partial(told, f"{facility}: access log")
        yield from _access(connection, facility, keys(access_log(facility)), on_the_way)
        if not quick:
            on_the_way = partial(told, f"{facility}: projections")
            look = partial(_projections, connection, facility, on_the_way)
            yield _guarded("projections", facility, look)


def _log(
    connection: Connection, facility: str, keys: Keys, told: Callable[[int, int], None]
) -> Iterator[Check]:
    try:
        found = read_log(connection, facility, told)
    except _UNREADABLE as error:
        yield Check("record", facility, False, _why(error))
        return
    count = found.size - found.setup_count
    told_well = f"{count:,} entries, each as it was written"
    yield _judged("entries", facility, found.entries, told_well)
    yield _judged("set-ups", facility, found.setups, f"{found.setup_count:,}, in order")
    yield from _tree(connection, facility, facility, keys, found)


def _traces(connection: Connection, facility: str) -> tuple[Faults, str]:
    """Compare the bytes of every trace with the hash by which the events know it."""
    faults, held = Faults(), set[str]()
    rows = connection.execute(select(TRACE).where(TRACE.c.facility == facility))
    for row in rows.yield_per(STREAMED):
        held.add(row.sha256)
        if sha256(row.content).hexdigest() != row.sha256:
            faults.add(f"the trace {row.sha256} has other bytes than its hash")
    told = {
        entry.event.sha256
        for entry in entries_of_kind(
            connection, facility, ["trace_attached"], EARLIEST, LATEST
        ).values()
        if isinstance(entry.event, TraceAttached)
    }
    lacking = f"; the bytes of {len(told - held):,} never came" if told - held else ""
    return faults, f"{len(held):,}, each with the bytes of its hash{lacking}"


ACCESS = "access "
"""How the checks of the access log are called, before what is looked at."""

STANDING = frozenset({"people", "clients"})
"""Checks of what stands beside the logs, and could be put right by hand."""


def _access(
    connection: Connection, facility: str, keys: Keys, told: Callable[[int, int], None]
) -> Iterator[Check]:
    """Check the access log, and by it those who may come in."""
    try:
        found, standing = access.read_access(connection, facility, told)
    except _UNREADABLE as error:
        yield Check(f"{ACCESS}log", facility, False, _why(error))
        return
    yield _judged(f"{ACCESS}entries", facility, found.entries, f"{found.size:,}, as written")
    if found.size or found.leaves.said or keys.last or keys.trouble:
        yield from _tree(connection, facility, access_log(facility), keys, found, ACCESS)
    yield _guarded("people", facility, lambda: access.people(connection, facility, standing))
    yield _guarded("clients", facility, lambda: access.clients(connection, facility, standing))


def _tree(
    connection: Connection,
    facility: str,
    log: str,
    keys: Keys,
    found: LogFindings,
    of: str = "",
) -> Iterator[Check]:
    """Check what stands above the entries of a log, and what was signed of it."""
    said = f"{found.size:,}, each that of its entry"
    yield _judged(f"{of}leaves", facility, found.leaves, said)
    nodes = partial(tree.nodes, connection, log, found.size)
    yield _guarded(f"{of}nodes", facility, lambda: (nodes(), "all"))
    in_all = f"{found.size:,} entries, root {found.root.hex()}"
    yield _guarded(f"{of}head", facility, lambda: (tree.log_head(connection, log, found), in_all))
    yield _guarded(f"{of}checkpoints", facility, lambda: _noted(connection, log, keys))
    if keys.last is None and not keys.trouble:
        said = "nothing was signed yet, or CUSTODY_KEY_DIR is not where the keys are"
        yield Check(f"{of}last signed", facility, None, said)
        return
    yield _guarded(f"{of}last signed", facility, lambda: _last(connection, log, keys, found))


def _file(connection: Connection) -> tuple[Faults, str]:
    faults = Faults()
    for pragma in ("integrity_check(20)", "foreign_key_check"):
        for row in connection.exec_driver_sql(f"PRAGMA {pragma}"):
            if row[0] != "ok":
                faults.add(" ".join(str(row[0]).split()))
    return faults, "SQLite finds its structures whole"


def _schema(connection: Connection) -> tuple[Faults, str]:
    """Compare version, tables, indexes and triggers with those of a database made just now."""
    faults = Faults()
    here = revision(connection)
    if here != NEWEST:
        faults.add(
            f"{OTHER_VERSION} {here}, this program of {NEWEST}: any command that opens "
            "the record, such as 'custody violations', brings an older one up to date"
        )
        return faults, ""
    odd = _odd_parts if connection.dialect.name == "sqlite" else _odd_triggers
    for fault in odd(connection):
        faults.add(fault)
    return faults, f"version {here}, with the triggers that refuse changes"


def _odd_parts(connection: Connection) -> Iterator[str]:
    fresh = create_engine("sqlite://", poolclass=NullPool)
    with fresh.begin() as made:
        upgrade(made)
        expected = _made_of(made)
    found = _made_of(connection)
    for kind, name in sorted(expected.keys() - found.keys()):
        yield f"the {kind} {name} is missing"
    for kind, name in sorted(found.keys() - expected.keys()):
        if kind in ("trigger", "view"):
            yield f"the {kind} {name} is none of ours"
    for kind, name in sorted(expected.keys() & found.keys()):
        if expected[kind, name] != found[kind, name]:
            yield f"the {kind} {name} is not as it was made"


def _odd_triggers(connection: Connection) -> Iterator[str]:
    """On PostgreSQL the triggers alone are looked for."""
    asked = text("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled IN ('O', 'A')")
    there = set(connection.execute(asked).scalars())
    for name in (f"{table}_{said}" for table in _KEPT for said in ("is_kept", "is_not_emptied")):
        if name not in there:
            yield f"the trigger {name} is missing or switched off"


def _made_of(connection: Connection) -> dict[tuple[str, str], tuple[str, str | None]]:
    rows = connection.exec_driver_sql("SELECT type, name, tbl_name, sql FROM main.sqlite_schema")
    return {(row[0], row[1]): (row[2], row[3]) for row in rows}


def _strangers(connection: Connection, known: Sequence[str]) -> tuple[Faults, str]:
    """Find rows of facilities that were never set up."""
    faults = Faults()
    logs = {*known, *map(access_log, known)}
    for table in SQLModel.metadata.sorted_tables:
        for name in connection.execute(select(table.c.facility).distinct()).scalars():
            if name not in (logs if table in (LEAF, NODE, LOG, CHECKPOINT) else known):
                faults.add(f"{table.name} has rows of '{name}', which was never set up")
    return faults, ", ".join(known) or "none is set up yet"


def _noted(connection: Connection, facility: str, keys: Keys) -> tuple[Faults, str]:
    count, strange, faults = tree.noted(connection, facility, keys.public)
    said = f"{count:,} signed, each over what the log holds"
    if strange:
        said += f"; the signatures of {strange:,} not checked: their key is not in the keyring"
    return faults, said


def _last(
    connection: Connection, facility: str, keys: Keys, found: LogFindings
) -> tuple[Faults, str]:
    """See that the log begins with the last state the keyring signed."""
    faults = Faults()
    if keys.last is None:
        faults.add(keys.trouble)
        return faults, ""
    if lost := tree.lost(connection, facility, keys.last, found.size):
        faults.add(lost)
    return faults, f"the log begins with the {keys.last.size:,} entries that were signed last"


def _projections(
    connection: Connection, facility: str, told: Callable[[int, int], None]
) -> tuple[Faults, str]:
    faults = Faults()
    _, version = setup_in_force(connection, facility)
    rules = Rules(assemble(version.site.regime), version.site)
    for difference in refolding.differences(connection, facility, rules, told):
        faults.add(difference)
    return faults, "containers, stays, journeys and violations are what the record gives"


def _judged(name: str, facility: str, faults: Faults, said: str) -> Check:
    return Check(name, facility, not faults.said, str(faults) if faults.said else said)


def _guarded(name: str, facility: str, look: Callable[[], tuple[Faults, str]]) -> Check:
    try:
        return _judged(name, facility, *look())
    except _UNREADABLE as error:
        return Check(name, facility, False, _why(error))


def _why(error: Exception) -> str:
    why = getattr(error, "orig", None) or error
    return f"it cannot be read: {' '.join(str(why).split()) or type(error).__name__}"
