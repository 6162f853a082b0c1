"""One byte changed anywhere in a bundle is found and named; bundles that are whole are passed."""

from collections.abc import Callable
from io import BytesIO
from random import Random
from zipfile import ZipFile

from service.bundles import names
from service.bundles.archive import BundleError
from service.bundles.verify import verify
from tests.bundles.made import Q3, bundle, files_of, packed, record, stream
from tests.faults.holding import Tally

ENTRIES = 120


def small() -> bytes:
    """A bundle of a short record."""
    site, entries = stream()
    return bundle(record(entries[:ENTRIES], site, entries[0].recorded_at, noted=(1, 50)), Q3)


def flips(seed: int, times: int, told: Callable[[], None] = lambda: None) -> Tally:
    """Flip one bit of one byte ``times`` times: each file of the bundle in turn, then the archive.

    ``notes["files"]`` says how many flips each file had.
    """
    random = Random(seed)
    made = small()
    files = files_of(made)
    order = [*files, ""]
    tally = Tally("a byte flipped in a bundle", notes={"files": dict.fromkeys(order, 0)})
    for number in range(times):
        name = order[number % len(order)]
        wrong = _flipped(made, random) if not name else _repacked(files, name, random)
        tally.wrong += _unnoticed(wrong, name)
        tally.notes["files"][name] += 1
        tally.tried += 1
        told()
    return tally


def _flipped(content: bytes, random: Random) -> bytes:
    changed = bytearray(content or b"?")  # to an empty file a byte is added
    changed[random.randrange(len(changed))] ^= 1 << random.randrange(8)
    return bytes(changed)


def _repacked(files: dict[str, bytes], name: str, random: Random) -> bytes:
    """The bundle with one byte of one file changed, and a sound archive around it."""
    return packed(files | {name: _flipped(files[name], random)})


def _unnoticed(made: bytes, name: str) -> list[str]:
    """What is wrong with how a changed bundle is told; ``name`` is that of the changed file."""
    said: list[str] = []
    try:
        for check in verify(BytesIO(made)):
            if check.holds is False:
                said.append(f"{check.name}: {check.said}")
                if not name or name in check.said or name == names.CONTENTS:
                    return []
            if check.name == "entries":
                break  # what was changed must be named by now
    except BundleError as error:
        return [] if name in str(error) else [f"{name}: no bundle at all: {error}"]
    if not said and not name:
        return _same_after_all(made)
    return [f"a byte of {name or 'the archive'} was changed, and this was said: {said}"]


def _same_after_all(made: bytes) -> list[str]:
    """A byte of the archive that means nothing may pass if every file is as it was."""
    with ZipFile(BytesIO(made)) as opened:
        held = {name: opened.read(name) for name in opened.namelist()}
    return [] if held == files_of(small()) else ["the archive gives other files, unnoticed"]


def false_alarms(seed: int, bundles: int, told: Callable[[], None] = lambda: None) -> Tally:
    """Check bundles of records of many lengths in which nothing is wrong."""
    random = Random(seed)
    tally = Tally("a good bundle raises no alarm")
    for _ in range(bundles):
        site, entries = stream(per_day=random.choice((2, 3)))
        length = random.randrange(1, min(len(entries), 2_000))
        noted = sorted(random.sample(range(1, length + 1), min(3, length)))
        log = record(entries[:length], site, entries[0].recorded_at, noted=noted)
        for check in verify(BytesIO(bundle(log, Q3)), key=log.signers[0].verifier):
            if check.holds is not True:
                tally.wrong.append(f"{length} entries: {check.name}: {check.said}")
        tally.tried += 1
        told()
    return tally
