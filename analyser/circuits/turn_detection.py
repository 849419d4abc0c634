"""Turns cut at their roll events: when the wings left level, when they were level again, what lay between.

The bank history crosses half of the turn's bank at an instant that smoothing does not move; how long the roll
took is read from its slope, freed of the smoothing's own spread, and half of it is added back. So the instants
are good to a fraction of the sampling interval.
"""

from __future__ import annotations

from dataclasses import replace
from functools import reduce
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Turn
from analyser.circuits.racetrack import circular_mean_deg, smooth
from analyser.circuits.thresholds import CUTTING, DETECTION
from analyser.earth.angles import wrap180
from analyser.earth.constants import GRAVITY, MPS_PER_KT
from analyser.earth.turning import turn_bank_deg
from analyser.frozen import dataclass
from analyser.motion.estimate import Measured
from analyser.motion.motion import Motion
from analyser.motion.motion_thresholds import LAYOUT
from analyser.motion.roll_response import UNSMOOTHED, RollResponse

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class _Edge:
    instant_s: float
    roll_s: float
    sd_s: float


def turn_in_span(
    measured: Measured, start_s: float, end_s: float, side: int, toward_deg: float
) -> Turn | None:
    """Cut the turn that was made about a given time, +1 to the right, -1 to the left; None where the bank shows none.

    It leads to a leg towards ``toward_deg``: the turn has ended when the wings are level near it.
    """
    motion = measured.motion
    around = motion.span(start_s - DETECTION.around_span_s, end_s + DETECTION.around_span_s)
    bank = side * smooth(motion.bank_deg[around], DETECTION.smoothed_s)
    time_s = motion.time_s[around]
    edge_s = DETECTION.edge_share * (end_s - start_s)
    core = (time_s >= start_s + edge_s) & (time_s <= end_s - edge_s)
    if not core.any():
        return None
    plateau = max(float(np.median(bank[core])), DETECTION.least_on_deg)
    raw = side * motion.bank_deg[around]
    pieces = _pieces_above(
        bank,
        raw,
        max(DETECTION.on_share * plateau, DETECTION.least_span_on_deg),
        DETECTION.piece_gap_share * plateau,
    )
    heading = np.unwrap(motion.heading_deg, period=360.0)
    offset = around.start
    kept = [
        (a, b)
        for a, b in pieces
        if min(time_s[b], end_s) - max(time_s[a], start_s)
        > DETECTION.piece_within_share * (time_s[b] - time_s[a])
        and abs(heading[offset + b] - heading[offset + a]) > DETECTION.least_piece_deg
    ]
    if not kept:
        return None
    kept = _one_turn(kept, heading[around], toward_deg)
    whole = smooth(motion.bank_deg, DETECTION.smoothed_s)
    turns = [_turn(measured, whole, offset + a, offset + b, heading) for a, b in kept]
    return _doubted_by_holes(motion, clipped(reduce(together, turns), start_s, end_s))


def _pieces_above(bank: FloatArray, raw: FloatArray, on: float, gap_bank: float) -> list[tuple[int, int]]:
    """Return where the bank is above a level; small gaps in which the wings hardly came level are closed.

    Smoothing fills a short gap in which they did come level: an interception that ends as the next turn begins.
    """
    above = bank > on
    edges = [0, *(np.flatnonzero(np.diff(above)) + 1).tolist(), above.size]
    pieces: list[tuple[int, int]] = []
    for a, b in ((a, b - 1) for a, b in pairwise(edges) if above[a]):
        if pieces:
            between = slice(pieces[-1][1] + 1, a)
            gap = bank[between]
            # Of a dip of a moment smoothing leaves hardly a gap: it was level if the bank itself was nearly none.
            nearly_level_deg = (
                DETECTION.level_gap_deg if gap.size > 2 else DETECTION.level_moment_share * gap_bank
            )
            level = float(raw[between].min()) < nearly_level_deg
            if not level and (
                gap.size <= 2 or (gap.size <= DETECTION.join_s and float(gap.mean()) > gap_bank)
            ):
                pieces[-1] = (pieces[-1][0], b)
                continue
        pieces.append((a, b))
    return pieces


