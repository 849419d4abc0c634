"""What lies between two passages of a fix: a lap, as turn, leg, turn, leg, or the entry that was flown before it.

*Laps.* Five phases follow each other: what is left of the way inbound, outbound turn, outbound leg, inbound turn,
inbound leg, each as long as it likes, or absent. Every second fits a turn the better the more it turns that way, and a
leg the better the more its direction is that leg's. The sequence whose fit is greatest in sum is found exactly (dynamic
programming: the best way to be in a phase at an instant follows from the best ways to have been in the one before).
So a correction, a swing of the course, a pause in a turn or a gust moves no boundary, for no other sequence explains
the rest as well.

*Entries.* Most pilots fly the entry that their heading over the fix asks for; learners may fly another. So the sector
is evidence (the prior), and so are the leg's heading and the hands of both turns (the likelihood). The leg's heading
has the drift laid off in it, and nobody knows how many times: every multiple is weighed by how usual it is and by how
well it explains the outbound legs of the laps.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import erf, sqrt

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import EntryFlown
from analyser.circuits.frame import HoldView
from analyser.circuits.racetrack import TurnRun
from analyser.circuits.thresholds import COURSE, ENTRY, GIVEN, PHASES
from analyser.circuits.turn_detection import mean_direction
from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.logs.track import FloatArray, runs
from analyser.motion.estimate import Measured


@dataclass(frozen=True)
class LapPhases:
    """A lap's turns, its legs between them, from passage to passage: grid points.

    A turn is known by its hand, and empty (start = end) where it was never made; ``orbits`` are whole circles flown
    within a leg. What was broken off is not ``whole``: it ends nowhere.
    """

    start: int
    end: int
    outbound: TurnRun
    inbound: TurnRun
    orbits: tuple[tuple[int, int], ...]
    whole: bool = True

    @property
    def legs(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """Outbound and inbound leg, grid points."""
        return (self.outbound.end, self.inbound.start), (self.inbound.end, self.end)


def explain_lap(
    view: HoldView, start: int, end: int, *, side: int, earliest: int | None = None, arrival: bool = False
) -> LapPhases:
    """Explain what was flown between two passages.

    Parameters
    ----------
    start, end : int
        Grid points of the passages.
    side : int
        Hand of the hold, which is taken where both explain as well.
    earliest : int or None
        Where the outbound turn may begin at the earliest, before or after that passage; None for there.
    arrival : bool
        Whether the way to the first passage may have come from anywhere.
    """
    first = start if earliest is None else earliest
    span = slice(first, max(end, first + 2))
    rate, off = view.turning[span], view.off_deg[span]
    orbits = _orbits(view, first, end)
    free = np.where(view.seen[span], 1.0, PHASES.unseen)
    for a, b in orbits:
        free[a - first : b - first] = 0.0
    # Direction before and after a whole circle is one and the same: within it, it says nothing.
    hands = [(side, side), (side, -side), (-side, side), (-side, -side)]
    # An arrival may come from anywhere, and the turn after it be made late; later, the way in is over.
    arriving = start - first + PHASES.late_s if arrival else 0
    found = [_best(rate, off, free, hand, arriving) for hand in hands]
    others = [sum(one != side for one in hand) for hand in hands]
    scores = [fit - PHASES.other_hand * other for other, (fit, _) in zip(others, found, strict=True)]
    best = int(np.argmax(scores))
    (out_side, in_side), (_, edges) = hands[best], found[best]
    a, b, c, d = (first + edge for edge in edges)
    middle = _most_outbound(view, a, b) if c == d and b - a > 2 else b
    if abs(view.turned_deg(middle, b)) > PHASES.past_outbound_deg:
        # Both turns in one: the first ends where the way leads outbound.
        b, c, d, in_side = middle, middle, b, out_side
    elif _is_second_all(view, (a, b), (c, d)) and not arrival:
        a, b, c, out_side = c, *(2 * [_most_outbound(view, c, d)]), in_side
    if a == b or _is_correction(view, a, start):
        # Nothing was turned: the leg outbound begins at the fix.
        a = b = min(start, c)
    inbound = TurnRun(c, d, view.turned_deg(c, d), hand=in_side)
    if c == d:
        inbound = _hidden_turn(view, b, end, side) or inbound
    return LapPhases(
        start,
        end,
        TurnRun(a, b, view.turned_deg(a, b), hand=out_side),
        inbound,
        tuple(orbits),
    )


def _is_correction(view: HoldView, turned: int, passed: int) -> bool:
    """Tell whether a turn that was begun late only swings a way that led outbound before it."""
    leads_outbound = 180.0 - abs(float(view.off_deg[turned])) < PHASES.past_outbound_deg
    return leads_outbound and turned > passed + PHASES.late_s


def _is_second_all(view: HoldView, first: tuple[int, int], second: tuple[int, int]) -> bool:
    """Tell whether the second of a lap's turns is both of them, and the first none."""
    none = abs(view.turned_deg(*first)) < PHASES.no_turn_deg
    return none and abs(view.turned_deg(*second)) > PHASES.both_turns_deg


