"""What may have been a hold, and what was dropped: shown with what speaks for and against it, nothing scored."""

from __future__ import annotations

import numpy as np

from analyser.circuits.flown import FlownHold
from analyser.circuits.loops import Loop, loops
from analyser.circuits.racetrack import Racetrack, has_corners, place_on_earth, reading_fix, turn_runs
from analyser.circuits.rejection_rules import objections
from analyser.circuits.search_result import Objection, PossibleHold, SearchReason
from analyser.circuits.thresholds import GIVEN, LOOPS, RACETRACK
from analyser.logs.text import clock_text, counted
from analyser.logs.track import Track
from analyser.motion.survey import Survey, survey_flight


def dropped_reason(track: Track, survey: Survey, reading: Racetrack) -> SearchReason:
    """Say of a racetrack what speaks against it first.

    Parameters
    ----------
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
    return SearchReason(reading.objection.code, said, start, end, lat, lon, len(reading.laps))


def possible_racetracks(track: Track, survey: Survey, readings: list[Racetrack]) -> list[PossibleHold]:
    """Return the dropped racetracks that may yet have been holds.

    Parameters
    ----------
    readings : list of Racetrack
        Best first.
    """
    known = [_span_s(survey, r) for r in readings if r.objection and r.objection.certain]
    found: list[PossibleHold] = []
    for reading in readings:
        start, end = _span_s(survey, reading)
        if (reading.objection and reading.objection.certain) or _overlaps(start, end, found):
            continue
        most = max((min(end, b) - max(start, a) for a, b in known), default=0.0)
        if len(reading.laps) == 1 and most > LOOPS.known_share * (end - start):
            continue
        against = tuple(objections(survey, reading))
        if any(one.certain for one in against):
            continue
        if not against and reading.objection:
            against = (reading.objection,)
        found.append(_of_racetrack(track, survey, reading, against))
    return found


def loops_of(track: Track) -> list[tuple[Survey, Loop]]:
    """Return where the flight came round to the same place."""
    scale_s = max(GIVEN.fine_scale_s, GIVEN.scale_share * track.interval_s)
    surveys = survey_flight(track, longest_hole_s=GIVEN.longest_hole_s)
    return [(survey, loop) for survey in surveys for loop in loops(survey, scale_s=scale_s)]


def possible_loops(
    track: Track, found: list[tuple[Survey, Loop]], taken: list[tuple[float, float]]
) -> tuple[list[PossibleHold], list[SearchReason]]:
    """Return what loops may have been a hold where no racetrack was seen; and what of them was dropped.

    Parameters
    ----------
    taken : list of (start_s, end_s)
        Stretches that are spoken of already.
    """
    free = [(survey, loop) for survey, loop in found if not _is_taken(survey, loop, taken)]
    dipping = [one for one in free if _dips(*one)]
    level = [one for one in free if one not in dipping]
    legged = [one for one in level if not (one[1].is_steep or one[1].is_circling)]
    circles = sorted((one for one in level if one not in legged), key=lambda one: not one[1].is_steep)
    few = len(circles) <= LOOPS.most_circling and not any(loop.is_thermal for _, loop in circles)
    if not legged and not taken and few:
        # Who starts his watch over the fix flies no leg, and steeply nothing but a circle.
        legged, circles = circles, []
    dropped = [_loop_reason(track, "goes-down-and-up", *one) for one in dipping]
    dropped += [_loop_reason(track, "circles", *one) for one in circles]
    return [_of_loop(track, *one) for one in legged], dropped


def log_ends_reason(track: Track) -> tuple[SearchReason, ...]:
    """Say it where the log ends soon after a first turn, before a second one."""
    surveys = survey_flight(track)
    runs = turn_runs(surveys[-1], GIVEN.fine_scale_s) if surveys else []
    if not runs or not RACETRACK.least_turn_deg <= abs(runs[-1].change_deg) <= RACETRACK.most_turn_deg:
        return ()
    last, time_s = runs[-1], surveys[-1].time_s
    left_s = time_s.size - last.end
    if left_s > LOOPS.ends_within_s or any(run.side == last.side for run in runs[-2:-1]):
        return ()
    start, end = float(time_s[last.start]), float(time_s[-1])
    said = (
        f"the log ends at {clock_text(end)}, {left_s:.0f} s after a turn of {abs(last.change_deg):.0f}°: "
        "too soon for a second one"
    )
    return (SearchReason("log-ends", said, start, end, *place_on_earth(track, start)),)


#: What is said of loops that are no hold.
_LOOPS_ARE = {
    "goes-down-and-up": "goes down and up again each time: laps of an aerodrome or of an approach",
    "circles": "is nothing but turning: circles",
}


def _loop_reason(track: Track, code: str, survey: Survey, loop: Loop) -> SearchReason:
    start, end = float(survey.time_s[loop.index]), float(survey.time_s[loop.last])
    when = f"between {clock_text(start)} and {clock_text(end)}"
    said = f"the way round {when} comes back over one place, but {_LOOPS_ARE[code]}"
    return SearchReason(code, said, start, end, *place_on_earth(track, start))


def _is_taken(survey: Survey, loop: Loop, taken: list[tuple[float, float]]) -> bool:
    """Tell whether a loop overlaps one of some stretches in time."""
    start, end = float(survey.time_s[loop.index]), float(survey.time_s[loop.last])
    return any(start < b and a < end for a, b in taken)


def _dips(survey: Survey, loop: Loop) -> bool:
    """Tell laps of an aerodrome or an approach: down and up again every time."""
    height = survey.altitude_ft[loop.index : loop.last + 1]
    if not np.isfinite(height).all():
        return False
    laps = np.array_split(height, loop.laps)
    return all(
        float(np.ptp(lap)) > LOOPS.dip_ft and abs(float(lap[-1] - lap[0])) < LOOPS.dip_back_ft for lap in laps
    )


def doubted(flown: FlownHold, others: int) -> PossibleHold:
    """Return a lone lap as perhaps a hold, in a flight that came round to many places.

    Parameters
    ----------
    others : int
        How many other places the flight came round to.
    """
    hold = flown.hold
    against = (
        "It is one lap only, and nothing to compare it with.",
        f"The flight came round to {counted(others, 'other place', 'other places')} too: laps, not one hold.",
    )
    speaks_for = (f"1 lap of two {hold.turns}-hand turns with a leg between, back over one point.",)
    return PossibleHold(
        flown.start_s, flown.end_s, hold.fix_lat_deg, hold.fix_lon_deg, hold.inbound_course_true_deg,
        hold.turns, 1, speaks_for, against,
    )  # fmt: skip


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
        tuple(speaks_for), (*(_sentence(one.said) for one in against), *_coarse_words(survey)),
        _is_coarse(survey),
    )  # fmt: skip


def _of_loop(track: Track, survey: Survey, loop: Loop) -> PossibleHold:
    start, end = float(survey.time_s[loop.index]), float(survey.time_s[loop.last])
    lat, lon = place_on_earth(track, start)
    hand = "right" if loop.side > 0 else "left"
    rounds = "once" if loop.laps == 1 else "twice" if loop.laps == 2 else f"{loop.laps} times"
    speaks_for = (
        f"The flight came round {rounds} to within {max(loop.miss_nm, 0.1):.1f} NM of one place, on about one course.",
        f"The way round is {hand}-handed and takes {clock_text((end - start) / loop.laps)}.",
    )
    against = ["Two like turns of about 180° the same way, with a leg each way between, were not seen."]
    if loop.is_circling:
        against.append("It is nothing but turning, with hardly any leg.")
    if loop.laps == 1:
        against.append(
            "It came round once only: with no second time to compare with, chance draws such a lap too."
        )
    return PossibleHold(
        start, end, lat, lon, loop.course_deg, "right" if loop.side > 0 else "left", loop.laps,
        speaks_for, (*against, *_coarse_words(survey)), _is_coarse(survey),
    )  # fmt: skip


def _sentence(said: str) -> str:
    return said[0].upper() + said[1:] + "."


def _is_coarse(survey: Survey) -> bool:
    return survey.sample_s >= LOOPS.coarse_s or has_corners(survey)


def _coarse_words(survey: Survey) -> tuple[str, ...]:
    """Say it where the log is too coarse to tell, so that the pilot is not blamed for his recorder."""
    if survey.sample_s >= LOOPS.coarse_s:
        said = f"True positions lie {survey.sample_s:.0f} s apart: too coarse to tell turns from legs."
        return (said,)
    if has_corners(survey):
        return ("The positions are joined by straight lines: too coarse to tell turns from legs.",)
    return ()
