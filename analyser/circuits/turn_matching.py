"""Which of the turns that were cut belong to which lap."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from functools import reduce

from analyser.circuits.flown import Turn
from analyser.circuits.racetrack import Racetrack
from analyser.circuits.survey_turns import TurnRun
from analyser.circuits.thresholds import DETECTION, MATCHING, RACETRACK
from analyser.circuits.turn_detection import clipped, together
from analyser.frozen import dataclass
from analyser.motion.survey import Survey


@dataclass(frozen=True)
class LapTurns:
    """The two turns of a lap; the inbound one is None in a lap broken off."""

    outbound: Turn
    inbound: Turn | None


def lap_turns(survey: Survey, racetrack: Racetrack, turns: list[Turn]) -> list[LapTurns]:
    """Match the survey's laps with the turns that were cut from the measured motion.

    Parameters
    ----------
    survey : Survey
    racetrack : Racetrack
    turns : list of Turn

    Returns
    -------
    list of LapTurns
        Laps whose turns could both be cut.
    """
    found = []
    for lap in racetrack.laps:
        outbound = match_turn(survey, lap.outbound, turns)
        inbound = match_turn(survey, lap.inbound, turns, outbound=False)
        if outbound and inbound and inbound.start_s >= outbound.end_s:
            found.append(LapTurns(outbound, inbound))
    return found


def match_turn(survey: Survey, run: TurnRun, turns: list[Turn], *, outbound: bool = True) -> Turn | None:
    """Find the turn that a survey's run is, putting together one that was flown in pieces.

    Parameters
    ----------
    survey : Survey
    run : TurnRun
    turns : list of Turn
    outbound : bool
        Whether it is an outbound turn: a correction then comes before it, else after.

    Returns
    -------
    Turn or None
    """
    start_s = float(survey.time_s[run.start])
    end_s = float(survey.time_s[min(run.end, survey.time_s.size - 1)])
    # The turns are in order of time, and a long hold has thousands: only those that overlap are looked at.
    first = bisect_left(turns, start_s, key=lambda t: t.end_s)
    last = bisect_right(turns, end_s, key=lambda t: t.start_s)
    pieces = [
        t
        for t in turns[first:last]
        if t.heading_change_deg * run.side > 0
        and min(t.end_s, end_s) - max(t.start_s, start_s) > 0.3 * t.duration_s
    ]
    if not pieces:
        return None
    whole = reduce(together, _without_corrections(_near(pieces), outbound=outbound))
    return clipped(whole, start_s, end_s) if run.half else whole


def _near(pieces: list[Turn]) -> list[Turn]:
    """Keep the pieces around the greatest one that no long leg parts from it."""
    greatest = max(range(len(pieces)), key=lambda i: abs(pieces[i].heading_change_deg))
    first = last = greatest
    while first > 0 and pieces[first].start_s - pieces[first - 1].end_s <= DETECTION.pause_s:
        first -= 1
    while last < len(pieces) - 1 and pieces[last + 1].start_s - pieces[last].end_s <= DETECTION.pause_s:
        last += 1
    return pieces[first : last + 1]


def _without_corrections(pieces: list[Turn], *, outbound: bool) -> list[Turn]:
    """Leave out what was the meeting of the course: before an outbound turn, or after an inbound one.

    The wings were level between, so the turn had ended or not begun. What is left out is small, or makes the
    turn too long for half a circle; what is left is most of one, or it is a turn flown in pieces.
    """
    kept = list(pieces)
    while len(kept) > 1:
        aside, rest = (kept[0], kept[1:]) if outbound else (kept[-1], kept[:-1])
        turned = abs(sum(t.heading_change_deg for t in rest))
        whole = abs(sum(t.heading_change_deg for t in kept))
        small = abs(aside.heading_change_deg) < MATCHING.most_correction_deg
        if turned < DETECTION.least_rest_deg or not (small or whole > RACETRACK.merged_turn_deg):
            break
        kept = rest
    return kept