def _one_turn(pieces: list[tuple[int, int]], heading: FloatArray, toward_deg: float) -> list[tuple[int, int]]:
    """Keep the greatest piece, and those beside it that it takes to come round to the leg."""
    turned = [abs(heading[b] - heading[a]) for a, b in pieces]
    first = last = int(np.argmax(turned))
    while (
        last + 1 < len(pieces) and abs(wrap180(heading[pieces[last][1]] - toward_deg)) > DETECTION.on_leg_deg
    ):
        pause_s = pieces[last + 1][0] - pieces[last][1]
        round_already = turned[last] > DETECTION.least_rest_deg and pause_s > DETECTION.level_s
        if pause_s > DETECTION.pause_s or round_already:
            break
        last += 1
    while first > 0 and sum(turned[first : last + 1]) < DETECTION.least_rest_deg:
        if pieces[first][0] - pieces[first - 1][1] > DETECTION.pause_s:
            break
        first -= 1
    return pieces[first : last + 1]


def survey_turn(measured: Measured, start_s: float, end_s: float, change_deg: float) -> Turn:
    """Make a turn of what a survey saw where positions are chords: its instants and bank are rough and say so."""
    rate = change_deg / max(end_s - start_s, 1.0)
    bank = float(turn_bank_deg(rate, measured.motion.tas_mean_kt))
    sd_s, bank_sd_deg = DETECTION.rough_sd_s, LAYOUT.unknown_bank_sd_deg
    return Turn(start_s, end_s, sd_s, sd_s, change_deg, bank, bank_sd_deg, bank, 0.0, rate, start_s, end_s)


def _turn(measured: Measured, bank: FloatArray, first: int, last: int, heading: FloatArray) -> Turn:
    motion = measured.motion
    side = float(np.sign(bank[first]))
    rolls = UNSMOOTHED if motion.obtained.get("bank") == "logged" else measured.rolls
    raw = side * motion.bank_deg
    start = _edge(motion.time_s, raw, first, last, rolls, forward=True)
    end = _edge(motion.time_s, raw, first, last, rolls, forward=False)
    margin = DETECTION.margin_share * rolls.blur_s
    a, b = start.instant_s + start.roll_s + margin, end.instant_s - end.roll_s - margin
    if b - a < DETECTION.established_s:
        middle, half_s = 0.5 * (a + b), 0.5 * DETECTION.established_s
        a, b = middle - half_s, middle + half_s
    inner = motion.span(a, b)
    part = motion.bank_deg[inner] if motion.bank_deg[inner].size else motion.bank_deg[first : last + 1]
    rate = _mean_rate(motion.time_s, heading, a, b)
    # A sample's wrong time moves the roll that it shows.
    start_sd_s, end_sd_s = (float(np.hypot(edge.sd_s, measured.time_jitter_s)) for edge in (start, end))
    return Turn(
        start_s=start.instant_s,
        end_s=end.instant_s,
        start_sd_s=start_sd_s,
        end_sd_s=end_sd_s,
        heading_change_deg=float(
            np.interp(end.instant_s, motion.time_s, heading)
            - np.interp(start.instant_s, motion.time_s, heading)
        ),
        bank_mean_deg=float(part.mean()),
        bank_mean_sd_deg=_mean_bank_sd(measured, part, a, b),
        bank_max_deg=side * float(np.max(side * motion.bank_deg[first : last + 1])),
        bank_wander_deg=_wander_deg(measured, part, a, b),
        rate_mean_dps=rate,
        established_start_s=a,
        established_end_s=b,
    )


def _doubted_by_holes(motion: Motion, turn: Turn) -> Turn:
    """Doubt instants and bank of a turn that began or ended unseen: the path in a hole only leads from side to side."""
    lost_s = [_hole_s(motion, at_s) for at_s in (turn.start_s, turn.end_s)]
    if not any(lost_s):
        return turn
    least = [max(DETECTION.hole_sd_s, DETECTION.hole_sd_share * lost) if lost else 0.0 for lost in lost_s]
    unseen = float(motion.in_hole[motion.span(turn.start_s, turn.end_s)].mean())
    bank_sd = DETECTION.hole_bank_share * unseen * abs(turn.bank_mean_deg)
    return replace(
        turn,
        start_sd_s=max(turn.start_sd_s, least[0]),
        end_sd_s=max(turn.end_sd_s, least[1]),
        bank_mean_sd_deg=float(np.hypot(turn.bank_mean_sd_deg, bank_sd)),
    )


