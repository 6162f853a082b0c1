"""A quarter that begins in the middle of a record: what is brought forward, keys, checkpoints."""

from dataclasses import replace
from datetime import timedelta
from io import BytesIO
from typing import Any
from uuid import UUID

import pytest

from service.bundles import names
from service.bundles.archive import BundleError
from service.bundles.material import Earlier
from service.bundles.reckoned import reckoned
from service.bundles.verify import verify
from service.bundles.write import write
from service.custody.events import Amended, Disposed, Entry
from service.custody.rules import Rules
from service.ledger.leaf import SiteVersion, entry_leaf, setup_leaf
from service.ledger.merkle import inclusion_proof, peaks
from service.regimes.load import assemble
from tests.bundles.made import (
    Q2,
    Q3,
    SHIFTED,
    Record,
    before_and_after,
    bundle,
    checked,
    failed,
    files_of,
    later,
    material,
    record,
    regimes_of,
    signed_anew,
    stream,
    unknown,
)


def test_all_holds_with_the_bundle_of_the_quarter_before() -> None:
    """And without it, only what it would show is open."""
    log, earlier, made = later()
    key = log.signers[0].verifier
    found = checked(made, key=key, previous=BytesIO(earlier))

    assert [check for check in found if check.holds is not True] == []
    assert list(unknown(made, key=key)) == ["nothing open left out"]
    assert failed(earlier, key=key) == unknown(earlier, key=key) == {}


def test_an_old_event_that_is_taken_back_now_opens_its_container_again() -> None:
    """The amendment names nobody: the disposal it strikes out was in the quarter before."""
    log, entries = before_and_after()
    earlier = bundle(log, Q2)
    gone = next(e for e in read_all(log) if isinstance(e.event, Disposed))
    strike = Amended(
        id=UUID(int=9),
        occurred_at=entries[0].at,
        actor="officer",
        supersedes=gone.event.id,
        reason="the receipt was another's",
    )
    log.leaves += [entry_leaf(e) for e in (entries[0], Entry(strike, entries[0].recorded_at))]
    made = bundle(log, Q3)

    assert failed(made, previous=BytesIO(earlier)) == {}
    assert set(gone.event.containers) <= set(material(log, Q3)[1].brought_forward)


def read_all(log: Record) -> list[Entry]:
    """The entries of a record."""
    return [one for one in log.known().values() if isinstance(one, Entry)]


def test_a_container_that_the_service_left_out_of_the_quarter_is_found() -> None:
    """Figures, papers and list agree without it; only the bundle before shows that it was open."""
    log, earlier, _ = later()
    figures, made = material(log, Q3)
    rest = made.brought_forward[1:]
    entries = {n: one for n, one in log.known().items() if isinstance(one, Entry)}
    judged = {line.container for line in figures.lines} - {made.brought_forward[0]}
    rules = Rules(assemble(log.site.regime), log.site)
    figures = reckoned(entries, judged, rules, Q3, made.now, dict(made.traces))
    out = BytesIO()
    write(out, figures, replace(made, brought_forward=rest), regimes_of(log.site))

    assert failed(out.getvalue()) == {}
    wrong = failed(out.getvalue(), previous=BytesIO(earlier))
    assert list(wrong) == ["nothing open left out"]
    assert "with the entries of the earlier bundle: csv/" in wrong["nothing open left out"]


def test_what_is_no_earlier_bundle_of_this_log_shows_nothing() -> None:
    """It ends too soon, is of another log, has other entries, or was made later."""
    log, earlier, made = later()
    site, entries = stream(shift=SHIFTED)
    began = entries[0].recorded_at
    short = record(entries[:500], site, began)
    fork = record(entries[3:2000], site, began)
    for other, holds, said in (
        (short, None, "the earlier bundle ends before entry 501"),
        (fork, False, "the first 1998 entries of the two bundles are not the same"),
    ):
        found = {c.name: c for c in checked(made, previous=BytesIO(bundle(other, Q2)))}
        check = found["nothing open left out"]
        assert (check.holds, said in check.said) == (holds, True), check.said
    more = bundle(log, Q3)
    log.leaves.append(log.leaves[-1].replace(b'"id":"0', b'"id":"1'))
    found = {c.name: c for c in checked(more, previous=BytesIO(bundle(log, Q2)))}
    log.leaves.pop()
    assert found["nothing open left out"].holds is None
    assert "the earlier one was made later" in found["nothing open left out"].said
    assert earlier != made


