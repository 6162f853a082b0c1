"""What goes out and what is used is entered in the access log: by whom, how much, no contents."""

import json
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest

from scenario.hospital import load_site
from service.access.entries import AccessKind
from service.custody.words import Role
from service.duties import administrator, evidence, exchange, lookup, officer, ward
from service.duties.access import NotAllowedError, UnwritableError
from service.duties.evidence import ACCESS, Keeping, KeyringError
from service.duties.ward import BlankLabels
from service.manifests.quarter import QuarterError
from service.store.keyring import Keyring
from service.store.store import Store
from tests.api.client import NOON, ids, scanned, sealed
from tests.duties.desk import Desk

[BAG] = ids(1)
DAY = timedelta(days=1)
URL = "https://custody.example"


def entered(desk: Desk) -> list[dict[str, Any]]:
    """The access log."""
    admin = desk.caller(Role.ADMINISTRATOR)
    return [json.loads(b) for _, b in administrator.access_entries(desk.store, admin, 0, 1_000)]


def told(desk: Desk) -> list[tuple[str, str, dict[str, Any]]]:
    """The same, in short."""
    return [(each["kind"], each["actor"], each.get("about", {})) for each in entered(desk)]


def keeping(desk: Desk, folder: Path) -> Keeping:
    """The desk's store with keys."""
    return Keeping(desk.store, Keyring(folder / "keys"), URL)


def test_each_paper_of_a_quarter_is_an_export(desk: Desk) -> None:
    """With its form; figures that are only looked at are none, nor is one that came to nothing."""
    desk.tell(sealed(BAG))
    officer.manifest(desk.store, desk.caller(), "2026-Q3", NOON)
    forms: tuple[officer.Form, ...] = ("pdf", "xlsx", "csv")
    for form in forms:
        officer.paper(desk.store, desk.caller(Role.INSPECTOR), "2026-Q3", form, NOON)
    with pytest.raises(QuarterError):
        officer.paper(desk.store, desk.caller(), "2026-Q7", "pdf", NOON)

    about = [{"form": form, "quarter": "2026-Q3"} for form in forms]
    assert told(desk) == [("exported", "inspector-device", each) for each in about]


def test_a_bundle_is_an_export_and_signs(desk: Desk, tmp_path: Path) -> None:
    """A second one of the same record signs nothing new."""
    desk.tell(sealed(BAG))
    for _ in range(2):
        evidence.bundle(keeping(desk, tmp_path), desk.caller(), "2026-Q3", NOON, BytesIO())

    size = 2
    exported = ("exported", "officer-device", {"form": "bundle", "quarter": "2026-Q3"})
    signed = ("log_signed", "officer-device", {"log": "record", "size": size})
    assert told(desk) == [signed, exported, exported]


def test_a_period_in_the_form_of_others_is_an_export(desk: Desk) -> None:
    """With the period, in UTC; entered before the first part is given."""
    exchange.epcis(desk.store, desk.caller(), (NOON, NOON + DAY), NOON, URL).close()
    with pytest.raises(exchange.PeriodError):
        exchange.epcis(desk.store, desk.caller(), (NOON, NOON), NOON, URL)

    period = {"from": "2026-07-01T12:00:00Z", "until": "2026-07-02T12:00:00Z"}
    assert told(desk) == [("exported", "officer-device", {"form": "epcis", **period})]


def test_labels_are_entered_each_time_they_are_printed(desk: Desk) -> None:
    """The same request again gives the same labels, and there are twice as many."""
    desk.tell(sealed(BAG))
    asked = BlankLabels(UUID(int=7 << 76 | 2 << 62), 5, "a4-8", URL, "nurse-1")
    for _ in range(2):
        ward.blank_labels(desk.store, desk.caller(Role.HANDLER), asked, NOON)
    ward.filled_labels(desk.store, desk.caller(), [BAG], "a4-8", URL, NOON)

    blank = ("labels_printed", "handler-device", {"form": "blank", "count": 5, "layout": "a4-8"})
    filled = ("labels_printed", "officer-device", {"form": "filled", "count": 1, "layout": "a4-8"})
    assert told(desk) == [blank, blank, filled]


def test_looking_things_up_is_not_entered(desk: Desk) -> None:
    """It goes on when the disk is full."""
    desk.tell(sealed(BAG))
    lookup.container(desk.store, desk.caller(), BAG, NOON)
    lookup.entries_after(desk.store, desk.caller(), 0, 10)
    assert entered(desk) == []


