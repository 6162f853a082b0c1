"""The quarter reckoned anew from entries, set-up and rules alone, and where it begins and ends."""

from service.bundles.checks.case import Case, shortened
from service.bundles.checks.cells import differing
from service.bundles.checks.log import demand_going_on, included
from service.bundles.reading import Doubtful, Unknown, Unsound
from service.bundles.reckoned import reckoned
from service.custody.cycle_events import TraceAttached
from service.custody.events import Entry
from service.custody.gathering import named_in
from service.custody.history import effective
from service.custody.rules import Rules
from service.ledger.leaf import SiteVersion
from service.manifests.figures import QuarterFigures
from service.manifests.tables import tables
from service.regimes.load import BUNDLED, RegimeError, assemble


def setup(case: Case) -> str:
    """The set-up in force is in the log, and no later one is."""
    told, version = case.parts.told, case.parts.version
    later = [
        number
        for number, one in case.parts.known.items()
        if isinstance(one, SiteVersion) and number > told.setup_number
    ]
    if later:
        raise Unsound(f"a later set-up is in the log, entry {max(later)}: it was not in force")
    site = version.site
    return f"set-up {version.version} of {site.name}, entry {told.setup_number}"


def regimes(case: Case) -> str:
    """The rules are those that this tool carries, or come to the same figures."""
    parts = case.parts
    regime = parts.rules.regime
    ours = {path.name: path.read_bytes() for path in BUNDLED.glob("*.toml")}
    other = sorted(name for name, content in parts.regimes.items() if ours.get(name) != content)
    if not other:
        return f"{regime.title}: {len(parts.regimes)} file(s), as this tool carries them"
    said = f"not as this tool carries it: {', '.join(other)}"
    if case.same_tool:
        raise Unsound(f"{said}; the quarter is judged by the bundle's")
    try:
        carried = Rules(assemble(regime.id), parts.version.site)
    except RegimeError as error:
        raise Unknown(f"{said}; the quarter is judged by the bundle's alone: {error}") from error
    by_ours = reckoned(
        parts.entries, parts.judged, carried, parts.quarter, parts.told.now, parts.traces
    )
    wrong = _differences(case, by_ours)
    if wrong:
        raise Unsound(f"{said}; by the tool's own: {shortened(wrong)}")
    return f"{said}; by the tool's own the figures are the same"


def beginning(case: Case) -> str:
    """The bundle begins with the first entry of the quarter."""
    parts = case.parts
    first = parts.told.first
    start = parts.quarter.start(parts.version.site.zone)
    if parts.leaves and parts.leaves[first].recorded_at < start:
        raise Unsound(f"entry {first} was recorded before the quarter began")
    if first == 0:
        return "with the log itself"
    last = parts.older.get(first - 1)
    if last is None:
        raise Unknown(f"entry {first - 1} is not in the bundle: entries of the quarter may precede")
    if last.recorded_at >= start:
        raise Unsound(f"entry {first - 1} was recorded in the quarter too, and is left out")
    return f"entry {first - 1} was recorded before the quarter, entry {first} in it or after"


def moment(case: Case) -> str:
    """The moment of the reckoning is not earlier than what was recorded."""
    parts = case.parts
    now, end = parts.told.now, parts.quarter.end(parts.version.site.zone)
    recorded = [e.recorded_at for e in parts.leaves.values() if isinstance(e, Entry)]
    last = recorded[-1] if recorded else None
    if last is not None and now < last:
        raise Unsound(f"reckoned at {now}, but the last entry was recorded at {last}")
    if now < end:
        return f"{now:%Y-%m-%d %H:%M:%S} UTC, before the quarter's end: NOT FINISHED"
    if now != (end if last is None else max(end, last)):
        raise Unsound(f"reckoned at {now}, which is neither the quarter's end nor the last entry's")
    return f"{now:%Y-%m-%d %H:%M:%S} UTC, after the quarter's end"


def whole(case: Case) -> str:
    """The quarter was over when it was reckoned, and the log goes back to its beginning."""
    if case.parts.warned:
        raise Doubtful(" ".join(case.parts.warned))
    return "it was over, and the log goes back to its beginning"