def test_a_bundle_of_another_facility_or_of_no_earlier_quarter_is_no_earlier_one() -> None:
    """A slip of who checks: no check of the bundle fails by it, and none is made."""
    _, earlier, made = later()
    site, entries = stream(shift=SHIFTED)
    other = site.model_copy(update={"id": "elsewhere"})
    elsewhere = bundle(record(entries[:500], other, entries[0].recorded_at), Q2)
    for given, of, said in (
        (made, made, "it is of 2026-Q3, the bundle to be checked of 2026-Q3"),
        (made, earlier, "it is of 2026-Q3, the bundle to be checked of 2026-Q2"),
        (elsewhere, made, "it is of elsewhere, the bundle to be checked of lantern-hill"),
    ):
        with pytest.raises(BundleError, match=f"the earlier bundle: {said}"):
            verify(BytesIO(of), previous=BytesIO(given))


@pytest.mark.parametrize("where", ["in the middle", "at the end"])
def test_a_bundle_that_begins_too_late_is_found(where: str) -> None:
    """Entries of the quarter before its first would be out of sight."""
    log, *_ = later()
    _, made = material(log, Q3)
    first = made.first + (5 if where == "in the middle" else log.size - made.first)
    found = failed(_beginning_at(log, first))
    assert f"entry {first - 1} was recorded in the quarter too" in found["where the bundle begins"]


def _beginning_at(log: Record, first: int) -> bytes:
    """The bundle as a service would make it that wants to hide the entries before ``first``."""
    nodes = log.nodes()
    return bundle(
        log,
        Q3,
        first=first,
        leaves=log.leaves[first:],
        before=[nodes[node] for node in peaks(first)],
        earlier=[
            Earlier(n, log.leaves[n], inclusion_proof(n, log.size, lambda _: nodes))
            for n in range(first)
        ],
        checkpoints=[],
    )


def test_a_quarter_in_which_nothing_was_recorded_is_proved_too() -> None:
    """The root follows from what was before; all that is open is brought forward."""
    log, _ = before_and_after()
    made = bundle(log, Q3)

    assert files_of(made)[names.ENTRIES] == b""
    assert failed(made, previous=BytesIO(bundle(log, Q2))) == {}


def test_an_older_entry_that_was_changed_is_named() -> None:
    """Its proof does not fit any more."""
    log, _, made = later()
    files = files_of(made)
    rows = files[names.EARLIER].splitlines(keepends=True)
    at = next(n for n, row in enumerate(rows) if rb"\"kind\":\"registered\"" in row)
    rows[at] = rows[at].replace(rb"\"weight_g\":", rb"\"weight_g\":1")
    files[names.EARLIER] = b"".join(rows)
    number = int(rows[at].split(b'"number":')[1].split(b",")[0])
    wrong = failed(signed_anew(files, log.signers[0]))
    assert f"older entry {number} is not proved" in wrong["older entries"]


def test_what_is_brought_forward_is_in_the_figures_and_not_named_again() -> None:
    """The list holds no container besides."""
    log, *_ = later()
    _, made = material(log, Q3)
    named = sorted({*made.brought_forward, "NOBODY"})
    assert (
        "NOBODY is listed as brought forward"
        in failed(bundle(log, Q3, brought_forward=named))["containers"]
    )


def test_a_set_up_that_was_in_force_cannot_be_passed_over() -> None:
    """The quarter was reckoned with the first set-up, though a second one is in the log."""
    log, entries = before_and_after()
    second = log.site.model_copy(update={"name": "Renamed"})
    log.leaves += [entry_leaf(e) for e in entries[:100]]
    log.leaves.append(setup_leaf(SiteVersion(second, 2, entries[100].recorded_at)))
    log.leaves += [entry_leaf(e) for e in entries[100:]]
    first = log.known()[0]

    wrong = failed(bundle(log, Q3, version=first, setup_number=0))
    assert "a later set-up is in the log" in wrong["set-up"]


@pytest.mark.parametrize("hours", [-24, 24])
def test_a_moment_that_is_not_the_one_of_the_reckoning_is_found(hours: int) -> None:
    """Too early, so that what came late is not counted; or later than the last entry."""
    log, *_ = later()
    _, made = material(log, Q3)
    found = _told(bundle(log, Q3, now=made.now + timedelta(hours=hours)))
    assert found["moment of the reckoning"].holds is (hours < 0)
    assert ("NOT FINISHED" in found["moment of the reckoning"].said) == (hours < 0)
    assert found["tables"].holds is False or hours > 0


def _told(made: bytes) -> dict[str, Any]:
    return {c.name: c for c in checked(made)}
