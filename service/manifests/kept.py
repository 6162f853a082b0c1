"""Rows of which a quarter may have more than memory should hold: put in order, and read repeatedly.

A few stay at hand; of more, all but a part lie in a file without a name, that goes with who reads.
"""

import heapq
import pickle
from collections.abc import Callable, Iterable, Iterator
from itertools import chain, islice
from tempfile import TemporaryFile
from typing import Any, Generic, Protocol, TypeVar
from weakref import finalize

AT_HAND = 2_048
"""Rows that are held in memory of each kind."""
READ_AT_ONCE = 256

RowT = TypeVar("RowT")
RowT_co = TypeVar("RowT_co", covariant=True)


class Rows(Protocol[RowT_co]):
    """So many rows, to be read as often as wanted; a tuple is the usual case."""

    def __len__(self) -> int:
        """How many there are."""

    def __iter__(self) -> Iterator[RowT_co]:
        """Read them from the first on."""


class _File:
    """Lists of rows in a file without a name: nobody else can have written what is read back."""

    def __init__(self) -> None:
        self._file = TemporaryFile()  # noqa: SIM115  closed with whoever holds it last
        finalize(self, self._file.close)

    def put(self, rows: Iterable[RowT]) -> "_Run[RowT]":
        rows, places, count = iter(rows), [], 0
        self._file.seek(0, 2)
        while some := list(islice(rows, READ_AT_ONCE)):
            places.append(self._file.tell())
            pickle.dump(some, self._file, pickle.HIGHEST_PROTOCOL)
            count += len(some)
        return _Run(self, places, count)

    def get(self, place: int) -> list[Any]:
        self._file.seek(place)
        found: list[Any] = pickle.load(self._file)  # noqa: S301
        return found


class _Run(Generic[RowT]):
    """Rows that were put into a file one after another."""

    def __init__(self, file: _File, places: list[int], count: int) -> None:
        self._file, self._places, self._count = file, places, count

    def __len__(self) -> int:
        return self._count

    def __iter__(self) -> Iterator[RowT]:
        for place in self._places:
            yield from self._file.get(place)


class Pile(Generic[RowT]):
    """Takes rows in any order and gives them in that of a key, equal ones as they came."""

    def __init__(self, key: Callable[[RowT], Any]) -> None:
        self._key = key
        self._held: list[RowT] = []
        self._file: _File | None = None
        self._runs: list[_Run[RowT]] = []

    def add(self, row: RowT) -> None:
        """Take a row."""
        self._held.append(row)
        if len(self._held) > AT_HAND:
            self._file = self._file or _File()
            self._runs.append(self._file.put(sorted(self._held, key=self._key)))
            self._held = []

    def __iter__(self) -> Iterator[RowT]:
        """Give the rows in order."""
        self._held.sort(key=self._key)
        if not self._runs:
            return iter(self._held)
        return heapq.merge(*self._runs, self._held, key=self._key)


def kept(rows: Iterable[RowT]) -> Rows[RowT]:
    """Keep rows in their order, to be read as often as wanted."""
    rows = iter(rows)
    first = tuple(islice(rows, AT_HAND))
    if len(first) < AT_HAND:
        return first
    return _File().put(chain(first, rows))
