"""Chains: turns of one hand, each about half a circle, that follow each other."""

from __future__ import annotations

from analyser.circuits.survey_turns import TurnRun, ending_within, is_whole_circle
from analyser.circuits.thresholds import CHAINS, RACETRACK


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
            if abs(run.change_deg) > CHAINS.largest_correction_deg and not (
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
        for small in ending_within(runs, c[0].start - CHAINS.longest_first_leg_s, c[0].start)
        if _first_turn(small, c[0])
    ]
    return [c for c in [*whole, *begun] if len(c) >= 2]


def _follows(run: TurnRun, before: TurnRun) -> bool:
    if run.half and before.half and run.start == before.end:
        return run.side == before.side
    return run.side == before.side and CHAINS.shortest_leg_s <= run.start - before.end <= CHAINS.longest_leg_s


def _first_turn(small: TurnRun, first: TurnRun) -> bool:
    """Tell whether a lesser or a greater turn may be the outbound turn of a direct entry before a chain."""
    lesser = CHAINS.least_first_turn_deg <= abs(small.change_deg) < RACETRACK.least_turn_deg
    greater = RACETRACK.most_turn_deg < abs(small.change_deg) <= CHAINS.most_first_turn_deg
    return (
        (lesser or greater)
        and _follows(first, small)
        and first.start - small.end < CHAINS.longest_first_leg_s
    )


def _half_circle(run: TurnRun) -> bool:
    return RACETRACK.least_turn_deg <= abs(run.change_deg) <= RACETRACK.most_turn_deg
