"""Finding every hold of a flight: the room's front door.

Survey the flight, read its turning as racetracks, drop what is no hold, measure each stretch that is left with
the full instrument, infer (or take) the hold, cut it into circuits and recognise the entry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyser.circuits.candidate_selection import best_readings, reading_fix
from analyser.circuits.circuit_cutting import cut_circuits, passages_of_turns
from analyser.circuits.entry_recognition import find_entry
from analyser.circuits.flown import FlownHold, Turn
from analyser.circuits.frame import hold_frame
from analyser.circuits.given_cutting import flown_by_given
from analyser.circuits.given_fit import best_stays, fit_of, stays_at
from analyser.circuits.hold_inference import (
    Inferred,
    in_doubt_of_its_end,
    inbound_lengths_nm,
    infer_hold,
    infer_leg,
)
from analyser.circuits.loops import Loop, stay_at_loop, stay_with_more_laps
from analyser.circuits.notices import circuit_notices
from analyser.circuits.possible_holds import (
    doubted,
    dropped_reason,
    log_ends_reason,
    loops_of,
    possible_loops,
    possible_racetracks,
)
from analyser.circuits.racetrack import Racetrack
from analyser.circuits.rejection_rules import CERTAIN_CODES, SHAPE_CODES
from analyser.circuits.search_result import PossibleHold, Search, SearchReason
from analyser.circuits.survey_turns import turn_runs
from analyser.circuits.thresholds import FRONT, LOOPS, RACETRACK
from analyser.circuits.turn_detection import find_turns, survey_turn
from analyser.circuits.turn_matching import LapTurns, lap_turns, match_turn
from analyser.earth.angles import wrap180, wrap360
from analyser.earth.plane import LocalPlane
from analyser.holds.definition import Hold
from analyser.logs.track import Track
from analyser.motion.estimate import Measured, measure
from analyser.motion.survey import Survey, survey_flight


def find_holds(track: Track, *given: Hold) -> list[FlownHold]:
    """Find the holds of a flight, in time order.

    Parameters
    ----------
    track : Track
    *given : Hold
        Holds that may have been flown; inferred from the flight where none is given.
    """
    return list(search(track, given).holds)


def search(track: Track, given: Sequence[Hold] = ()) -> Search:
    """Find the holds of a flight, say what may have been one, what was dropped, and how each given hold fits.

    Parameters
    ----------
    track : Track
    given : sequence of Hold
        Holds that may have been flown. Each stretch takes the one that fits it; what fits none is inferred.
    """
    stays, alike = best_stays([stay for hold in given for stay in stays_at(track, hold)])
    found = [flown_by_given(track, stay, alike.get(place, ())) for place, stay in enumerate(stays)]
    reasons: list[SearchReason] = []
    perhaps: list[PossibleHold] = []
    for survey in survey_flight(track):
        holding, others = best_readings(survey)
        free = [r for r in holding if not _overlaps(survey, r, found)]
        cut = [_flown(track, survey, reading) for reading in free]
        found += [flown for flown in cut if flown is not None]
        reasons += [dropped_reason(track, survey, reading) for reading in others]
        perhaps += possible_racetracks(track, survey, others)
    rounds = loops_of(track)
    found = _with_loops(track, rounds, found, reasons)
    holds = _without_overlap(found)
    taken = {holds.index(found[place]): others for place, others in alike.items()}
    fits = tuple(fit_of(track, hold, holds, taken) for hold in given)
    perhaps = [one for one in perhaps if not any(_meets(one, h.start_s, h.end_s) for h in holds)]
    taken_s = [(h.start_s, h.end_s) for h in holds] + [(one.start_s, one.end_s) for one in perhaps]
    taken_s += [(r.start_s, r.end_s) for r in reasons if r.code in CERTAIN_CODES]
    more, dropped = possible_loops(track, rounds, taken_s)
    holds, doubtful = _lone_in_doubt(holds, len(perhaps) + len(more))
    perhaps = sorted([*perhaps, *more, *doubtful], key=lambda one: one.start_s)
    ends = () if holds or perhaps else log_ends_reason(track)
    return Search(holds, tuple(perhaps), (*reasons, *dropped, *ends), fits)


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


@dataclass(frozen=True)
class _Stretch:
    """One racetrack, measured: what the cutting needs."""

    survey: Survey
    reading: Racetrack
    measured: Measured
    turns: list[Turn]
    laps: list[LapTurns]


def _flown(track: Track, survey: Survey, reading: Racetrack) -> FlownHold | None:
    """Measure one racetrack, infer its hold and cut it; None where its turns cannot be cut after all."""
    plane = LocalPlane(*reading_fix(track, survey, reading))
    stretch = _stretch(track, survey, reading, plane, quick=True)
    if not stretch.laps:
        return None
    inferred = infer_hold(stretch.measured, stretch.turns, stretch.laps, reading.course_deg)
    own = _own_hold(plane, inferred, reading)
    # The map moves onto the inferred fix, so that everything after counts from there.
    moved = _stretch(track, survey, reading, LocalPlane(own.fix_lat_deg, own.fix_lon_deg))
    flown = _cut(moved if moved.laps else stretch, own, inferred)
    more = stay_with_more_laps(track, survey, flown) if stretch.measured.chorded else None
    flown = flown_by_given(track, more, given=False) if more else flown
    return in_doubt_of_its_end(flown, reading.rival_chance)


def _stretch(
    track: Track, survey: Survey, reading: Racetrack, plane: LocalPlane, *, quick: bool = False
) -> _Stretch:
    first = float(survey.time_s[reading.start])
    passed_s = float(survey.time_s[reading.end])
    after = reading.after
    # A turn long after the fix was passed is another hold's, or on the way: its wind is not this hold's.
    soon = after is not None and float(survey.time_s[after.start]) <= passed_s + FRONT.after_s
    last_turn = after if after is not None and soon else reading.laps[-1].inbound
    last = float(survey.time_s[min(max(reading.end, last_turn.end), survey.time_s.size - 1)])
    start = max(first - FRONT.before_s, float(survey.time_s[0]))
    end = min(last + FRONT.after_s, float(survey.time_s[-1]))
    wind_from = float(survey.time_s[reading.before.start]) if reading.before else first - 5.0
    measured = measure(track, plane, start, end, (wind_from, last + 5.0), quick=quick)
    turns = _survey_turns(survey, reading, measured) if measured.chorded else find_turns(measured)
    return _Stretch(survey, reading, measured, turns, lap_turns(survey, reading, turns))


def _survey_turns(survey: Survey, reading: Racetrack, measured: Measured) -> list[Turn]:
    """Take the turns as the survey saw them, where positions are chords and no bank tells of a roll."""
    time_s, last = survey.time_s, survey.time_s.size - 1
    begin, end = measured.motion.time_s[0], measured.motion.time_s[-1]
    return [
        survey_turn(measured, float(time_s[run.start]), float(time_s[min(run.end, last)]), run.change_deg)
        for run in turn_runs(survey, reading.scale_s)
        if begin <= time_s[run.start] <= end
    ]


def _own_hold(plane: LocalPlane, inferred: Inferred, reading: Racetrack) -> Hold:
    lat, lon = plane.to_earth(np.array([inferred.east_nm]), np.array([inferred.north_nm]))
    return Hold(
        fix_lat_deg=float(lat[0]),
        fix_lon_deg=float(lon[0]),
        inbound_course_true_deg=wrap360(inferred.course_deg),
        turns="right" if reading.side > 0 else "left",
    )


def _cut(stretch: _Stretch, hold: Hold, inferred: Inferred) -> FlownHold:
    """Cut a measured stretch into entry and circuits, by its own hold."""
    measured, turns = stretch.measured, stretch.turns
    course = hold.inbound_course_true_deg
    frame = hold_frame(measured.motion, course)
    laps = [*stretch.laps, *_broken_lap(stretch, course)]
    circuits = cut_circuits(measured, frame, laps, passages_of_turns(frame, laps), course)
    first = stretch.laps[0].outbound
    leg_s = circuits[0].outbound_leg.duration_s if circuits[0].outbound_leg else 0.0
    begins_s = float(stretch.survey.time_s[0])
    entry = find_entry(measured, frame, turns, first, circuits[0].start_s, leg_s, begins_s, course, hold.side)
    start_s, end_s = entry.fix_s if entry else circuits[0].start_s, circuits[-1].end_s
    lengths = inbound_lengths_nm(measured.motion, circuits)
    hold = replace(hold, leg=infer_leg(lengths, measured.motion.tas_mean_kt))
    circles = not stretch.reading.has_halves
    said = circuit_notices(measured.motion, turns, circuits, entry, circles=circles)
    return FlownHold(
        hold=hold,
        given=False,
        inferred=hold,
        fix_sd_nm=inferred.fix_sd_nm,
        course_sd_deg=inferred.course_sd_deg,
        motion=measured.over(start_s, end_s),
        entry=entry,
        circuits=tuple(circuits),
        start_s=start_s,
        end_s=end_s,
        notices=(*measured.motion.notices, *said),
    )


def _broken_lap(stretch: _Stretch, course_deg: float) -> list[LapTurns]:
    """Return the lap that was begun over the fix after the last whole one and never finished, if there is one."""
    after, last = stretch.reading.after, stretch.laps[-1].inbound
    if after is None or last is None:
        return []
    turn = match_turn(stretch.survey, after, stretch.turns)
    if turn is None or turn.start_s < last.end_s:
        return []
    # Whoever flies on over the fix for so long has left the hold, and turns for something else.
    passed_s = float(stretch.survey.time_s[stretch.reading.end])
    if turn.start_s > passed_s + RACETRACK.late_turn_s:
        return []
    motion = stretch.measured.motion
    track_out = motion.at("track_deg", min(turn.end_s + FRONT.outbound_after_s, float(motion.time_s[-1])))
    flown_outbound = abs(wrap180(track_out - course_deg - 180.0)) <= FRONT.outbound_within_deg
    return [LapTurns(turn, None)] if flown_outbound else []
