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
from analyser.circuits.frame import HoldView
from analyser.circuits.lap_phases import LapPhases
from analyser.circuits.thresholds import COURSE, ENTRY
from analyser.circuits.turn_detection import mean_direction
from analyser.earth.angles import wrap180
from analyser.logs.track import FloatArray
from analyser.motion.estimate import Measured


def most_likely_entry(view: HoldView, way: LapPhases, side: int, laps: list[LapPhases]) -> EntryFlown:
    """Name what was flown from the passage on arrival to the next: an entry, or ("direct") a circuit already.

    Parameters
    ----------
    way : LapPhases
        What was flown between the two passages.
    side : int
        Hand of the hold as it was flown, +1 right, -1 left.
    laps : list of LapPhases
        The laps after it.
    """
    odds = entry_log_odds(view, way, side, laps)
    likeliest = max(odds, key=lambda kind: odds[kind])
    # An offset leg that neither the nose nor the way over the ground led off the reciprocal was none; or it was flown
    # badly, where the rest of it speaks for one.
    if _led_off_deg(view, way, side) >= ENTRY.offset_lean_deg:
        return likeliest
    if likeliest == "offset":
        return "offset" if odds["offset"] - odds["direct"] >= ENTRY.unled_offset_odds else "direct"
    return "parallel" if likeliest == "other" else likeliest


def perhaps_as_well(view: HoldView, way: LapPhases, side: int, laps: list[LapPhases]) -> EntryFlown | None:
    """Return what a first way round may have been as well, of an offset entry and a lap; None where that is sure.

    It is where its leg was led off, or led to the other side: neither is what a lap along the reciprocal does.
    """
    if abs(_led_off_deg(view, way, side)) >= ENTRY.offset_lean_deg:
        return None
    odds = entry_log_odds(view, way, side, laps)
    direct, offset = odds["direct"], odds["offset"]
    if abs(direct - offset) >= ENTRY.unsure_odds or max(direct, offset) < max(odds.values()):
        return None
    return "offset" if most_likely_entry(view, way, side, laps) == "direct" else "direct"


def is_hidden(view: HoldView, first: int, last: int) -> bool:
    """Tell whether most of what was flown between two grid points lies in a hole of the log."""
    seen = view.seen[first:last]
    return bool(seen.size) and float(seen.mean()) < 0.5


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
    alone = 0.0 if laps else float(np.log(ENTRY.entry_alone))
    hidden = is_hidden(view, way.inbound.start, way.inbound.end)
    # A lap's own first turn goes the hold's way, or is short.
    against = -side * way.outbound.turned_deg > ENTRY.against_deg
    lap = float(np.log(ENTRY.lap_against if against else 1.0))
    hold_way = 0.5 if hidden else 1.0 - ENTRY.hand_misread if way.inbound.side == side else ENTRY.hand_misread
    same, other = float(np.log(hold_way)), float(np.log1p(-hold_way))
    hands: dict[EntryFlown, float] = {
        "direct": lap + same, "offset": alone + same, "parallel": alone + other, "other": alone + other,
    }  # fmt: skip
    short = _short_deg(view, way, side)
    # The course of an inferred hold may be another: sector and legs are seen from every course that it may be.
    off_sd = ENTRY.course_off_sd if view.course_sd_deg > 0.0 else (0.0,)
    by_course = []
    for off in off_sd:
        prior = _prior(short - off * view.course_sd_deg)
        reciprocal, diverging = _leg_fits(view, way, side, laps, off * view.course_sd_deg)
        legs = {"direct": reciprocal, "offset": diverging, "parallel": reciprocal, "other": diverging}
        # A course that was met badly may be far off: the tails of Student's t, as where it was estimated.
        chance = -0.5 * (COURSE.freedom + 1.0) * float(np.log1p(off**2 / COURSE.freedom))
        by_course.append({kind: chance + prior[kind] + legs[kind] for kind in hands})
    return {
        kind: hand + float(np.logaddexp.reduce([one[kind] for one in by_course]))
        for kind, hand in hands.items()
    }


def is_asked_for(view: HoldView, way: LapPhases, side: int, kind: EntryFlown) -> bool:
    """Tell whether an entry is the one that the heading over the fix most likely asks for."""
    prior = _prior(_short_deg(view, way, side))
    return max(prior, key=lambda one: prior[one]) == ("offset" if kind == "other" else kind)


def _short_deg(view: HoldView, way: LapPhases, side: int) -> float:
    """Return how far short of the outbound course the heading over the fix was, towards the holding side."""
    return -side * float(wrap180(view.air_off_deg[max(way.start - 5, 0)] - 180.0))


