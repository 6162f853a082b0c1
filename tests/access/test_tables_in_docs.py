"""docs/access.md says what the service goes by."""

import re
from pathlib import Path

from service.access.caller import Proof
from service.access.lifetimes import lifetime
from service.access.permissions import MAY_RECORD, OPEN_TO_ALL, OPERATIONS
from service.custody.events import KINDS
from service.custody.words import Role

PAGE = Path(__file__).parents[2] / "docs" / "access.md"


def _table(first: str) -> dict[str, frozenset[Role]]:
    """The rows of the table whose first column is headed so."""
    lines = iter(PAGE.read_text(encoding="utf-8").splitlines())
    heading = next(line for line in lines if line.startswith(f"| {first} |"))
    roles = [Role(cell.strip()) for cell in heading.strip("|").split("|")[1:]]
    assert roles == [*Role]
    next(lines)
    found = {}
    for line in lines:
        if not line.startswith("|"):
            break
        name, *cells = (cell.strip() for cell in line.strip("|").split("|"))
        assert set(cells) <= {"yes", "–"}, line
        told = {role for role, cell in zip(roles, cells, strict=True) if cell == "yes"}
        found[name.strip("`")] = frozenset(told)
    return found


def test_the_page_gives_the_roles_of_every_operation() -> None:
    """No more, no fewer, no other."""
    assert _table("operation") == OPERATIONS


def test_the_page_gives_the_roles_of_every_kind_of_event() -> None:
    """In the order of a container's life."""
    kinds = [str(kind.model_fields["kind"].default) for kind in KINDS]
    expected = {k: frozenset(r for r in Role if k in MAY_RECORD[r]) for k in kinds}
    table = _table("event")
    assert table == expected
    assert [*table] == kinds


def test_the_page_names_what_asks_for_no_credential() -> None:
    """All of them."""
    [sentence] = re.findall(r"Those that ask for no credential are (.*?):", PAGE.read_text("utf-8"))
    assert set(re.findall(r"`(\w+)`", sentence)) == OPEN_TO_ALL


def test_the_page_gives_the_life_of_sessions() -> None:
    """Idle and at most, by role and by how somebody signed in."""
    rows = re.findall(r"\| .*? \| (\d+) min \| (\d+) h \|", PAGE.read_text(encoding="utf-8"))
    lives = [
        lifetime(Role.WARD, Proof.BADGE),
        lifetime(Role.WARD, Proof.PASSWORD),
        lifetime(Role.OFFICER, Proof.SECOND_FACTOR),
    ]
    told = [(each.idle.seconds // 60, each.absolute.seconds // 3600) for each in lives]
    assert [(int(idle), int(most)) for idle, most in rows] == told
