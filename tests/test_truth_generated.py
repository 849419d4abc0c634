"""Generated flights with known truth: a share of the accuracy command's sets, held to the same bounds.

``python -m tests.accuracy`` measures on all of them.
"""

from __future__ import annotations

import numpy as np
import pytest

from analyser.circuits.find import find_holds
from tests.accuracy import measure_case
from tests.accuracy_compare import Errors
from tests.accuracy_targets import INSTRUMENT, MAIN, Target
from tests.flights.as_track import seen_track
from tests.flights.cache import remembered
from tests.flights.flight import Seen, see
from tests.flights.other import make_other
from tests.flights.other_moves import MOVES
from tests.flights.receiver import Receiver
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


def _other(move: int) -> tuple[Seen, ...]:
    flight = make_other(100 + move, (MOVES[move],), hours=0.4)
    return tuple(see(flight, Receiver(interval_s=s), move) for s in (1.0, 5.0))


@pytest.mark.parametrize("move", range(len(MOVES)), ids=[m.__name__ for m in MOVES])
def test_no_hold_where_none_was_flown(move: int) -> None:
    for seen in remembered(f"only {move}", lambda: _other(move)):
        assert find_holds(seen_track(seen, MOVES[move].__name__)) == []
