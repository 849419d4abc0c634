"""Reading a flight by a given hold: the hold is the frame, and the flight is cut by it.

Passages of the fix (:mod:`analyser.circuits.fix_passages`) make the laps, whatever is flown between; what lies
between two is explained as turn, leg, turn, leg (:mod:`analyser.circuits.laps_and_entries`). What is odd is something
to say and no reason to see nothing. But a file alone makes no hold: without one lap from the fix to the fix there is
none.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from itertools import pairwise
from typing import Literal

import numpy as np

from analyser.circuits.fix_passages import Passage, arrivals_over, inbound_passages, is_circle
from analyser.circuits.flown import EntryFlown
from analyser.circuits.frame import HoldView
from analyser.circuits.laps_and_entries import (
    LapPhases,
    entry_log_odds,
    explain_lap,
    is_asked_for,
    is_hidden,
    most_likely_entry,
    unexplained_s,
)
from analyser.circuits.racetrack import TurnRun, is_chorded
from analyser.circuits.thresholds import ENTRY, GIVEN, PHASES, RACETRACK
from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.logs.track import FloatArray, runs


@dataclass(frozen=True)
class EntrySpan:
    """An entry as first seen: from the passage on arrival to the one that begins the first circuit."""

    kind: EntryFlown
    phases: LapPhases


@dataclass(frozen=True)
class GivenReading:
    """One stay at a given hold.

    ``side`` is the hand that was flown, +1 right, -1 left. It did not arrive where the log begins inside the hold; the
    entry is None for a direct one. Whole laps are in time order, with one passage more than laps; ``broken`` is a lap
    begun after the last passage and broken off. At a given hold that may be all there was.
    """

    view: HoldView
    side: int
    arrival: Passage
    arrived: bool
    entry: EntrySpan | None
    laps: tuple[LapPhases, ...]
    passages: tuple[Passage, ...]
    broken: LapPhases | None
    #: A way back to the fix after them that was taken for leaving the hold, how far beside the fix it came, and how
    #: much more speaks for that than for a lap (a log of odds); None where the hold was left without one.
    leaving: tuple[LapPhases, Passage, float] | None = None

    @property
    def begun(self) -> tuple[LapPhases, ...]:
        """All laps, also the one broken off: at least one."""
        return (*self.laps, self.broken) if self.broken else self.laps

    @property
    def start(self) -> int:
        """Grid point of the arrival."""
        return self.arrival.index

    @property
    def start_s(self) -> float:
        """Seconds of the arrival."""
        return float(self.view.time_s[self.start])

    @property
    def end_s(self) -> float:
        """Seconds of the end."""
        return float(self.view.time_s[min(self.end, self.view.time_s.size - 1)])

    @cached_property
    def entry_is_hidden(self) -> bool:
        """Whether a hole of the log hides how the hold was joined: most of its leg and turn back, and nothing tells."""
        if self.entry is None:
            return False
        way, view = self.entry.phases, self.view
        if not (is_hidden(view, *way.legs[0]) and is_hidden(view, way.inbound.start, way.inbound.end)):
            return False
        # What is seen of the leg, and the way from one end of the hole to the other, may tell it all the same.
        odds = entry_log_odds(view, way, self.side, list(self.laps)).values()
        first, second, *_ = sorted(odds, reverse=True)
        told = view.seen[slice(*way.legs[0])].sum() >= ENTRY.leg_told_s
        return not (told and first - second >= ENTRY.hidden_entry_odds)

    @property
    def usual_miss_nm(self) -> float:
        """How far beside the fix its laps usually pass."""
        return float(np.median([p.miss_nm for p in self.passages[1:] or self.passages]))

    @property
    def evidence(self) -> float:
        """How much speaks for this hold against another: laps, nearness of their passages, hand and course."""
        near = self.nearness(self.start_s, self.end_s)
        met = [self.view.met_deg(p.index) for p in self.passages[1:] or self.passages]
        course = float(np.median(met)) / GIVEN.course_evidence_deg
        return len(self.laps) + near - course - GIVEN.hand_evidence * (self.side != self.view.hold.side)

    def nearness(self, start_s: float, end_s: float) -> float:
        """Return how many passages met the fix in a stretch, one beside it counting less."""
        met = [p for p in self.passages if start_s <= self.view.time_s[p.index] <= end_s]
        return sum(1.0 / (1.0 + (p.miss_nm / GIVEN.near_evidence_nm) ** 2) for p in met)

    @property
    def end(self) -> int:
        """Grid point of the last passage, or of where the last lap was broken off."""
        return self.broken.end if self.broken else self.passages[-1].index


def read_given(view: HoldView) -> list[GivenReading]:
    """Read every stay at a given hold.

    Returns
    -------
    list of GivenReading
        In time order.
    """
    stays: list[GivenReading] = []
    before = 0
    for group in _stays(view, inbound_passages(view)):
        for passages, laps in _without_journeys(view, group, _laps(view, group, before)):
            reading = _stay(view, passages, laps, before)
            if reading is not None:
                stays.append(reading)
                before = reading.end
    return stays


def _laps(view: HoldView, passages: list[Passage], before: int) -> list[LapPhases]:
    """Explain what was flown from each passage to the next."""
    laps, latest = [], before
    for start, end in pairwise(passages):
        earliest = max(start.left - GIVEN.begun_before_s, latest)
        lap = explain_lap(view, start.left, end.index, side=view.hold.side, earliest=earliest)
        laps.append(_turned_on(view, lap))
        latest = laps[-1].inbound.end
    return laps


def _turned_on(view: HoldView, lap: LapPhases) -> LapPhases:
    """Follow an inbound turn on that led past the fix, to where the wings came level before the next turn outbound."""
    turn = lap.inbound
    # Between chords the way is straight, whatever the wings did.
    if turn.start == turn.end or turn.end < lap.end or is_chorded(view.survey):
        return lap
    share = turn.side * view.turning[lap.end :]
    inbound = np.abs(view.off_deg[lap.end :]) < 90.0
    pause_s = GIVEN.orbit_pause_s
    level = np.convolve(share < GIVEN.orbit_turn_share, np.ones(pause_s), "valid") >= pause_s
    if not level.any():
        return lap
    on = int(np.argmax(level))
    if not inbound[: on + 1].all():
        return lap
    end = lap.end + on
    return replace(lap, inbound=replace(turn, end=end, change_deg=view.turned_deg(turn.start, end)))


def _without_journeys(
    view: HoldView, passages: list[Passage], laps: list[LapPhases]
) -> list[tuple[list[Passage], list[LapPhases]]]:
    """Part a stay where the hold was left and joined again: a way back to the fix far from all that a lap explains."""
    parts: list[tuple[list[Passage], list[LapPhases]]] = [(passages[:1], [])]
    for number, (lap, passage) in enumerate(zip(laps, passages[1:], strict=True)):
        # Nobody comes back to a hold by passing miles beside its fix: who does, and turns outbound there, lost it.
        lost = any(p.miss_nm > GIVEN.arrival_nm and begun_after(view, p) for p in (passages[number], passage))
        if not lost and _is_journey(view, lap, laps[:number] + laps[number + 1 :], first=not number):
            parts.append(([passage], []))
        else:
            parts[-1][0].append(passage)
            parts[-1][1].append(lap)
    return parts


def _stays(view: HoldView, passages: list[Passage]) -> list[list[Passage]]:
    """Group passages: between two of one stay the flight did not go on a journey.

    Who loses the fix comes back to it soon; else what passes far beside it was flown elsewhere.
    """
    groups: list[list[Passage]] = []
    for passage in passages:
        if groups and _is_one_lap(view, groups[-1][-1].index, passage.index):
            groups[-1].append(passage)
        else:
            groups.append([passage])
    return [part for group in groups for part in _near_the_fix(view, group)]


def _near_the_fix(view: HoldView, passages: list[Passage]) -> list[list[Passage]]:
    """Keep what passes near the fix, what drifts off it from lap to lap, and a first lap that was begun over it."""
    near: list[int] = []
    for i, one in enumerate(passages):
        before_nm = passages[i - 1].miss_nm if near and near[-1] == i - 1 else -np.inf
        drifted = one.miss_nm - before_nm <= GIVEN.lost_step_nm
        if one.miss_nm <= GIVEN.near_nm or drifted or (len(near) < 2 and _was_begun_over_the_fix(view, one)):
            near.append(i)
    parts = np.split(near, np.flatnonzero(np.diff(near) > GIVEN.lost_laps) + 1) if near else []
    return [passages[part[0] : part[-1] + 1] for part in parts]


def _was_begun_over_the_fix(view: HoldView, passage: Passage) -> bool:
    """Tell whether a passage far beside the fix ends an entry or a lap that was begun over it."""
    since = max(passage.index - int(GIVEN.longest_lap_s), 0)
    arrivals = arrivals_over(view, since, passage.index - GIVEN.apart_s)
    if not arrivals:
        return False
    over = arrivals[-1].index
    way = explain_lap(
        view, over, passage.index, side=view.hold.side, earliest=max(over - GIVEN.apart_s, 0), arrival=True
    )
    turned_back = abs(way.inbound.change_deg) > RACETRACK.least_turn_deg
    return turned_back and unexplained_s(view, way) <= GIVEN.journey_s


def _is_one_lap(view: HoldView, first: int, last: int) -> bool:
    if view.time_s[last] - view.time_s[first] > GIVEN.longest_lap_s:
        return False
    return float(view.away_nm[first : last + 1].max()) <= GIVEN.farthest_nm


def _is_journey(view: HoldView, lap: LapPhases, others: list[LapPhases], *, first: bool) -> bool:
    usual_s = float(np.median([one.end - one.start for one in others])) if others else 0.0
    took_s = lap.end - lap.start
    # Of the first it may be that it was an offset entry, with the drift laid off as well. Who leaves a given hold and
    # joins it again takes longer than a lap; where none is given, laps left alike are of something else.
    led_off_deg = ENTRY.offset_deg if first else 0.0
    longer = not view.given or took_s > GIVEN.left_ratio * usual_s
    if longer and _was_left(view, lap, 180.0 - led_off_deg - ENTRY.most_laid_off_deg):
        return True
    longest_s = GIVEN.journey_ratio * usual_s if others else np.inf
    # From the fix to the fix it is a lap flown badly, unless little of it was flown as one.
    met = max(view.away_nm[lap.start], view.away_nm[min(lap.end, view.away_nm.size - 1)]) <= GIVEN.arrival_nm
    least_s = max(GIVEN.journey_s, GIVEN.journey_share * took_s if met else 0.0)
    return took_s > longest_s and unexplained_s(view, lap) > least_s


def _was_left(view: HoldView, lap: LapPhases, outbound_deg: float) -> bool:
    """Tell whether a lap was left on its outbound leg: flown off across the course, away from all that leads back."""
    inbound = np.flatnonzero(np.abs(view.off_deg[lap.outbound.end : lap.end]) < GIVEN.left_deg[0])
    until = lap.outbound.end + int(inbound[0]) if inbound.size else lap.end
    leg = slice(lap.outbound.end, until)
    across = np.abs(view.turning[leg]) < PHASES.turn_share
    for off in (view.off_deg[leg], wrap180(view.air_off_deg[leg])):
        across &= (np.abs(off) > GIVEN.left_deg[0]) & (np.abs(off) < min(GIVEN.left_deg[1], outbound_deg))
    return any(b - a >= GIVEN.left_for_s for a, b in runs(across))


def _stay(
    view: HoldView, passages: list[Passage], pieces: list[LapPhases], before: int
) -> GivenReading | None:
    side, own = _flown_side(view, pieces), view.hold.side
    joined = _joined(view, passages, pieces, side, before)
    if side != own and len(pieces) == 1 and not _is_of_other_hand(view, passages, pieces, joined[1], side):
        # A lap before it that was flown as the hold asks makes the one the odd one.
        as_asked = _joined(view, passages, pieces, own, before)
        side, joined = (own, as_asked) if len(as_asked[2]) > 1 else (side, joined)
    if side != own and len(pieces) > 1:
        # So does the first of them, where it was joined by the entry that the heading over the fix asks for.
        as_asked = _joined(view, passages, pieces, own, before)
        lap = as_asked[2][0]
        if {lap.outbound.side, lap.inbound.side} == {own} and _has_its_entry(view, as_asked[1], own):
            side, joined = own, as_asked
    arrival, entry, pieces, passages = joined
    leaving = _leaving(view, pieces, passages)
    if leaving is not None:
        pieces, passages = pieces[:-1], passages[:-1]
    if len(pieces) == 1 and unexplained_s(view, pieces[0]) > GIVEN.lone_journey_s:
        return None
    if entry is None and len(pieces) == 1 and is_circle(view, pieces[0].start, pieces[0].end):
        return None
    broken = _broken(view, passages[-1].left, pieces, side)
    if pieces:
        held = any(lap.inbound.end > lap.inbound.start for lap in pieces)
    else:
        held = broken is not None and arrival.index >= before and _is_part_of_lap(view, broken, side)
    if not held:
        return None
    # Who lost the fix on every lap met it when he came.
    began = max(min(before, arrival.index), arrival.index - GIVEN.same_turn_s)
    came_nm = float(view.away_nm[began : arrival.index + 1].min())
    met_nm = GIVEN.met_nm if pieces else GIVEN.part_met_nm
    if min(came_nm, *(p.miss_nm for p in passages)) > met_nm:
        return None
    return GivenReading(
        view,
        side,
        arrival,
        arrival.index > GIVEN.seen_arriving_s and not _begins_within(view, arrival.index, pieces),
        entry,
        tuple(pieces),
        tuple(passages),
        broken,
        leaving,
    )


def _is_part_of_lap(view: HoldView, broken: LapPhases, side: int) -> bool:
    """Tell whether what was begun over the fix and broken off is a lap of this hold, though none was flown whole.

    It was turned outbound the hold's way and flown so, for no less than the shortest leg taught and no longer than a
    leg: who flies on has left on that course.
    """
    leg = broken.legs[0]
    flown_s = _straight_s(view, leg)
    return (
        broken.outbound.side == side and flown_s >= GIVEN.part_leg_s and leg[1] - leg[0] < GIVEN.entry_leg_s
    )


def _is_of_other_hand(
    view: HoldView, passages: list[Passage], pieces: list[LapPhases], entry: EntrySpan | None, side: int
) -> bool:
    """Tell whether a hold of one lap to the other hand was flown so, whatever came before.

    It joined by the very entry that the heading over the fix asks for at that hand, and began no lap as the hold asks.
    """
    begun = [_broken(view, passages[-1].left, pieces, hand) is not None for hand in (side, -side)]
    return begun != [False, True] and _has_its_entry(view, entry, side)


def _has_its_entry(view: HoldView, entry: EntrySpan | None, side: int) -> bool:
    """Tell whether it joined as its heading asks for at a hold of this hand, and not as at one of the other."""
    if entry is None or not is_asked_for(view, entry.phases, side, entry.kind):
        return False
    return not is_asked_for(view, entry.phases, -side, "direct")


def _leaving(
    view: HoldView, pieces: list[LapPhases], passages: list[Passage]
) -> tuple[LapPhases, Passage, float] | None:
    """Return the last way back where it was no way to the fix which the others met: the hold was left in that lap."""
    least_nm = max(GIVEN.left_nm, GIVEN.left_turn_share * view.turn_diameter_nm)
    if len(pieces) < 2 or passages[-1].miss_nm <= least_nm:
        return None
    odds = _left_log_odds(view, pieces[-1], passages)
    # Who turns outbound there for another lap has not left.
    return (pieces[-1], passages[-1], odds) if odds > 0.0 and not begun_after(view, passages[-1]) else None


def _left_log_odds(view: HoldView, lap: LapPhases, passages: list[Passage]) -> float:
    """Return how much more speaks for a last way back that was left than for one to the fix: a log of odds."""
    *others, last = passages
    at = last.index
    usual_nm = max(float(np.median([p.miss_nm for p in others])), GIVEN.left_met_nm)
    # Who arrived straight into the first lap did so from anywhere.
    usual_deg = np.median([abs(view.off_deg[p.index]) for p in others[1:]] or [0.0])
    off_deg = float(abs(view.off_deg[at]) - max(usual_deg, GIVEN.left_off_deg))
    turned_deg = max(
        abs(view.turned_deg(at - GIVEN.left_straight_s[0], at)),
        abs(view.turned_deg(at, at + GIVEN.left_straight_s[1])),
    )
    return (
        GIVEN.left_odds
        + GIVEN.left_off_odds * max(off_deg, 0.0)
        + GIVEN.left_farther_odds * float(np.log(last.miss_nm / usual_nm))
        + GIVEN.left_across_odds * (_flew_across_s(view, others[-1], last) >= GIVEN.left_across_s)
        + GIVEN.left_straight_odds * (turned_deg < GIVEN.left_straight_deg)
        - GIVEN.left_turn_odds * min(abs(lap.inbound.change_deg), 180.0)
    )


def _flew_across_s(view: HoldView, first: Passage, last: Passage) -> int:
    """Return for how long, at most, a way back led straight across the course once it no longer led outbound."""
    off = np.abs(view.off_deg[first.index : last.index])
    level = np.abs(view.rate_dps[first.index : last.index]) < GIVEN.orbit_turn_share * view.usual_rate_dps
    outbound = np.flatnonzero(off > 180.0 - GIVEN.left_outbound_deg)
    across = level & (off > GIVEN.left_deg[0]) & (off < GIVEN.left_deg[1])
    if outbound.size:
        across[: outbound[-1]] = False
    return max((b - a for a, b in runs(across)), default=0)


def _flown_side(view: HoldView, pieces: list[LapPhases]) -> int:
    """Return the hand that all laps were flown with; the hold's where some were flown with either."""
    if len(pieces) == 1:
        only = pieces[0]
        other = {only.outbound.side, only.inbound.side} == {-view.hold.side}
        straight_in = view.met_deg(only.start) < GIVEN.within_deg
        half = abs(only.outbound.change_deg) > RACETRACK.least_turn_deg
        return -view.hold.side if other and straight_in and half else view.hold.side
    hands = [np.sign(p.outbound.change_deg + p.inbound.change_deg) for p in pieces]
    # The first may be an entry, which turns as it must; a lap that is flown as the hold asks makes the others odd ones.
    other = 2 * hands.count(-view.hold.side) > len(hands) and view.hold.side not in hands[1:]
    return -view.hold.side if other else view.hold.side