def test_what_cannot_be_entered_does_not_go_out(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The disk is full: papers and labels are refused; what is looked up, and what was signed
    already, is given all the same."""
    desk.tell(sealed(BAG))
    held = keeping(desk, tmp_path)
    first = evidence.sign_log(held, desk.caller(), NOON)

    def full(*_: object) -> None:
        raise UnwritableError("the disk is full: nothing was recorded", full=True)

    monkeypatch.setattr(Store, "changing", full)
    monkeypatch.setattr(desk.store.database, "writing", full)
    for act in (
        lambda: officer.paper(desk.store, desk.caller(), "2026-Q3", "csv", NOON),
        lambda: ward.filled_labels(desk.store, desk.caller(), [BAG], "a4-8", URL, NOON),
        lambda: exchange.epcis(desk.store, desk.caller(), (NOON, NOON + DAY), NOON, URL),
    ):
        with pytest.raises(UnwritableError):
            act()
    assert lookup.container(desk.store, desk.caller(), BAG, NOON).standing.category
    assert officer.manifest(desk.store, desk.caller(), "2026-Q3", NOON).made.containers == 1
    assert evidence.sign_log(held, desk.caller(), NOON) == first


def test_signing_is_entered_once_for_each_state(desk: Desk, tmp_path: Path) -> None:
    """The daily one not at all: it is nobody's act."""
    held = keeping(desk, tmp_path)
    desk.tell(sealed(BAG))
    evidence.sign_daily(held, desk.caller(Role.ADMINISTRATOR), NOON)
    assert entered(desk) == []
    evidence.sign_log(held, desk.caller(), NOON)
    assert entered(desk) == [], "that state was signed already"
    desk.tell(sealed(ids(2)[1]))
    for _ in range(2):
        evidence.sign_log(held, desk.caller(), NOON)
    assert told(desk) == [("log_signed", "officer-device", {"log": "record", "size": 3})]


def test_a_change_of_a_logs_key_is_entered_or_is_not_made(desk: Desk, tmp_path: Path) -> None:
    """Of either log; a change that failed leaves no entry."""
    held, admin = keeping(desk, tmp_path), desk.caller(Role.ADMINISTRATOR)
    with pytest.raises(KeyringError):
        evidence.change_key(held, admin, NOON, reason="yearly")
    assert entered(desk) == []
    for log in evidence.LOGS:
        evidence.public_key(held, admin, log)
        evidence.change_key(held, admin, NOON, reason="yearly", log=log)

    about = {"size": 1, "after_loss": 0}
    assert told(desk) == [
        ("log_key_changed", "administrator-device", {"log": "record", **about}),
        ("log_key_changed", "administrator-device", {"log": "access", **about}),
    ]
    with pytest.raises(NotAllowedError):
        evidence.change_key(held, desk.caller(), NOON, reason="yearly", log=ACCESS)


def test_a_set_up_and_a_rebuild_are_entered(desk: Desk) -> None:
    """With its version; a rebuild once it is done."""
    admin = desk.caller(Role.ADMINISTRATOR)
    site = load_site().model_copy(update={"id": desk.facility, "name": "Renamed"})
    officer.set_up(desk.store, admin, site, NOON)
    going = officer.rebuild(desk.store, admin, NOON)
    next(iter(going), None)
    del going
    assert [kind for kind, _, _ in told(desk)] == [AccessKind.SET_UP]
    list(officer.rebuild(desk.store, admin, NOON))
    assert told(desk) == [
        ("set_up", "administrator-device", {"version": 2}),
        ("rebuilt", "administrator-device", {}),
    ]


def test_nobody_sets_up_a_facility_that_is_not_theirs(desk: Desk) -> None:
    """Nor who is no administrator."""
    site = load_site().model_copy(update={"id": f"{desk.facility}-too"})
    with pytest.raises(NotAllowedError, match="you are known at"):
        officer.set_up(desk.store, desk.caller(Role.ADMINISTRATOR), site, NOON)
    with pytest.raises(NotAllowedError, match="to set up is for administrator"):
        officer.set_up(desk.store, desk.caller(), site, NOON)


# --- the key of labels


def test_new_labels_bear_a_new_key_and_old_ones_stay_genuine(desk: Desk) -> None:
    """The newest key prints; all that are kept are known."""
    admin = desk.caller(Role.ADMINISTRATOR)
    first = desk.store.label_key(desk.facility)
    numbers = [
        officer.change_label_key(desk.store, admin, NOON, distrust_old=False) for _ in range(10)
    ]

    keys = desk.store.label_keys(desk.facility)
    assert numbers == list(range(2, 12))
    assert len(set(keys)) == len(keys) == 11
    assert keys[0] == desk.store.label_key(desk.facility)
    assert keys[-1] == first
    assert told(desk)[0][2] == {"key": 2, "old": "trusted"}
    [of_first, of_newest] = ids(2)
    for container, key in ((of_first, first), (of_newest, keys[0])):
        [outcome] = desk.tell(sealed(scanned(container, key)))
        assert outcome.violations == ()


def test_old_keys_that_are_distrusted_are_gone(desk: Desk) -> None:
    """A label of the first key is flagged from then on; the number goes on."""
    admin = desk.caller(Role.ADMINISTRATOR)
    first = desk.store.label_key(desk.facility)
    officer.change_label_key(desk.store, admin, NOON, distrust_old=False)

    assert officer.change_label_key(desk.store, admin, NOON, distrust_old=True) == 3

    [key] = desk.store.label_keys(desk.facility)
    [outcome] = desk.tell(sealed(scanned(BAG, first)))
    assert [v.code for v in outcome.violations] == ["label.not_genuine"]
    [outcome] = desk.tell(sealed(scanned(ids(2)[1], key)))
    assert outcome.violations == ()
    assert officer.change_label_key(desk.store, admin, NOON, distrust_old=False) == 4
    assert len(desk.store.label_keys(desk.facility)) == 2
    assert "distrusted" in str(told(desk))


def test_only_the_administrator_changes_the_key_of_labels(desk: Desk) -> None:
    """Nothing is changed by anybody else."""
    before = desk.store.label_keys(desk.facility)
    with pytest.raises(NotAllowedError, match="to change label key is for administrator"):
        officer.change_label_key(desk.store, desk.caller(), NOON, distrust_old=False)
    assert desk.store.label_keys(desk.facility) == before
