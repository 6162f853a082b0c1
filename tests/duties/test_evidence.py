"""Evidence from a real record: bundles that prove themselves, signatures, proofs, lost entries."""

import json
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest

from service.bundles import names
from service.bundles.verify import verify
from service.custody.events import Entry
from service.custody.words import Role
from service.duties import evidence
from service.duties.access import Caller, NotAllowedError
from service.duties.evidence import ForkError, Keeping, KeyringError
from service.duties.lookup import NotFoundError
from service.ledger.checkpoint import parse
from service.ledger.leaf import read
from service.ledger.merkle import check_consistency, check_inclusion, leaf_hash
from service.ledger.note import Verifier, note_text, opened
from service.store import evidence as signatures
from service.store.keyring import Keyring
from service.store.store import Store
from tests.bundles.made import stream
from tests.databases import Databases
from tests.store.record import LABEL_KEY, SET_UP_AT, site
from tests.trade import Story, at, bag

URL = "https://custody.example"
Q2, Q3, Q4 = "2026-Q2", "2026-Q3", "2026-Q4"
LATER = at("2027-02-01 09:00")
DAY = timedelta(days=1)
DENIED = [Role.WARD, Role.HANDLER, Role.PLANT]


@dataclass
class House:
    """One facility, its record and its keys."""

    store: Store
    keeping: Keeping
    facility: str = "hill"

    def caller(self, role: Role = Role.OFFICER) -> Caller:
        """Somebody of a role."""
        return Caller(self.facility, f"{role}-device", role)

    @property
    def admin(self) -> Caller:
        """The administrator."""
        return self.caller(Role.ADMINISTRATOR)

    @property
    def key(self) -> Verifier:
        """The key in force."""
        return evidence.public_key(self.keeping, self.caller())

    def tell(self, *told: Story | Entry) -> None:
        """Record entries in the order in which they were taken in."""
        entries = [e for t in told for e in (t.entries if isinstance(t, Story) else [t])]
        self.store.append(self.facility, sorted(entries, key=lambda e: e.recorded_at))

    def sign(self, now: datetime = LATER) -> str:
        """Sign the log."""
        return evidence.sign_log(self.keeping, self.caller(), now).note

    def bundle(self, quarter: str, now: datetime = LATER) -> bytes:
        """Write a quarter's bundle."""
        out = BytesIO()
        evidence.bundle(self.keeping, self.caller(), quarter, now, out)
        return out.getvalue()


@pytest.fixture
def house(database: str, tmp_path: Path) -> Iterator[House]:
    """The invented hospital with nothing on record."""
    store = Store(database)
    made = House(store, Keeping(store, Keyring(tmp_path / "keys"), URL))
    store.set_up(site("hill"), SET_UP_AT, LABEL_KEY)
    yield made
    store.close()


def wrong(bundle: bytes, previous: bytes | None = None, **given: Any) -> Mapping[str, str]:
    """What does not hold in a bundle, or could not be checked."""
    before = BytesIO(previous) if previous else None
    found = verify(BytesIO(bundle), previous=before, **given)
    return {check.name: check.said for check in found if check.holds is not True}


# --- bundles


@pytest.mark.parametrize(("seed", "days"), [(1, -45), (6, 40)])
def test_every_quarter_of_a_simulated_life_proves_itself(
    database: str, tmp_path: Path, seed: int, days: int
) -> None:
    """Carts, rolls, consignments, corrections and late entries, across the ends of quarters."""
    of_stream, entries = stream(per_day=2, shift=timedelta(days=days), seed=seed)
    store = Store(database)
    house = House(store, Keeping(store, Keyring(tmp_path / "keys"), URL), of_stream.id)
    store.set_up(of_stream, entries[0].recorded_at - 30 * DAY, LABEL_KEY)
    for low in range(0, len(entries), 500):
        house.tell(*entries[low : low + 500])
    previous = None
    for quarter in (Q2, Q3, Q4):
        made = house.bundle(quarter)
        assert wrong(made, previous, key=house.key) == {}, quarter
        previous = made
    store.close()


