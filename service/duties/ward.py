"""The ward's duties: reserve ids and print labels, blank ahead of use or filled after sealing."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from secrets import randbelow
from uuid import UUID

from labels.face import Face
from labels.payload import payload
from labels.sheets import cut, print_labels
from labels.stock import STOCKS, Stock, named
from service.access.entries import AccessKind
from service.access.recording import refusal
from service.custody import identifiers
from service.custody.events import Entry, Labelled
from service.custody.regime import Category
from service.custody.rules import Rules
from service.duties.access import Caller, Kind, NotAllowedError, demand, note_refusal
from service.duties.entering import enter
from service.duties.lookup import NotFoundError, container
from service.duties.record import on_record
from service.manifests.printed import kg
from service.store.store import Store

LABELS_MAX = 2_000
"""Labels in one print job."""


def stocks() -> tuple[Stock, ...]:
    """Give the label stocks that can be printed on."""
    return tuple(STOCKS.values())


@dataclass(frozen=True, slots=True)
class BlankLabels:
    """What is asked for: how many labels, on which stock.

    Attributes:
        id: Id of the ``labelled`` event: the same request again gives the same labels.
        base_url: The address that the printed code opens.
    """

    id: UUID
    count: int
    stock: str
    base_url: str
    actor: str


def blank_labels(
    store: Store,
    caller: Caller,
    asked: BlankLabels,
    now: datetime,
    random_below: Callable[[int], int] = randbelow,
) -> tuple[tuple[str, ...], bytes]:
    """Reserve ids, record that their labels are printed, and give the ids and the PDF.

    Raises:
        ValueError: an unknown stock, a count out of bounds, or an address that does not fit.
        NotAllowedError: the caller may not print labels, or not in the name of that actor.
    """
    codes = reserve(store, caller, asked, now, random_below)
    facility_name = store.rules(caller.facility).site.name
    faces = [
        Face(container_id=i, payload=code, facility_name=facility_name) for i, code in codes.items()
    ]
    return tuple(codes), print_labels(faces, named(asked.stock))


def reserve(
    store: Store,
    caller: Caller,
    asked: BlankLabels,
    now: datetime,
    random_below: Callable[[int], int] = randbelow,
) -> dict[str, str]:
    """Reserve ids, record that their labels are printed, and give each id with its code.

    Raises:
        ValueError: an unknown stock, a count out of bounds, or an address that does not fit.
        NotAllowedError: the caller may not print labels, or not in the name of that actor.
    """
    demand(caller, "print_blank_labels")
    stock = named(asked.stock)
    _fits_one_job(asked.count)
    key = store.label_key(caller.facility)
    payload(asked.base_url, "0" * identifiers.LENGTH, "0" * identifiers.TAG_LENGTH)
    if store.entry(caller.facility, asked.id) is None:
        ids = _unused(store, caller.facility, asked.count, random_below)
        event = Labelled(
            id=asked.id,
            containers=ids,
            occurred_at=now,
            actor=asked.actor,
            device=_sent_from(caller),
            count=len(ids),
            layout=stock.name,
        )
        entry = Entry(event, now, sender=caller.name)
        _demand_author(store, caller, entry)
        store.append(caller.facility, [entry])
    # What is on record counts: the same request may have come twice at once.
    printed = store.entry(caller.facility, asked.id)
    if printed is None or printed.event.kind != "labelled" or printed.event.count != asked.count:
        raise ValueError("this id is on record for something else: make a new one")
    ids = printed.event.containers
    _enter(store, caller, now, "blank", len(ids), stock)
    return {i: payload(asked.base_url, i, identifiers.tag(i, key)) for i in ids}


def filled_labels(
    store: Store,
    caller: Caller,
    container_ids: Sequence[str],
    stock: str,
    base_url: str,
    now: datetime,
) -> tuple[bytes, tuple[str, ...]]:
    """Give the PDF of labels of registered containers, with all that their regime asks for.

    With it come the names of the fields that the stock has no room to print in full: whoever
    prints must be told, since a regime may ask for them.

    Raises:
        NotFoundError: one of them is not registered, or not within the caller's scope.
        ValueError: an unknown stock or no container named.
    """
    demand(caller, "print_filled_labels")
    key = store.label_key(caller.facility)
    _fits_one_job(len(container_ids))
    faces = [
        _filled(store, caller, i, payload(base_url, i, identifiers.tag(i, key)), now)
        for i in container_ids
    ]
    chosen = named(stock)
    shortened = dict.fromkeys(name for face in faces for name in cut(face, chosen))
    pdf = print_labels(faces, chosen)
    _enter(store, caller, now, "filled", len(faces), chosen)
    return pdf, tuple(shortened)


def _enter(
    store: Store, caller: Caller, now: datetime, form: str, count: int, stock: Stock
) -> None:
    """Labels that are handed out again are entered again: there are more of them now."""
    kind = AccessKind.LABELS_PRINTED
    enter(store, caller, kind, now, form=form, count=count, layout=stock.name)


def _sent_from(caller: Caller) -> str | None:
    return caller.device or (caller.name if caller.kind is Kind.PROGRAM else None)


def _demand_author(store: Store, caller: Caller, entry: Entry) -> None:
    with store.reading() as connection:
        known = on_record(connection, caller, [entry])
    reason = refusal(caller, entry, known, store.rules(caller.facility).site)
    if reason:
        note_refusal(store, caller, "print_blank_labels", entry.recorded_at)
        raise NotAllowedError(reason)


def _fits_one_job(count: int) -> None:
    if not 1 <= count <= LABELS_MAX:
        raise ValueError(f"{count} labels asked for; one job prints 1 to {LABELS_MAX}")


def _unused(
    store: Store, facility: str, count: int, random_below: Callable[[int], int]
) -> tuple[str, ...]:
    ids: dict[str, None] = {}
    while len(ids) < count:
        drawn = [identifiers.new_id(random_below) for _ in range(count - len(ids))]
        taken = store.known_ids(facility, drawn)
        ids.update(dict.fromkeys(i for i in drawn if i not in taken))
    return tuple(ids)


def _filled(store: Store, caller: Caller, container_id: str, code: str, now: datetime) -> Face:
    view = container(store, caller, container_id, now)
    standing, rules = view.standing, view.rules
    if standing.category is None or standing.sealed_at is None or standing.unit is None:
        raise NotFoundError(f"container {container_id} is not registered: print a blank label")
    day = rules.site.local_day(standing.sealed_at)
    category = rules.regime.category_on(standing.category, day)
    if category is None:
        raise NotFoundError(f"category {standing.category} is not in force on {day}")
    unit = rules.site.units.get(standing.unit)  # a later set-up may have closed it
    weight = f"{kg(standing.weight_g)} kg" if standing.weight_g else ""
    return Face(
        container_id=container_id,
        payload=code,
        category_name=category.name,
        colour_name=category.colour,
        colour_hex=category.colour_hex,
        mark=category.mark,
        pattern=category.pattern,
        unit_name=unit.name if unit else standing.unit,
        sealed_at_local=rules.local(standing.sealed_at),
        weight_kg=weight,
        symbol=category.symbol.value,
        regime_lines=_sender_and_receiver(rules, category, day),
        cautions=category.cautions,
    )


def _sender_and_receiver(rules: Rules, category: Category, day: date) -> tuple[str, ...]:
    """Sender, receiver, emergency contact and transport codes: what regimes want on the road."""
    contact = rules.site.contact
    plant = next((p for p in rules.site.party if p.may("treat", category.id, day)), None)
    lines = [f"From: {rules.site.name}, {contact.address}, {contact.telephone}, {contact.name}"]
    if plant is not None:
        lines.append(f"To: {plant.name}, {plant.address}, {plant.telephone}")
    if contact.emergency:
        lines.append(f"Emergency: {contact.emergency}")
    codes = " · ".join(filter(None, (category.un_number, *category.codes)))
    return (*lines, codes) if codes else tuple(lines)