def traces(case: Case) -> str:
    """The traces are those whose hashes the entries hold, and each cycle is judged as listed."""
    parts = case.parts
    told = {
        h.event.sha256
        for h in effective(parts.entries.values())
        if isinstance(h.event, TraceAttached)
    }
    strange = sorted(parts.traces.keys() - told)
    if strange:
        raise Unsound(f"no entry of the bundle tells of the trace {strange[0]}")
    name = "cycles.csv"
    wrong = differing(parts.file(f"csv/{name}"), case.tables[name], name)
    if wrong:
        raise Unsound(f"judged anew from their traces: {shortened(wrong)}")
    cycles = case.figures.cycles
    listed = {sha256 for cycle in cycles for sha256 in cycle.judged}
    lacking = sorted(listed - parts.traces.keys())
    if lacking:
        raise Doubtful(
            f"{len(cycles)} cycles judged anew; the bytes of {len(lacking)} traces were never on "
            f"record, as of {lacking[0]}"
        )
    return f"{len(listed)} traces, {len(cycles)} cycles judged anew from them: as listed"


def containers(case: Case) -> str:
    """Judged are those that the entries name, and those brought forward, all in the figures."""
    parts = case.parts
    named = named_in(e for e in parts.leaves.values() if isinstance(e, Entry))
    twice = named & set(parts.brought_forward)
    if twice:
        raise Unsound(f"{min(twice)} is listed as brought forward, but an entry names it")
    listed = {line.container for line in case.figures.lines}
    needless = set(parts.brought_forward) - listed
    if needless:
        raise Unsound(f"{min(needless)} is listed as brought forward, but is not in the figures")
    return f"{len(named)} named in the entries, {len(parts.brought_forward)} brought forward"


def reckoning(case: Case) -> str:
    """The figures can be reckoned from entries, set-up and rules."""
    made = case.figures.made
    return f"sealed: {made.containers} containers, {made.grams} g, {made.unweighed} not weighed"


def violations(case: Case) -> str:
    """The rules find the violations that are listed: none missing, none too many."""
    name = "violations.csv"
    wrong = differing(case.parts.file(f"csv/{name}"), case.tables[name], name)
    if wrong:
        raise Unsound(shortened(wrong))
    return f"{len(case.figures.violations)}, all listed and none besides"


def totals(case: Case) -> str:
    """Every cell of every table is what the entries give."""
    parts = case.parts
    wrong: list[str] = []
    for name, made in case.tables.items():
        if f"csv/{name}" not in parts.files:
            wrong.append(f"csv/{name} is missing")
        elif name != "violations.csv":
            wrong += differing(parts.files[f"csv/{name}"], made, name)
    known = {f"csv/{name}" for name in case.tables}
    wrong += [f"{n} is no table" for n in parts.files if n.startswith("csv/") and n not in known]
    if wrong:
        raise Unsound(shortened(wrong))
    cells = sum(made.count(b",") + made.count(b"\n") for made in case.tables.values())
    return f"{len(case.tables)} tables, about {cells:,} cells, as the entries give them"


def completeness(case: Case) -> str:
    """With an earlier bundle's entries added the figures stay: nothing open was left out."""
    parts, earlier = case.parts, case.previous
    setups = sum(isinstance(one, SiteVersion) for one in parts.older.values())
    if setups == parts.told.first:
        return "the bundle holds the log from its beginning"
    if earlier is None:
        raise Unknown(
            "whether more was open when the quarter began is shown only by the bundle of the "
            "quarter before: give it with --previous"
        )
    demand_going_on(parts, earlier)
    size = earlier.told.size
    if size > parts.told.size:
        raise Unknown(
            f"the bundle given as the earlier one was made later, of {size} entries, this one of "
            f"{parts.told.size}: give one that was made before, or have this one made anew"
        )
    included(earlier, earlier.root_at(size))
    changed = [n for n, one in earlier.known.items() if isinstance(one, SiteVersion)]
    if max(changed, default=0) > parts.told.setup_number:
        raise Unsound(f"the set-up was changed by entry {max(changed)}, which is not in force here")
    known = earlier.entries | parts.entries
    # Whatever else an older entry names has other entries that neither bundle holds.
    every = sorted({*earlier.judged, *parts.judged})
    traces = earlier.traces | parts.traces
    whole = reckoned(known, every, parts.rules, parts.quarter, parts.told.now, traces)
    wrong = _differences(case, whole)
    if wrong:
        raise Unsound(f"with the entries of the earlier bundle: {shortened(wrong)}")
    return f"the same figures with the entries from {earlier.told.first} on"


def _differences(case: Case, figures: QuarterFigures) -> list[str]:
    """Say where the tables of other figures are not those of the bundle."""
    found = tables(figures).items()
    return [said for name, made in found for said in differing(case.tables[name], made, name)]