def _joined(
    view: HoldView, passages: list[Passage], pieces: list[LapPhases], side: int, before: int
) -> tuple[Passage, EntrySpan | None, list[LapPhases], list[Passage]]:
    """Tell how the hold was joined: over the fix from wherever, and by an entry or straight into the first lap."""
    first = passages[0]
    over = _over_after(view, first, pieces[0]) if pieces else None
    if over is not None:
        way = explain_lap(
            view, over.index, pieces[0].end, side=side, earliest=over.index - GIVEN.apart_s, arrival=True
        )
        first, passages, pieces = over, [over, *passages[1:]], [_turned_on(view, way), *pieces[1:]]
    for arrival in arrivals_over(view, max(before, first.index - GIVEN.same_turn_s), first.index):
        # Over the fix, and round again over its perpendicular within the same turn: one passage.
        if _is_same_turn(view, arrival.index, first.index):
            pieces = (
                [replace(pieces[0], start=first.again or arrival.index), *pieces[1:]] if pieces else pieces
            )
            first = replace(arrival, again=first.again)
            passages = [first, *passages[1:]]
            break
    limit = _longest_leg_s(pieces)
    since = max(before, first.index - int(GIVEN.longest_lap_s))
    for arrival in arrivals_over(view, since, first.index - GIVEN.apart_s):
        earliest = max(arrival.index - GIVEN.apart_s, before)
        way = explain_lap(view, arrival.index, first.index, side=side, earliest=earliest, arrival=True)
        if abs(way.inbound.change_deg) < 90.0 or not _is_one_lap(view, arrival.index, first.index):
            continue
        if _is_journey(view, way, pieces, first=True):
            continue
        kind = most_likely_entry(view, way, side, pieces)
        turned = kind == "direct" and abs(way.outbound.change_deg) > GIVEN.entry_turn_deg
        if kind == "direct" and not turned and way.legs[0][1] - way.legs[0][0] < ENTRY.leg_told_s:
            # Neither a turn nor a leg outbound: only the second half of a turn back to the fix.
            continue
        # At a fix that was given, the entry that its sector asks for may have been flown on and on.
        asked = view.course_sd_deg == 0.0 and kind != "direct" and is_asked_for(view, way, side, kind)
        longest_s = max(limit, GIVEN.asked_leg_s) if asked else limit
        if pieces and not turned and _straight_s(view, way.legs[0]) > longest_s:
            continue
        straight_on = not pieces and kind == "direct" and not turned
        if straight_on and _straight_s(view, way.legs[0]) > GIVEN.entry_leg_s:
            # Outbound over the fix, far out, and back by one turn: a procedure turn or a base turn, and no lap.
            continue
        if kind == "direct":
            return arrival, None, [way, *pieces], [arrival, *passages]
        return arrival, EntrySpan(kind, way), pieces, passages
    if len(pieces) > 1 and (kind := most_likely_entry(view, pieces[0], side, pieces[1:])) != "direct":
        return first, EntrySpan(kind, pieces[0]), pieces[1:], passages[1:]
    return first, None, pieces, passages


