"""What each picture shows, in a sentence: its caption and its text alternative."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from analyser.pages.figures.strip import Strip, outside
from analyser.pages.figures.waterfall import Share
from analyser.pages.phases import Span
from analyser.pages.words import NOT_JUDGED, clock, direction, number

if TYPE_CHECKING:
    from analyser.pages.series import HoldSeries

#: Causes of the error budget in words.
_CAUSES = {
    "fix_crossing": "fix crossing",
    "arrival_heading": "heading over the fix",
    "outbound_turn_start": "start of outbound turn",
    "outbound_turn_bank": "bank, outbound turn",
    "outbound_heading": "outbound heading",
    "outbound_time": "outbound time",
    "inbound_turn_bank": "bank, inbound turn",
    "rollout_heading": "roll-out heading",
    "unsteadiness": "unsteady flying",
    "airspeed": "airspeed",
    "wind_change": "wind change",
    "measurement": "the log itself",
    "inbound_leg": "inbound leg",
}


def cause_words(cause: str) -> str:
    """Say a cause of the error budget in words."""
    return _CAUSES.get(cause, cause.replace("_", " "))


def wind_words(document: Mapping[str, Any]) -> str:
    """Say the hold's wind: ``"from 325°M at 19 kt"``."""
    wind = document.get("wind") or {}
    if wind.get("from_true") is None or wind.get("speed_kt") is None:
        return "that the log cannot tell"
    return (
        f"from {direction(wind['from_true'], document.get('variation'))[0]} at {number(wind['speed_kt'])} kt"
    )


def plan(document: Mapping[str, Any]) -> str:
    """Say what the plan view shows."""
    circuits = document.get("circuits") or []
    count = f"{len(circuits)} circuit{'s' if len(circuits) != 1 else ''} flown over the exact one"
    text = f"North up: {count} for a wind {wind_words(document)}."
    worst = [(abs(off), off, c["number"]) for c in circuits if (off := _rollout(c)) is not None]
    if not worst:
        return text
    size, off, which = max(worst)
    words = "right" if off > 0 else "left"
    return f"{text} Widest roll-out: {size:.2f} NM {words} of the inbound course, circuit {which}."


def circuit(circuit: Mapping[str, Any]) -> str:
    """Say how one circuit came out."""
    off = _rollout(circuit)
    if off is None:
        return "Roll-out not known."
    return f"Rolled out {abs(off):.2f} NM {'right' if off > 0 else 'left'} of the course."


def _rollout(circuit: Mapping[str, Any]) -> float | None:
    found: float | None = (circuit.get("inbound_turn") or {}).get("rollout_cross_track_nm")
    return found


def air(document: Mapping[str, Any]) -> str:
    """Say what the air-mass view shows."""
    banks = [
        (abs(bank), words, c["number"])
        for c in document.get("circuits") or []
        for part, words in (("outbound_turn", "outbound"), ("inbound_turn", "inbound"))
        if (bank := (c.get(part) or {}).get("bank_mean")) is not None
    ]
    text = "The same flight as the air saw it; dotted, the way of the fix through the air."
    if not banks:
        return text
    least, most = min(banks), max(banks)
    return (
        f"{text} Over the circles of the bank asked for: "
        f"flattest turn {least[0]:.0f}° ({least[1]}, circuit {least[2]}), "
        f"steepest {most[0]:.0f}° ({most[1]}, circuit {most[2]})."
    )


def side(series: HoldSeries) -> str:
    """Say what the side view shows."""
    low, high = float(np.nanmin(series.altitude_ft)), float(np.nanmax(series.altitude_ft))
    return f"Height over distance to the fix, inbound from left to right: {number(low)} to {number(high)} ft."


def ribbon(spans: Sequence[Span]) -> str:
    """Say what the ribbon shows."""
    starts = [f"circuit {s.circuit} from {clock(s.start_s)}" for s in spans if s.phase == "outbound_turn"]
    return (
        "Time in minutes and seconds from the log's first sample"
        + "".join(f"; {start}" for start in starts)
        + "."
    )


def strip(strip: Strip) -> str:
    """Say what a time strip shows."""
    known = strip.value[~np.isnan(strip.value)]
    low, high = (number(float(edge), strip.decimals) for edge in (known.min(), known.max()))
    text = f"{low} to {high} {strip.unit}".replace(" °", "°")
    if not strip.bands:
        return f"{text}; not judged."
    spots = outside(strip)
    if not spots:
        return f"{text}; inside the band wherever it applies."
    worst = max(spots, key=lambda spot: abs(spot.beyond))
    seconds = sum(max(spot.end_s - spot.start_s, 1.0) for spot in spots)
    far = f"{number(worst.beyond, strip.decimals, signed=True)} {strip.unit}".replace(" °", "°")
    return (
        f"{text}; outside the band for {seconds:.0f} s, farthest {far} from target at {clock(worst.worst_s)}."
    )


def entry(document: Mapping[str, Any]) -> str:
    """Say what the sector diagram shows."""
    found = document.get("entry")
    if not found:
        return "The log starts inside the hold: no arrival to judge."
    at = direction(found["arrival_heading_true"], document.get("variation"))[0]
    allowed = " or ".join(found.get("sectors_allowed") or ()) or "no entry"
    verdict = found.get("verdict") or NOT_JUDGED
    return f"Heading {at} at the fix asks for {allowed}; flown: {found.get('flown')}, {verdict}."


def wind(document: Mapping[str, Any]) -> str:
    """Say what the wind circle shows."""
    wind, tas = document["wind"], document["tas_kt"]
    text = (
        f"Ground velocities lie round a wind {wind_words(document)}, {number(tas)} kt of true airspeed away."
    )
    if wind.get("sd_kt") is None:
        return text
    two = 2 * wind["sd_kt"]
    return f"{text} The disc is two sigma wide on either axis, ±{two:.1f} kt: six times in seven the wind lies in it."


def waterfall(shares: Sequence[Share], total: float, unit: str, decimals: int) -> str:
    """Say which share of an error is the largest."""
    largest = shares[0]
    sum_words = f"{number(total, decimals, signed=True)} {unit}"
    return f"{sum_words} in all; largest share: {largest.name}, {number(largest.value, decimals, signed=True)} {unit}."
