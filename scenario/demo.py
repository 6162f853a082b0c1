"""The demonstration: a quarter lived through the service's own interface, then put on paper."""

import asyncio
import gc
import shutil
import zipfile
from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
from rich.console import Console
from rich.progress import Progress
from rich.table import Table

from scenario.hospital import load_site
from scenario.people import show, take_on
from scenario.quarter import FULL_DAY, Quarter, simulate
from scenario.standing_out import figures_stand_out
from service.app import create_app, utc_now
from service.bundles.verify import verify
from service.custody.words import Role
from service.duties import administrator, officer
from service.duties.access import Caller
from service.settings import Settings
from service.store.store import Store

QUARTER = "2026-Q3"
TOKEN_DAYS = 3650
PAGE = 1_000
BUNDLE = "manifest.zip"
LABEL_STOCKS = {"labels-sheet.pdf": "a4-8", "labels-roll.pdf": "roll-100x50-203"}
LABELS_EACH = 24
SINGLE = {".pdf": "manifest.pdf", ".xlsx": "manifest.xlsx"}
"""What is laid beside the manifest's archive for those who only want to look, by ending."""


class DemoError(RuntimeError):
    """The demonstration cannot run here; the message says why."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What is asked for: where files go, the seed, and the size of the hospital's day."""

    out: Path
    seed: int
    per_day: int


@dataclass
class Hands:
    """The simulated world's clock and the client through which it speaks to the service."""

    now: datetime
    client: httpx.AsyncClient

    async def get(
        self, path: str, accept: str = "application/json", **query: Any
    ) -> httpx.Response:
        """Fetch; anything but success ends the demonstration."""
        answer = await self.client.get(path, params=query, headers={"Accept": accept})
        return _good(answer)

    async def post(self, path: str, body: Any, **headers: str) -> httpx.Response:
        """Send; anything but success ends the demonstration."""
        return _good(await self.client.post(path, json=body, headers=headers))


def _good(answer: httpx.Response) -> httpx.Response:
    if answer.is_error:
        raise DemoError(f"{answer.request.url.path} answered {answer.status_code}: {answer.text}")
    return answer


def run_demo(settings: Settings, plan: Plan, console: Console) -> bool:
    """Simulate, record, compare with what was planted, and write labels, manifest and summary.

    Gives whether every planted fault was found and nothing else.

    Raises:
        DemoError: the folder holds something else, or the service refused what it must take.
    """
    _make_room(plan.out, settings)
    site = load_site()
    store = Store(settings.database_url)
    try:
        gc.set_threshold(50_000, 20, 100)
        quarter = simulate(plan.seed, containers_per_day=plan.per_day)
        gc.freeze()  # the stream stays until the end: nothing is gained by looking it through
        caller = Caller(site.id, "demonstration", Role.ADMINISTRATOR)
        officer.set_up(store, caller, site, quarter.start)
        tokens = {
            role: administrator.admit_program(
                store, caller, f"demo-{role}", role, quarter.start, timedelta(TOKEN_DAYS)
            )
            for role in Role
        }
        found_all = asyncio.run(_live(settings, plan, console, (store, quarter, tokens)))
        show(take_on(store, caller, utc_now()), console, f"http://localhost:{settings.port}")
        return found_all
    finally:
        store.close()


def _make_room(out: Path, settings: Settings) -> None:
    """The folder is made; the database of an earlier demonstration is replaced, nothing else."""
    out.mkdir(parents=True, exist_ok=True)
    database = out / "custody.sqlite3"
    if database.exists():
        store = Store(settings.database_url)
        try:
            store.database.claim()  # a record that is being served is not taken away
            held = store.facilities()
        finally:
            store.close()
        if held not in ([], [load_site().id]):
            raise DemoError(f"{database} holds the record of {', '.join(held)}: use another --out")
        for path in out.glob("custody.sqlite3*"):
            path.unlink()
        shutil.rmtree(settings.key_dir, ignore_errors=True)  # they sign the record just removed


async def _live(
    settings: Settings,
    plan: Plan,
    console: Console,
    world: tuple[Store, Quarter, dict[Role, str]],
) -> bool:
    store, quarter, tokens = world
    hands: Hands
    app = create_app(settings, clock=lambda: hands.now, store=store)
    bearer = {"Authorization": f"Bearer {tokens[Role.OFFICER]}"}
    async with httpx.AsyncClient(
        transport=httpx.ASGITransport(app), base_url="http://demo", headers=bearer, timeout=600
    ) as client:
        hands = Hands(quarter.start, client)
        refused = await _record(hands, store, quarter, console)
        hands.now = quarter.end
        found = await _found(hands)
        exact = _compare(Counter(quarter.truth), found, console) and not refused
        if plan.per_day >= FULL_DAY:  # in a small hospital the scatter hides what was planted
            exact &= await figures_stand_out(hands.get, quarter.figures, console)
        files = await _write_papers(hands, quarter, plan.out, console)
    proved = _verify(plan.out / BUNDLE, console)
    summary = _summary(quarter, found, files, (exact, refused), proved)
    (plan.out / "summary.txt").write_text(summary, encoding="utf-8")
    console.print(summary, highlight=False, soft_wrap=True)
    console.print("Tokens of this demonstration (Authorization: Bearer ...):")
    for role, token in tokens.items():
        console.print(f"  {role:14} {token}", highlight=False)
    return exact and proved.failed == 0