def _most_outbound(view: HoldView, first: int, last: int) -> int:
    """Return where within a turn the way leads outbound."""
    return first + 1 + int(np.argmax(np.abs(view.off_deg[first + 1 : last])))


def meeting_outbound(view: HoldView, lap: LapPhases) -> LapPhases:
    """Return a lap whose turns have no leg between with the one ending where the way leads outbound.

    Anywhere about that direction explains it as well.
    """
    first, last = lap.outbound.end, lap.inbound.end
    if lap.inbound.start != first or first >= last or lap.outbound.side != lap.inbound.side:
        return lap
    away = 180.0 - np.abs(view.off_deg[first:last])
    beyond = np.flatnonzero(away > PHASES.passed_deg)
    about = away[: beyond[0]] if beyond.size else away
    met = first + int(np.argmin(about)) if about.size else first
    out, back = lap.outbound, lap.inbound
    return replace(
        lap,
        outbound=replace(out, end=met, change_deg=view.turned_deg(out.start, met)),
        inbound=replace(back, start=met, change_deg=view.turned_deg(met, last)),
    )


def unexplained_s(view: HoldView, lap: LapPhases) -> int:
    """Return for how long a lap was flown as neither its turns nor its legs explain: astray, turning, or flown past."""
    turning = np.abs(view.turning) > PHASES.turn_share
    off = np.abs(view.off_deg)
    odd = np.zeros(view.time_s.size, dtype=bool)
    (out, turned_in), (rolled, end) = lap.legs
    odd[out:turned_in] = (turning | (off < 180.0 - PHASES.leg_within_deg))[out:turned_in]
    odd[rolled:end] = (turning | (off > PHASES.leg_within_deg))[rolled:end]
    odd[lap.start + PHASES.late_s : lap.outbound.start] = True
    for turn in (lap.outbound, lap.inbound):
        odd[turn.start : turn.end] = ~turning[turn.start : turn.end]
    for a, b in lap.orbits:
        odd[a:b] = False
    return int(odd[lap.start : lap.end].sum())


def _hidden_turn(view: HoldView, start: int, end: int, side: int) -> TurnRun | None:
    """Return the inbound turn that a hole of the log hides: led into outbound, and out of inbound; if there is one."""
    for first, last in runs(~view.seen[start:end]):
        a, b = start + first, start + last
        before, after = view.off_deg[max(a - 1, 0)], view.off_deg[min(b, view.off_deg.size - 1)]
        if abs(before) > 90.0 > abs(after):
            return TurnRun(a, b, side * float((side * (after - before)) % 360.0), hand=side)
    return None


def _best(
    rate: FloatArray, off_deg: FloatArray, free: FloatArray, hands: tuple[int, int], arriving: int
) -> tuple[float, tuple[int, int, int, int]]:
    """Return the best fit of one pair of hands, and the four edges of its turns; so many seconds may lead anywhere."""
    out = wrap180(off_deg - 180.0)
    first, last = hands[0] * out, hands[1] * out
    inbound_away = np.abs(off_deg) > PHASES.leg_within_deg
    outbound_away = np.abs(out) > PHASES.leg_within_deg
    passed = PHASES.passed * ((first > PHASES.passed_deg) & (first < PHASES.reversed_deg))
    early = PHASES.passed * ((last < -PHASES.passed_deg) & (last > -PHASES.reversed_deg))
    fits = np.stack(
        [
            -PHASES.astray * inbound_away * (np.arange(rate.size) >= arriving),
            _turning(hands[0] * rate) - passed,
            -PHASES.astray * outbound_away,
            _turning(hands[1] * rate) - early,
            -PHASES.astray * inbound_away,
        ]
    )
    sums = np.concatenate([np.zeros((5, 1)), np.cumsum(fits * free, axis=1)], axis=1)
    best, came = sums[0], []
    for phase in range(1, 5):
        # Entered at an instant, a phase brings what the one before had brought by then.
        gained = best - sums[phase]
        greatest = np.maximum.accumulate(gained)
        came.append(_where_met(greatest))
        best = greatest + sums[phase]
    edges, at = [], rate.size
    for where in reversed(came):
        at = int(where[at])
        edges.append(at)
    a, b, c, d = reversed(edges)
    return float(best[-1]), (a, b, c, d)


