"""What the loggers of a cycle showed, as sensor elements of the standard: readings, no verdict."""

from collections.abc import Iterator, Mapping
from datetime import UTC
from typing import Any

from service.custody.proof import Proof
from service.manifests.epcis.names import Names, own

_READINGS = (("temperature_c", "Temperature", "CEL"), ("pressure_kpa", "Pressure", "KPA"))
"""Figure, measurement type of the standard, and code of UN/ECE Recommendation 20."""


def elements(proof: Proof | None, names: Names) -> list[dict[str, Any]]:
    """Give an element for each trace and each of the regime's windows that it ever stood in.

    Lowest and highest are of all probes during the longest unbroken time in that window; pressure
    is absolute.
    """
    if proof is None or proof.run is None:
        return []
    return [
        element
        for sha256, figures in proof.judged.items()
        for window in figures.get("windows", ())
        if (element := _element(proof, sha256, figures, window, names))
    ]


def _element(
    proof: Proof,
    sha256: str,
    figures: Mapping[str, Any],
    window: Mapping[str, Any],
    names: Names,
) -> dict[str, Any]:
    reports = list(_reports(window))
    if not reports:
        return {}
    of_cycle: dict[str, Any] = {"rawData": names.of_site("trace", sha256)}
    if proof.machine is not None:
        of_cycle["deviceID"] = names.of_site("machine", proof.machine)
    for name, at in (("startTime", proof.started_at), ("endTime", proof.ended_at)):
        if at is not None:
            of_cycle[name] = at.astimezone(UTC).isoformat().replace("+00:00", "Z")
    ours = {name: window.get(name) for name in ("window", "from_s", "until_s", "dwell_min")}
    ours["f0_min"] = figures.get("f0_min")
    told = {own(name): value for name, value in ours.items() if value is not None}
    return {"sensorMetadata": of_cycle, "sensorReport": reports} | told


def _reports(window: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    for name, kind, unit in _READINGS:
        found = window.get(name)
        if found is not None:
            yield {"type": kind, "minValue": found[0], "maxValue": found[1], "uom": unit}