def _over_after(view: HoldView, first: Passage, lap: LapPhases) -> Passage | None:
    """Return where who first passed far beside the fix came over it after all, on a way that led not outbound yet."""
    outbound = np.abs(view.off_deg[first.index : lap.inbound.start]) >= 180.0 - GIVEN.within_deg
    until = first.index + int(np.argmax(outbound)) if outbound.any() else lap.inbound.start
    later = [one for one in arrivals_over(view, first.index, lap.inbound.start) if one.index < until]
    over = min(later, key=lambda one: one.miss_nm, default=first)
    return over if over.miss_nm < GIVEN.nearer_share * first.miss_nm else None


def _is_same_turn(view: HoldView, first: int, last: int) -> bool:
    """Tell whether what was flown between two passages is less than a lap: hardly any way, or the first turn only."""
    turned = abs(view.turned_deg(first, last))
    if last - first <= GIVEN.shortest_lap_s and turned < GIVEN.shortest_lap_deg:
        return True
    return turned < GIVEN.same_turn_deg and _straight_s(view, (first, last)) <= GIVEN.same_turn_level_s


def _straight_s(view: HoldView, leg: tuple[int, int]) -> int:
    """Return for how long a leg was flown straight: circles and S-turns on it are none of its length."""
    rate = np.abs(view.rate_dps[leg[0] : leg[1]])
    return int((rate < GIVEN.orbit_turn_share * view.usual_rate_dps).sum())


