"""Reading a flight's turning as racetracks at every scale, and keeping the best reading of every stretch."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace

import numpy as np

from analyser.circuits.chains import chains
from analyser.circuits.closing import racetracks
from analyser.circuits.plausible import why_not
from analyser.circuits.racetrack import M_PER_NM, Racetrack
from analyser.circuits.turning import TurnRun, circles_halved, turn_runs
from analyser.earth.angles import wrap180
from analyser.earth.plane import LocalPlane
from analyser.holds.definition import Hold
from analyser.logs.track import Track
from analyser.motion.survey import Survey

#: Smoothing scales, seconds, finest first; the coarse ones are for positions joined by chords.
SCALES_S, CHORD_SCALES_S = (3.0, 6.0), (10.0, 14.0)
#: A racetrack belongs to a given hold if its fix is this near and its course this like.
GIVEN_FIX_NM, GIVEN_COURSE_DEG = 4.0, 50.0
#: Points for a reading of the given hold: more than everything else can speak for another.
GIVEN_BONUS = 50.0
#: A lap is a parallel entry if its second turn is longer by this much, and a hold of the other hand begins
#: within this time and distance of its end.
PARALLEL_LOPSIDED_DEG, PARALLEL_FOLLOWS_S, PARALLEL_NEAR_NM = 40.0, 75.0, 3.5
#: A turn of which this much is flown in impossible corners comes from chords.
CORNER_BANK_DEG, CORNER_SHARE = 42.0, 0.25


def best_readings(survey: Survey, track: Track, hold: Hold | None) -> tuple[list[Racetrack], list[Racetrack]]:
    """Read a stretch of flight as racetracks.

    Parameters
    ----------
    survey : Survey
    track : Track
    hold : Hold or None
        A given hold: readings that agree with it are preferred.

    Returns
    -------
    holding, others : list of Racetrack
        The best reading of every stretch that is a hold; and those that are none, best first, each saying why.
    """
    readings = _all_readings(survey, track, hold)
    return _without_overlap(_without_parallel_entries(readings)), [r for r in readings if r.why_not]


def _all_readings(survey: Survey, track: Track, hold: Hold | None) -> list[Racetrack]:
    """Read the flight at every scale that suits it; best readings first."""
    scales = SCALES_S + (CHORD_SCALES_S if has_corners(survey) else ())
    found = [
        reading
        for scale in scales
        for runs in _with_and_without_circles(survey, turn_runs(survey, scale))
        for chain in chains(runs)
        for reading in racetracks(survey, chain, scale, runs)
    ]
    weighed = [_weighed(survey, reading, given=_is_given(track, survey, reading, hold)) for reading in found]
    # A reading with circles taken apart that does not hold water must not stand in the way of one without.
    sound = [(points, r) for points, r in weighed if not (r.why_not and r.has_halves)]
    return [r for _, r in sorted(sound, key=lambda one: -one[0])]


def _weighed(survey: Survey, reading: Racetrack, *, given: bool) -> tuple[float, Racetrack]:
    """Return a reading's points against others, and the reading with what speaks against it at all."""
    points = reading.score + GIVEN_BONUS * given - 0.01 * reading.scale_s
    return points, replace(reading, why_not=why_not(survey, reading, expected=given))


def _with_and_without_circles(survey: Survey, runs: list[TurnRun]) -> list[list[TurnRun]]:
    """Read whole circles both ways: flown to lose time, or as two turns with no leg between."""
    halved = circles_halved(survey, runs)
    return [runs, halved] if len(halved) != len(runs) else [runs]


def has_corners(survey: Survey) -> bool:
    """Tell whether the turning is done in corners that no wing flies: positions joined by chords."""
    speed = np.hypot(survey.east_mps, survey.north_mps)
    bank = np.degrees(np.arctan(speed * np.radians(np.abs(survey.turn_rate_dps)) / 9.80665))
    turning = np.abs(survey.turn_rate_dps)
    return bool(turning[bank > CORNER_BANK_DEG].sum() > CORNER_SHARE * turning.sum())


def _is_given(track: Track, survey: Survey, reading: Racetrack, hold: Hold | None) -> bool:
    """Tell a reading of the given hold, if one is given."""
    return hold is not None and belongs(reading_fix(track, survey, reading), reading.course_deg, hold)


def reading_fix(track: Track, survey: Survey, reading: Racetrack) -> tuple[float, float]:
    """Return where a reading's fix is on earth: where the flight came nearest to it.

    Parameters
    ----------
    track : Track
    survey : Survey
    reading : Racetrack

    Returns
    -------
    lat_deg, lon_deg : float
    """
    inside = _inside(reading)
    away = np.hypot(survey.east_m[inside] - reading.fix_m[0], survey.north_m[inside] - reading.fix_m[1])
    when = survey.time_s[reading.start + int(np.argmin(away))]
    after = min(max(int(np.searchsorted(track.time_s, when, side="right")), 1), track.samples - 1)
    around = slice(after - 1, after + 1)
    lat = float(np.interp(when, track.time_s[around], track.lat_deg[around]))
    lon = np.unwrap(track.lon_deg[around], period=360.0)
    return lat, float((np.interp(when, track.time_s[around], lon) + 180.0) % 360.0 - 180.0)


def _inside(reading: Racetrack) -> slice:
    return slice(reading.start, reading.end + 1)


def belongs(fix: tuple[float, float], course_deg: float, hold: Hold) -> bool:
    """Tell whether a racetrack is the hold that was given: near its fix, along its course.

    Parameters
    ----------
    fix : (lat_deg, lon_deg)
    course_deg : float
    hold : Hold

    Returns
    -------
    bool
    """
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
    starts = np.array([other.start for other in readings])
    # Only what begins near a reading's end can follow it: a day's flight has thousands of readings.
    following = [np.flatnonzero(np.abs(starts - r.end) < PARALLEL_FOLLOWS_S) for r in readings]
    return [
        reading
        for reading, near in zip(readings, following, strict=True)
        if not any(_is_parallel_entry(reading, readings[i]) for i in near)
    ]


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
    starts: list[int] = []
    ends: list[int] = []
    for reading in readings:
        # What is kept does not overlap: the last that begins before this one's end is the last to end, too.
        place = bisect_left(starts, reading.end)
        if place == 0 or ends[place - 1] <= reading.start:
            starts.insert(place, reading.start)
            ends.insert(place, reading.end)
            kept.append(reading)
    return [r for r in kept if not r.why_not]
