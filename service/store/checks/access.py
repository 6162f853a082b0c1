"""Check the access log against its leaves, and those who may come in against the access log."""

import json
from collections.abc import Iterator

from sqlalchemy import Connection, RowMapping

from service.access.entries import access_log
from service.access.standing import Standing
from service.ledger.leaf import canonical
from service.store import identities
from service.store.checks.record import LogFindings, Told, Written, through
from service.store.checks.stored import Faults, instant, otherwise, stored
from service.store.identity_tables import ACCESS


def read_access(connection: Connection, facility: str, told: Told) -> tuple[LogFindings, Standing]:
    """Go through entries and leaves side by side, once; give who may come in by them, too."""
    found, standing = LogFindings(), Standing()
    rows = _entries(connection, facility, found, standing)
    through(connection, access_log(facility), rows, found, told)
    return found, standing


def people(connection: Connection, facility: str, standing: Standing) -> tuple[Faults, str]:
    """Compare the people that are kept with those whom the log knows."""
    faults = Faults()
    kept = identities.people(connection, facility)
    for fault in standing.people_otherwise(kept):
        faults.add(fault)
    return faults, f"{len(kept):,}, each with the role, scope and end that the access log gives"


def clients(connection: Connection, facility: str, standing: Standing) -> tuple[Faults, str]:
    """Compare the devices and programs that are kept with those whom the log knows."""
    faults = Faults()
    kept = identities.clients(connection, facility)
    for fault in standing.tokens_otherwise(kept):
        faults.add(fault)
    return faults, f"{len(kept):,} tokens and codes, each let in and ended as the access log says"


def _entries(
    connection: Connection, facility: str, found: LogFindings, standing: Standing
) -> Iterator[Written]:
    for row in stored(connection, ACCESS, facility, "number"):
        name = f"entry {row['number']} of the access log"
        try:
            fault = _fault(connection, row, standing)
            leaf = row["body"].encode()
        except (ValueError, TypeError, LookupError, AttributeError) as error:
            found.entries.add(f"{name}: its column body does not read: {error!r}")
            yield Written(row["number"], name, None)
            continue
        if fault:
            found.entries.add(f"{name}: {fault}")
        yield Written(row["number"], name, leaf)


def _fault(connection: Connection, row: RowMapping, standing: Standing) -> str:
    """Say what is wrong with an entry, if anything is, and take it in."""
    entry = json.loads(row["body"])
    standing.take(entry)
    if canonical(entry) != row["body"]:
        return "its column body is not written as it was"
    if entry["seq"] != row["number"] + 1:
        return f"it says that it is the {entry['seq']}th"
    said = {
        "kind": entry["kind"],
        "at": instant(entry["at"].removesuffix("Z")),
        "actor": entry.get("actor", ""),
    }
    odd = otherwise(connection, ACCESS, said, row)
    return f"its column {odd[0]} is not what the entry says" if odd else ""
