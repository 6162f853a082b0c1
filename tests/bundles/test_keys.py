"""Keys that were changed, and checkpoints that the verifier holds or the bundle brings."""

from dataclasses import replace
from io import BytesIO

import pytest

from service.bundles.material import Signed, sizes_wanted
from service.bundles.verify import Check
from service.ledger.leaf import entry_leaf
from service.ledger.merkle import consistency_proof
from service.ledger.note import sign
from service.ledger.vouching import Vouching
from tests.bundles.made import (
    Q3,
    SHIFTED,
    before_and_after,
    bundle,
    checked,
    failed,
    later,
    material,
    record,
    rotated,
    signer,
    stream,
    unknown,
)


def test_a_changed_key_is_followed_from_the_one_that_is_held() -> None:
    """The first key, the second and the present one all lead to it; a stranger's does not."""
    log, made = rotated()
    for number, one in enumerate(log.signers):
        found = {c.name: c for c in checked(made, key=one.verifier)}
        assert [c for c in found.values() if c.holds is False] == []
        said = found["key"].said
        assert said.startswith(log.signers[-1].verifier.vkey)
        assert ("vouched for by the one you gave" in said) == (number < 2)
    assert "every two years" in {c.name: c.said for c in checked(made)}["changes of key"]
    assert list(failed(made, key=signer(log.origin, 9).verifier)) == ["key"]


def test_a_vouching_note_that_the_old_key_did_not_sign_leads_nowhere() -> None:
    """The service lost its key and made the note up."""
    log, _ = rotated()
    forged = replace(log, signers=[*log.signers[:2], signer(log.origin, 9)])
    forged.vouching = [
        log.vouching[0],
        sign(log.vouching[1].rpartition("\n\n")[0] + "\n", log.signers[2]),
    ]
    made = bundle(forged, Q3)
    assert "key" in failed(made)


@pytest.mark.parametrize("lost", [False, True])
def test_a_change_of_key_says_whether_the_record_went_on(lost: bool) -> None:
    """A state the log never had is found; that entries were lost cannot be passed over."""
    log, entries = before_and_after()
    log.leaves += [entry_leaf(e) for e in entries]
    old, new = log.signers[0], signer(log.origin, 2)
    state = log.state(log.size - 5)
    if not lost:
        state = replace(state, root=bytes(32))
    change = Vouching(state, old.verifier, new.verifier, entries[-1].at, "disk failed", lost)
    log.signers.append(new)
    log.vouching.append(sign(change.text, old, new))
    made = bundle(log, Q3)

    said = (unknown if lost else failed)(made)["changes of key"]
    assert ("what was signed before that holds no more" in said) == lost
    assert (f"the first {state.size} entries are not those at the change" in said) != lost


def test_an_old_key_signs_nothing_after_its_time() -> None:
    """A checkpoint over more entries than its change says, by the key that was given up."""
    log, made = rotated()
    state = log.note(log.size - 2, log.signers[0])
    wrong = failed(made, checkpoints=[state])
    assert "signed by a key that was given up" in wrong["checkpoint 1 that you gave"]


def test_checkpoints_that_you_hold_are_compared() -> None:
    """Within the bundle by its leaves, before it by the proofs in it, beyond it not at all."""
    log, _, made = later()
    first = material(log, Q3)[1].first
    notes = [log.note(n) for n in (0, first, first + 7, log.size)]
    held = {c.name: c for c in checked(made, checkpoints=notes)}
    assert all(held[f"checkpoint {n} that you gave"].holds for n in range(1, 5))

    fork = record(stream(shift=SHIFTED)[1][3:], log.site, log.known()[0].recorded_at)
    for size, holds, said in (
        (first + 7, False, "are not those that it was signed over"),
        (log.size + 1, None, "ask for a newer one"),
        (first - 7, None, "no proof for it is in the bundle"),
    ):
        fork.leaves += fork.leaves[:10]
        (check,) = checked(made, checkpoints=[fork.note(size)])[-1:]
        assert (check.holds, said in check.said) == (holds, True), check.said
    other = replace(log, site=log.site.model_copy(update={"id": "elsewhere"}))
    assert "of another log" in checked(made, checkpoints=[other.note(5)])[-1].said
    assert checked(made, checkpoints=["no note"])[-1].holds is False


def test_an_older_checkpoint_is_compared_by_the_proof_in_the_bundle() -> None:
    """One from before the first entry; another history of the same size does not pass."""
    log, _ = rotated()
    size = log.noted[0]
    made = rotated()[1]
    fork = record(stream(shift=SHIFTED)[1][3:], log.site, log.known()[0].recorded_at)

    good = checked(made, checkpoints=[log.note(size, log.signers[0])])[-1]
    assert good.holds
    assert f"only grew since its {size} entries" in good.said
    assert checked(made, checkpoints=[fork.note(size)])[-1].holds is False


def test_a_checkpoint_older_than_the_bundle_is_held_against_the_bundle_before() -> None:
    """There is no proof for it in this one; that this one goes on from the other is shown."""
    log, earlier, made = later()
    size = material(log, Q3)[1].first - 7
    fork = record(stream(shift=SHIFTED)[1][3:], log.site, log.known()[0].recorded_at)

    def said(note: str) -> Check:
        return checked(made, checkpoints=[note], previous=BytesIO(earlier))[-1]

    assert said(log.note(size)).holds
    assert f"the earlier bundle begins with the {size} entries" in said(log.note(size)).said
    assert said(fork.note(size)).holds is False


@pytest.mark.parametrize(
    ("signed", "wanted"),
    [
        ([], []),
        ([300], [300]),
        ([10, 90, 100, 101, 150, 200, 201, 250, 300], [100, 101, 150, 200, 300]),
        ([10, 40, 90, 250], [40, 90, 250]),
        ([120, 210], [120, 210]),
    ],
)
def test_the_checkpoints_of_other_quarters_are_left_out(
    signed: list[int], wanted: list[int]
) -> None:
    """Entries 100 to 199 are the quarter's; the key was changed at 40. The last one stays."""
    assert sorted(sizes_wanted(signed, 100, 200, [40])) == wanted


def test_an_earlier_checkpoint_of_another_history_is_found() -> None:
    """The service signed two histories, and put the wrong one in."""
    log, *_ = later()
    fork = record(stream(shift=SHIFTED)[1][3:], log.site, log.known()[0].recorded_at)
    nodes = log.nodes()
    wrong = Signed(fork.note(200), consistency_proof(200, log.size, lambda _: nodes))
    found = failed(bundle(log, Q3, checkpoints=[wrong]))
    assert "the checkpoint of 200 entries" in found["earlier checkpoints"]