def _prior(short_deg: float) -> dict[EntryFlown, float]:
    """Return the logarithm of how usual each entry is on a heading so far short of the outbound course.

    The sectors of US Navy P-821, figure 3-8 (AIM 5-3-8 has the same), blurred: within 5° of a border either is right,
    and the heading is known no better.
    """

    def within(low: float, high: float) -> float:
        blur = sqrt(2.0) * ENTRY.sector_sd_deg
        said = (short_deg - 360.0, short_deg, short_deg + 360.0)
        return sum(0.5 * (erf((high - one) / blur) - erf((low - one) / blur)) for one in said)

    in_offset, in_parallel = within(0.0, ENTRY.offset_to_deg), within(-ENTRY.parallel_to_deg, 0.0)
    sectors = {"offset": in_offset, "parallel": in_parallel, "direct": 1.0 - in_offset - in_parallel}
    kinds: tuple[EntryFlown, ...] = ("direct", "offset", "parallel", "other")
    return {
        kind: float(np.log(sum(share * ENTRY.usual[asked][kind] for asked, share in sectors.items())))
        for kind in kinds
    }


def _leg_fits(
    view: HoldView, way: LapPhases, side: int, laps: list[LapPhases], outbound_deg: float
) -> tuple[float, float]:
    """Return how well the legs' headings fit a leg on the outbound course, and 30° to the holding side of it.

    Log-likelihoods, the outbound course lying so far to the holding side of where the hold has it.
    """
    multiples = np.array(ENTRY.drift_multiples)
    spread = ENTRY.leg_heading_sd_deg

    def aimed(lean: float) -> FloatArray:
        drift_deg = view.drift_deg(180.0 - side * lean)
        laid = np.clip(multiples * drift_deg, -ENTRY.most_laid_off_deg, ENTRY.most_laid_off_deg)
        return np.asarray(lean + side * laid)

    usual = -0.5 * ((multiples - ENTRY.usual_multiple) / ENTRY.multiple_sd) ** 2
    for lap in laps:
        if lap.legs[0][1] - lap.legs[0][0] >= ENTRY.leg_told_s:
            off = (lean_deg(view, lap, side) - aimed(outbound_deg)) / spread
            usual = usual + np.logaddexp(-0.5 * off**2, np.log(ENTRY.stray_leg))
    explained = float(np.logaddexp.reduce(usual))
    if way.legs[0][1] - way.legs[0][0] < ENTRY.leg_told_s:
        return explained, explained
    on_laps = np.exp(usual - explained)
    # The 30° are flown as a heading, or as a track with the drift laid off once; or as on the laps.
    own = np.isin(multiples, (0.0, 1.0)) / 2.0
    diverging = ENTRY.as_taught * own + (1.0 - ENTRY.as_taught) * on_laps
    flown = lean_deg(view, way, side)

    def fit(lean: float, weights: FloatArray) -> float:
        near = np.exp(-0.5 * ((flown - aimed(lean)) / spread) ** 2)
        return explained + float(np.log((weights * near).sum() + ENTRY.stray_leg))

    return fit(outbound_deg, on_laps), fit(outbound_deg + ENTRY.offset_deg, diverging)


def lean_deg(view: HoldView, way: LapPhases, side: int) -> float:
    """Return how far a leg's heading leads to the holding side of the reciprocal course."""
    a, b = way.legs[0]
    a, b = (a, b) if b - a >= 6 else (max(a - 4, 0), min(b + 4, view.time_s.size - 1))
    return -side * float(wrap180(mean_direction(view.air_off_deg[a:b]) - 180.0))


def _led_off_deg(view: HoldView, way: LapPhases, side: int) -> float:
    """Return how far a leg leads to the holding side of the reciprocal, by heading or over the ground, the larger."""
    return max(lean_deg(view, way, side), _track_lean_deg(view, way, side))


def _track_lean_deg(view: HoldView, way: LapPhases, side: int) -> float:
    """Return how far a leg leads over the ground to the holding side of the reciprocal course."""
    a, b = way.legs[0]
    along, cross = view.along_nm[b] - view.along_nm[a], view.cross_nm[b] - view.cross_nm[a]
    return -side * float(wrap180(np.degrees(np.arctan2(cross, along)) - 180.0))


def arrival_heading(measured: Measured, fix_s: float, turn_s: float) -> tuple[float, float]:
    """Read the heading over the fix before the turn there began."""
    motion = measured.motion
    until = min(fix_s - ENTRY.heading_to_s, turn_s - 1.0)
    before = motion.span(until - (ENTRY.heading_from_s - ENTRY.heading_to_s), until)
    heading = mean_direction(motion.heading_deg[before])
    if not np.isfinite(heading):
        heading = motion.at("heading_deg", fix_s)
    sd = float(np.median(motion.heading_sd_deg[before])) if before.stop > before.start else 5.0
    return heading, float(np.hypot(sd, 1.0))
