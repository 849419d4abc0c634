"""Finding every hold of a flight: the room's front door.

Survey the flight, read its turning as racetracks, drop what is no hold, measure each stretch that is left with
the full instrument, infer (or take) the hold, cut it into circuits and recognise the entry.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analyser.circuits.cut import cut_circuits
from analyser.circuits.edges import find_turns, survey_turn
from analyser.circuits.entry import LEAST_TURN_BACK_DEG, LONGEST_ENTRY_S, find_entry
from analyser.circuits.flown import Circuit, Entry, FlownHold, Turn
from analyser.circuits.frame import hold_frame
from analyser.circuits.infer import InboundPath, Inferred, infer_fix, infer_leg
from analyser.circuits.laps import LapTurns, lap_turns, match_turn
from analyser.circuits.plausible import why_not
from analyser.circuits.racetrack import M_PER_NM, Racetrack, chains, racetracks
from analyser.circuits.turning import TurnRun, circles_halved, turn_runs
from analyser.earth.angles import wrap180, wrap360
from analyser.earth.plane import LocalPlane
from analyser.holds.definition import Hold
from analyser.logs.track import FloatArray, Notice, Track
from analyser.motion.estimate import Measured, measure
from analyser.motion.motion import Motion
from analyser.motion.survey import Survey, survey_flight

#: Smoothing scales, seconds, finest first; the coarse ones are for positions joined by chords.
SCALES_S, CHORD_SCALES_S = (3.0, 6.0), (10.0, 14.0)
#: How much of the flight before and after the laps is measured with them: the entry, and the departure.
BEFORE_S, AFTER_S = 480.0, 180.0
#: A racetrack belongs to a given hold if its fix is this near and its course this like.
GIVEN_FIX_NM, GIVEN_COURSE_DEG = 4.0, 50.0
#: A lap is a parallel entry if its second turn is longer by this much, and a hold of the other hand begins
#: within this time and distance of its end.
PARALLEL_LOPSIDED_DEG, PARALLEL_FOLLOWS_S, PARALLEL_NEAR_NM = 40.0, 75.0, 3.5
#: A turn of which this much is flown in impossible corners comes from chords.
CORNER_BANK_DEG, CORNER_SHARE = 42.0, 0.25


@dataclass(frozen=True)
class Search:
    """What was found in a flight.

    Attributes
    ----------
    holds : tuple of FlownHold
        In time order.
    nearest_miss : str or None
        Where no hold was found: what came nearest to one, and why it is none.
    """

    holds: tuple[FlownHold, ...]
    nearest_miss: str | None


def find_holds(track: Track, hold: Hold | None = None) -> list[FlownHold]:
    """Find the holds of a flight.

    Parameters
    ----------
    track : Track
    hold : Hold, optional
        The hold that was to be flown; inferred from the flight when left out.

    Returns
    -------
    list of FlownHold
        In time order.
    """
    return list(search(track, hold).holds)


def search(track: Track, hold: Hold | None = None) -> Search:
    """Find the holds of a flight, and say what came nearest where there is none.

    Parameters
    ----------
    track : Track
    hold : Hold, optional

    Returns
    -------
    Search
    """
    holds: list[FlownHold] = []
    misses: list[str] = []
    for survey in survey_flight(track):
        readings = _readings(survey, track, hold)
        for reading in _without_overlap(_without_parallel_entries(readings)):
            flown = _flown(track, survey, reading, hold)
            if flown:
                holds.append(flown)
        misses += [_miss(survey, r) for r in readings if r.why_not]
    holds.sort(key=lambda h: h.start_s)
    return Search(tuple(holds), None if holds else _nearest(misses))


def _readings(survey: Survey, track: Track, hold: Hold | None) -> list[Racetrack]:
    """Read the flight at every scale that suits it; best readings first."""
    scales = SCALES_S + (CHORD_SCALES_S if _has_corners(survey) else ())
    readings = [
        replace(reading, why_not=why_not(survey, reading))
        for scale in scales
        for runs in _with_and_without_circles(survey, turn_runs(survey, scale))
        for chain in chains(runs)
        for reading in racetracks(survey, chain, scale)
    ]
    given = _given_bonus(survey, track, hold)
    # A reading with circles taken apart that does not hold water must not stand in the way of one without.
    return sorted(
        (r for r in readings if not (r.why_not and r.has_halves)),
        key=lambda r: -(r.score + given(r) - 0.01 * r.scale_s),
    )


def _with_and_without_circles(survey: Survey, runs: list[TurnRun]) -> list[list[TurnRun]]:
    """Read whole circles both ways: flown to lose time, or as two turns with no leg between."""
    halved = circles_halved(survey, runs)
    return [runs, halved] if len(halved) != len(runs) else [runs]


def _has_corners(survey: Survey) -> bool:
    speed = np.hypot(survey.east_mps, survey.north_mps)
    bank = np.degrees(np.arctan(speed * np.radians(np.abs(survey.turn_rate_dps)) / 9.80665))
    turning = np.abs(survey.turn_rate_dps)
    return bool(turning[bank > CORNER_BANK_DEG].sum() > CORNER_SHARE * turning.sum())


def _given_bonus(survey: Survey, track: Track, hold: Hold | None):  # type: ignore[no-untyped-def]
    """Prefer readings that agree with a given hold."""
    if hold is None:
        return lambda _reading: 0.0

    def bonus(reading: Racetrack) -> float:
        return 50.0 if _belongs(reading_fix(track, survey, reading), reading.course_deg, hold) else 0.0

    return bonus


def reading_fix(track: Track, survey: Survey, reading: Racetrack) -> tuple[float, float]:
    """Return latitude and longitude near a reading's fix: the log's own sample nearest to it in the survey."""
    i = int(
        np.argmin(
            np.hypot(survey.east_m - reading.fix_m[0], survey.north_m - reading.fix_m[1])[_inside(reading)]
        )
    )
    when = survey.time_s[reading.start + i]
    lat = float(np.interp(when, track.time_s, track.lat_deg))
    lon = np.unwrap(track.lon_deg, period=360.0)
    return lat, float((np.interp(when, track.time_s, lon) + 180.0) % 360.0 - 180.0)


def _inside(reading: Racetrack) -> slice:
    return slice(reading.start, reading.end + 1)


def _belongs(fix: tuple[float, float], course_deg: float, hold: Hold) -> bool:
    east, north, _ = LocalPlane(hold.fix_lat_deg, hold.fix_lon_deg).to_plane(
        np.array([fix[0]]), np.array([fix[1]])
    )
    near = float(np.hypot(east[0], north[0])) <= GIVEN_FIX_NM
    return near and abs(wrap180(course_deg - hold.inbound_course_true_deg)) <= GIVEN_COURSE_DEG


def _without_parallel_entries(readings: list[Racetrack]) -> list[Racetrack]:
    """Drop what looks like a lap of the other hand but is the parallel entry to the hold that follows.

    A parallel entry is a short turn, a minute outbound and a long turn back over the fix: a lap, but one whose
    second turn is much the longer, and with a hold of the other hand beginning where it ends.
    """
    return [r for r in readings if not any(_is_parallel_entry(r, other) for other in readings)]


def _is_parallel_entry(reading: Racetrack, other: Racetrack) -> bool:
    if len(reading.laps) != 1 or other.side == reading.side:
        return False
    lap = reading.laps[0]
    lopsided = abs(lap.inbound.change_deg) - abs(lap.outbound.change_deg) > PARALLEL_LOPSIDED_DEG
    follows = reading.start < other.start and abs(other.start - reading.end) < PARALLEL_FOLLOWS_S
    near = float(np.hypot(*(other.fix_m - reading.fix_m))) / M_PER_NM < PARALLEL_NEAR_NM
    return lopsided and follows and near


def _without_overlap(readings: list[Racetrack]) -> list[Racetrack]:
    """Keep the best reading of every stretch; one that is no hold after all also ends its lesser likes."""
    kept: list[Racetrack] = []
    for reading in readings:
        if all(reading.start >= other.end or reading.end <= other.start for other in kept):
            kept.append(reading)
    return [r for r in kept if not r.why_not]


def _flown(track: Track, survey: Survey, reading: Racetrack, hold: Hold | None) -> FlownHold | None:
    """Measure one racetrack and cut it."""
    fix = reading_fix(track, survey, reading)
    given = hold if hold is not None and _belongs(fix, reading.course_deg, hold) else None
    plane = LocalPlane(given.fix_lat_deg, given.fix_lon_deg) if given else LocalPlane(*fix)
    measured = _measure(track, survey, reading, plane)
    turns = _turns(survey, reading, measured)
    laps = lap_turns(survey, reading, turns)
    if not laps:
        return None
    inferred = _infer(measured, turns, laps, reading)
    own = _own_hold(plane, inferred, reading)
    if given is None:
        # The map moves onto the inferred fix, so that everything after counts from there.
        plane = LocalPlane(own.fix_lat_deg, own.fix_lon_deg)
        measured = _measure(track, survey, reading, plane)
        turns = _turns(survey, reading, measured)
        laps = lap_turns(survey, reading, turns) or laps
    used = given or own
    return _cut(survey, reading, measured, turns, laps, used, own, inferred, given is not None)


def _measure(track: Track, survey: Survey, reading: Racetrack, plane: LocalPlane) -> Measured:
    first = float(survey.time_s[reading.start])
    last_turn = reading.after or reading.laps[-1].inbound
    last = float(survey.time_s[min(max(reading.end, last_turn.end), survey.time_s.size - 1)])
    start = max(first - BEFORE_S, float(survey.time_s[0]))
    end = min(last + AFTER_S, float(survey.time_s[-1]))
    wind_from = float(survey.time_s[reading.before.start]) if reading.before else first - 5.0
    return measure(track, plane, start, end, (wind_from, last + 5.0))


def _turns(survey: Survey, reading: Racetrack, measured: Measured) -> list[Turn]:
    if not measured.chorded:
        return find_turns(measured)
    runs = turn_runs(survey, reading.scale_s)
    within = [
        r for r in runs if measured.motion.time_s[0] <= survey.time_s[r.start] <= measured.motion.time_s[-1]
    ]
    last = survey.time_s.size - 1
    return [
        survey_turn(
            measured, float(survey.time_s[r.start]), float(survey.time_s[min(r.end, last)]), r.change_deg
        )
        for r in within
    ]


def _infer(measured: Measured, turns: list[Turn], laps: list[LapTurns], reading: Racetrack) -> Inferred:
    starts = [lap.outbound for lap in laps]
    following: list[float | None] = [t.start_s for t in starts[1:]]
    paths = [
        InboundPath(lap.inbound.end_s, end)
        for lap, end in zip(laps, [*following, None], strict=True)
        if lap.inbound and end is not None and end - lap.inbound.end_s > 10.0
    ]
    last = laps[-1].inbound
    if last is not None:
        paths.append(
            InboundPath(last.end_s, max(_last_passage(measured, laps[0].outbound, last), last.end_s + 12.0))
        )
    back = _entry_turn_back(turns, starts[0])
    if back is not None and starts[0].start_s - back.end_s > 25.0:
        way_in = InboundPath(back.end_s, starts[0].start_s)
        if abs(wrap180(_direction(measured.motion, way_in) - reading.course_deg)) < 15.0:
            paths.append(way_in)
    arrival_until = back.start_s if back else starts[0].start_s
    return infer_fix(measured.motion, paths, starts, reading.course_deg, arrival_until)


def _entry_turn_back(turns: list[Turn], first: Turn) -> Turn | None:
    """Return the great turn that brought an entry back towards the fix, before the first circuit."""
    earlier = [t for t in turns if first.start_s - LONGEST_ENTRY_S < t.end_s < first.start_s - 15.0]
    great = [t for t in earlier if abs(t.heading_change_deg) > LEAST_TURN_BACK_DEG]
    return great[-1] if great else None


def _direction(motion: Motion, path: InboundPath) -> float:
    middle = 0.5 * (path.start_s + path.end_s)
    east = motion.at("east_nm", path.end_s) - motion.at("east_nm", middle)
    north = motion.at("north_nm", path.end_s) - motion.at("north_nm", middle)
    return float(np.degrees(np.arctan2(east, north)))


def _last_passage(measured: Measured, first: Turn, last: Turn) -> float:
    """Return when the way back after the last turn passes where the first lap began."""
    motion = measured.motion
    span = motion.span(last.end_s, last.end_s + 300.0)
    if motion.time_s[span].size == 0:
        return last.end_s
    east, north = motion.at("east_nm", first.start_s), motion.at("north_nm", first.start_s)
    away = np.hypot(motion.east_nm[span] - east, motion.north_nm[span] - north)
    return float(motion.time_s[span][int(np.argmin(away))])


def _own_hold(plane: LocalPlane, inferred: Inferred, reading: Racetrack) -> Hold:
    lat, lon = plane.to_earth(np.array([inferred.east_nm]), np.array([inferred.north_nm]))
    return Hold(
        fix_lat_deg=float(lat[0]),
        fix_lon_deg=float(lon[0]),
        inbound_course_true_deg=wrap360(inferred.course_deg),
        turns="right" if reading.side > 0 else "left",
    )


def _cut(
    survey: Survey,
    reading: Racetrack,
    measured: Measured,
    turns: list[Turn],
    laps: list[LapTurns],
    hold: Hold,
    own: Hold,
    inferred: Inferred,
    given: bool,
) -> FlownHold:
    course = hold.inbound_course_true_deg
    frame = hold_frame(measured.motion, course)
    broken = _broken_lap(survey, reading, measured, turns, laps, course)
    circuits = cut_circuits(measured, frame, [*laps, *broken], course)
    entry = find_entry(measured, frame, turns, laps[0].outbound, circuits[0].start_s, course, hold.side)
    start_s, end_s = entry.fix_s if entry else circuits[0].start_s, circuits[-1].end_s
    own = replace(
        own, leg=infer_leg(_inbound_lengths(measured.motion, circuits), measured.motion.tas_mean_kt)
    )
    return FlownHold(
        hold=hold if given else own,
        given=given,
        inferred=own,
        fix_sd_nm=None if given else inferred.fix_sd_nm,
        course_sd_deg=None if given else inferred.course_sd_deg,
        motion=measured.over(start_s, end_s),
        entry=entry,
        circuits=tuple(circuits),
        start_s=start_s,
        end_s=end_s,
        notices=(*measured.motion.notices, *_notices(measured, turns, circuits, hold, reading, entry)),
    )


def _broken_lap(
    survey: Survey,
    reading: Racetrack,
    measured: Measured,
    turns: list[Turn],
    laps: list[LapTurns],
    course: float,
) -> list[LapTurns]:
    """Return the lap that was begun over the fix after the last whole one and never finished, if there is one."""
    last = laps[-1].inbound
    if reading.after is None or last is None:
        return []
    turn = match_turn(survey, reading.after, turns)
    if turn is None or turn.start_s < last.end_s:
        return []
    motion = measured.motion
    heading_out = motion.at("track_deg", min(turn.end_s + 8.0, float(motion.time_s[-1])))
    if abs(wrap180(heading_out - course - 180.0)) > 50.0:
        return []
    return [LapTurns(turn, None)]


def _inbound_lengths(motion: Motion, circuits: list[Circuit]) -> FloatArray:
    """Return how long the inbound legs of whole circuits are over the ground, nautical miles."""
    legs = [c.inbound_leg for c in circuits if c.complete and c.inbound_leg is not None]
    ends = [[(motion.at("east_nm", t), motion.at("north_nm", t)) for t in (g.start_s, g.end_s)] for g in legs]
    return np.array([np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in ends], dtype=np.float64)


def _notices(
    measured: Measured,
    turns: list[Turn],
    circuits: list[Circuit],
    hold: Hold,
    reading: Racetrack,
    entry: Entry | None,
) -> list[Notice]:
    notices = []
    if (reading.side > 0) != (hold.turns == "right"):
        said = f"the hold file says {hold.turns}-hand turns, but the hold was flown the other way"
        notices.append(Notice("turns-other-hand", said))
    for circuit in circuits:
        inside = measured.motion.span(circuit.start_s, circuit.end_s)
        lost = float(measured.motion.in_hole[inside].sum())
        if lost >= 5.0:
            said = (
                f"circuit {circuit.number}: the log has a hole of {lost:.0f} s; what lies in it is not judged"
            )
            notices.append(Notice("hole-in-circuit", said))
        for turn in [] if reading.has_halves else turns:
            if circuit.start_s < turn.start_s < circuit.end_s and abs(turn.heading_change_deg) > 310.0:
                said = f"circuit {circuit.number}: a full circle was flown within it"
                notices.append(Notice("circle-in-circuit", said))
    if entry is None:
        notices.append(
            Notice("entry-not-recorded", "the log begins inside the hold: the entry cannot be judged")
        )
    return notices


def _miss(survey: Survey, reading: Racetrack) -> str:
    start, end = survey.time_s[reading.start], survey.time_s[min(reading.end, survey.time_s.size - 1)]
    laps = f"{len(reading.laps)} lap" + ("s" if len(reading.laps) > 1 else "")
    return f"{laps} between {start:.0f} s and {end:.0f} s look like a racetrack, but {reading.why_not}"


def _nearest(misses: list[str]) -> str:
    if misses:
        return misses[0]
    return "no two turns of about 180° the same way with a leg between that come back over one point"
