"""docs/access.md says what the service goes by."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

from service.access import passwords, throttle
from service.access.caller import Proof
from service.access.lifetimes import ACTIVATION, ENROLLED, FIRST_PIN, PENDING_FACTOR, lifetime
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


def test_the_page_gives_the_waits() -> None:
    """Free attempts, when they are forgotten, and the longest wait of each sort of subject."""
    rows = re.findall(r"\| (\d+) \| (\d+) h \| (\d+) s \|", PAGE.read_text(encoding="utf-8"))
    account, badge = throttle.BY_ACCOUNT, throttle.BY_BADGE
    limits = [account, account, account, badge, throttle.BY_DEVICE, throttle.BY_SOURCE]
    assert [(int(free), int(hours) * 3600, int(most)) for free, hours, most in rows] == [
        (each.free, each.forgotten.total_seconds(), each.most.seconds) for each in limits
    ]


def test_the_page_gives_the_policy_of_secrets() -> None:
    """Lengths, and how long each waits to be used."""
    page = PAGE.read_text(encoding="utf-8")
    assert f"{passwords.PASSWORD_LEAST} to {passwords.PASSWORD_MOST} characters" in page
    assert f"{passwords.PIN_LEAST} to {passwords.PIN_MOST} digits" in page
    assert f"within {FIRST_PIN.days} days" in page
    assert f"good for {ACTIVATION.total_seconds() / 3600:.0f} h" in page
    assert f"waits {PENDING_FACTOR.total_seconds() / 3600:.0f} h for its first code" in page
    assert f"stays known for {ENROLLED.days} days" in page


def test_the_page_gives_what_a_day_of_guessing_comes_to() -> None:
    """Whoever comes again as soon as the wait is over."""
    page = PAGE.read_text(encoding="utf-8")
    assert f"{_in_a_day(throttle.BY_ACCOUNT)} times a day for one person" in page
    assert f"then {_in_a_day(throttle.BY_ACCOUNT)} times a day in all" in page
    assert f"{_in_a_day(throttle.BY_SOURCE):,} names a day" in page
    assert _in_a_day(throttle.BY_BADGE) == _in_a_day(throttle.BY_DEVICE)
    assert f"{_in_a_day(throttle.BY_DEVICE):,} tries a day" in page


def _in_a_day(limit: throttle.Limit) -> int:
    begun = now = datetime(2026, 7, 1, tzinfo=UTC)
    standing, tries = None, 0
    while (now := throttle.next_at(limit, standing, now)) < begun + timedelta(days=1):
        standing = throttle.counted(limit, standing, now)
        tries += 1
    return tries