def _hole_s(motion: Motion, instant_s: float) -> float:
    """Return how long the hole is that an instant lies in, or so near that it may as well; 0 for none."""
    near = motion.span(instant_s - DETECTION.hole_reach_s, instant_s + DETECTION.hole_reach_s)
    inside = near.start + np.flatnonzero(motion.in_hole[near])
    if not inside.size:
        return 0.0
    edges = np.flatnonzero(np.diff(motion.in_hole)) + 1
    ends = np.concatenate([[0], edges, [motion.in_hole.size - 1]])
    k = int(np.searchsorted(ends, inside[0], side="right"))
    return float(motion.time_s[ends[min(k, ends.size - 1)]] - motion.time_s[ends[k - 1]])


def _sampling_sd_deg(measured: Measured, a: float, b: float) -> float:
    """Return what sampling and clock of an untidy log leave open of the bank at one instant; 0 for a tidy log."""
    if measured.velocity_errors is None or measured.motion.obtained.get("bank") == "logged":
        return 0.0
    inner = measured.motion.bank_sd_deg[measured.motion.span(a, b)]
    return float(np.median(inner)) if inner.size else LAYOUT.unknown_bank_sd_deg


def _wander_deg(measured: Measured, bank_deg: FloatArray, a: float, b: float) -> float:
    """Return how the bank wandered about its mean, rms, less what the log's own errors make of it."""
    return float(np.sqrt(max(float(bank_deg.var()) - _sampling_sd_deg(measured, a, b) ** 2, 0.0)))


def _mean_rate(time_s: FloatArray, heading: FloatArray, a: float, b: float) -> float:
    return float((np.interp(b, time_s, heading) - np.interp(a, time_s, heading)) / max(b - a, 1e-6))


def _mean_bank_sd(measured: Measured, bank_deg: FloatArray, a: float, b: float) -> float:
    """Sigma of a turn's mean bank, over its established part from ``a`` to ``b``.

    Gusts across the way that differ from one end to the other add to the acceleration that the bank is read from,
    edges leak a little in, and of a bank that swings (a restless hand, turbulence) the quick part is smoothed away. In
    a hole the path between is the smoothest one: its ends tell most of the mean.
    """
    motion = measured.motion
    inner = motion.span(a, b)
    bank, span_s = abs(float(bank_deg.mean())), max(b - a, DETECTION.established_s)
    hole = float(motion.in_hole[inner].mean()) if motion.in_hole[inner].size else 1.0
    tas = float(motion.tas_kt[inner].mean()) if motion.tas_kt[inner].size else CUTTING.usual_tas_kt
    gust_kt = np.sqrt(measured.wind.gust_share) * measured.wind.speed_noise.sigma
    upright = np.cos(np.radians(bank)) ** 2
    gusts = np.degrees(np.sqrt(2.0) * gust_kt * MPS_PER_KT / (GRAVITY * span_s)) * upright
    edges = measured.rolls.blur_s**2 / span_s * DETECTION.leak_share * bank
    swing = DETECTION.swing_share * float(bank_deg.std()) * np.sqrt(DETECTION.swing_s / span_s)
    sampling = _sampling_sd_deg(measured, a, b)
    if sampling and not measured.chorded:
        # A mean rate of turn is known as well as the headings at its two ends, and the times at which they were met.
        headings = np.hypot(*(np.radians(motion.at("heading_sd_deg", at)) for at in (a, b)))
        rate_sd = float(headings) / span_s
        sampling = float(
            np.hypot(
                np.degrees(tas * MPS_PER_KT * rate_sd / GRAVITY) * upright,
                0.5 * np.degrees(np.sin(2 * np.radians(bank))) * measured.clock_sd(a, b),
            )
        )
    unseen = float(np.interp(hole, *np.transpose(DETECTION.hole_bank_sd_deg)))
    # Of a bank taken up by and by, the mean hangs on what is called established; swings alone make little of that.
    quarter = bank_deg.size // 4
    middle_deg = float(bank_deg[quarter : bank_deg.size - quarter].mean())
    part = max(abs(middle_deg - float(bank_deg.mean())) - DETECTION.by_and_by_swings * swing, 0.0)
    if motion.obtained.get("bank") == "logged":
        # Neither gusts nor smoothing stand between the instrument and its mean: only its own errors do.
        gusts, edges, swing = 0.0, 0.0, 0.0
        sampling = float(motion.bank_sd_deg[inner].mean()) if hole < 1.0 else LAYOUT.unknown_bank_sd_deg
    return float(np.linalg.norm([gusts, edges, swing, sampling, unseen, part, DETECTION.least_bank_sd_deg]))


