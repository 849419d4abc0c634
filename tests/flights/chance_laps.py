"""Laps of a hold that nobody meant: free turning now and then draws one, and no reader of a track could know.

A lap by chance is two level turns of about 180° the same way round, at no more than thirty-two degrees of bank,
with a leg of some time between them and a like leg back, antiparallel, over the place where the first turn began.
Found from the true bank, heading and position, and only in spells of free turning (:data:`FREE`): where laps
are what is flown, as in circuits or surveys, they are never excused.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tests.flights.truth import NM, Series, between, mean

FREE = ("airwork", "vectors", "journey", "on the way", "circle_a_point", "s_turns", "steep_turns")
LEAST_BANK_DEG, LEAST_CHANGE_DEG, STEEPEST_DEG = 4.0, 25.0, 32.0
HALF_CIRCLE_DEG, LEG_S, ALIKE, ANTIPARALLEL_DEG = (140.0, 220.0), (15.0, 300.0), 2.5, 45.0


@dataclass(frozen=True)
class _Turn:
    start_s: float
    end_s: float
    change_deg: float


def chance_laps(series: Series) -> list[tuple[float, float]]:
    """Return when laps by chance began and ended."""
    turns = _turns(series)
    ends = [t.start_s for t in turns[2:]] + [float(series["time_s"][-1])]
    found = []
    for (one, two), until in zip(pairwise(turns), ends, strict=False):
        lap = _lap(series, one, two, until)
        if lap is not None:
            found.append(lap)
    return found


def _turns(series: Series) -> list[_Turn]:
    time_s, bank, heading = series["time_s"], series["bank_deg"], series["heading_deg"]
    sign = np.where(np.abs(bank) > LEAST_BANK_DEG, np.sign(bank), 0.0)
    edges = [0, *(np.flatnonzero(np.diff(sign)) + 1).tolist(), sign.size]
    turns: list[_Turn] = []
    for a, b in pairwise(edges):
        if sign[a] == 0.0:
            continue
        turn = _Turn(float(time_s[a]), float(time_s[b - 1]), float(heading[b - 1] - heading[a]))
        last = turns[-1] if turns else None
        if last and last.change_deg * turn.change_deg > 0 and turn.start_s - last.end_s < 3.0:
            turns[-1] = _Turn(last.start_s, turn.end_s, last.change_deg + turn.change_deg)
        else:
            turns.append(turn)
    return [t for t in turns if abs(t.change_deg) >= LEAST_CHANGE_DEG]


def _lap(series: Series, one: _Turn, two: _Turn, until_s: float) -> tuple[float, float] | None:
    low, high = HALF_CIRCLE_DEG
    if one.change_deg * two.change_deg < 0 or not all(low <= abs(t.change_deg) <= high for t in (one, two)):
        return None
    if max(abs(mean(series, "bank_deg", t.start_s, t.end_s)) for t in (one, two)) > STEEPEST_DEG:
        return None
    begun = between(series, one.start_s, one.start_s + 0.1).start
    back = between(series, two.end_s, until_s)
    if back.stop - back.start < 40:
        return None
    away = np.hypot(
        series["east_m"][back] - series["east_m"][begun], series["north_m"][back] - series["north_m"][begun]
    )
    nearest = int(np.argmin(away))
    out_s, home_s = two.start_s - one.end_s, float(series["time_s"][back][nearest]) - two.end_s
    alike = LEG_S[0] <= min(out_s, home_s) and max(out_s, home_s) <= min(LEG_S[1], ALIKE * min(out_s, home_s))
    wide_m = float(np.hypot(*(_place(series, one.end_s) - _place(series, one.start_s))))
    turned = mean(series, "heading_deg", two.end_s, until_s) - mean(
        series, "heading_deg", one.end_s, two.start_s
    )
    antiparallel = abs(abs(turned) - 180.0) <= ANTIPARALLEL_DEG
    near = float(away[nearest]) <= 0.35 * wide_m + 0.1 * NM
    return (one.start_s, two.end_s + home_s) if alike and near and antiparallel else None


def _place(series: Series, time_s: float) -> np.ndarray:
    return np.array([np.interp(time_s, series["time_s"], series[name]) for name in ("east_m", "north_m")])
