"""What is wrong with a trace, and what is worth telling of one that can be judged."""

from collections.abc import Sequence
from dataclasses import dataclass

PROBLEMS_MAX = 10
"""As many are told of one file; the number of the others is said."""


@dataclass(frozen=True)
class Problem:
    """One thing for which a trace cannot be judged.

    Attributes:
        said: what is wrong, and what to do where that is known.
        where: line of a CSV, row of a JSON, or empty for the whole.
        column: header of the column, or empty.
    """

    said: str
    where: str = ""
    column: str = ""

    def __str__(self) -> str:
        """Say it in one line."""
        return ": ".join(part for part in (self.where, self.column, self.said) if part)


@dataclass(frozen=True)
class Remark:
    """Something about a trace that a person should know; it decides nothing by itself."""

    rule: str
    said: str


class TraceError(ValueError):
    """A trace that cannot be judged; holds the problems found: the first few, and the last."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        kept = list(problems[:PROBLEMS_MAX])
        if len(problems) > PROBLEMS_MAX:
            kept[-1:] = [Problem(f"{len(problems) - PROBLEMS_MAX} more like it"), problems[-1]]
        self.problems = tuple(kept)
        super().__init__("; ".join(map(str, kept)))


def refuse(said: str, where: str = "", column: str = "") -> TraceError:
    """Make the refusal for one problem."""
    return TraceError([Problem(said, where, column)])