def _where_met(greatest: FloatArray) -> NDArray[np.int64]:
    """Return, for every instant, where the greatest value so far was first met."""
    rises = np.concatenate([[0], np.diff(greatest)]) > 0.0
    return np.maximum.accumulate(np.where(rises, np.arange(greatest.size), 0))


def _turning(rate: FloatArray) -> FloatArray:
    """Return how much better a second fits a turn than a leg, by its rate as a share of the usual."""
    return np.asarray(np.clip((rate - PHASES.turn_share) / PHASES.turn_slope, -PHASES.most, PHASES.most))


def _orbits(view: HoldView, start: int, end: int) -> list[tuple[int, int]]:
    """Find whole circles flown within a leg: they begin and end on one heading, after the lap's turn before them."""
    rate = view.turning[start : max(end, start + 2)]
    found = []
    turned_before = 0.0
    for a, b, _ in _runs(rate, PHASES.pause_deg / view.usual_rate_dps):
        first, last = start + a, start + b
        turned = view.turned_deg(first, last)
        so_far = np.abs(np.cumsum(view.rate_dps[first:last]))
        circles = int((abs(turned) + 360.0 - PHASES.orbit_deg) // 360.0)
        before = abs(turned) - 360.0 * circles
        if circles and before >= PHASES.turn_before_circle_deg:
            # A turn that runs on into circles: they are what the last of it is flown in.
            turned_before += view.turned_deg(first, first + int(np.argmax(so_far >= before)))
        else:
            before = 0.0
            off = abs(view.off_deg[max(first - 3, 0)])
            inbound_deg, outbound_deg = PHASES.leg_off_deg
            late = abs(turned_before) > PHASES.orbit_after_deg
            within = off > outbound_deg or (off < inbound_deg and late)
            if not circles or not within:
                turned_before += turned
                continue
        shares = before + (abs(turned) - before) / circles * np.arange(circles)
        begun = [first + int(np.argmax(so_far >= share)) if share else first for share in shares.tolist()]
        found += list(pairwise([*begun, last]))
    return found


def _runs(rate: FloatArray, pause_s: float) -> list[tuple[int, int, int]]:
    """Return the stretches of turning one way, and the way; a pause no longer than so many seconds ends none."""
    sign = np.where(np.abs(rate) > GIVEN.orbit_turn_share, np.sign(rate), 0.0)
    edges = [0, *(np.flatnonzero(np.diff(sign)) + 1).tolist(), sign.size]
    found: list[tuple[int, int, int]] = []
    for a, b in pairwise(edges):
        if sign[a] == 0.0:
            continue
        if found and found[-1][2] == sign[a] and a - found[-1][1] <= pause_s:
            found[-1] = (found[-1][0], b, int(sign[a]))
        else:
            found.append((a, b, int(sign[a])))
    return found


def most_likely_entry(view: HoldView, way: LapPhases, side: int, laps: list[LapPhases]) -> EntryFlown:
    """Name what was flown from the passage on arrival to the next: an entry, or ("direct") a circuit already.

    ``side`` is the hand of the hold as it was flown, +1 right, -1 left; ``laps`` are those after it.
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

    "other" is an offset entry turned back the wrong way; the rest as for :func:`most_likely_entry`.
    """
    # Who came to hold flew a lap: an entry that none follows was hardly one, but a lap itself.
    alone = 0.0 if laps else float(np.log(ENTRY.entry_alone))
    # A lap's own first turn goes the hold's way, or is short.
    against = -side * way.outbound.change_deg > ENTRY.against_deg
    lap = float(np.log(ENTRY.lap_against if against else 1.0))
    hold_way = _chance_of_hand(view, way, side)
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


def _chance_of_hand(view: HoldView, way: LapPhases, side: int) -> float:
    """Return how likely the turn back was made to a side: by what is seen of it, or by where its hole in the log ends.

    Through the air the way in a hole was straight, a turn at the flight's usual rate, and straight again: the turn to
    the one side and to the other lead to places that lie apart by twice a turn's width, and take their own time.
    """
    turn = way.inbound
    back = slice(turn.start, turn.end)
    seen_deg = abs(float(view.rate_dps[back][view.seen[back]].sum()))
    if not is_hidden(view, turn.start, turn.end) or seen_deg >= ENTRY.hand_told_deg:
        return 1.0 - ENTRY.hand_misread if turn.side == side else ENTRY.hand_misread
    hole = max(runs(~view.seen), key=lambda one: min(one[1], turn.end) - max(one[0], turn.start))
    if hole[1] > way.end or abs(view.off_deg[min(hole[1], view.off_deg.size - 1)]) > GIVEN.within_deg:
        # It hides more than the turn, or not all of it.
        return 0.5
    led = [
        float(np.exp(-0.5 * (_lies_off_s(view, *hole, hand) / ENTRY.hidden_way_sd_s) ** 2))
        for hand in (side, -side)
    ]
    return (led[0] + ENTRY.hidden_otherwise) / (sum(led) + 2.0 * ENTRY.hidden_otherwise)


def _lies_off_s(view: HoldView, first: int, last: int, hand: int) -> float:
    """Return how far from where a hole ends a turn to one hand within it leads, as seconds of flight."""
    last = min(last, view.time_s.size - 1)
    first = max(first - 1, 0)
    begun, ended = (np.radians(view.air_off_deg[at]) for at in (first, last))
    out, back = (np.array([np.cos(way), np.sin(way)]) for way in (begun, ended))
    wind = np.array(view.drift_share)
    speed_nm = float(view.survey.ground_speed_kt[first]) / 3600.0 / float(np.hypot(*(out + wind)))
    took_s = float(view.time_s[last] - view.time_s[first])
    moved = np.array([view.along_nm[last] - view.along_nm[first], view.cross_nm[last] - view.cross_nm[first]])
    through_air = moved / max(speed_nm, 1e-6) - wind * took_s
    turned = float((hand * (ended - begun)) % (2.0 * np.pi))
    rate = float(np.radians(view.usual_rate_dps))
    # Positive to the right: along is north and cross east of a course of 0°.
    round_s = hand * np.array([np.sin(ended) - np.sin(begun), np.cos(begun) - np.cos(ended)]) / rate
    short_s = max(turned / rate - took_s, 0.0)
    before_s = np.linspace(0.0, max(took_s - turned / rate, 0.0), 31)[:, None]
    led = round_s + before_s * out + (before_s[-1] - before_s) * back
    return float(np.hypot(*(led - through_air).T).min()) + short_s


def is_asked_for(view: HoldView, way: LapPhases, side: int, kind: EntryFlown) -> bool:
    """Tell whether an entry is the one that the heading over the fix most likely asks for."""
    prior = _prior(_short_deg(view, way, side))
    return max(prior, key=lambda one: prior[one]) == ("offset" if kind == "other" else kind)


def _short_deg(view: HoldView, way: LapPhases, side: int) -> float:
    """Return how far short of the outbound course the heading over the fix was, towards the holding side."""
    return -side * float(wrap180(view.air_off_deg[max(way.start - GIVEN.met_before_s, 0)] - 180.0))


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
    usual = np.where(multiples < 0.0, np.maximum(usual, np.log(ENTRY.wrong_side)), usual)
    for lap in laps:
        if lap.legs[0][1] - lap.legs[0][0] >= ENTRY.leg_told_s:
            off = (lean_deg(view, lap, side) - aimed(outbound_deg)) / spread
            usual = usual + np.logaddexp(-0.5 * off**2, np.log(ENTRY.stray_leg))
    explained = float(np.logaddexp.reduce(usual))
    if way.legs[0][1] - way.legs[0][0] < ENTRY.leg_told_s:
        # An entry's leg is timed from where it is led off; a lap's may be over by its turn.
        soon = way.inbound.start - way.start < ENTRY.legless_s
        return explained, explained + float(np.log(ENTRY.legless_entry if soon else 1.0))
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
    if b - a < ENTRY.shortest_leg_s:
        a, b = max(a - ENTRY.beside_leg_s, 0), min(b + ENTRY.beside_leg_s, view.time_s.size - 1)
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
    read = before.stop > before.start
    sd = float(np.median(motion.heading_sd_deg[before])) if read else ENTRY.unread_sd_deg
    return heading, float(np.hypot(sd, ENTRY.heading_sd_deg))
