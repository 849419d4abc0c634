"""Which entry was flown: how likely what was seen is under each, and how usual each is from where the flight came.

Most pilots fly the entry that their heading over the fix asks for; learners may fly another. So the sector is evidence
(the prior), and so are the leg's heading and the hands of both turns (the likelihood). The leg's heading has the
drift laid off in it, and nobody knows how many times: every multiple is weighed by how usual it is and by how well it
explains the outbound legs of the laps.
"""

from __future__ import annotations

from math import erf, sqrt

import numpy as np

from analyser.circuits.flown import EntryFlown
from analyser.circuits.hold_view import HoldView
from analyser.circuits.lap_phases import LapPhases
from analyser.circuits.thresholds import ENTRIES
from analyser.circuits.turn_detection import mean_direction
from analyser.earth.angles import wrap180
from analyser.logs.track import FloatArray


def most_likely_entry(view: HoldView, way: LapPhases, side: int, laps: list[LapPhases]) -> EntryFlown:
    """Name what was flown from the passage on arrival to the next: an entry, or ("direct") a circuit already.

    Parameters
    ----------
    view : HoldView
    way : LapPhases
        What was flown between the two passages.
    side : int
        Hand of the hold as it was flown, +1 right, -1 left.
    laps : list of LapPhases
        The laps after it.
    """
    odds = entry_log_odds(view, way, side, laps)
    likeliest = max(odds, key=lambda kind: odds[kind])
    # An offset leg that neither the nose nor the way over the ground led off the reciprocal was none.
    led_off = max(lean_deg(view, way, side), _track_lean_deg(view, way, side)) >= ENTRIES.offset_lean_deg
    return "parallel" if likeliest == "other" and not led_off else likeliest


def entry_log_odds(
    view: HoldView, way: LapPhases, side: int, laps: list[LapPhases]
) -> dict[EntryFlown, float]:
    """Return how likely each entry is, as logarithms that differ by the odds of one against another.

    Parameters
    ----------
    view, way, side, laps
        As for :func:`most_likely_entry`.

    Returns
    -------
    dict of entry to float
        "other" is an offset entry turned back the wrong way.
    """
    # Who came to hold flew a lap: an entry that none follows was hardly one, but a lap itself.
    alone = 0.0 if laps else float(np.log(ENTRIES.entry_alone))
    prior = _prior(-side * float(wrap180(view.air_off_deg[max(way.start - 5, 0)] - 180.0)))
    reciprocal, diverging = _leg_fits(view, way, side, laps)
    seen = view.seen[way.inbound.start : way.inbound.end]
    hidden = bool(seen.size) and float(seen.mean()) < 0.5
    # A lap's own first turn goes the hold's way, or is short.
    against = -side * way.outbound.turned_deg > ENTRIES.against_deg
    lap = float(np.log(ENTRIES.lap_against if against else 1.0))
    hold_way = (
        0.5 if hidden else 1.0 - ENTRIES.hand_misread if way.inbound.side == side else ENTRIES.hand_misread
    )
    return {
        "direct": lap + prior["direct"] + reciprocal + float(np.log(hold_way)),
        "offset": alone + prior["offset"] + diverging + float(np.log(hold_way)),
        "parallel": alone + prior["parallel"] + reciprocal + float(np.log1p(-hold_way)),
        "other": alone + prior["other"] + diverging + float(np.log1p(-hold_way)),
    }


def _prior(short_deg: float) -> dict[EntryFlown, float]:
    """Return the logarithm of how usual each entry is on a heading so far short of the outbound course.

    The sectors of US Navy P-821, figure 3-8 (AIM 5-3-8 has the same), blurred: within 5° of a border either is right,
    and the heading is known no better.
    """

    def within(low: float, high: float) -> float:
        blur = sqrt(2.0) * ENTRIES.sector_sd_deg
        said = (short_deg - 360.0, short_deg, short_deg + 360.0)
        return sum(0.5 * (erf((high - one) / blur) - erf((low - one) / blur)) for one in said)

    in_offset, in_parallel = within(0.0, ENTRIES.offset_to_deg), within(-ENTRIES.parallel_to_deg, 0.0)
    sectors = {"offset": in_offset, "parallel": in_parallel, "direct": 1.0 - in_offset - in_parallel}
    kinds: tuple[EntryFlown, ...] = ("direct", "offset", "parallel", "other")
    return {
        kind: float(np.log(sum(share * ENTRIES.usual[asked][kind] for asked, share in sectors.items())))
        for kind in kinds
    }


def _leg_fits(view: HoldView, way: LapPhases, side: int, laps: list[LapPhases]) -> tuple[float, float]:
    """Return how well a leg's heading fits the reciprocal, and 30° to the holding side of it: log-likelihoods."""
    if way.legs[0][1] - way.legs[0][0] < ENTRIES.leg_told_s:
        return 0.0, 0.0
    multiples = np.array(ENTRIES.drift_multiples)
    spread = ENTRIES.leg_heading_sd_deg

    def aimed(lean: float) -> FloatArray:
        drift_deg = view.drift_deg(180.0 - side * lean)
        laid = np.clip(multiples * drift_deg, -ENTRIES.most_laid_off_deg, ENTRIES.most_laid_off_deg)
        return np.asarray(lean + side * laid)

    usual = -0.5 * ((multiples - ENTRIES.usual_multiple) / ENTRIES.multiple_sd) ** 2
    for lap in laps:
        if lap.legs[0][1] - lap.legs[0][0] >= ENTRIES.leg_told_s:
            off = (lean_deg(view, lap, side) - aimed(0.0)) / spread
            usual = usual + np.logaddexp(-0.5 * off**2, np.log(ENTRIES.stray_leg))
    on_laps = np.exp(usual - np.logaddexp.reduce(usual))
    # The 30° are flown as a heading, or as a track with the drift laid off once; or as on the laps.
    own = np.isin(multiples, (0.0, 1.0)) / 2.0
    diverging = ENTRIES.as_taught * own + (1.0 - ENTRIES.as_taught) * on_laps
    flown = lean_deg(view, way, side)

    def fit(lean: float, weights: FloatArray) -> float:
        near = np.exp(-0.5 * ((flown - aimed(lean)) / spread) ** 2)
        return float(np.log((weights * near).sum() + ENTRIES.stray_leg))

    return fit(0.0, on_laps), fit(ENTRIES.offset_deg, diverging)


def lean_deg(view: HoldView, way: LapPhases, side: int) -> float:
    """Return how far a leg's heading leads to the holding side of the reciprocal course.

    Parameters
    ----------
    view : HoldView
    way : LapPhases
    side : int
    """
    a, b = way.legs[0]
    a, b = (a, b) if b - a >= 6 else (max(a - 4, 0), min(b + 4, view.time_s.size - 1))
    return -side * float(wrap180(mean_direction(view.air_off_deg[a:b]) - 180.0))


def _track_lean_deg(view: HoldView, way: LapPhases, side: int) -> float:
    """Return how far a leg leads over the ground to the holding side of the reciprocal course."""
    a, b = way.legs[0]
    along, cross = view.along_nm[b] - view.along_nm[a], view.cross_nm[b] - view.cross_nm[a]
    return -side * float(wrap180(np.degrees(np.arctan2(cross, along)) - 180.0))
