"""Check what stands above the leaves of a log: its nodes, its head, the states that were signed."""

from base64 import b64decode
from collections.abc import Sequence

from sqlalchemy import Connection, RowMapping, text

from service.ledger.checkpoint import Checkpoint, parse
from service.ledger.merkle import node_hash
from service.ledger.note import KEY_ID_BYTES, Verifier, opened
from service.store.checks.record import LogFindings, stored_head
from service.store.checks.stored import Faults, instant, otherwise, stored
from service.store.log import STREAMED, LogView
from service.store.tables import CHECKPOINT

_NODES = text(
    "SELECT n.level, n.number, n.hash, "
    "CASE n.level WHEN 1 THEN l1.hash ELSE n1.hash END AS one, "
    "CASE n.level WHEN 1 THEN l2.hash ELSE n2.hash END AS other FROM node n "
    "LEFT JOIN leaf l1 ON n.level = 1 AND (l1.facility, l1.number) = (n.facility, n.number * 2) "
    "LEFT JOIN leaf l2 ON n.level = 1 AND (l2.facility, l2.number) = (n.facility, n.number * 2 + 1)"
    " LEFT JOIN node n1 ON (n1.facility, n1.level, n1.number) = "
    "(n.facility, n.level - 1, n.number * 2) "
    "LEFT JOIN node n2 ON (n2.facility, n2.level, n2.number) = "
    "(n.facility, n.level - 1, n.number * 2 + 1) "
    "WHERE n.facility = :facility ORDER BY n.level, n.number"
)
"""Every node with its two children, which at the lowest level are leaves."""


def nodes(connection: Connection, facility: str, size: int) -> Faults:
    """Compare every node with what its children give, and see that none is missing or too many."""
    found = Faults()
    due = ((level, n) for level in range(1, size.bit_length()) for n in range(size >> level))
    expected = next(due, None)
    asked = _NODES.execution_options(yield_per=STREAMED)
    for row in connection.execute(asked, {"facility": facility}):
        here = (row.level, row.number)
        while expected is not None and expected < here:
            found.add(f"node {expected[0]}/{expected[1]}: it is gone")
            expected = next(due, None)
        if here != expected:
            found.add(f"node {row.level}/{row.number}: there is no such node in a log of {size}")
            continue
        expected = next(due, None)
        whole = isinstance(row.one, bytes) and isinstance(row.other, bytes)
        if not whole or node_hash(row.one, row.other) != row.hash:
            found.add(f"node {row.level}/{row.number}: it is not what its two children give")
    while expected is not None:
        found.add(f"node {expected[0]}/{expected[1]}: it is gone")
        expected = next(due, None)
    return found


def log_head(connection: Connection, facility: str, found: LogFindings) -> Faults:
    """Compare the head with what the leaves give."""
    faults = Faults()
    stored = stored_head(connection, facility)
    expected = {"size": found.size, "last": found.last, "peaks": b"".join(found.peaks)}
    for column, value in expected.items():
        if stored.get(column) != value:
            faults.add(f"its column {column} is not what the leaves give")
    return faults


def noted(
    connection: Connection, facility: str, keys: Sequence[Verifier]
) -> tuple[int, int, Faults]:
    """Compare the signed states that are kept with the log.

    Gives how many there are, how many were signed by a key that is not at hand, and the faults.
    """
    faults, count, strange = Faults(), 0, 0
    log = LogView(connection, facility)
    for row in stored(connection, CHECKPOINT, facility, "size", "signed_by"):
        count += 1
        mine = [key for key in keys if key.key_id.hex() == row["signed_by"]]
        strange += not mine
        try:
            fault = _note_fault(connection, log, row, mine)
        except (ValueError, TypeError, AttributeError, LookupError) as error:
            fault = str(error)
        if fault:
            faults.add(f"checkpoint over {row['size']} entries: {fault}")
    return count, strange, faults


def _note_fault(
    connection: Connection, log: LogView, row: RowMapping, mine: Sequence[Verifier]
) -> str:
    """Say what is wrong with a signed state, if anything is.

    Raises:
        ValueError: it does not read, or its signature is false.
    """
    body, _, below = row["note"].rpartition("\n\n")
    state = parse(body + "\n")
    if mine:
        opened(row["note"], mine)
    ids = {b64decode(line.split(" ")[-1])[:KEY_ID_BYTES].hex() for line in below.splitlines()}
    if row["signed_by"] not in ids:
        return "its column signed_by names none of its signatures"
    if otherwise(connection, CHECKPOINT, {"signed_at": instant(row["signed_at"])}, row):
        return "its column signed_at is not written as it was"
    if state.size != row["size"]:
        return f"the note speaks of {state.size}"
    if state.size > log.size:
        return f"the log has but {log.size}: entries that were signed are lost"
    return "" if log.root_at(state.size) == state.root else "its root is not that of the log"


def lost(connection: Connection, facility: str, last: Checkpoint, size: int) -> str:
    """Say what is lost of what was signed, or nothing if the log begins with it."""
    if last.size > size:
        return f"entries {size} to {last.size - 1} were signed and are not here"
    if LogView(connection, facility).root_at(last.size) != last.root:
        return f"the first {last.size} entries are not those that were signed"
    return ""
