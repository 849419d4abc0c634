"""What may have been a hold, shown with what speaks for and against it in words for the pilot, nothing scored."""

from __future__ import annotations

import numpy as np

from analyser.circuits.flown import FlownHold, Objection, PossibleHold
from analyser.circuits.loops import Loop, TurnBack
from analyser.circuits.racetrack import Racetrack, is_chorded, place_on_earth, reading_fix
from analyser.circuits.thresholds import LOOPS
from analyser.holds.definition import turns_of
from analyser.logs.text import clock_text, counted
from analyser.logs.track import Track
from analyser.motion.survey import Survey


def times_s(survey: Survey, one: Racetrack | Loop | TurnBack) -> tuple[float, float]:
    """Return when a racetrack, a loop or a way back begins and ends, seconds."""
    return float(survey.time_s[one.start]), float(survey.time_s[min(one.end, survey.time_s.size - 1)])


def doubted(flown: FlownHold, others: int) -> PossibleHold:
    """Return a lone lap as perhaps a hold, in a flight that came round to so many other places.

    Laps with turns of the other hand beside it make it no hold.
    """
    hold = flown.hold
    hands = f"Only one of its {len(flown.circuits)} laps is {hold.turns}-handed throughout."
    against = (
        hands if len(flown.circuits) > 1 else "It is one lap only, and nothing to compare it with.",
        f"The flight came round to {counted(others, 'other place', 'other places')} too: laps, not one hold.",
    )
    speaks_for = (f"1 lap of two {hold.turns}-hand turns with a leg between, back over one point.",)
    return PossibleHold(
        flown.start_s, flown.end_s, hold.fix_lat_deg, hold.fix_lon_deg, hold.inbound_course_true_deg,
        hold.turns, 1, speaks_for, against,
    )  # fmt: skip


def of_racetrack(
    track: Track, survey: Survey, reading: Racetrack, against: tuple[Objection, ...]
) -> PossibleHold:
    """Return a dropped racetrack as perhaps a hold."""
    start, end = times_s(survey, reading)
    lat, lon = reading_fix(track, survey, reading)
    hand = turns_of(reading.side)
    miss = float(np.median([lap.miss_nm for lap in reading.laps]))
    coarse = _coarse_words(survey)
    speaks_for = [
        counted(len(reading.laps), "lap", "laps") + f" of two {hand}-hand turns with a leg between.",
        f"It comes back within {max(miss, 0.1):.1f} NM of where it began.",
    ]
    if reading.arrives:
        speaks_for.append("The way to it fits an entry.")
    return PossibleHold(
        start, end, lat, lon, reading.course_deg, hand, len(reading.laps),
        tuple(speaks_for), (*(_sentence(one.said) for one in against), *coarse),
        coarse=bool(coarse),
    )  # fmt: skip


def of_loop(track: Track, survey: Survey, loop: Loop) -> PossibleHold:
    """Return a way round, seen without its turns, as perhaps a hold."""
    start, end = times_s(survey, loop)
    lat, lon = place_on_earth(track, start)
    hand, coarse = turns_of(loop.side), _coarse_words(survey)
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
        start, end, lat, lon, loop.course_deg, hand, loop.laps,
        speaks_for, (*against, *coarse), coarse=bool(coarse),
    )  # fmt: skip


def of_turn_back(track: Track, survey: Survey, back: TurnBack) -> PossibleHold:
    """Return one turn back over a place as perhaps an entry or a lap."""
    start, end = times_s(survey, back)
    hand = turns_of(1 if back.turn_deg > 0.0 else -1)
    speaks_for = (
        f"One {hand}-hand turn of {abs(back.turn_deg):.0f}° led back to within {max(back.miss_nm, 0.1):.1f} NM of a "
        f"place passed {clock_text(end - start)} before.",
    )
    against = (
        "A second turn the same way was not seen: it may be an entry, or the lap of a pilot who came to the fix on the "
        "outbound course, but as well a procedure turn or a mere turn back.",
    )
    return PossibleHold(
        start, end, *place_on_earth(track, end), back.course_deg, hand, 1, speaks_for, against,
    )  # fmt: skip


def _sentence(said: str) -> str:
    return said[0].upper() + said[1:] + "."


def _coarse_words(survey: Survey) -> tuple[str, ...]:
    """Say it where the log is too coarse to tell, so that the pilot is not blamed for his recorder."""
    if survey.sample_s >= LOOPS.coarse_s:
        return (f"True positions lie {survey.sample_s:.0f} s apart: too coarse to tell turns from legs.",)
    if is_chorded(survey):
        return ("The positions are joined by straight lines: too coarse to tell turns from legs.",)
    return ()
