"""Which tolerance bands the time strips of a hold show, taken from what the debrief judged by."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np

from analyser.circuits.flown import FlownHold, Leg, Turn
from analyser.pages.figures.strips import Band, Strip
from analyser.pages.subject import HoldSeries, Subject

if TYPE_CHECKING:
    from analyser.grading.keeping import LevelPlan
    from analyser.schema.debrief_file import WrittenCircuit, WrittenExcursion, WrittenHold


def hold_strips(subject: Subject) -> list[Strip]:
    """Return the strips of a hold, those first that are judged; what the log cannot give has none."""
    flown, series, document = subject.flown, subject.series, subject.document
    motion, time, circuits = flown.motion, series.time_s, document.circuits
    sd = {
        name: np.interp(time, motion.time_s, getattr(motion, name)) for name in ("ias_sd_kt", "bank_sd_deg")
    }
    has_ias = not np.isnan(series.ias_kt).all()
    speed = series.ias_kt if has_ias else series.tas_kt
    strips = [
        Strip("altitude", "Altitude", "ft", 0, time, series.altitude_ft, None,
              _altitude_bands(flown, circuits, subject.levels), metres=True, outside=_left(document, "altitude")),
        Strip("speed", "Indicated airspeed" if has_ias else "True airspeed", "kt", 0, time, speed,
              sd["ias_sd_kt"] if has_ias else None, _speed_bands(circuits), outside=_left(document, "speed")),
        Strip("bank", "Bank, right wing down is positive", "°", 0, time, series.bank_deg, sd["bank_sd_deg"],
              _bank_bands(flown, circuits), outside=_left(document, "bank")),
        Strip("cross", "Off the inbound course, right is positive", "NM", 2, time, series.cross_nm, None,
              _track_bands(flown, series, circuits), outside=_left(document, "track")),
    ]  # fmt: skip
    return [strip for strip in strips if not np.isnan(strip.value).all()]


def _left(document: WrittenHold, item: str) -> list[WrittenExcursion]:
    """Return when a quantity left its tolerance on the circuits that were judged."""
    judged = {one.number for one in document.circuits if one.scores[item].points is not None}
    return [one for one in document.excursions if one.item == item and judged & set(one.circuits)]


def _score(
    circuit: WrittenCircuit, item: str, about: Literal["target", "reference"] = "target"
) -> tuple[float, float] | None:
    """Return what an item was judged about and by how much it may differ; None where it was not judged."""
    score = circuit.scores[item]
    middle = score.target if about == "target" else score.reference
    # A band over a quantity that is known too badly to be judged would mark faults that nobody can see.
    if middle is None or score.tolerance is None or score.points is None:
        return None
    return middle, score.tolerance


def _speed_bands(circuits: Sequence[WrittenCircuit]) -> list[Band]:
    bands = []
    for circuit in circuits:
        found = _score(circuit, "speed", "reference")
        if found:
            speed, tolerance = found
            bands.append(Band(circuit.start_s, circuit.end_s, speed - tolerance, speed + tolerance, speed))
    return bands


def _altitude_bands(flown: FlownHold, circuits: Sequence[WrittenCircuit], levels: LevelPlan) -> list[Band]:
    """Bands about each level held; there is none while the aircraft was on its way to another."""
    time, level = flown.motion.time_s, levels.reference_ft
    bands = []
    for circuit in circuits:
        found = _score(circuit, "altitude")
        if not found:
            continue
        inside = np.flatnonzero((time >= circuit.start_s) & (time <= circuit.end_s) & np.isfinite(level))
        breaks = np.flatnonzero((np.diff(inside) > 1) | (np.abs(np.diff(level[inside])) > 1.0)) + 1
        for run in np.split(inside, breaks):
            if run.size > 1:
                held, tolerance = float(level[run[0]]), found[1]
                bands.append(
                    Band(float(time[run[0]]), float(time[run[-1]]), held - tolerance, held + tolerance, held)
                )
    return bands


def _bank_bands(flown: FlownHold, circuits: Sequence[WrittenCircuit]) -> list[Band]:
    scores = {circuit.number: _score(circuit, "bank") for circuit in circuits}
    bands = []
    for circuit in flown.circuits:
        found = scores.get(circuit.number)
        for turn in (circuit.outbound_turn, circuit.inbound_turn):
            if found and turn is not None:
                bands.append(_turn_band(turn, *found))
    return bands


def _turn_band(turn: Turn, target: float, tolerance: float) -> Band:
    # Rolling in and out is no fault: the band holds for the established part.
    side = math.copysign(1.0, turn.heading_change_deg)
    edges = sorted((side * (abs(target) - tolerance), side * (abs(target) + tolerance)))
    return Band(turn.established_start_s, turn.established_end_s, edges[0], edges[1], side * abs(target))


def _track_bands(flown: FlownHold, series: HoldSeries, circuits: Sequence[WrittenCircuit]) -> list[Band]:
    """Bands for the inbound legs: in miles even, in degrees as seen from the fix narrowing towards it."""
    scores = {circuit.number: circuit.scores["track"] for circuit in circuits}
    bands = []
    for circuit in flown.circuits:
        score, leg = scores[circuit.number], circuit.inbound_leg
        tolerance = score.tolerance
        if tolerance is None or score.points is None or leg is None:
            continue
        if score.unit == "NM":
            bands.append(Band(leg.start_s, leg.end_s, -tolerance, tolerance, 0.0))
        else:
            bands.append(_wedge(leg, series, math.tan(math.radians(tolerance))))
    return bands


def _wedge(leg: Leg, series: HoldSeries, slope: float) -> Band:
    # Within the last stretch degrees mean nothing; the band ends where it is a fifth as wide as at its start.
    far = max(-float(np.interp(leg.start_s, series.time_s, series.along_nm)), 0.05)
    return Band(leg.start_s, leg.end_s - 0.2 * leg.duration_s, -far * slope, far * slope, 0.0, narrows_to=0.2)
