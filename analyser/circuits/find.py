"""Finding every hold of a flight: the room's front door.

A given hold cuts the flight. What is left is surveyed, its turning read as racetracks and loops; what is no hold is
dropped with its reason; and what is one is inferred, and then cuts the flight as a given hold does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from analyser.circuits.circuit_cutting import flown_by_given
from analyser.circuits.flown import FlownHold
from analyser.circuits.given_fit import best_stays, fit_of, is_part_of, part_reason, stays_at
from analyser.circuits.given_hold import GivenReading
from analyser.circuits.hold_inference import in_doubt_of_its_end
from analyser.circuits.lap_grouping import best_readings
from analyser.circuits.loops import (
    Loop,
    likelier_end,
    settled_stay,
    stay_around,
    stay_at_loop,
    stay_with_more_laps,
)
from analyser.circuits.possible_holds import (
    doubted,
    dropped_reason,
    log_ends_reason,
    loops_of,
    possible_loops,
    possible_racetracks,
)
from analyser.circuits.racetrack import Racetrack, closing_nm, has_corners, reading_fix
from analyser.circuits.rejection_rules import CERTAIN_CODES, SHAPE_CODES, objections
from analyser.circuits.search_result import Objection, PossibleHold, Search, SearchReason
from analyser.circuits.thresholds import CUTTING, ENDS, LOOPS, RACETRACK
from analyser.earth.angles import wrap180
from analyser.earth.constants import METRES_PER_NM
from analyser.holds.definition import Hold, Turns
from analyser.logs.track import Track
from analyser.motion.survey import Survey, survey_flight


def find_holds(track: Track, *given: Hold) -> list[FlownHold]:
    """Find the holds of a flight, in time order.

    Parameters
    ----------
    *given : Hold
        Holds that may have been flown; inferred from the flight where none is given.
    """
    return list(search(track, given).holds)


_Lap = TypeVar("_Lap", FlownHold, PossibleHold)

#: Against a racetrack that its own hold cannot cut.
_UNCUT = Objection("no-lap-cut", "no lap of it leads from one passage of its fix to the next")


def search(track: Track, given: Sequence[Hold] = ()) -> Search:
    """Find the holds of a flight, say what may have been one, what was dropped, and how each given hold fits.

    Parameters
    ----------
    given : sequence of Hold
        Holds that may have been flown. Each stretch takes the one that fits it; what fits none is inferred.
    """
    stays, alike = best_stays([stay for hold in given for stay in stays_at(track, hold)])
    found = [flown_by_given(track, stay, alike.get(place, ())) for place, stay in enumerate(stays)]
    reasons: list[SearchReason] = []
    perhaps: list[PossibleHold] = []
    for survey in survey_flight(track):
        holding, others = best_readings(survey)
        stretches = _of_one_fix(survey, [r for r in holding if not _overlaps(survey, r, found)])
        taken_s = [(h.start_s, h.end_s) for h in found]
        uncut: list[Racetrack] = []
        for reading, span_s in stretches:
            if any(begun_s < span_s[1] and span_s[0] < end_s for begun_s, end_s in taken_s):
                # A hold found before, followed on past what hid its laps, has this one's laps as well.
                continue
            elsewhere_s = [
                s for one, s in stretches if one is not reading and not _is_of_one_fix(survey, one, reading)
            ]
            flown = _flown(track, survey, reading, span_s, [*taken_s, *elsewhere_s])
            if isinstance(flown, FlownHold):
                found.append(flown)
                taken_s.append((flown.start_s, flown.end_s))
            else:
                uncut.append(replace(reading, objection=flown))
        others = [*uncut, *others]
        reasons += [dropped_reason(track, survey, reading) for reading in others]
        perhaps += possible_racetracks(track, survey, others)
    rounds = loops_of(track)
    found = _with_loops(track, rounds, found, reasons)
    found, parts = _without_parts(track, given, found)
    perhaps, perhaps_parts = _without_parts(track, given, perhaps)
    parts += perhaps_parts
    holds = _without_overlap(found)
    taken = {holds.index(found[place]): others for place, others in alike.items()}
    fits = tuple(fit_of(track, hold, holds, taken) for hold in given)
    perhaps = [one for one in perhaps if not any(_meets(one, h.start_s, h.end_s) for h in holds)]
    taken_s = [(h.start_s, h.end_s) for h in holds] + [(one.start_s, one.end_s) for one in perhaps]
    taken_s += [(r.start_s, r.end_s) for r in reasons if r.code in CERTAIN_CODES]
    taken_s += [(part.start_s, part.end_s) for part in parts]
    more, dropped = possible_loops(track, rounds, taken_s)
    more, loop_parts = _without_parts(track, given, more)
    holds, doubtful = _lone_in_doubt(holds, len(perhaps) + len(more))
    perhaps = sorted([*perhaps, *more, *doubtful], key=lambda one: one.start_s)
    ends = () if holds or perhaps else log_ends_reason(track)
    return Search(holds, tuple(perhaps), (*parts, *loop_parts, *reasons, *dropped, *ends), fits)


def _with_loops(
    track: Track, rounds: list[tuple[Survey, Loop]], found: list[FlownHold], reasons: list[SearchReason]
) -> list[FlownHold]:
    """Add the holds that loops plainly show, also in place of a racetrack that saw fewer of the same laps."""
    for survey, loop in rounds:
        start, end = float(survey.time_s[loop.index]), float(survey.time_s[loop.last])
        met = [h for h in found if start < h.end_s and h.start_s < end]
        seen = sum(len(h.circuits) for h in met)
        if any(h.given for h in met) or seen > loop.laps - bool(met) or _is_spoken_of(start, end, reasons):
            continue
        read = stay_at_loop(track, survey, loop)
        if read is None or len(read[0].laps) <= seen:
            continue
        stay, other_end = read
        met += [h for h in found if h not in met and stay.start_s < h.end_s and h.start_s < stay.end_s]
        if not any(h.given for h in met):
            flown = in_doubt_of_its_end(flown_by_given(track, stay, given=False), other_end)
            found = [h for h in found if h not in met] + [flown]
    return found


def _without_parts(
    track: Track, given: Sequence[Hold], laps: list[_Lap]
) -> tuple[list[_Lap], list[SearchReason]]:
    """Leave out lone laps that may as well be parts of two laps of a given hold."""
    kept: list[_Lap] = []
    parts: list[SearchReason] = []
    for lap in laps:
        of = next((hold for hold in given if is_part_of(track, hold, lap)), None)
        if of is None:
            kept.append(lap)
        else:
            parts.append(part_reason(of, lap.start_s, lap.end_s))
    return kept, parts


def _is_spoken_of(start_s: float, end_s: float, reasons: list[SearchReason]) -> bool:
    """Tell whether what flew there is known to be something else, whatever its turns look like."""
    return any(
        r.start_s < end_s and start_s < r.end_s and r.code not in SHAPE_CODES for r in reasons if r.laps > 1
    )


def _lone_in_doubt(
    holds: tuple[FlownHold, ...], others: int
) -> tuple[tuple[FlownHold, ...], list[PossibleHold]]:
    """Doubt holds of one lap that nobody gave, in a flight that draws loops at many places."""
    lone = [h for h in holds if not h.given and len(h.circuits) == 1]
    if others + len(lone) - 1 < LOOPS.many_loops:
        return holds, []
    return tuple(h for h in holds if h not in lone), [doubted(h, others) for h in lone]


def _meets(one: PossibleHold, start_s: float, end_s: float) -> bool:
    return one.start_s < end_s and start_s < one.end_s


def _overlaps(survey: Survey, reading: Racetrack, holds: list[FlownHold]) -> bool:
    start, end = survey.time_s[reading.start], survey.time_s[min(reading.end, survey.time_s.size - 1)]
    return any(start < hold.end_s and hold.start_s < end for hold in holds)


def _without_overlap(found: list[FlownHold]) -> tuple[FlownHold, ...]:
    """Keep one of those that overlap in time, given before inferred."""
    kept: list[FlownHold] = []
    for hold in sorted(found, key=lambda h: (not h.given, h.start_s)):
        if all(hold.end_s <= other.start_s or other.end_s <= hold.start_s for other in kept):
            kept.append(hold)
    return tuple(sorted(kept, key=lambda h: h.start_s))


def _of_one_fix(survey: Survey, readings: list[Racetrack]) -> list[tuple[Racetrack, tuple[float, float]]]:
    """Take racetracks of either hand that follow each other round one fix for one hold, by the one of most laps.

    Who turns the wrong way on one lap of a hold draws a racetrack of the other hand there, and two of the hold's.
    """
    found: list[tuple[Racetrack, tuple[float, float]]] = []
    for reading in sorted(readings, key=lambda one: one.start):
        span_s = _span_s(survey, reading)
        if found and _goes_on(survey, *found[-1], reading):
            last, (begun_s, _) = found[-1]
            found[-1] = max(last, reading, key=lambda one: len(one.laps)), (begun_s, span_s[1])
        else:
            found.append((reading, span_s))
    return found


def _goes_on(survey: Survey, before: Racetrack, span_s: tuple[float, float], reading: Racetrack) -> bool:
    """Tell whether a racetrack begins where another ended, round its fix on its course."""
    soon = survey.time_s[reading.start] - span_s[1] <= RACETRACK.late_turn_s
    return bool(soon) and _is_of_one_fix(survey, before, reading)


def _is_of_one_fix(survey: Survey, one: Racetrack, other: Racetrack) -> bool:
    apart_nm = float(np.hypot(*(other.fix_m - one.fix_m))) / METRES_PER_NM
    turned = abs(wrap180(other.course_deg - one.course_deg))
    return apart_nm <= closing_nm(survey, one.laps[0]) and bool(turned <= RACETRACK.course_apart_deg)


def _span_s(survey: Survey, reading: Racetrack) -> tuple[float, float]:
    last = min(max(reading.end, reading.laps[-1].inbound.end), survey.time_s.size - 1)
    return float(survey.time_s[reading.laps[0].outbound.start]), float(survey.time_s[last])


def _free_span_s(own: tuple[float, float], others: list[tuple[float, float]]) -> tuple[float, float]:
    """Return how much of the flight around a racetrack is looked at for its hold: no part of another hold."""
    before = [end for _, end in others if end <= own[0]]
    after = [start for start, _ in others if start >= own[1]]
    return max([own[0] - CUTTING.before_s, *before]), min([own[1] + CUTTING.before_s, *after])


def _flown(
    track: Track,
    survey: Survey,
    reading: Racetrack,
    span_s: tuple[float, float],
    others_s: list[tuple[float, float]],
) -> FlownHold | Objection:
    """Infer the hold that a racetrack shows, and cut the flight by it; or say what speaks against that after all.

    Parameters
    ----------
    others_s : list of (float, float)
        From when to when other holds are flown.
    """
    hand: Turns = "right" if reading.side > 0 else "left"
    shown_hold = Hold(*reading_fix(track, survey, reading), reading.course_deg, hand)
    part, rough = _followed_on(track, shown_hold, span_s, others_s)
    settled = settled_stay(part, rough, *span_s) if rough else None
    if settled is None:
        return _UNCUT
    shown = _without_other_flying(survey, reading, settled)
    if isinstance(shown, Objection):
        return shown
    # Of a circle that was two turns nobody sees which leg between them was lost.
    unseen = ENDS.halved_chance if reading.has_halves else 0.0
    stay, other_end = likelier_end(part, shown, *span_s, unseen=unseen)
    if has_corners(survey):
        # Between chords, a lap begun over an inferred fix and broken off looks like a way out of the hold.
        stay = replace(stay, broken=None)
        stay = stay_with_more_laps(track, survey, flown_by_given(track, stay, given=False)) or stay
    held = _without_other_flying(survey, reading, stay)
    if isinstance(held, Objection):
        return held
    return in_doubt_of_its_end(flown_by_given(track, held, given=False), other_end)


def _followed_on(
    track: Track, hold: Hold, span_s: tuple[float, float], others_s: list[tuple[float, float]]
) -> tuple[Track, GivenReading | None]:
    """Return the part of the flight round a racetrack, and the stay that it is part of, as far as its laps lead.

    A hole of the log hides the turns of a lap from whoever looks for racetracks; laps beyond it come round to the fix.
    """
    free_s = _free_span_s(span_s, others_s)
    while True:
        part = _part(track, *free_s)
        stay = stay_around(part, hold, *span_s)
        if stay is None:
            return part, stay
        lap_s = float(np.median([lap.end - lap.start for lap in stay.laps]))
        # Where a part begins within the hold, the flight may have joined it before.
        back_s = stay.start_s - (0.0 if stay.arrived else CUTTING.before_s)
        wide_s = _free_span_s((min(back_s, span_s[0]), max(stay.end_s, span_s[1])), others_s)
        near = stay.start_s - free_s[0] < lap_s or not stay.arrived
        before = near and wide_s[0] < free_s[0] and free_s[0] > track.time_s[0]
        after = free_s[1] - stay.end_s < lap_s and wide_s[1] > free_s[1] and free_s[1] < track.time_s[-1]
        if not (before or after):
            return part, stay
        free_s = wide_s


def _without_other_flying(survey: Survey, reading: Racetrack, stay: GivenReading) -> GivenReading | Objection:
    """Leave out last laps that were cut beyond what the turns showed, and are certainly none of a hold."""
    while True:
        end = max(int(np.searchsorted(survey.time_s, stay.end_s)), reading.end)
        longer = replace(reading, laps=(*reading.laps[:-1], replace(reading.laps[-1], passage=end)))
        against = next((one for one in objections(survey, longer) if one.certain), None)
        if against is None:
            return stay
        if stay.broken is None and len(stay.laps) == 1:
            return against
        if stay.broken is None:
            stay = replace(stay, laps=stay.laps[:-1], passages=stay.passages[:-1])
        stay = replace(stay, broken=None)


def _part(track: Track, start_s: float, end_s: float) -> Track:
    first, last = np.searchsorted(track.time_s, [start_s, end_s])
    return track.take(slice(int(first), int(last) + 1))