def a_year(house: House) -> tuple[Verifier, list[str]]:
    """A record in which every quarter rests on the one before; the first key and what it signed.

    OPEN is never treated; FORWARD is treated in the next quarter; their roll is older still. The
    cart goes round every day. Each quarter corrects the one before it and adds what came late.
    """
    roll = [f"ROLL-{n}" for n in range(6)]
    before = (
        Story()
        .labelled("2026-03-20 08:00", *roll, "OPEN", "FORWARD", "LATE")
        .tell("registered", "2026-06-20 08:00", "OPEN", category="yellow-c", weight_g=900)
        .tell("registered", "2026-06-30 08:00", "FORWARD", category="yellow-c", weight_g=800)
        .packed("2026-06-30 09:00", "FORWARD")
    )
    rounds = Story(category="yellow-c")
    for day in range(30):
        moment, carried = at("2026-06-02 10:00") + day * 3 * DAY, f"DAY-{day}"
        rounds.sealed(moment, carried, weight_g=1000 + day).packed(moment, carried)
        rounds.collected(moment, "CART-1").emptied(moment + timedelta(hours=1))
        rounds.treated(moment + timedelta(hours=5), containers=(carried,))
        rounds.disposed(moment + timedelta(hours=9), containers=(carried,))
    spill = bag().tell(  # a device's clock ran ahead across midnight
        "spilled", "2026-07-01 00:10", "FORWARD", after=timedelta(minutes=-30)
    )
    house.tell(before, rounds, spill)
    first, notes = house.key, [house.sign(at("2026-09-10 08:00"))]

    house.store.set_up(site("hill", name="Renamed"), at("2026-09-12 08:00"), LABEL_KEY)
    autumn = replace(before, entries=[])
    autumn.treated("2026-09-13 08:00", containers=("FORWARD",))
    wrong_one = before.last("registered")
    right = wrong_one.model_copy(update={"weight_g": 850})
    autumn.tell(
        "amended", "2026-09-14 08:00", "FORWARD", supersedes=wrong_one.id, corrected=right,
        reason="misread",
    )  # fmt: skip
    late = Story().tell(
        "registered", "2026-09-29 08:00", "LATE", after=5 * DAY, category="yellow-c", weight_g=700
    )
    house.tell(autumn, late)
    evidence.change_key(house.keeping, house.admin, at("2026-10-05 08:00"), reason="yearly")
    notes.append(house.sign(at("2026-10-05 09:00")))
    lost = Story().lost("2026-11-01 08:00", "LATE").notified("2026-11-02 08:00")
    again = right.model_copy(update={"weight_g": 855})
    lost.tell(
        "amended", "2026-11-03 08:00", "FORWARD", supersedes=wrong_one.id, corrected=again,
        reason="misread again",
    )  # fmt: skip
    house.tell(lost)
    return first, notes


def test_a_year_of_bundles_holds_by_the_first_key_and_every_checkpoint(house: House) -> None:
    """Brought forward, corrected, told late, under a set-up and a key changed meanwhile."""
    first, notes = a_year(house)
    made = {quarter: house.bundle(quarter) for quarter in ("2026-Q1", Q2, Q3, Q4)}
    with_them: dict[str, Any] = {"key": first, "checkpoints": notes}

    assert wrong(made["2026-Q1"], **with_them) == {}
    assert wrong(made[Q2], made["2026-Q1"], **with_them) == {}
    assert wrong(made[Q3], made[Q2], **with_them) == {}
    assert wrong(made[Q4], made[Q3], **with_them) == {}
    assert [*wrong(made[Q4], **with_them)] == ["nothing open left out"]
    assert "OPEN" in brought_forward(made[Q4])
    assert "spill" in text(made[Q3], "csv/incidents.csv")


def brought_forward(bundle: bytes) -> list[str]:
    """The containers that were open when the quarter began and that it does not name."""
    return [json.loads(line) for line in text(bundle, names.BROUGHT_FORWARD).splitlines()]


def text(bundle: bytes, name: str) -> str:
    """A file of a bundle."""
    with ZipFile(BytesIO(bundle)) as files:
        return files.read(name).decode()


def test_of_a_carts_old_trips_one_is_enough(house: House) -> None:
    """The bundle of a late quarter does not carry all rounds of the ones before."""
    a_year(house)
    moment = at("2026-11-05 08:00")
    house.tell(Story(category="yellow-c").sealed(moment, "NEW", weight_g=1).packed(moment, "NEW"))
    earlier = text(house.bundle(Q4), names.EARLIER)
    trips = [line for line in earlier.splitlines() if "CART-1" in line and "DAY-" in line]

    assert len(trips) <= 1
    assert "CART-1" in earlier


def test_the_same_quarter_gives_the_same_bytes_whenever_it_is_asked_for(house: House) -> None:
    """At once, and years later; a further entry makes another bundle."""
    a_year(house)
    made = house.bundle(Q3)

    assert house.bundle(Q3) == made
    assert house.bundle(Q3, LATER + 900 * DAY) == made
    house.tell(Story().lost("2027-03-01 08:00", "OPEN"))
    assert house.bundle(Q3, LATER + 900 * DAY) != made