def _edge(
    time_s: FloatArray, bank: FloatArray, first: int, last: int, rolls: RollResponse, *, forward: bool
) -> _Edge:
    """Find where a turn begins (or, read backwards, ends). ``bank`` is positive in the turn."""
    order = 1 if forward else -1
    origin = first if forward else last
    least, most = DETECTION.inside_s
    reach = min(most, max(least, (last - first) // 2))
    inside = (
        bank[origin : origin + order * reach : order] if forward or origin - reach >= 0 else bank[origin::-1]
    )
    plateau = max(float(np.median(inside[2:] if inside.size > 4 else inside)), DETECTION.least_plateau_deg)
    early, half, late = (
        _crossing(time_s, bank, origin, order, share * plateau) for share in DETECTION.slope_shares
    )
    spread = abs(late - early)
    usual = plateau / DETECTION.roll_rate_dps
    seen = rolls.roll_of(spread)
    # Where the smoothing spreads a roll by more than the roll lasts, its slope tells little: lean on the usual.
    trust = 1.0 / (1.0 + (rolls.blur_s / DETECTION.usual_roll_s) ** 2)
    roll = float(np.clip(trust * seen + (1.0 - trust) * usual, *DETECTION.rolls_s))
    level = min(DETECTION.level_bank_deg / plateau, DETECTION.most_level_share)
    sd_s = float(np.hypot(DETECTION.instant_sd_s, DETECTION.blur_sd_share * rolls.blur_s))
    return _Edge(float(half - order * roll * (0.5 - level)), roll, sd_s)


def _crossing(time_s: FloatArray, bank: FloatArray, origin: int, order: int, level: float) -> float:
    """Walk out of the turn from well inside it, to the last point above a level; interpolate the crossing."""
    i = origin
    # Step inwards first, in case the origin itself is below the level.
    while 0 <= i + order < bank.size and bank[i] <= level and abs(i - origin) < DETECTION.inwards_s:
        i += order
    while 0 <= i - order < bank.size and bank[i - order] > level:
        i -= order
    outside = i - order
    if not 0 <= outside < bank.size or bank[i] == bank[outside]:
        return float(time_s[i])
    share = (bank[i] - level) / (bank[i] - bank[outside])
    return float(time_s[i] + (time_s[outside] - time_s[i]) * np.clip(share, 0.0, 1.0))


def mean_direction(degrees: FloatArray) -> float:
    """Return the circular mean of known directions, [0, 360), robust against a few that point elsewhere, or NaN."""
    degrees = degrees[np.isfinite(degrees)]
    if degrees.size == 0:
        return float("nan")
    middle = circular_mean_deg(degrees)
    off = wrap180(degrees - middle)
    near = off[np.abs(off - np.median(off)) <= DETECTION.alike_deg]
    # Of two that lie far apart neither is near their middle.
    return float((middle + (near if near.size else off).mean()) % 360.0)


def together(a: Turn, b: Turn) -> Turn:
    """Put two pieces of one turn together."""
    weight_a, weight_b = (t.established_end_s - t.established_start_s for t in (a, b))
    total = weight_a + weight_b

    def mean(x: float, y: float) -> float:
        return (weight_a * x + weight_b * y) / total

    return Turn(
        start_s=a.start_s,
        end_s=b.end_s,
        start_sd_s=a.start_sd_s,
        end_sd_s=b.end_sd_s,
        heading_change_deg=a.heading_change_deg + b.heading_change_deg,
        bank_mean_deg=mean(a.bank_mean_deg, b.bank_mean_deg),
        bank_mean_sd_deg=max(a.bank_mean_sd_deg, b.bank_mean_sd_deg),
        bank_max_deg=max(a.bank_max_deg, b.bank_max_deg, key=abs),
        bank_wander_deg=max(
            a.bank_wander_deg, b.bank_wander_deg, abs(a.bank_mean_deg - b.bank_mean_deg) / 2.0
        ),
        rate_mean_dps=mean(a.rate_mean_dps, b.rate_mean_dps),
        established_start_s=a.established_start_s,
        established_end_s=b.established_end_s,
    )


def clipped(turn: Turn, start_s: float, end_s: float) -> Turn:
    """Cut out of a turn that was flown on as a whole circle the part that lies in a span."""
    slack_s = DETECTION.circle_slack_s
    return turn.between(
        start_s if turn.start_s < start_s - slack_s else turn.start_s,
        end_s if turn.end_s > end_s + slack_s else turn.end_s,
    )
