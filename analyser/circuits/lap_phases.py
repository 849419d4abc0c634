"""What lies between two passages of a given fix, as turn, leg, turn, leg: the best explanation of the whole sequence.

Five phases follow each other: what is left of the way inbound, outbound turn, outbound leg, inbound turn, inbound leg,
each as long as it likes, or absent. Every second fits a turn the better the more it turns that way, and a leg the
better the more its direction is that leg's. The sequence whose fit is greatest in sum is found exactly (dynamic
programming: the best way to be in a phase at an instant follows from the best ways to have been in the one before).
So a correction, a swing of the course, a pause in a turn or a gust moves no boundary, for no other sequence explains
the rest as well.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.frame import HoldView
from analyser.circuits.thresholds import PHASES
from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.logs.track import FloatArray


@dataclass(frozen=True)
class TurnSpan:
    """One turn of a lap as first seen.

    Attributes
    ----------
    start, end : int
        Grid points, end exclusive.
    side : int
        +1 right, -1 left.
    turned_deg : float
        Over the ground, positive right.
    """

    start: int
    end: int
    side: int
    turned_deg: float


@dataclass(frozen=True)
class LapPhases:
    """A lap's turns; its legs lie between them.

    Attributes
    ----------
    start, end : int
        Grid points of the passages.
    outbound, inbound : TurnSpan
        Empty (start = end) where that turn was never made.
    orbits : tuple of (start, end)
        Whole circles flown within a leg.
    fit : float
        How much better this explains the lap than no turn at all.
    whole : bool
        False where it was broken off: it ends at no passage.
    """

    start: int
    end: int
    outbound: TurnSpan
    inbound: TurnSpan
    orbits: tuple[tuple[int, int], ...]
    fit: float
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
    inbound = TurnSpan(c, d, in_side, view.turned_deg(c, d))
    if c == d:
        inbound = _hidden_turn(view, b, end, side) or inbound
    return LapPhases(
        start,
        end,
        TurnSpan(a, b, out_side, view.turned_deg(a, b)),
        inbound,
        tuple(orbits),
        scores[best],
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


def _hidden_turn(view: HoldView, start: int, end: int, side: int) -> TurnSpan | None:
    """Return the inbound turn that a hole of the log hides: led into outbound, and out of inbound; if there is one."""
    edges = (
        np.flatnonzero(np.diff(np.concatenate([[True], view.seen[start:end], [True]]).astype(int))) + start
    )
    for a, b in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        before, after = view.off_deg[max(a - 1, 0)], view.off_deg[min(b, view.off_deg.size - 1)]
        if abs(before) > 90.0 > abs(after):
            return TurnSpan(a, b, side, side * float((side * (after - before)) % 360.0))
    return None


def _best(
    rate: FloatArray, off_deg: FloatArray, free: FloatArray, hands: tuple[int, int], arriving: int
) -> tuple[float, tuple[int, int, int, int]]:
    """Return the best fit of one pair of hands, and the four edges of its turns; so many seconds may lead anywhere."""
    out = wrap180(off_deg - 180.0)
    first, last = hands[0] * out, hands[1] * out
    inbound_away = np.abs(off_deg) > PHASES.leg_within_deg
    outbound_away = np.abs(out) > PHASES.leg_within_deg
    passed = PHASES.passed * ((first > PHASES.passed_deg) & (first < 150.0))
    early = PHASES.passed * ((last < -PHASES.passed_deg) & (last > -150.0))
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
        running = np.maximum.accumulate(gained)
        came.append(_where_greatest(gained, running))
        best = running + sums[phase]
    edges, at = [], rate.size
    for where in reversed(came):
        at = int(where[at])
        edges.append(at)
    a, b, c, d = reversed(edges)
    return float(best[-1]), (a, b, c, d)


def _where_greatest(gained: FloatArray, running: FloatArray) -> NDArray[np.int64]:
    """Return, for every instant, where the greatest value so far was first met."""
    met = np.where(gained >= running, np.arange(gained.size), 0)
    first = np.concatenate([[True], running[1:] > running[:-1]])
    return np.maximum.accumulate(np.where(first, met, 0))


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
            within = off > 110.0 or (off < 70.0 and abs(turned_before) > PHASES.orbit_after_deg)
            if not circles or not within:
                turned_before += turned
                continue
        shares = before + (abs(turned) - before) / circles * np.arange(circles)
        begun = [first + int(np.argmax(so_far >= share)) if share else first for share in shares.tolist()]
        found += list(pairwise([*begun, last]))
    return found


def _runs(rate: FloatArray, pause_s: float) -> list[tuple[int, int, int]]:
    """Return the stretches of turning one way, and the way; a pause no longer than so many seconds ends none."""
    sign = np.where(np.abs(rate) > PHASES.turn_share, np.sign(rate), 0.0)
    edges = [0, *(np.flatnonzero(np.diff(sign)) + 1).tolist(), sign.size]
    runs: list[tuple[int, int, int]] = []
    for a, b in pairwise(edges):
        if sign[a] == 0.0:
            continue
        if runs and runs[-1][2] == sign[a] and a - runs[-1][1] <= pause_s:
            runs[-1] = (runs[-1][0], b, int(sign[a]))
        else:
            runs.append((a, b, int(sign[a])))
    return runs
