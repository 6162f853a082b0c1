"""The waste office of the invented hospital: a store, a caller, and lists written as it keeps them.

No real hospital, ledger or person is meant.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import select

from service.access.caller import Caller
from service.custody import identifiers
from service.custody.site import Site
from service.custody.words import Role
from service.duties.importing import Mapping, Report, import_file, plain, read_mapping
from service.store.entries import from_row
from service.store.store import Store
from service.store.tables import RECORD
from tests.databases import Databases
from tests.house import HOSPITAL

NOW = datetime(2026, 7, 20, 6, 0, tzinfo=UTC)
KEEPER = "ward ledger 2026"
FIELDS = "kind,containers,occurred_at,actor,category,unit,container_kind,weight_g"

LEDGER = """
keeper = "ward ledger 2026"
container_ids = "theirs"
time_zone = "Europe/Berlin"
ignore = ["Unterschrift"]

[constants]
kind = "registered"
actor = "ledger 2026"
container_kind = "bag"

[columns]
"Sack-Nr." = "containers"
Datum = { field = "date", format = "%d.%m.%Y" }
Uhrzeit = { field = "time", format = "%H:%M" }
"Gewicht (kg)" = { field = "weight_g", unit = "kg", decimal = "," }
Abfallart = { field = "category", values = { "Gelber Sack" = "yellow-c", "Roter Sack" = "red" } }
Bereich = { field = "unit", values = { "Station Süd" = "ward-3", "OP" = "theatre" } }
"dicht?" = { field = "closed", values = { ja = true, nein = false } }
"""
"""The mapping of a German ledger, weights in kilograms with a decimal comma."""

LEDGER_HEADER = "Sack-Nr.;Datum;Uhrzeit;Gewicht (kg);Abfallart;Bereich;dicht?;Unterschrift"


def code(number: int | str) -> str:
    """A valid container id for a test's number."""
    return identifiers.derived_id("tests", str(number))


def sealed(number: int, minute: int = 0, **changes: str) -> str:
    """A row under ``FIELDS``: a bag sealed at ward 3."""
    said = {
        "kind": "registered",
        "containers": code(number),
        "occurred_at": f"2026-07-19T{6 + minute // 60:02}:{minute % 60:02}Z",
        "actor": "nurse",
        "category": "yellow-c",
        "unit": "ward-3",
        "container_kind": "bag",
        "weight_g": "3420",
    } | changes
    return ",".join(said.values())


@dataclass
class Office:
    """A store with the hospital set up, and a folder with its lists."""

    folder: Path
    store: Store
    caller: Caller

    @classmethod
    def opened(cls, databases: Databases, folder: Path, role: Role = Role.OFFICER) -> "Office":
        """Set the hospital up in a folder and a database of its own."""
        store = Store(databases.at(folder))
        site = Site.model_validate(HOSPITAL | {"regime": "india-2016"})
        store.set_up(site, NOW, b"k" * 32)
        return cls(folder, store, Caller(site.id, "office", role))

    def write(self, name: str, text: str | bytes, encoding: str = "utf-8") -> Path:
        """Put a list into the folder."""
        path = self.folder / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
        return path

    def mapping(self, text: str | bytes = LEDGER) -> Mapping:
        """Read a mapping from a file in the folder."""
        return read_mapping(self.write("mapping.toml", text))

    def bring_in(
        self,
        path: Path,
        mapping: Mapping | None = None,
        progress: Callable[[int, int], None] = lambda _done, _all: None,
    ) -> Report:
        """Import a list."""
        return import_file(
            self.store,
            self.caller,
            path,
            mapping or plain(KEEPER),
            NOW,
            rejects=path.with_name(f"{path.stem}.rejects{path.suffix}"),
            progress=progress,
        )

    def record(self) -> list[Any]:
        """The rows of the record, in order."""
        with self.store.reading() as connection:
            return [tuple(row) for row in connection.execute(select(RECORD).order_by(RECORD.c.seq))]

    def entries(self) -> list[Any]:
        """The entries of the record, in order."""
        with self.store.reading() as connection:
            return [from_row(r) for r in connection.execute(select(RECORD).order_by(RECORD.c.seq))]


def reasons(report: Report) -> dict[int, str]:
    """The reason of each refused line."""
    return {o.line: o.reason for o in report.outcomes() if o.outcome == "refused"}
