"""How surely it is known where a pilot stands, by simulation: the truth lies off by what is said, on the average."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyser.logbook.progress import _entry_standing, _standing


def in_sigmas(found: Any, truth: float) -> float:
    return float((found.points - truth) / found.sd)


def rms(values: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


@pytest.mark.parametrize("stays", [0.0, 0.5, 0.8])
def test_where_a_pilot_stands_is_known_as_well_as_is_said_however_form_drifts(stays: float) -> None:
    """Fifteen sessions about a level; each one's form is ``stays`` times the last one's, and the rest new."""
    chance = np.random.default_rng(1)
    line: Any = SimpleNamespace(line=np.full(15, 50.0), correlation=stays)
    off = []
    for _ in range(1500):
        form = chance.normal(size=15)
        for at in range(1, 15):
            form[at] = stays * form[at - 1] + np.sqrt(1.0 - stays**2) * form[at]
        off.append(in_sigmas(_standing(50.0 + 10.0 * form, line), 50.0))
    # Of 1,500 the root mean square is known to 2 %.
    assert rms(off) == pytest.approx(1.0, abs=0.1)


def test_without_a_trend_sessions_tell_by_their_scatter_how_surely_it_is_known() -> None:
    chance = np.random.default_rng(2)
    for sigma in (4.0, 10.0):
        found = [_standing(50.0 + sigma * chance.normal(size=40), None) for _ in range(1500)]
        assert rms([in_sigmas(one, 50.0) for one in found]) == pytest.approx(1.0, abs=0.12)


def test_who_went_up_in_one_step_is_known_by_what_came_after_it() -> None:
    """Twelve sessions, the second half 40 points above the first: off any line or middle, and yet nothing scatters."""
    chance = np.random.default_rng(3)
    steps = np.repeat([40.0, 80.0], 6)
    off = [in_sigmas(_standing(steps + 4.0 * chance.normal(size=12), None), 80.0) for _ in range(1000)]
    assert 0.6 < rms(off) < 1.2


def test_one_session_tells_no_more_than_that_sessions_differ() -> None:
    """By eight points, as pilots' do; two that agree may do so by chance, and tell twice as well."""
    alone, two = _standing(np.array([60.0]), None), _standing(np.array([60.0, 60.0]), None)
    assert 8.0 < alone.sd < 12.0 and two.sd == pytest.approx(alone.sd / 2.0)
    assert (alone.points, alone.sessions, two.sessions) == (60.0, 1, 2)


def test_an_entry_stands_by_the_share_of_the_latest_that_were_right() -> None:
    """A coin shows as many heads as it should, within its standard deviation of n throws: √(p (1 - p) / n)."""
    chance = np.random.default_rng(4)
    for right in (0.5, 0.8):
        found = [_entry_standing(100.0 * (chance.uniform(size=8) < right)) for _ in range(1500)]
        assert np.mean([one.points for one in found]) == pytest.approx(100.0 * right, abs=2.0)
        said = np.mean([one.sd**2 for one in found])
        assert said == pytest.approx(1e4 * right * (1.0 - right) / 8.0, rel=0.08)
    # Of many the latest count, and all tell how much they differ.
    later = _entry_standing(np.array([0.0] * 20 + [100.0] * 8))
    assert (later.points, later.sessions) == (100.0, 8) and later.sd > 10.0
