"""Stacks of airliners, recorded in chords: every circuit is cut though nobody gave the hold."""

from __future__ import annotations

import pytest

from analyser.circuits.find import find_holds
from tests.flights.as_track import to_track
from tests.flights.flight import make_flight
from tests.flights.stack_cases import stack_case

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("index", (0, 1, 4, 5, 8, 13, 16, 20, 33, 37))
def test_every_circuit_is_cut_without_a_hold_file(index: int) -> None:
    """Most of these were left by a lap cut short: the hold, known from the others, tells it for one."""
    case = stack_case(index)
    flight = make_flight(case.plan)
    (flown,) = find_holds(to_track(flight, case.receiver, seed=index))
    (truth,) = flight.holds
    assert flown.hold.turns == truth.turns
    assert [circuit.complete for circuit in flown.circuits] == [True] * len(truth.circuits)
