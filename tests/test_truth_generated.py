"""Generated flights with known truth: a share of the accuracy command's sets, held to the same bounds.

``python -m tests.accuracy`` measures on all of them.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from tests.accuracy_compare import Errors
from tests.accuracy_targets import INSTRUMENT, MAIN, Target
from tests.accuracy_work import false_holds, measure_case, watch_other
from tests.flights.other_moves import MOVES, Moves
from tests.flights.scenarios import Case, instrument_case, main_case, odd_cases

pytestmark = pytest.mark.slow

SHARE_OF_MAIN, SHARE_OF_INSTRUMENT = range(0, 40, 3), range(4, 60, 5)


def _together(cases: list[Case]) -> Errors:
    total = Errors()
    for case in cases:
        total.merge(measure_case(case)[1])
    return total


@pytest.fixture(scope="module")
def main_errors() -> Errors:
    return _together([main_case(i) for i in SHARE_OF_MAIN])


@pytest.fixture(scope="module")
def instrument_errors() -> Errors:
    return _together([instrument_case(i) for i in SHARE_OF_INSTRUMENT])


@pytest.mark.parametrize("target", MAIN, ids=lambda t: t.measure)
def test_main_set(main_errors: Errors, target: Target) -> None:
    _check(main_errors, target)


@pytest.mark.parametrize("target", INSTRUMENT, ids=lambda t: t.measure)
def test_instrument_set(instrument_errors: Errors, target: Target) -> None:
    """Only the median is held here: of a dozen flights the 95th percentile is the worst of them."""
    _check(instrument_errors, Target(target.measure, target.unit, target.median, None))


def _check(errors: Errors, target: Target) -> None:
    values = np.abs(errors.values[target.measure])
    assert values.size > 4
    if target.median is not None:
        assert np.median(values) <= target.median
    if target.most is not None:
        assert np.percentile(values, 95) <= target.most


@pytest.mark.parametrize("kind", ["main", "instrument"])
def test_nothing_missed_extra_or_misread(kind: str, main_errors: Errors, instrument_errors: Errors) -> None:
    errors = main_errors if kind == "main" else instrument_errors
    assert {name: n for name, n in errors.counts.items() if not name.startswith("not found")} == {}


@pytest.mark.parametrize("case", odd_cases(), ids=lambda c: c.plan.name)
def test_odd_ones(case: Case) -> None:
    """Every hold and circuit is found, the entry read and the wind known, however odd the flight."""
    _, errors, _ = measure_case(case)
    assert {name: n for name, n in errors.counts.items() if not name.startswith("not found")} == {}
    assert errors.values["wind"][0] <= 2.3
    assert np.median(np.abs(errors.values["fix passage"])) <= 0.3


@pytest.mark.parametrize("move", MOVES, ids=lambda m: m.__name__)
def test_no_hold_where_none_was_flown(move: Callable[[Moves], None]) -> None:
    """Half an hour of each kind of flying, in all samplings."""
    assert false_holds(watch_other(100 + MOVES.index(move), move.__name__, 0.4)) == []
