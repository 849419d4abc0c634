"""The error budget of a circuit, and the circuit flown again, as plain data for the debrief file."""

from __future__ import annotations

from typing import Any

from analyser.grading.advice import Share
from analyser.grading.decisions import DECISIONS
from analyser.grading.judged import JudgedCircuit
from analyser.grading.plain import miles, path, seconds
from analyser.grading.reflown import faults_of, reflown
from analyser.grading.score_document import number_document


def budget_document(judged: JudgedCircuit, least_nm: float, variation_deg: float | None) -> dict[str, Any]:
    """Write a circuit's error budget as plain data.

    Parameters
    ----------
    least_nm : float
        Faults that moved the roll-out by less are not flown again.
    variation_deg : float or None
        For the directions in the advice.

    Returns
    -------
    dict
        The keys of the circuit that belong to the budget.
    """
    return {
        "error_budget": [_share(share, variation_deg) for share in _by_cost(judged.shares)],
        "error": _error(judged),
        "error_budget_missing": judged.no_budget or None,
        "reflown": _reflown(judged, least_nm),
    }


def _by_cost(shares: tuple[Share, ...]) -> list[Share]:
    """Order the shares: those whose advice is given first, then by size."""
    return sorted(shares, key=lambda share: (share.rank or 99, -share.cost.size_nm))


def _share(share: Share, variation_deg: float | None) -> dict[str, Any]:
    cost, advice = share.cost, share.advice if share.rank is not None else None
    return {
        "cause": cost.cause,
        "cross_track_nm": miles(cost.cross_track_nm),
        "along_track_nm": miles(cost.along_track_nm),
        "time_s": seconds(cost.time_s),
        "end_cross_track_nm": miles(cost.end_cross_track_nm),
        "end_along_track_nm": miles(cost.end_along_track_nm),
        "sd_nm": miles(cost.sd_nm),
        "advice": None if advice is None else advice.said(variation_deg),
        "rank": share.rank,
        "fly": None if advice is None else number_document(advice.fly),
        "flown": None if advice is None else number_document(advice.flown),
    }


def _error(judged: JudgedCircuit) -> dict[str, Any] | None:
    budget = judged.budget
    if budget is None:
        return None
    return {
        "cross_track_nm": miles(budget.cross_track_nm),
        "along_track_nm": miles(budget.along_track_nm),
        "time_s": seconds(budget.time_s),
        "end_cross_track_nm": miles(budget.end_cross_track_nm),
        "end_along_track_nm": miles(budget.end_along_track_nm),
    }


def _reflown(judged: JudgedCircuit, least_nm: float) -> list[dict[str, Any]]:
    """Give the path for each fault worth it, and for all together."""
    if judged.budget is None:
        return []
    faults = faults_of(judged, least_nm)
    ways: list[tuple[str, tuple[str, ...]]] = [(fault, (fault,)) for fault in faults]
    if faults:
        ways.append(("all", DECISIONS))
    return [
        {"cause": cause, **path(*reflown(judged, causes))} | {"rollout": _rollout(judged, causes)}
        for cause, causes in ways
    ]


def _rollout(judged: JudgedCircuit, causes: tuple[str, ...]) -> dict[str, Any]:
    budget = judged.budget
    assert budget is not None
    moved = budget.righted(causes).rollout - budget.flown.rollout
    there = budget.axes.at(budget.instants.rollout_s) + moved
    return {"cross_track_nm": miles(budget.axes.side * there.imag), "along_nm": miles(there.real)}
