"""What may have been a hold, and what was dropped: shown with what speaks for and against it, nothing scored."""

from __future__ import annotations

import numpy as np

from analyser.circuits.loops import Loop, loops
from analyser.circuits.racetrack import Racetrack
from analyser.circuits.readings import has_corners, place_on_earth, reading_fix
from analyser.circuits.rejection_rules import objections
from analyser.circuits.search_result import Objection, PossibleHold, SearchReason
from analyser.circuits.thresholds import POSSIBLE
from analyser.logs.text import clock_text, counted
from analyser.logs.track import Track
from analyser.motion.survey import Survey


def dropped_reason(track: Track, survey: Survey, reading: Racetrack) -> SearchReason:
    """Say of a racetrack what speaks against it first.

    Parameters
    ----------
    track : Track
    survey : Survey
    reading : Racetrack
        With an objection.
    """
    if reading.objection is None:
        raise ValueError("nothing speaks against this racetrack")
    start, end = _span_s(survey, reading)
    when = f"between {clock_text(start)} and {clock_text(end)}"
    laps = counted(len(reading.laps), f"lap {when} looks", f"laps {when} look")
    said = f"{laps} like a racetrack, but {reading.objection.said}"
    lat, lon = reading_fix(track, survey, reading)
    return SearchReason(reading.objection.code, said, start, end, lat, lon)


def possible_racetracks(track: Track, survey: Survey, readings: list[Racetrack]) -> list[PossibleHold]:
    """Return the dropped racetracks that may yet have been holds.

    Parameters
    ----------
    track : Track
    survey : Survey
    readings : list of Racetrack
        Best first.
    """
    found: list[PossibleHold] = []
    for reading in readings:
        start, end = _span_s(survey, reading)
        if (reading.objection and reading.objection.certain) or _overlaps(start, end, found):
            continue
        against = tuple(objections(survey, reading))
        if any(one.certain for one in against):
            continue
        found.append(_of_racetrack(track, survey, reading, against))
    return found


def possible_loops(track: Track, survey: Survey, taken: list[tuple[float, float]]) -> list[PossibleHold]:
    """Return where the flight came round to the same place, and no racetrack was seen.

    Parameters
    ----------
    track : Track
    survey : Survey
    taken : list of (start_s, end_s)
        Stretches that are spoken of already.
    """
    scale_s = max(POSSIBLE.fine_scale_s, POSSIBLE.scale_share * track.interval_s)
    found = []
    for loop in loops(survey, scale_s=scale_s):
        start, end = float(survey.time_s[loop.index]), float(survey.time_s[loop.last])
        if not any(start < b and a < end for a, b in taken):
            found.append(_of_loop(track, survey, loop))
    return found


def _overlaps(start: float, end: float, others: list[PossibleHold]) -> bool:
    return any(start < other.end_s and other.start_s < end for other in others)


def _span_s(survey: Survey, reading: Racetrack) -> tuple[float, float]:
    last = min(reading.end, survey.time_s.size - 1)
    return float(survey.time_s[reading.start]), float(survey.time_s[last])


def _of_racetrack(
    track: Track, survey: Survey, reading: Racetrack, against: tuple[Objection, ...]
) -> PossibleHold:
    start, end = _span_s(survey, reading)
    lat, lon = reading_fix(track, survey, reading)
    hand = "right" if reading.side > 0 else "left"
    miss = float(np.median([lap.miss_nm for lap in reading.laps]))
    speaks_for = [
        counted(len(reading.laps), "lap", "laps") + f" of two {hand}-hand turns with a leg between.",
        f"It comes back within {max(miss, 0.1):.1f} NM of where it began.",
    ]
    if reading.arrives:
        speaks_for.append("The way to it fits an entry.")
    return PossibleHold(
        start, end, lat, lon, reading.course_deg, "right" if reading.side > 0 else "left", len(reading.laps),
        tuple(speaks_for), (*(_sentence(one.said) for one in against), *_coarse_words(track, survey)),
        _is_coarse(track, survey),
    )  # fmt: skip


def _of_loop(track: Track, survey: Survey, loop: Loop) -> PossibleHold:
    start, end = float(survey.time_s[loop.index]), float(survey.time_s[loop.last])
    lat, lon = place_on_earth(track, start)
    hand = "right" if loop.side > 0 else "left"
    rounds = "once" if loop.laps == 1 else "twice" if loop.laps == 2 else f"{loop.laps} times"
    speaks_for = (
        f"The flight came round {rounds} to within {max(loop.miss_nm, 0.1):.1f} NM of one place, on about one course.",
        f"The way round is {hand}-handed and takes {clock_text((end - start) / loop.laps)} minutes.",
    )
    against = ["Two like turns of about 180° the same way, with a leg each way between, were not seen."]
    if loop.laps == 1:
        against.append(
            "It came round once only: with no second time to compare with, chance draws such a lap too."
        )
    return PossibleHold(
        start, end, lat, lon, loop.course_deg, "right" if loop.side > 0 else "left", loop.laps,
        speaks_for, (*against, *_coarse_words(track, survey)), _is_coarse(track, survey),
    )  # fmt: skip


def _sentence(said: str) -> str:
    return said[0].upper() + said[1:] + "."


def _is_coarse(track: Track, survey: Survey) -> bool:
    return track.interval_s >= POSSIBLE.coarse_s or has_corners(survey)


def _coarse_words(track: Track, survey: Survey) -> tuple[str, ...]:
    """Say it where the log is too coarse to tell, so that the pilot is not blamed for his recorder."""
    if track.interval_s >= POSSIBLE.coarse_s:
        said = f"The positions lie {track.interval_s:.0f} s apart: too coarse to tell turns from legs."
        return (said,)
    if has_corners(survey):
        return ("The positions are joined by straight lines: too coarse to tell turns from legs.",)
    return ()
