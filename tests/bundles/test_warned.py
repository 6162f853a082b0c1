"""What a bundle says of a quarter that was not over, or that began before the log did."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from service.bundles import names
from service.bundles.warned import warned
from service.manifests.quarter import Quarter
from tests.bundles.made import Q3, bundle, checked, files_of, later, signed_anew

ZONE = ZoneInfo("Asia/Kolkata")
START, END = Q3.start(ZONE), Q3.end(ZONE)


@pytest.mark.parametrize(
    ("now", "began", "words"),
    [
        (END, None, []),
        (END, START, []),
        (END, START + timedelta(hours=9), []),
        (END, START + timedelta(days=20), ["began on 2026-07-21, after 2026-Q3 had begun"]),
        (END, END, ["began on 2026-10-01, after this quarter had ended"]),
        (END - timedelta(seconds=1), None, ["2026-Q3 ends after 2026-09-30, and was reckoned at"]),
        (
            START + timedelta(days=30),
            START + timedelta(days=20),
            ["NOT FINISHED: 2026-Q3", "BEFORE THE LOG: the log began on 2026-07-21"],
        ),
    ],
)
def test_what_is_not_whole_is_told(now: datetime, began: datetime | None, words: list[str]) -> None:
    """By the facility's own days; a log that began on the quarter's first day has all of it."""
    found = warned(Q3, ZONE, now, began)
    assert len(found) == len(words)
    assert all(word in said for word, said in zip(words, found, strict=True))


def test_a_quarter_before_the_log_says_so_in_the_text_too() -> None:
    """Who has no tool reads it first; a bundle of a whole quarter says nothing of the kind."""
    log, _, made = later()
    before = bundle(log, Quarter(2026, 1))
    text = files_of(before)[names.HOW_TO].decode()

    assert "after this quarter had ended" in " ".join(text.split())
    assert all(check.holds is not False for check in checked(before))
    assert [check.name for check in checked(before) if check.warns] == ["whole quarter"]
    assert "BEFORE THE LOG" not in files_of(made)[names.HOW_TO].decode()


def test_the_warning_cannot_be_left_out_of_the_text() -> None:
    """The text is compared with what the record gives."""
    log, *_ = later()
    files = files_of(bundle(log, Quarter(2026, 1)))
    head, _, rest = files[names.HOW_TO].partition(b"BEFORE THE LOG")
    files[names.HOW_TO] = head + rest.partition(b"\n\n")[2]
    found = {check.name: check for check in checked(signed_anew(files, log.signers[0]))}
    assert found["text for who has no tool"].holds is False
