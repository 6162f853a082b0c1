"""Checks a bundle, one thing after another; trusts nobody, its maker included.

Whatever the bundle holds, each check ends as one that holds, one that does not, or one that could
not be made; only what is no bundle at all is an error.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import BinaryIO

from service.bundles.archive import BYTES_MAX, BundleError
from service.bundles.checks import log, papers, reckoning, sealing
from service.bundles.checks.case import Case
from service.bundles.parts import Parts
from service.bundles.reading import Doubtful, Unknown, Unsound
from service.ledger.note import Verifier

SAID_MAX = 1_500


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was checked.

    Attributes:
        name: What.
        holds: Whether it is as it must be; None where that could not be checked.
        said: What was found, or what is wrong, or why it could not be checked.
        warns: It holds, and says what the reader must know all the same.
    """

    name: str
    holds: bool | None
    said: str
    warns: bool = False


CHECKS: tuple[tuple[str, Callable[[Case], str]], ...] = (
    ("archive", sealing.archive),
    ("key", sealing.key),
    ("changes of key", sealing.key_changes),
    ("signature of the contents", sealing.contents_signature),
    ("files", sealing.files),
    ("signature of the checkpoint", log.checkpoint),
    ("entries", log.entries),
    ("hashes of the entries", log.hashes),
    ("root of the log", log.root),
    ("older entries", log.earlier_entries),
    ("earlier checkpoints", log.earlier_checkpoints),
    ("set-up", reckoning.setup),
    ("rules", reckoning.regimes),
    ("where the bundle begins", reckoning.beginning),
    ("moment of the reckoning", reckoning.moment),
    ("whole quarter", reckoning.whole),
    ("figures", reckoning.reckoning),
    ("cycles and their traces", reckoning.traces),
    ("containers", reckoning.containers),
    ("nothing open left out", reckoning.completeness),
    ("tables", reckoning.totals),
    ("violations", reckoning.violations),
    ("text for who has no tool", papers.text),
    ("workbook", papers.workbook),
    ("paper", papers.paper),
)
"""Every check, in the order in which they are made: outside first."""


def verify(
    file: BinaryIO,
    *,
    key: Verifier | None = None,
    checkpoints: Sequence[str] = (),
    previous: BinaryIO | None = None,
    unpacked_max: int = BYTES_MAX,
) -> Iterator[Check]:
    """Check a bundle.

    Args:
        file: The zip file.
        key: A key of the log that the verifier trusts; without one the bundle's own is taken, and
            all that is shown is that the bundle agrees with itself.
        checkpoints: Signed checkpoints of this log that the verifier holds.
        previous: The bundle of a quarter before, of the same facility.
        unpacked_max: The bytes to which a bundle may unpack.

    Raises:
        BundleError: one of the files is no bundle, or the earlier one is of another facility or
            not of an earlier quarter. That says nothing of the bundle to be checked, so that it is
            no check that fails.
    """
    case = Case(_parts(file, unpacked_max), key)
    if previous is not None:
        try:
            case.previous = _parts(previous, unpacked_max)
            _demand_earlier(case.previous, case.parts)
        except BundleError as error:
            raise BundleError(f"the earlier bundle: {error}") from error
    given: list[tuple[str, Callable[[Case], str]]] = [
        (f"checkpoint {number} that you gave", partial(log.given_checkpoint, note=note))
        for number, note in enumerate(checkpoints, 1)
    ]
    return (_checked(name, check, case) for name, check in (*CHECKS, *given))


def _parts(file: BinaryIO, unpacked_max: int) -> Parts:
    archive = file.read(BYTES_MAX + 1)
    if len(archive) > BYTES_MAX:
        raise BundleError(f"it has more than {BYTES_MAX:,} bytes: no bundle has as many")
    return Parts(archive, unpacked_max)


def _demand_earlier(previous: Parts, parts: Parts) -> None:
    one, other = previous.told, parts.told
    if one.facility != other.facility:
        raise BundleError(f"it is of {one.facility}, the bundle to be checked of {other.facility}")
    if previous.quarter >= parts.quarter:
        raise BundleError(
            f"it is of {one.quarter}, the bundle to be checked of {other.quarter}: "
            "give that of the quarter before"
        )


def _checked(name: str, check: Callable[[Case], str], case: Case) -> Check:
    holds: bool | None
    warns = False
    try:
        holds, said = True, check(case)
    except Doubtful as what:
        holds, said, warns = True, str(what), True
    except Unsound as found:
        holds, said = False, str(found)
    except Unknown as why:
        holds, said = None, str(why)
    except Exception as error:  # a hostile bundle must not end the verification, whatever it holds
        holds, said = False, f"cannot be worked out: {type(error).__name__}: {error}"
    return Check(name, holds, _plain(said), warns)


def _plain(said: str) -> str:
    """What a bundle says is shown to people: it moves no cursor and fills no screen."""
    cut = said[:SAID_MAX] + (" …" if len(said) > SAID_MAX else "")
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in cut)
