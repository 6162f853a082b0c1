"""The keys that label tags are made with: the newest prints, all that are kept show genuine."""

from sqlalchemy import Connection, bindparam, delete, insert, select

from service.store.rows import Statement
from service.store.tables import SECRET

_FIRST = "label"
_HELD = Statement(
    select(SECRET.c.name, SECRET.c.value).where(SECRET.c.facility == bindparam("facility"))
)


def keys(connection: Connection, facility: str) -> tuple[bytes, ...]:
    """Give the keys that are trusted, the newest first; none where nothing was set up."""
    return tuple(value for _, value in _numbered(connection, facility))


def keep_first_key(connection: Connection, facility: str, key: bytes) -> None:
    """Keep the first key of a facility."""
    connection.execute(insert(SECRET).values(facility=facility, name=_FIRST, value=key))


def keep_next_key(connection: Connection, facility: str, key: bytes, *, distrust_old: bool) -> int:
    """Keep a key that prints from now on, and destroy the others if told; give its number."""
    held = _numbered(connection, facility)
    number = held[0][0] + 1
    if distrust_old:
        names = [_name(each) for each, _ in held]
        s = SECRET.c
        connection.execute(delete(SECRET).where(s.facility == facility, s.name.in_(names)))
    row = {"facility": facility, "name": _name(number), "value": key}
    connection.execute(insert(SECRET).values(**row))
    return number


def _name(number: int) -> str:
    return _FIRST if number == 1 else f"{_FIRST}-{number}"


def _numbered(connection: Connection, facility: str) -> list[tuple[int, bytes]]:
    held = _HELD.rows(connection, facility=facility)
    named = [row for row in held if row.name.split("-")[0] == _FIRST]
    numbered = ((int(row.name.partition("-")[2] or 1), bytes(row.value)) for row in named)
    return sorted(numbered, key=lambda each: each[0], reverse=True)