def may_begin_within(view: HoldView, first: int) -> Literal["outbound", "lap"] | None:
    """Tell whether the log may begin within a lap that ends at the first passage, where no lap shows how one is flown.

    It begins on the way out, or so shortly before that passage that what is seen may be the rest of a lap.
    """
    if first > GIVEN.longest_lap_s:
        return None
    begun = slice(0, GIVEN.seen_arriving_s)
    outbound = bool((np.abs(view.off_deg[begun]) > 180.0 - GIVEN.within_deg).all())
    if outbound and bool((np.diff(view.away_nm[begun]) > 0.0).all()):
        return "outbound"
    # A turn at the log's very edge is seen badly: it only tells for how long a lap may have gone on.
    turning = _swept_deg(view.off_deg[begun]) > GIVEN.left_straight_deg
    round_again = turning and abs(view.turned_deg(0, first)) < GIVEN.orbit_deg[1]
    return "lap" if first <= (GIVEN.asked_leg_s if round_again else GIVEN.entry_leg_s) else None


def _begins_within(view: HoldView, first: int, laps: list[LapPhases]) -> bool:
    """Tell whether the log begins inside the hold, so that nobody saw how it was joined.

    It does where it begins near the fix, flying away, or on the way that its own laps fly, so long before the fix as
    they do. On the inbound leg who arrives straight in is there, too: then only where the log begins hardly before.
    """
    turning = _swept_deg(view.off_deg[: GIVEN.begun_inbound_s]) > GIVEN.begun_turning_deg
    if abs(view.off_deg[0]) < GIVEN.within_deg and not turning and first > GIVEN.begun_inbound_s:
        return False
    away = view.away_nm[: first + 1]
    flies_away = np.argmin(away[: first // 2 + 1]) == 0 and abs(view.off_deg[0]) > 180.0 - GIVEN.within_deg
    if flies_away and away[0] <= GIVEN.arrival_nm and _is_one_lap(view, 0, first):
        # On the leg of an entry, perhaps; who is away for longer had left the fix.
        return _straight_s(view, (0, first)) <= GIVEN.entry_leg_share * GIVEN.entry_leg_s
    if not laps:
        return may_begin_within(view, first) is not None
    for lap in laps:
        at = lap.end - first
        if at < lap.start:
            continue
        apart = np.hypot(view.along_nm[at] - view.along_nm[0], view.cross_nm[at] - view.cross_nm[0])
        turned = abs(float(wrap180(view.off_deg[at] - view.off_deg[0])))
        if apart <= GIVEN.begun_apart_nm and turned <= GIVEN.within_deg:
            return True
    return False


def _longest_leg_s(laps: list[LapPhases]) -> float:
    """Return how long an entry's or a last lap's leg may be, by the outbound legs of the laps."""
    longest = max((b - a for lap in laps for a, b in lap.legs[:1]), default=0)
    return max(GIVEN.entry_leg_s, GIVEN.entry_leg_share * longest + GIVEN.entry_leg_more_s)


def begun_after(view: HoldView, passage: Passage) -> bool:
    """Tell whether a lap was begun after a passage, by turning outbound to either hand, and never came back."""
    return any(_broken(view, passage.left, [], side) is not None for side in (1, -1))


def _broken(view: HoldView, passed: int, laps: list[LapPhases], side: int) -> LapPhases | None:
    """Return a lap that was begun after the last passage and never came back, if there is one."""
    end = min(passed + GIVEN.broken_s, view.time_s.size)
    outbound = np.abs(wrap180(view.off_deg[passed:end] - 180.0)) <= GIVEN.broken_within_deg
    if not outbound.any():
        return None
    first = passed + int(np.argmax(outbound))
    astray = np.flatnonzero(~outbound[first - passed :])
    until = min(first + (int(astray[0]) if astray.size else outbound.size), end) - 1
    earliest = max(passed - GIVEN.begun_before_s, laps[-1].inbound.end if laps else 0)
    lap = explain_lap(view, passed, until, side=side, earliest=earliest)
    turn = lap.outbound
    # Who flies headings against much drift turns through less, on every lap; two laps tell what one pilot's turn is.
    # Who joined on the outbound heading had nothing to turn.
    turned = [deg for lap in laps if (deg := _turned_deg(view, lap.outbound)) > GIVEN.broken_least_deg]
    own = min(turned, default=np.inf)
    least = min(GIVEN.broken_turn_deg, own - GIVEN.broken_own_deg)
    if len(turned) > 1:
        least = max(least, own - GIVEN.broken_like_deg)
    # Past the fix the turn inbound may still be made.
    begun = turn.start <= max(passed, earliest) + GIVEN.broken_begun_s and turn.side == side
    begun = begun and _turned_deg(view, turn) > max(least, GIVEN.broken_least_deg)
    # Who flies outbound for so long has left on that course, and began no lap.
    departed = until >= passed + GIVEN.broken_s - 1
    if not begun or departed or until - first < GIVEN.broken_stays_s:
        return None
    longest_s = int(_longest_leg_s(laps))
    if until - turn.end < longest_s and (back := _turned_back(view, passed, until, side, earliest)):
        return back
    until = min(until, turn.end + longest_s)
    ended = TurnRun(until, until, 0.0, hand=side)
    return replace(lap, end=max(until, turn.end + 1), inbound=ended, whole=False)


def _turned_back(view: HoldView, passed: int, until: int, side: int, earliest: int) -> LapPhases | None:
    """Return a lap that turned inbound the hold's way after its outbound leg, and was left or lost before the fix."""
    inbound = np.abs(view.off_deg[until : until + GIVEN.same_turn_s]) <= GIVEN.within_deg
    first = until + int(np.argmax(inbound))
    if not inbound.any() or side * view.turned_deg(until, first) < 0.0:
        return None
    left = np.abs(view.off_deg[first:]) > GIVEN.within_deg
    end = first + int(np.argmax(left)) if left.any() else view.time_s.size - 1
    lap = explain_lap(view, passed, end, side=side, earliest=earliest)
    turned = lap.inbound.side == side and lap.outbound.end < lap.inbound.start < lap.inbound.end < end
    return replace(lap, whole=False) if turned else None


def _turned_deg(view: HoldView, turn: TurnRun) -> float:
    """Return through how much a turn led by heading and over the ground, whichever is less."""
    return min(abs(turn.change_deg), _swept_deg(view.air_off_deg[turn.start : turn.end + 1]))


def _swept_deg(off_deg: FloatArray) -> float:
    """Return through how wide an angle a direction swept."""
    return float(np.ptp(np.unwrap(off_deg, period=360.0)))