async def _record(hands: Hands, store: Store, quarter: Quarter, console: Console) -> int:
    """Send the quarter batch by batch as it happened; give how many events were refused."""
    refused = 0
    with Progress(console=console) as bar:
        task = bar.add_task(f"{quarter.site.name}, {QUARTER}", total=quarter.events)
        for batch in quarter.batches:
            hands.now = batch.recorded_at
            brought = (e["sha256"] for e in batch.events if e["kind"] == "trace_attached")
            if files := {sha256: quarter.traces[sha256] for sha256 in brought}:
                store.keep_traces(quarter.site.id, files)
            device_time = batch.recorded_at + timedelta(seconds=batch.clock_offset_s)
            answer = await hands.post(
                "/v1/events",
                batch.events,
                **{"Custody-Device-Time": device_time.isoformat()},
            )
            for outcome in answer.json():
                if outcome["outcome"] == "refused":
                    refused += 1
                    console.print(f"refused: {outcome['reason']}", highlight=False)
            bar.advance(task, len(batch.events))
    return refused


async def _found(hands: Hands) -> Counter[tuple[str, str]]:
    """Everything that had opened by the quarter's end, closed or not, by container and code."""
    found: Counter[tuple[str, str]] = Counter()
    query: dict[str, Any] = {"standing": "false", "limit": PAGE, "at": hands.now.isoformat()}
    while True:
        page = (await hands.get("/v1/violations", **query)).json()
        found.update((v["container"], v["code"]) for v in page["violations"])
        if not page["next"]:
            return found
        query["after"] = page["next"]


def _compare(
    truth: Counter[tuple[str, str]], found: Counter[tuple[str, str]], console: Console
) -> bool:
    """Print what was planted against what was found, by code."""
    planted, seen = _by_code(truth), _by_code(found)
    missed, extra = _by_code(truth - found), _by_code(found - truth)
    table = Table("violation", "happened", "found", "missed", "found in error")
    for code in sorted(planted | seen):
        row = (planted[code], seen[code], missed[code], extra[code])
        table.add_row(code, *map(str, row))
    console.print(table)
    return truth == found


def _by_code(counted: Counter[tuple[str, str]]) -> Counter[str]:
    codes: Counter[str] = Counter()
    for (_, code), times in counted.items():
        codes[code] += times
    return codes


async def _write_papers(hands: Hands, quarter: Quarter, out: Path, console: Console) -> list[Path]:
    files: list[Path] = []
    some = quarter.containers[-LABELS_EACH:]
    with console.status("printing labels and manifest"):
        for name, stock in LABEL_STOCKS.items():
            pdf = await hands.post("/v1/labels/filled", {"containers": some, "stock": stock})
            files.append(_save(out / name, pdf.content))
        whole = await hands.get(f"/v1/manifests/{QUARTER}", accept="application/zip")
        files.append(_save(out / BUNDLE, whole.content))
        key = await hands.get("/v1/checkpoint/key", accept="text/plain")
        files.append(_save(out / "log.vkey", key.content))
        with zipfile.ZipFile(out / BUNDLE) as bundle:
            inside = [Path(name) for name in bundle.namelist() if Path(name).suffix in SINGLE]
            files += (_save(out / SINGLE[p.suffix], bundle.read(str(p))) for p in inside)
    return files


@dataclass(frozen=True, slots=True)
class Proved:
    """How many checks of the bundle held, failed, or could not be made."""

    held: int
    failed: int
    unmade: int

    def __str__(self) -> str:
        return f"{self.held} checks hold, {self.failed} fail, {self.unmade} could not be made"


def _verify(bundle: Path, console: Console) -> Proved:
    """Check the bundle as an inspector would, from its bytes alone; print what does not hold."""
    counted: Counter[bool | None] = Counter()
    with console.status("verifying the bundle"), bundle.open("rb") as file:
        for check in verify(file):
            counted[check.holds] += 1
            if not check.holds:
                console.print(f"{check.name}: {check.said}", highlight=False)
    return Proved(counted[True], counted[False], counted[None])


def _save(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


def _summary(
    quarter: Quarter,
    found: Counter[tuple[str, str]],
    files: list[Path],
    result: tuple[bool, int],
    proved: Proved,
) -> str:
    exact, refused = result
    story = quarter.planned[0]
    lines = [
        f"{quarter.site.name}, {QUARTER}: an invented hospital; no real place or person is meant.",
        f"{len(quarter.containers):,} containers, {quarter.events:,} events, {refused} refused.",
        f"{found.total():,} violations found, {len(quarter.planned):,} faults were planted: "
        + ("all found, none in error." if exact else "NOT the same, see the table."),
        f"One of them: {story.story} ({story.code}, container {story.container})",
        f"{BUNDLE}, checked from its bytes alone: {proved}.",
        "Files: " + ", ".join(str(f) for f in files),
    ]
    return "\n".join(lines) + "\n"
