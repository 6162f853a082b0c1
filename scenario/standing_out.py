"""Whether the figures show what was planted: a heavy week, plastics that stay away, and needles."""

from collections.abc import Awaitable, Callable
from typing import Any

import httpx
from rich.console import Console

from scenario.truth import FiguresTruth

BEFORE_WEEKS = 9
Get = Callable[..., Awaitable[httpx.Response]]


async def figures_stand_out(get: Get, truth: FiguresTruth, console: Console) -> bool:
    """Ask the doors for all, print what they say, and give whether it is what was planted."""
    signal = await _signalled(get, truth, console)
    needles = await _counts_differ(get, truth, console)
    return await _dropped(get, truth, console) and signal and needles


async def _signalled(get: Get, truth: FiguresTruth, console: Console) -> bool:
    unit, category = truth.signal
    asked = {"unit": unit, "category": category, "last": str(truth.drop_last)}
    answer = (await get("/v1/figures/charts", **asked)).json()
    said = [
        signal["said"]
        for chart in answer["charts"]
        if chart["kind"] == "individuals"
        for signal in chart["signals"]
        if (signal["rule"], signal["side"], signal["last"])
        == ("beyond", "above", str(truth.signal_week))
    ]
    console.print(f"signal of {unit}, {category}: {said[0] if said else 'NOT found'}")
    return bool(said)


async def _dropped(get: Get, truth: FiguresTruth, console: Console) -> bool:
    asked: dict[str, Any] = {
        "last": str(truth.drop_last),
        "weeks": truth.drop_weeks,
        "before": BEFORE_WEEKS,
    }
    changes = (await get("/v1/figures/drops", **asked)).json()["changes"]
    first = changes[0] if changes else None
    found = (
        first is not None
        and first["unusual_drop"]
        and (first["unit"], first["category"]) == truth.drop
    )
    console.print(
        f"drop of {', '.join(truth.drop)}: {first['said'] if first and found else 'NOT found'}"
    )
    return found


async def _counts_differ(get: Get, truth: FiguresTruth, console: Console) -> bool:
    answer = (await get("/v1/figures/needles", last=str(truth.drop_last))).json()
    differ = [line for line in answer["lines"] if line["unit"] and line["unexplained"]]
    found = [line["unit"] for line in differ] == [truth.needles]
    said = "NOT found"
    if found:
        few, beyond = differ[0]["missing"], round(differ[0]["unexplained"])
        said = f"{few} fewer cut than used, {beyond} beyond what the counts may be off"
    console.print(f"needles of {truth.needles}: {said}")
    return found
