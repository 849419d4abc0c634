"""Chains: turns of one hand, each about half a circle, that follow each other."""

from __future__ import annotations

from analyser.circuits.racetrack import LEAST_TURN_DEG, MOST_TURN_DEG
from analyser.circuits.turning import TurnRun, ending_within, is_whole_circle

#: The first turn of a direct entry from the edge of its sector is less: 70 degrees, and drift.
LEAST_FIRST_TURN_DEG = 55.0
#: Who joins directly from another sector turns nearly a whole circle first.
MOST_FIRST_TURN_DEG = 330.0
#: No leg is shorter, or it is an orbit; none longer, or it is a journey.
SHORTEST_LEG_S, LONGEST_LEG_S, LONGEST_FIRST_LEG_S = 6.0, 780.0, 200
#: A correction the other way within a leg, an over-shot course regained, does not end a chain.
LARGEST_CORRECTION_DEG = 75.0


def chains(runs: list[TurnRun]) -> list[list[TurnRun]]:
    """Group runs of turning into chains of half circles of one hand.

    Parameters
    ----------
    runs : list of TurnRun
        In time order.

    Returns
    -------
    list of list of TurnRun
        Each of at least two turns. Whole circles flown within a chain (a 360 to lose time) are left out.
    """
    found: list[list[TurnRun]] = [[]]
    for run in runs:
        chain = found[-1]
        if not _half_circle(run):
            if abs(run.change_deg) > LARGEST_CORRECTION_DEG and not (
                chain and is_whole_circle(run) and run.side == chain[-1].side
            ):
                found.append([])
            continue
        if chain and _follows(run, chain[-1]):
            chain.append(run)
        else:
            found.append([run])
    whole = [c for c in found if c]
    begun = [
        [small, *c]
        for c in whole
        for small in ending_within(runs, c[0].start - LONGEST_FIRST_LEG_S, c[0].start)
        if _first_turn(small, c[0])
    ]
    return [c for c in [*whole, *begun] if len(c) >= 2]


def _follows(run: TurnRun, before: TurnRun) -> bool:
    if run.half and before.half and run.start == before.end:
        return run.side == before.side
    return run.side == before.side and SHORTEST_LEG_S <= run.start - before.end <= LONGEST_LEG_S


def _first_turn(small: TurnRun, first: TurnRun) -> bool:
    """Tell whether a lesser or a greater turn may be the outbound turn of a direct entry before a chain."""
    lesser = LEAST_FIRST_TURN_DEG <= abs(small.change_deg) < LEAST_TURN_DEG
    greater = MOST_TURN_DEG < abs(small.change_deg) <= MOST_FIRST_TURN_DEG
    return (lesser or greater) and _follows(first, small) and first.start - small.end < LONGEST_FIRST_LEG_S


def _half_circle(run: TurnRun) -> bool:
    return LEAST_TURN_DEG <= abs(run.change_deg) <= MOST_TURN_DEG
