"""Finding every hold of a flight: the room's front door.

A given hold cuts the flight. What is left is surveyed, its turning read as racetracks and loops; what is a hold is
inferred, and then cuts the flight as a given one does. What may have been one is shown with what speaks for and
against it, nothing scored; what is none is dropped with its reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TypeVar

import numpy as np

from analyser.circuits.circuit_cutting import flown_by_given
from analyser.circuits.evidence import AS_CUT_CODES, CERTAIN_CODES, SHAPE_CODES, best_readings, objections
from analyser.circuits.flown import Circuit, FlownHold, Objection, PossibleHold, Search, SearchReason
from analyser.circuits.frame import apart_nm
from analyser.circuits.given_fit import best_stays, fit_of, is_part_of, part_reason, stays_at
from analyser.circuits.given_hold import GivenReading
from analyser.circuits.hold_inference import in_doubt_of_its_end
from analyser.circuits.loops import (
    Loop,
    as_racetrack,
    has_turns,
    likelier_end,
    loops,
    settled_stay,
    stay_around,
    stay_at_loop,
    stay_with_more_laps,
    turns_back,
)
from analyser.circuits.possible_holds import doubted, of_loop, of_racetrack, of_turn_back, times_s
from analyser.circuits.racetrack import (
    Racetrack,
    closing_nm,
    is_chorded,
    is_half_circle,
    place_on_earth,
    reading_fix,
    turn_runs,
)
from analyser.circuits.thresholds import CUTTING, ENDS, GIVEN, LOOPS, RACETRACK
from analyser.earth.angles import wrap180
from analyser.earth.constants import METRES_PER_NM
from analyser.holds.definition import Hold, turns_of
from analyser.logs.text import clock_text, counted
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
_Times = tuple[float, float]

#: Against a racetrack that its own hold cannot cut.
_UNCUT = Objection("no-lap-cut", "no lap of it leads from one passage of its fix to the next")
#: What is said of loops that are no hold.
_LOOPS_ARE = {
    "goes-down-and-up": "goes down and up again each time: laps of an aerodrome or of an approach",
    "circles": "is nothing but turning: circles",
}


def search(track: Track, given: Sequence[Hold] = ()) -> Search:
    """Find the holds of a flight, say what may have been one, what was dropped, and how each given hold fits.

    Parameters
    ----------
    given : sequence of Hold
        Holds that may have been flown. Each stretch takes the one that fits it; what fits none is inferred.
    """
    stays, alike = best_stays([stay for hold in given for stay in stays_at(track, hold)])
    given_stays = [flown_by_given(track, stay, alike.get(place, ())) for place, stay in enumerate(stays)]
    # A lap that was only begun at a given fix stands behind laps that are seen whole, wherever they were flown.
    found = [flown for flown, stay in zip(given_stays, stays, strict=True) if stay.laps]
    reasons: list[SearchReason] = []
    perhaps: list[PossibleHold] = []
    surveys = survey_flight(track)
    for survey in surveys:
        holding, others = best_readings(survey)
        stretches = _of_one_fix(survey, [r for r in holding if not _meets(times_s(survey, r), found)])
        uncut: list[Racetrack] = []
        for reading, span_s in stretches:
            if _meets(span_s, found):
                # A hold found before, followed on past what hid its laps, has this one's laps as well.
                continue
            elsewhere_s = [
                s for one, s in stretches if one is not reading and not _is_of_one_fix(survey, one, reading)
            ]
            flown = _flown(track, survey, reading, span_s, [*map(_span_s, found), *elsewhere_s])
            if isinstance(flown, FlownHold):
                found.append(flown)
            else:
                uncut.append(replace(reading, objection=flown))
        others = [*uncut, *others]
        reasons += [_dropped_reason(track, survey, reading) for reading in others]
        perhaps += _possible_racetracks(track, survey, others)
    rounds = _loops_of(track)
    found = _with_joined_stays(track, _with_loops(track, rounds, found, reasons))
    found, parts = _without_parts(track, given, found)
    perhaps, perhaps_parts = _without_parts(track, given, perhaps)
    parts += perhaps_parts
    begun = (flown for flown, stay in zip(given_stays, stays, strict=True) if not stay.laps)
    found += [flown for flown in begun if not _meets(_span_s(flown), found)]
    holds = _without_overlap(found)
    places = {id(hold): place for place, hold in enumerate(holds)}
    taken = {places[id(given_stays[i])]: other for i, other in alike.items() if id(given_stays[i]) in places}
    fits = tuple(fit_of(track, hold, holds, taken) for hold in given)
    perhaps = [one for one in perhaps if not _meets(_span_s(one), holds)]
    certain = [r for r in reasons if r.code in CERTAIN_CODES]
    more, dropped = _possible_loops(track, rounds, [*holds, *perhaps, *certain, *parts])
    more, loop_parts = _without_parts(track, given, more)
    holds, doubtful = lone_in_doubt(holds, len(perhaps) + len(more))
    perhaps = sorted([*perhaps, *more, *doubtful], key=lambda one: one.start_s)
    perhaps = perhaps if holds or perhaps else _possible_turn_back(track, surveys)
    ends = () if holds or perhaps else log_ends_reason(track)
    return Search(holds, tuple(perhaps), (*parts, *loop_parts, *reasons, *dropped, *ends), fits)


def _with_loops(
    track: Track, rounds: list[tuple[Survey, Loop]], found: list[FlownHold], reasons: list[SearchReason]
) -> list[FlownHold]:
    """Add the holds that loops plainly show, also in place of a racetrack that saw fewer of the same laps."""
    for survey, loop in rounds:
        span_s = times_s(survey, loop)
        met = [h for h in found if _meets(span_s, [h])]
        seen = sum(len(h.circuits) for h in met)
        # What flew there may be known to be something else, whatever its turns look like.
        known = _meets(span_s, [r for r in reasons if r.laps > 1 and r.code not in SHAPE_CODES])
        if any(h.given for h in met) or seen > loop.laps - bool(met) or known:
            continue
        read = stay_at_loop(track, survey, loop)
        if read is None or len(read[0].laps) <= seen:
            continue
        stay, other_end = read
        met += [h for h in found if h not in met and _meets((stay.start_s, stay.end_s), [h])]
        if not any(h.given for h in met):
            flown = in_doubt_of_its_end(flown_by_given(track, stay, given=False), other_end)
            found = [h for h in found if h not in met] + [flown]
    return found


def _with_joined_stays(track: Track, found: list[FlownHold]) -> list[FlownHold]:
    """Read inferred holds that follow each other round one fix as one stay, by the one that shows it best.

    Who turns inbound the wrong way in one lap, or circles before the fix, draws a racetrack before it and one after it,
    each with a fix, a course and perhaps an end of its own.
    """
    inferred = sorted((h for h in found if not h.given), key=lambda h: h.start_s)
    for pair in pairwise(inferred):
        shown = min(pair, key=lambda h: (h.other_end is not None, -len(h.circuits)))
        other = pair[0] if shown is pair[1] else pair[1]
        rest = [h for h in found if h not in pair]
        span_s = pair[0].start_s, pair[1].end_s
        if not _is_of_one_stay(*pair, shown, other) or _meets(span_s, rest):
            continue
        _, stay = _followed_on(track, shown.hold, span_s, [_span_s(h) for h in rest])
        whole = [sum(one.complete for one in h.circuits) for h in pair]
        both = stay is not None and stay.start_s < pair[0].end_s and stay.end_s > pair[1].start_s
        if stay is not None and both and len(stay.laps) > max(whole):
            stay = replace(stay, view=replace(stay.view, course_sd_deg=shown.course_sd_deg or 0.0))
            return _with_joined_stays(track, [*rest, flown_by_given(track, stay, given=False)])
    return found


def _is_of_one_stay(before: FlownHold, after: FlownHold, shown: FlownHold, other: FlownHold) -> bool:
    """Tell whether two holds soon after each other are of one hand and one fix, wherever the doubtful end may lie."""
    if after.start_s - before.end_s > GIVEN.longest_lap_s or before.hold.turns != after.hold.turns:
        return False
    ends = [other.hold]
    if other.other_end is not None:
        end = other.other_end
        ends.append(
            replace(
                other.hold,
                fix_lat_deg=end.fix_lat_deg,
                fix_lon_deg=end.fix_lon_deg,
                inbound_course_true_deg=end.inbound_course_true_deg,
            )
        )
    return any(
        apart_nm(shown.hold, one) <= RACETRACK.closing_nm
        and abs(wrap180(one.inbound_course_true_deg - shown.hold.inbound_course_true_deg))
        <= RACETRACK.course_apart_deg
        for one in ends
    )


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


def lone_in_doubt(
    holds: tuple[FlownHold, ...], others: int
) -> tuple[tuple[FlownHold, ...], list[PossibleHold]]:
    """Doubt holds that nobody gave and only one lap shows, in a flight that draws loops at many places.

    A lap that was begun or turned inbound with the other hand shows no hold of this one.
    """
    lone = [
        h
        for h in holds
        if not h.given and 1 in (len(h.circuits), sum(_is_of_its_hand(h, lap) for lap in h.circuits))
    ]
    if others + len(lone) - 1 < LOOPS.many_loops:
        return holds, []
    return tuple(h for h in holds if h not in lone), [doubted(h, others) for h in lone]


def _is_of_its_hand(hold: FlownHold, lap: Circuit) -> bool:
    return all(
        turn is None or turn.heading_change_deg * hold.hold.side > 0.0
        for turn in (lap.outbound_turn, lap.inbound_turn)
    )


def _span_s(one: FlownHold | PossibleHold | SearchReason) -> _Times:
    return one.start_s, one.end_s


def _meets(times_s: _Times, others: Sequence[FlownHold | PossibleHold | SearchReason]) -> bool:
    """Tell whether a stretch overlaps one of some others in time."""
    return any(times_s[0] < other.end_s and other.start_s < times_s[1] for other in others)


def _without_overlap(found: list[FlownHold]) -> tuple[FlownHold, ...]:
    """Keep one of those that overlap in time, by more than a passage is known to, given before inferred."""
    kept: list[FlownHold] = []
    for hold in sorted(found, key=lambda h: (not h.given, h.start_s)):
        if not _meets((hold.start_s + CUTTING.passing_s, hold.end_s - CUTTING.passing_s), kept):
            kept.append(hold)
    return tuple(sorted(kept, key=lambda h: h.start_s))


def _of_one_fix(survey: Survey, readings: list[Racetrack]) -> list[tuple[Racetrack, _Times]]:
    """Take racetracks of either hand that follow each other round one fix for one hold, by the one of most laps.

    Who turns the wrong way on one lap of a hold draws a racetrack of the other hand there, and two of the hold's.
    """
    found: list[tuple[Racetrack, _Times]] = []
    for reading in sorted(readings, key=lambda one: one.start):
        span_s = times_s(survey, reading)
        if found and _goes_on(survey, *found[-1], reading):
            last, (begun_s, _) = found[-1]
            found[-1] = max(last, reading, key=lambda one: len(one.laps)), (begun_s, span_s[1])
        else:
            found.append((reading, span_s))
    return found


def _goes_on(survey: Survey, before: Racetrack, span_s: _Times, reading: Racetrack) -> bool:
    """Tell whether a racetrack begins where another ended, round its fix on its course."""
    soon = survey.time_s[reading.start] - span_s[1] <= RACETRACK.late_turn_s
    return bool(soon) and _is_of_one_fix(survey, before, reading)


def _is_of_one_fix(survey: Survey, one: Racetrack, other: Racetrack) -> bool:
    apart_nm = float(np.hypot(*(other.fix_m - one.fix_m))) / METRES_PER_NM
    turned = abs(wrap180(other.course_deg - one.course_deg))
    return apart_nm <= closing_nm(survey, one.laps[0]) and bool(turned <= RACETRACK.course_apart_deg)


def _free_span_s(own: _Times, others: list[_Times]) -> _Times:
    """Return how much of the flight around a racetrack is looked at for its hold: no part of another hold."""
    before = [end for _, end in others if end <= own[0]]
    after = [start for start, _ in others if start >= own[1]]
    return max([own[0] - CUTTING.before_s, *before]), min([own[1] + CUTTING.before_s, *after])


def _flown(
    track: Track, survey: Survey, reading: Racetrack, span_s: _Times, others_s: list[_Times]
) -> FlownHold | Objection:
    """Infer the hold that a racetrack shows, and cut the flight by it; or say what speaks against that after all.

    Other holds are flown at ``others_s``.
    """
    shown_hold = Hold(*reading_fix(track, survey, reading), reading.course_deg, turns_of(reading.side))
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
    if is_chorded(survey):
        # Between chords, a lap begun over an inferred fix and broken off looks like a way out of the hold.
        stay = replace(stay, broken=None)
        stay = stay_with_more_laps(track, survey, flown_by_given(track, stay, given=False)) or stay
    held = _without_other_flying(survey, reading, stay)
    if isinstance(held, Objection):
        return held
    return in_doubt_of_its_end(flown_by_given(track, held, given=False), other_end)


def _followed_on(
    track: Track, hold: Hold, span_s: _Times, others_s: list[_Times]
) -> tuple[Track, GivenReading | None]:
    """Return the part of the flight round a racetrack, and the stay that it is part of, as far as its laps lead.

    A hole of the log hides the turns of a lap from whoever looks for racetracks; laps beyond it come round to the fix.
    """
    free_s = _free_span_s(span_s, others_s)
    while True:
        first, last = np.searchsorted(track.time_s, free_s)
        part = track.take(slice(int(first), int(last) + 1))
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
            return _doubted_as_cut(stay) or stay
        if stay.broken is None and len(stay.laps) == 1:
            return against
        if stay.broken is None:
            stay = replace(stay, laps=stay.laps[:-1], passages=stay.passages[:-1])
        stay = replace(stay, broken=None)


def _doubted_as_cut(stay: GivenReading) -> Objection | None:
    """Return what the laps tell as they are cut that the racetrack did not."""
    told = objections(stay.view.survey, as_racetrack(stay)) if has_turns(stay) else ()
    # A leg of one lap alone may have a circle in it.
    lone = len(stay.laps) == 1
    return next((one for one in told if one.code in AS_CUT_CODES - (SHAPE_CODES if lone else set())), None)


def _dropped_reason(track: Track, survey: Survey, reading: Racetrack) -> SearchReason:
    """Say of a racetrack what speaks against it first."""
    against = reading.objection or _UNCUT
    start, end = times_s(survey, reading)
    laps = counted(len(reading.laps), f"lap {_when(start, end)} looks", f"laps {_when(start, end)} look")
    said = f"{laps} like a racetrack, but {against.said}"
    lat, lon = reading_fix(track, survey, reading)
    return SearchReason(against.code, said, start, end, lat, lon, len(reading.laps))


def _when(start_s: float, end_s: float) -> str:
    return f"between {clock_text(start_s)} and {clock_text(end_s)}"


def _possible_racetracks(track: Track, survey: Survey, readings: list[Racetrack]) -> list[PossibleHold]:
    """Return the dropped racetracks, best first, that may yet have been holds."""
    known = [times_s(survey, r) for r in readings if r.objection and r.objection.certain]
    found: list[PossibleHold] = []
    for reading in readings:
        start, end = times_s(survey, reading)
        if (reading.objection and reading.objection.certain) or _meets((start, end), found):
            continue
        most = max((min(end, b) - max(start, a) for a, b in known), default=0.0)
        if len(reading.laps) == 1 and most > LOOPS.known_share * (end - start):
            continue
        against = tuple(objections(survey, reading)) or (reading.objection or _UNCUT,)
        if not any(one.certain for one in against):
            found.append(of_racetrack(track, survey, reading, against))
    return found


def _loops_of(track: Track) -> list[tuple[Survey, Loop]]:
    """Return where the flight came round to the same place."""
    scale_s = max(GIVEN.fine_scale_s, GIVEN.scale_share * track.interval_s)
    surveys = survey_flight(track, longest_hole_s=GIVEN.longest_hole_s)
    return [(survey, loop) for survey in surveys for loop in loops(survey, scale_s=scale_s)]


def _possible_loops(
    track: Track, found: list[tuple[Survey, Loop]], taken: Sequence[FlownHold | PossibleHold | SearchReason]
) -> tuple[list[PossibleHold], list[SearchReason]]:
    """Return what loops may have been a hold where nothing is spoken of already; and what of them was dropped."""
    free = [one for one in found if not _meets(times_s(*one), taken)]
    dipping = [one for one in free if _dips(*one)]
    level = [one for one in free if not _dips(*one)]
    legged = [one for one in level if not one[1].is_circle]
    circles = sorted((one for one in level if one[1].is_circle), key=lambda one: not one[1].is_steep)
    few = len(circles) <= LOOPS.most_circling and not any(loop.is_thermal for _, loop in circles)
    if not legged and not taken and few:
        # Who starts his watch over the fix flies no leg, and steeply nothing but a circle.
        legged, circles = circles, []
    dropped = [_loop_reason(track, "goes-down-and-up", *one) for one in dipping]
    dropped += [_loop_reason(track, "circles", *one) for one in circles]
    return [of_loop(track, *one) for one in legged], dropped


def _possible_turn_back(track: Track, surveys: list[Survey]) -> list[PossibleHold]:
    """Return the one turn back over a place that a flight made; none where it made several, for some other reason."""
    found = [(survey, back) for survey in surveys for back in turns_back(survey)]
    return [of_turn_back(track, *one) for one in found] if len(found) == 1 else []


def log_ends_reason(track: Track) -> tuple[SearchReason, ...]:
    """Say it where the log ends soon after a first turn, before a second one or within it."""
    surveys = survey_flight(track)
    runs = turn_runs(surveys[-1], GIVEN.fine_scale_s) if surveys else []
    if not runs:
        return ()
    time_s, last = surveys[-1].time_s, runs[-1]
    left_s, longest_s, second = time_s.size - last.end, LOOPS.ends_within_s, None
    if len(runs) > 1 and runs[-2].side == last.side:
        last, second, longest_s = runs[-2], last, RACETRACK.join_s
        if second.start - last.end > LOOPS.ends_within_s:
            return ()
    if not is_half_circle(last) or left_s > longest_s:
        return ()
    start, end = float(time_s[last.start]), float(time_s[-1])
    if second is not None:
        said = (
            f"the log ends at {clock_text(end)}, in a second turn the same way, after {abs(second.change_deg):.0f}° of "
            "it: too soon to show whether the flight came back to where the first turn began"
        )
    else:
        said = (
            f"the log ends at {clock_text(end)}, {left_s:.0f} s after a turn of {abs(last.change_deg):.0f}°: "
            "too soon for a second one"
        )
    return (SearchReason("log-ends", said, start, end, *place_on_earth(track, start)),)


def _loop_reason(track: Track, code: str, survey: Survey, loop: Loop) -> SearchReason:
    start, end = times_s(survey, loop)
    said = f"the way round {_when(start, end)} comes back over one place, but {_LOOPS_ARE[code]}"
    return SearchReason(code, said, start, end, *place_on_earth(track, start))


def _dips(survey: Survey, loop: Loop) -> bool:
    """Tell laps of an aerodrome or an approach: down and up again every time."""
    height = survey.altitude_ft[loop.start : loop.end + 1]
    if not np.isfinite(height).all():
        return False
    laps = np.array_split(height, loop.laps)
    return all(
        float(np.ptp(lap)) > LOOPS.dip_ft and abs(float(lap[-1] - lap[0])) < LOOPS.dip_back_ft for lap in laps
    )
