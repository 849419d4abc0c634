"""Reading a flight's turning as racetracks at every scale, and keeping the best reading of every stretch."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace

import numpy as np

from analyser.circuits.lap_grouping import chains, racetracks
from analyser.circuits.racetrack import Racetrack
from analyser.circuits.rejection_rules import objections
from analyser.circuits.survey_turns import TurnRun, circles_halved, turn_runs
from analyser.circuits.thresholds import SELECTION
from analyser.earth.constants import GRAVITY, METRES_PER_NM
from analyser.logs.track import Track
from analyser.motion.estimate import CHORDED_S
from analyser.motion.survey import Survey


def best_readings(survey: Survey) -> tuple[list[Racetrack], list[Racetrack]]:
    """Read a stretch of flight as racetracks.

    Returns
    -------
    holding, others : list of Racetrack
        The best reading of every stretch that is a hold; and those that something speaks against, best first.
    """
    readings = _all_readings(survey)
    holding = _without_overlap(_without_parallel_entries(readings))
    return holding, [r for r in readings if r.objection]


def _all_readings(survey: Survey) -> list[Racetrack]:
    """Read the flight at every scale that suits it; best readings first."""
    scales = SELECTION.scales_s + (SELECTION.chord_scales_s if has_corners(survey) else ())
    found = [
        reading
        for scale in scales
        for runs in _with_and_without_circles(survey, turn_runs(survey, scale))
        for chain in chains(runs)
        for reading in racetracks(survey, chain, scale, runs)
    ]
    weighed = [replace(reading, objection=next(objections(survey, reading), None)) for reading in found]
    # A reading with circles taken apart that does not hold water must not stand in the way of one without.
    sound = [r for r in weighed if not (r.objection and r.has_halves)]
    return sorted(sound, key=lambda r: 0.01 * r.scale_s - r.score)


def _with_and_without_circles(survey: Survey, runs: list[TurnRun]) -> list[list[TurnRun]]:
    """Read whole circles both ways: flown to lose time, or as two turns with no leg between."""
    halved = circles_halved(survey, runs)
    return [runs, halved] if len(halved) != len(runs) else [runs]


def has_corners(survey: Survey) -> bool:
    """Tell whether a turn has hardly a sample, or is done in corners that no wing flies: positions joined by chords."""
    if survey.sample_s > CHORDED_S:
        return True
    speed = np.hypot(survey.east_mps, survey.north_mps)
    bank = np.degrees(np.arctan(speed * np.radians(np.abs(survey.turn_rate_dps)) / GRAVITY))
    turning = np.abs(survey.turn_rate_dps)
    edges = np.flatnonzero(np.diff((bank > SELECTION.corner_bank_deg).astype(int), prepend=0, append=0))
    corners = sum(
        float(turning[a:b].sum()) for a, b in edges.reshape(-1, 2).tolist() if b - a <= SELECTION.corner_s
    )
    return bool(corners > SELECTION.corner_share * turning.sum())


def reading_fix(track: Track, survey: Survey, reading: Racetrack) -> tuple[float, float]:
    """Return where a reading's fix is on earth: where the flight came nearest to it."""
    inside = _inside(reading)
    away = np.hypot(survey.east_m[inside] - reading.fix_m[0], survey.north_m[inside] - reading.fix_m[1])
    return place_on_earth(track, float(survey.time_s[reading.start + int(np.argmin(away))]))


def place_on_earth(track: Track, when_s: float) -> tuple[float, float]:
    """Return latitude and longitude of a flight at an instant."""
    after = min(max(int(np.searchsorted(track.time_s, when_s, side="right")), 1), track.samples - 1)
    around = slice(after - 1, after + 1)
    lat = float(np.interp(when_s, track.time_s[around], track.lat_deg[around]))
    lon = np.unwrap(track.lon_deg[around], period=360.0)
    return lat, float((np.interp(when_s, track.time_s[around], lon) + 180.0) % 360.0 - 180.0)


def _inside(reading: Racetrack) -> slice:
    return slice(reading.start, reading.end + 1)


def _without_parallel_entries(readings: list[Racetrack]) -> list[Racetrack]:
    """Drop what looks like a lap of the other hand but is the parallel entry to the hold that follows.

    A parallel entry is a short turn, a minute outbound and a long turn back over the fix: a lap, but one whose
    second turn is much the longer, and with a hold of the other hand beginning where it ends.
    """
    starts = np.array([other.start for other in readings])
    # Only what begins near a reading's end can follow it: a day's flight has thousands of readings.
    following = [np.flatnonzero(np.abs(starts - r.end) < SELECTION.parallel_follows_s) for r in readings]
    return [
        reading
        for reading, near in zip(readings, following, strict=True)
        if not any(_is_parallel_entry(reading, readings[i]) for i in near)
    ]


def _is_parallel_entry(reading: Racetrack, other: Racetrack) -> bool:
    if len(reading.laps) != 1 or other.side == reading.side:
        return False
    lap = reading.laps[0]
    lopsided = abs(lap.inbound.change_deg) - abs(lap.outbound.change_deg) > SELECTION.parallel_lopsided_deg
    follows = reading.start < other.start and abs(other.start - reading.end) < SELECTION.parallel_follows_s
    near = float(np.hypot(*(other.fix_m - reading.fix_m))) / METRES_PER_NM < SELECTION.parallel_near_nm
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
    return [r for r in kept if r.objection is None]
