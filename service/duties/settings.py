"""What is set at a facility, to be looked at: the set-up, the keys, the log, who comes in by token.

Nothing is changed here: a new set-up, a new key, a backup are made on the service's own machine.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from service.custody.regime import Regime
from service.custody.site import Site
from service.duties import lookup
from service.duties.access import Caller, demand
from service.duties.signing import ACCESS, RECORD, Keeping, Log
from service.ledger.note import Verifier
from service.regimes import wording
from service.store import evidence, identities
from service.store.log import LogView


@dataclass(frozen=True, slots=True)
class Signed:
    """A log as it is, and as it was last signed.

    Attributes:
        upto: Entries that the last checkpoint covers.
        at: When it was signed; None if it never was.
    """

    size: int
    upto: int
    at: datetime | None


@dataclass(frozen=True, slots=True)
class Settings:
    """What is set.

    Attributes:
        season: That of today; empty where none is declared.
        label_keys: How many keys stand behind labels that count as ours.
        keys: The public keys of the record's log, the last in force.
        retention: How long the record is kept, with the clause.
        comers: How many devices, programs and codes may come in now, by what they are.
    """

    site: Site
    regime: Regime
    season: str
    label_url: str
    label_keys: int
    keys: Sequence[Verifier]
    record: Signed
    access: Signed
    retention: Sequence[tuple[str, str]]
    comers: Mapping[str, int]


def settings(keeping: Keeping, caller: Caller, now: datetime) -> Settings:
    """Give what is set.

    Raises:
        NotAllowedError: the caller is neither officer nor administrator.
        KeyringError: the keys cannot be used as they lie there.
    """
    demand(caller, "see_settings")
    rules, store = lookup.rules(keeping.store, caller), keeping.store
    day = rules.site.local_day(now)
    kept = [row for row in rules.regime.retention if row.in_force(day)]
    keys = keeping.keyring.vkeys(caller.facility).keys
    with store.reading() as connection:
        clients = identities.clients(connection, caller.facility)
        comers = Counter(
            str(c.kind) for c in clients if c.revoked_at is None and c.expires_at > now
        )

        def signed(log: Log) -> Signed:
            name = log.of(caller.facility)
            last = evidence.last_signed(connection, name)
            upto, at = last or (0, None)
            return Signed(LogView(connection, name).size, upto, at)

        return Settings(
            site=rules.site,
            regime=rules.regime,
            season=rules.site.season_on(day),
            label_url=keeping.label_url,
            label_keys=len(store.label_keys(caller.facility)),
            keys=keys,
            record=signed(RECORD),
            access=signed(ACCESS),
            retention=[(f"{row.who}: {wording.kept(row)}", row.clause) for row in kept],
            comers=comers,
        )
