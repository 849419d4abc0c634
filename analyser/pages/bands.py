"""Which tolerance bands the time strips of a hold show, taken from what the debrief judged by."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import numpy as np

from analyser.circuits.flown import FlownHold, Turn
from analyser.pages.figures.strips import Band, Strip
from analyser.pages.series import HoldSeries


def hold_strips(flown: FlownHold, series: HoldSeries, circuits: list[Mapping[str, Any]]) -> list[Strip]:
    """Return the strips of a hold, those first that are judged.

    Parameters
    ----------
    flown : FlownHold
    series : HoldSeries
    circuits : list of mapping
        Of the debrief document: their scores carry targets and tolerances.

    Returns
    -------
    list of Strip
        A quantity that the log cannot give has no strip.
    """
    motion, time = flown.motion, series.time_s
    sd = {
        name: np.interp(time, motion.time_s, getattr(motion, name)) for name in ("ias_sd_kt", "bank_sd_deg")
    }
    has_ias = not np.isnan(series.ias_kt).all()
    speed = series.ias_kt if has_ias else series.tas_kt
    strips = [
        Strip("altitude", "Altitude", "ft", 0, time, series.altitude_ft, None,
              _level_bands(circuits, "altitude"), metres=True),
        Strip("speed", "Indicated airspeed" if has_ias else "True airspeed", "kt", 0, time, speed,
              sd["ias_sd_kt"] if has_ias else None, _level_bands(circuits, "speed")),
        Strip("bank", "Bank, right wing down is positive", "°", 0, time, series.bank_deg, sd["bank_sd_deg"],
              _bank_bands(flown, circuits)),
        Strip("cross", "Off the inbound course, right is positive", "NM", 2, time, series.cross_nm, None,
              _track_bands(flown, series, circuits)),
    ]  # fmt: skip
    return [strip for strip in strips if not np.isnan(strip.value).all()]


def _score(circuit: Mapping[str, Any], item: str, about: str = "target") -> tuple[float, float] | None:
    """Return what an item was judged about and by how much it may differ."""
    score = (circuit.get("scores") or {}).get(item) or {}
    middle, tolerance = score.get(about), score.get("tolerance")
    return None if middle is None or tolerance is None else (float(middle), float(tolerance))


def _level_bands(circuits: list[Mapping[str, Any]], item: str) -> list[Band]:
    """Bands about a level to keep, which the score calls its reference."""
    bands = []
    for circuit in circuits:
        found = _score(circuit, item, "reference")
        if found:
            level, tolerance = found
            bands.append(
                Band(circuit["start_s"], circuit["end_s"], level - tolerance, level + tolerance, level)
            )
    return bands


def _bank_bands(flown: FlownHold, circuits: list[Mapping[str, Any]]) -> list[Band]:
    scores = {circuit["number"]: _score(circuit, "bank") for circuit in circuits}
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


def _track_bands(flown: FlownHold, series: HoldSeries, circuits: list[Mapping[str, Any]]) -> list[Band]:
    """Bands for the inbound legs: degrees as seen from the fix make a wedge, cut here into short steps."""
    scores = {circuit["number"]: _score(circuit, "track") for circuit in circuits}
    units = {c["number"]: (c["scores"].get("track") or {}).get("unit", "°") for c in circuits}
    bands = []
    for circuit in flown.circuits:
        found, leg = scores.get(circuit.number), circuit.inbound_leg
        if not found or leg is None:
            continue
        edges = np.linspace(leg.start_s, leg.end_s, 13)
        for start, end in pairwise(edges):
            to_go = -float(np.interp((start + end) / 2, series.time_s, series.along_nm))
            # On a distance leg the tolerance is in miles; on a radio aid it narrows towards the fix.
            half = found[1] if units[circuit.number] == "NM" else to_go * math.tan(math.radians(found[1]))
            if half < 0.02:
                continue
            bands.append(Band(float(start), float(end), -half, half, 0.0))
    return bands
