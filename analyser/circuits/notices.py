"""What is said about the finding itself: oddities of a hold, and what came nearest where there is none."""

from __future__ import annotations

from collections.abc import Sequence

from analyser.circuits.flown import Circuit, Entry, Turn
from analyser.circuits.racetrack import Racetrack
from analyser.circuits.search_result import SearchReason
from analyser.holds.definition import Hold
from analyser.logs.text import counted
from analyser.logs.track import Notice
from analyser.motion.motion import Motion
from analyser.motion.survey import Survey

#: A hole of at least this in a circuit is spoken of, seconds; and a turn of at least this is a whole circle.
LEAST_HOLE_S, CIRCLE_DEG = 5.0, 310.0


def hand_notices(reading: Racetrack, hold: Hold) -> list[Notice]:
    """Say it if a hold was flown with the other hand than its file gives.

    Parameters
    ----------
    reading : Racetrack
    hold : Hold

    Returns
    -------
    list of Notice
    """
    if (reading.side > 0) == (hold.turns == "right"):
        return []
    said = f"the hold file says {hold.turns}-hand turns, but the hold was flown the other way"
    return [Notice("turns-other-hand", said)]


def circuit_notices(
    motion: Motion, turns: Sequence[Turn], circuits: Sequence[Circuit], entry: Entry | None, *, circles: bool
) -> list[Notice]:
    """Say what is odd about circuits: holes of the log in them, whole circles flown within, an entry unseen.

    Parameters
    ----------
    motion : Motion
    turns : sequence of Turn
    circuits : sequence of Circuit
    entry : Entry or None
    circles : bool
        Whether whole circles are worth a word: not where two turns were flown as one.

    Returns
    -------
    list of Notice
    """
    notices = []
    for circuit in circuits:
        lost = float(motion.in_hole[motion.span(circuit.start_s, circuit.end_s)].sum())
        if lost >= LEAST_HOLE_S:
            said = (
                f"circuit {circuit.number}: the log has a hole of {lost:.0f} s; what lies in it is not judged"
            )
            notices.append(Notice("hole-in-circuit", said))
        within = [t for t in turns if circuit.start_s < t.start_s < circuit.end_s]
        if circles and any(abs(t.heading_change_deg) > CIRCLE_DEG for t in within):
            said = f"circuit {circuit.number}: a full circle was flown within it"
            notices.append(Notice("circle-in-circuit", said))
    if entry is None:
        notices.append(
            Notice("entry-not-recorded", "the log begins inside the hold: the entry cannot be judged")
        )
    return notices


def miss_in_words(survey: Survey, reading: Racetrack) -> SearchReason:
    """Say what looked like a racetrack and is no hold.

    Parameters
    ----------
    survey : Survey
    reading : Racetrack
        With its ``why_not``.
    """
    start, end = survey.time_s[reading.start], survey.time_s[min(reading.end, survey.time_s.size - 1)]
    when = f"between {start:.0f} s and {end:.0f} s"
    laps = counted(len(reading.laps), f"lap {when} looks", f"laps {when} look")
    said = f"{laps} like a racetrack, but {reading.why_not}"
    return SearchReason("no-hold", said, float(start), float(end))
