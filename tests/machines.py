"""Two invented autoclaves and a shredder, and cycles told as the trade speaks of them."""

from hashlib import sha256
from typing import Any

from service.custody.cycles import proofs
from service.custody.events import EVENT, Entry
from service.custody.history import History, fold, with_proofs
from service.custody.rules import Rules
from service.custody.standing import Standing, stand
from service.custody.verdict import Violation
from service.custody.violations import judge
from service.regimes.load import assemble
from service.treatment.cycles import TraceJudge
from tests.house import hospital
from tests.trade import Story, at, event_id
from tests.treatment.traces import cycle

_QUARTERS = (("01-01", "04-01"), ("04-01", "07-01"), ("07-01", "10-01"), ("10-01", "12-31"))
_HOLDS = [
    {"on": f"{year}-{on}", "until": f"{year}-{until}"}
    for year in range(2025, 2028)
    for on, until in _QUARTERS
]
_CALIBRATED = [{"on": f"{year}-01-01", "until": f"{year}-12-31"} for year in range(2025, 2028)]


def machine(id_: str, **said: Any) -> dict[str, Any]:
    """A gravity autoclave of the plant for 60 kg, validated each quarter."""
    usual = {"id": id_, "name": id_.upper(), "party": "plant", "kind": "gravity"}
    inspected = {"capacity_kg": "60", "validation": _HOLDS, "calibration": _CALIBRATED}
    return usual | inspected | said


MACHINES = [
    machine("ac-1"),
    machine("ac-2"),
    {"id": "shredder-1", "name": "Shredder", "party": "plant", "kind": "shredder"},
]
PASSING = cycle().encode()
"""A gravity cycle of 61 min at 121.5 °C in saturated steam."""
FAILING = cycle(50).encode()
"""The same for 50 min only."""


def plant(*machines: dict[str, Any], **site: Any) -> Rules:
    """The Indian rules at the invented hospital, whose plant has these machines."""
    held = list(machines) or MACHINES
    return Rules(assemble("india-2016"), hospital(regime="india-2016", machine=held, **site))


class Load(Story):
    """A red bag, and the cycles it goes through, with the bytes of their traces."""

    def __init__(self, container: str = "BAG-1") -> None:
        super().__init__(container, "red")
        self.traces: dict[str, bytes] = {}

    def told(self, kind: str, when: str, **said: Any) -> "Load":
        """Something about a cycle or a machine, of no container."""
        moment = at(when)
        usual = {"id": event_id(moment), "kind": kind, "occurred_at": moment, "actor": "operator"}
        self.entries.append(Entry(EVENT.validate_python(usual | said), moment))
        return self

    def ran(self, start: str, end: str, name: str = "K-1", **said: Any) -> "Load":
        """A machine ran a cycle, and the container was in it."""
        usual = {"cycle": name, "machine": "ac-1", "step": "autoclave", "party": "plant"}
        self.told("cycle_run", end, started_at=at(start), **(usual | said))
        step = said.get("step", "autoclave")
        self.tell("treated", end, step=step, party="plant", cycle=name)
        return self

    def traced(self, when: str, content: bytes = PASSING, name: str = "K-1") -> "Load":
        """The logger's file was attached."""
        digest = sha256(content).hexdigest()
        self.traces[digest] = content
        said = {"sha256": digest, "media_type": "text/csv", "size_bytes": len(content)}
        return self.told("trace_attached", when, cycle=name, **said)

    def indicated(self, when: str, turned: bool = True, name: str = "K-1") -> "Load":
        """The chemical indicator was read."""
        return self.told("indicator_read", when, cycle=name, turned=turned)

    def spores(self, when: str, grew: bool = False, machine: str = "ac-1") -> "Load":
        """A spore strip went through the machine."""
        return self.told("spore_tested", when, machine=machine, grew=grew)

    def at_the_plant(self) -> "Load":
        """Sealed on the ward and received at the plant on the morning of 2026-07-06."""
        self.sealed("2026-07-06 06:00").tell("double_bagged", "2026-07-06 06:10")
        self.collected("2026-07-06 07:00").dispatched("2026-07-06 08:00")
        self.received("2026-07-06 09:00")
        return self

    def judged(self, rules: Rules) -> History:
        """The history with what its cycles prove."""
        found = proofs(self.entries, rules, TraceJudge(self.traces.get))
        return with_proofs(fold(self.container, self.entries), found)

    def flags(self, rules: Rules, *codes: str) -> list[Violation]:
        """The violations about cycles and machines, or those of the codes."""
        wanted = codes or ("treatment.", "cycle.", "machine.")
        return [v for v in judge(self.judged(rules), rules) if v.code.startswith(wanted)]

    def stands(self, rules: Rules) -> Standing:
        """How the container stands."""
        return stand(self.judged(rules), rules)


def good_load() -> Load:
    """A load as it should be: spore test, cycle, indicator and trace, all in time."""
    story = Load().at_the_plant().spores("2026-07-03 08:00")
    story.ran("2026-07-06 10:00", "2026-07-06 11:21").indicated("2026-07-06 11:25")
    return story.traced("2026-07-06 11:30")