def test_a_bundle_brings_the_checkpoints_of_its_own_quarter(house: House) -> None:
    """Of those before, the nearest; the last; and those where the key was changed."""
    for month in range(4, 13):
        moment = at(f"2026-{month:02}-10 08:00")
        house.tell(bag("yellow-c", f"BAG-{month}").sealed(moment))
        house.sign(moment + timedelta(hours=1))
        if month == 4:
            evidence.change_key(house.keeping, house.admin, moment + DAY, reason="yearly")
    house.tell(bag("yellow-c", "LAST").sealed("2026-12-20 08:00"))
    made = house.bundle(Q3)
    brought = [json.loads(line)["note"] for line in text(made, names.CHECKPOINTS).splitlines()]

    # The set-up is entry 0; April to December are entries 1 to 9, each signed with its own.
    assert [parse(note_text(note)).size for note in brought] == [2, 4, 5, 6, 7, 10]
    assert wrong(made, house.bundle(Q2), key=house.key) == {}


def test_an_unfinished_quarter_is_proved_as_it_stands(house: House) -> None:
    """And says that it is not finished."""
    a_year(house)
    made = house.bundle(Q4, at("2026-11-20 08:00"))

    assert wrong(made, house.bundle(Q3), key=house.key) == {}
    found = {c.name: c.said for c in verify(BytesIO(made))}
    assert "NOT FINISHED" in found["moment of the reckoning"]


def test_a_house_with_nothing_on_record_has_a_bundle_too(house: House) -> None:
    """Of the set-up alone."""
    assert wrong(house.bundle(Q3), key=house.key) == {}


# --- signatures


def test_a_log_is_signed_once_a_day_if_it_grew(house: House) -> None:
    """Not sooner, and not again where nothing came."""
    noon = at("2026-07-01 12:00")

    def signed(now: datetime) -> bool:
        return evidence.sign_daily(house.keeping, house.admin, now) is not None

    assert signed(noon)
    house.tell(bag("yellow-c").sealed("2026-07-01 12:30"))
    assert not signed(noon + DAY - timedelta(seconds=1))
    assert signed(noon + DAY)
    assert not signed(noon + 3 * DAY)


def test_a_signed_log_without_its_key_is_not_signed_by_a_new_one(
    house: House, tmp_path: Path
) -> None:
    """Another folder of keys is a mistake in the settings: no second key comes into being."""
    house.sign()
    astray = replace(house.keeping, keyring=Keyring(tmp_path / "elsewhere"))

    with pytest.raises(KeyringError, match="CUSTODY_KEY_DIR"):
        evidence.sign_log(astray, house.caller(), LATER)
    with pytest.raises(KeyringError, match="CUSTODY_KEY_DIR"):
        evidence.bundle(astray, house.caller(), Q3, LATER, BytesIO())
    assert not [*tmp_path.glob("elsewhere/**/*.pem")]
    assert opened(house.sign(), [house.key]).signed_by


def test_after_entries_are_lost_nothing_is_signed_until_that_is_said(
    database: str, databases: Databases, tmp_path: Path
) -> None:
    """An older copy is put back; said openly, in the new key's note, it goes on."""
    backup = databases.at(tmp_path / "backup")

    def restored(house: House) -> House:
        """The same house on that older copy."""
        house.store.close()
        databases.copy(backup, database)
        store = Store(database)
        return House(store, replace(house.keeping, store=store))

    store = Store(database)
    house = House(store, Keeping(store, Keyring(tmp_path / "keys"), URL))
    store.set_up(site("hill"), SET_UP_AT, LABEL_KEY)
    house.tell(bag("yellow-c", "KEPT").sealed("2026-07-01 08:00", weight_g=900))
    house.sign(at("2026-07-01 09:00"))
    store.close()
    databases.copy(database, backup)
    house = restored(house)
    house.tell(bag("yellow-c", "LOST").sealed("2026-07-02 08:00", weight_g=900))
    gone, first = house.sign(at("2026-07-02 09:00")), house.key

    house = restored(house)
    house.tell(bag("yellow-c", "OTHER").sealed("2026-07-03 08:00", weight_g=900))
    for act in (
        house.sign,
        lambda: house.bundle(Q3),
        lambda: evidence.sign_daily(house.keeping, house.admin, LATER),
        lambda: evidence.change_key(house.keeping, house.admin, LATER, reason="x"),
    ):
        with pytest.raises(ForkError, match="entries are lost or changed"):
            act()

    note = evidence.change_key(
        house.keeping, house.admin, LATER, reason="disk failed", after_loss=True
    )
    assert "disk failed" in note
    made = house.bundle(Q3)
    assert wrong(made, key=house.key) == {}
    assert any("given" in name or "gave" in name for name in wrong(made, checkpoints=[gone]))
    assert first != house.key
    house.store.close()


