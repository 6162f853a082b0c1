"""A history gathered from a list of entries is that of all entries folded together."""

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from service.custody.events import Entry
from service.custody.gathering import Gathering, named_in
from service.custody.history import fold
from tests.bundles.made import stream
from tests.custody.test_any_order import records
from tests.store.test_any_arrival import journeys, of_content
from tests.trade import bag


def same(entries: list[Entry], chance: Any) -> None:
    """Gather every container, numbers mixed; each must be as a fold of all entries gives it."""
    numbers = list(range(len(entries)))
    chance.shuffle(numbers)
    names = sorted(named_in(entries))
    gathered = Gathering(zip(numbers, entries, strict=True)).histories(names)
    for container, history in zip(names, gathered, strict=True):
        assert of_content(history) == of_content(fold(container, entries))


@settings(deadline=None, derandomize=True, max_examples=400)
@given(journeys(), st.randoms(use_true_random=False))
def test_carts_and_consignments_are_gathered_whole(entries: list[Entry], chance: Any) -> None:
    """Carts in carts, outer bags, receipts that name nobody, and amendments of any of them."""
    same(entries, chance)


@settings(deadline=None, derandomize=True, max_examples=200)
@given(records(), st.randoms(use_true_random=False))
def test_any_events_at_all_are_gathered_whole(entries: list[Entry], chance: Any) -> None:
    """So it is for events that make no sense, with wrong clocks, false labels and imports."""
    same(entries, chance)


def test_what_bears_on_a_container_is_enough_for_it() -> None:
    """Whoever has only the entries that bear on some containers folds the same histories."""
    entries = dict(enumerate(stream()[1]))
    some = sorted(named_in(entries.values()))[::40]
    whole = Gathering(entries.items())
    numbers = whole.bearing_on(some)
    part = Gathering((number, entries[number]) for number in numbers)

    assert len(numbers) < len(entries) / 2
    assert list(map(of_content, part.histories(some))) == list(
        map(of_content, whole.histories(some))
    )


def test_an_amendment_names_what_it_corrects_to() -> None:
    """Who reads which containers entries name reads the corrected event too."""
    story = bag("soiled", "A").sealed("2026-08-01 08:00").amended("2026-08-02 08:00", "registered")

    assert named_in(story.entries) == {"A"}
    assert named_in(story.entries[1:]) == {"A"}
