"""Which of the turns that were cut belong to which lap."""

from __future__ import annotations

from dataclasses import dataclass, replace

from analyser.circuits.flown import Turn
from analyser.circuits.racetrack import Racetrack
from analyser.circuits.turning import TurnRun
from analyser.motion.survey import Survey

#: Pieces of one turn with less than this between them are put together where the survey saw one turn.
PAUSE_S = 25.0
#: A half circle's own ends may differ from the turn's by this much before the turn is cut there.
CIRCLE_SLACK_S = 12.0


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
        outbound, inbound = (match_turn(survey, run, turns) for run in (lap.outbound, lap.inbound))
        if outbound and inbound and inbound.start_s >= outbound.end_s:
            found.append(LapTurns(outbound, inbound))
    return found


def match_turn(survey: Survey, run: TurnRun, turns: list[Turn]) -> Turn | None:
    """Find the turn that a survey's run is, putting together one that was flown in pieces.

    Parameters
    ----------
    survey : Survey
    run : TurnRun
    turns : list of Turn

    Returns
    -------
    Turn or None
    """
    start_s = float(survey.time_s[run.start])
    end_s = float(survey.time_s[min(run.end, survey.time_s.size - 1)])
    pieces = [
        t
        for t in turns
        if t.heading_change_deg * run.side > 0
        and min(t.end_s, end_s) - max(t.start_s, start_s) > 0.3 * t.duration_s
    ]
    if not pieces:
        return None
    whole = pieces[0]
    for piece in pieces[1:]:
        if piece.start_s - whole.end_s > PAUSE_S:
            whole = max(whole, piece, key=lambda t: abs(t.heading_change_deg))
        else:
            whole = _together(whole, piece)
    return _clipped(whole, start_s, end_s) if run.half else whole


def _clipped(turn: Turn, start_s: float, end_s: float) -> Turn:
    """Cut the half that a run is out of a turn that was flown on as a whole circle."""
    first = start_s if turn.start_s < start_s - CIRCLE_SLACK_S else turn.start_s
    last = end_s if turn.end_s > end_s + CIRCLE_SLACK_S else turn.end_s
    return replace(
        turn,
        start_s=first,
        end_s=last,
        heading_change_deg=turn.heading_change_deg * (last - first) / turn.duration_s,
        established_start_s=max(turn.established_start_s, first),
        established_end_s=min(turn.established_end_s, last),
    )


def _together(a: Turn, b: Turn) -> Turn:
    weight_a, weight_b = (t.established_end_s - t.established_start_s for t in (a, b))
    total = weight_a + weight_b

    def mean(x: float, y: float) -> float:
        return (weight_a * x + weight_b * y) / total

    return Turn(
        start_s=a.start_s,
        end_s=b.end_s,
        start_sd_s=a.start_sd_s,
        end_sd_s=b.end_sd_s,
        heading_change_deg=a.heading_change_deg + b.heading_change_deg,
        bank_mean_deg=mean(a.bank_mean_deg, b.bank_mean_deg),
        bank_mean_sd_deg=max(a.bank_mean_sd_deg, b.bank_mean_sd_deg),
        bank_max_deg=max(a.bank_max_deg, b.bank_max_deg, key=abs),
        bank_wander_deg=max(
            a.bank_wander_deg, b.bank_wander_deg, abs(a.bank_mean_deg - b.bank_mean_deg) / 2.0
        ),
        rate_mean_dps=mean(a.rate_mean_dps, b.rate_mean_dps),
        established_start_s=a.established_start_s,
        established_end_s=b.established_end_s,
    )