def test_many_may_ask_for_a_signature_at_once(house: House) -> None:
    """Each reading that waits for the key leaves a connection to the one that holds it."""
    house.tell(bag("yellow-c").sealed("2026-07-01 12:30"))
    with ThreadPoolExecutor(32) as pool:
        notes = set(pool.map(lambda _: house.sign(), range(32)))
    assert len(notes) == 1


def test_whoever_asks_for_the_key_while_another_makes_it_gets_that_one(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A log that was signed just now was not signed with a key that is gone."""
    real = signatures.last_signed

    def another_signs_first(connection: Any, log: str) -> Any:
        monkeypatch.setattr(signatures, "last_signed", real)
        house.sign()
        with house.store.reading() as later:
            return real(later, log)

    monkeypatch.setattr(signatures, "last_signed", another_signs_first)
    assert opened(house.sign(), [house.key]).signed_by


# --- proofs and who may ask


def test_growth_and_inclusion_are_proved_against_what_was_signed(house: House) -> None:
    """By RFC 9162, section 2.1, with nothing but the two notes at hand."""
    story = bag("yellow-c").sealed("2026-07-01 08:00").packed("2026-07-01 09:00")
    house.tell(story)
    first = parse(opened(house.sign(), [house.key]).text)
    house.tell(*(bag("yellow-c", f"B{n}").sealed("2026-07-02 08:00") for n in range(9)))
    second = parse(opened(house.sign(), [house.key]).text)

    proof = evidence.growth(house.keeping, house.caller(), first.size, None)
    check_consistency(first.size, first.root, second.size, second.root, proof)
    for entry in story.entries:
        for state in (first, second):
            found = evidence.inclusion(house.keeping, house.caller(), entry.event.id, state.size)
            assert found.root == state.root
            hashed = leaf_hash(found.leaf)
            check_inclusion(hashed, found.number, found.size, found.proof, state.root)
            told = read(found.leaf)
            assert isinstance(told, Entry) and told.event == entry.event
    last = house.store.entry(house.facility, story.entries[-1].event.id)
    assert last is not None
    with pytest.raises(ValueError, match="12 entries, not 13"):
        evidence.growth(house.keeping, house.caller(), 1, 13)
    with pytest.raises(ValueError):
        evidence.growth(house.keeping, house.caller(), 4, 3)
    with pytest.raises(ValueError):
        evidence.inclusion(house.keeping, house.caller(), last.event.id, 1)
    with pytest.raises(NotFoundError, match="no event"):
        evidence.inclusion(
            house.keeping, house.caller(), bag().sealed("2026-07-01 08:00").last("registered").id,
            None,
        )  # fmt: skip


@pytest.mark.parametrize("role", DENIED)
def test_those_who_work_with_waste_are_given_no_evidence(house: House, role: Role) -> None:
    """It tells of the whole record, which is not theirs to read; no key is made for them."""
    caller, of = house.caller(role), house.keeping
    event_id = bag().sealed("2026-07-01 08:00").last("registered").id
    for act in (
        lambda: evidence.sign_log(of, caller, LATER),
        lambda: evidence.growth(of, caller, 1, None),
        lambda: evidence.inclusion(of, caller, event_id, None),
        lambda: evidence.bundle(of, caller, Q3, LATER, BytesIO()),
    ):
        with pytest.raises(NotAllowedError, match="administrator, inspector, officer"):
            act()
    assert house.keeping.keyring.vkeys(house.facility).keys == ()


@pytest.mark.parametrize("role", [role for role in Role if role is not Role.ADMINISTRATOR])
def test_only_the_administrator_changes_the_key(house: House, role: Role) -> None:
    """Nobody else's token does, and the key stays; its name outlives a change of the address."""
    before = house.key
    with pytest.raises(NotAllowedError, match="to change log key is for administrator"):
        evidence.change_key(house.keeping, house.caller(role), LATER, reason="because")
    moved = replace(house.keeping, label_url="https://other.example")
    assert evidence.public_key(moved, house.caller()) == before
    assert before.name == "custody.example/hill"
