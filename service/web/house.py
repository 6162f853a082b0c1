"""What the application was made with, as every door and page gets it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import Depends, Request

from service.duties.access import Store
from service.duties.evidence import Keeping


@dataclass(frozen=True, slots=True)
class House:
    """The store with its keys, the clock, and the largest trace that is taken."""

    keeping: Keeping
    clock: Callable[[], datetime]
    trace_bytes_max: int = 1_000_000

    @property
    def store(self) -> Store:
        """The store."""
        return self.keeping.store


async def house(request: Request) -> House:
    """Give what the application was made with."""
    found: House = request.app.state.house
    return found


Here = Annotated[House, Depends(house)]
