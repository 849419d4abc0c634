"""Flights as untidy receivers wrote them: a share of ``python -m tests.accuracy --set receivers``, and its bounds."""

from __future__ import annotations

import numpy as np
import pytest

from tests.accuracy_compare import Errors
from tests.accuracy_work import measure_untidy, measure_untidy_course
from tests.flights.receiver_cases import KINDS, receiver_case, receiver_course_case

pytestmark = pytest.mark.slow

FLIGHTS, PILOTS = range(16), range(0, 16, 3)
#: What the wind may be off by in the median, knots: the receiver's doing, the more the coarser it is.
MOST_WIND_KT = {
    "jitter 3 s": 4.0,
    "three decimals": 2.0,
    "every second row": 2.5,
    "chords": 2.0,
    "jitter 1 s": 2.0,
    "slips": 3.5,
}


@pytest.fixture(scope="module")
def measured() -> dict[str, Errors]:
    found = {}
    for kind in KINDS:
        found[kind] = Errors()
        for index in FLIGHTS:
            found[kind].merge(measure_untidy(receiver_case(kind, index))[1])
        for index in PILOTS:
            found[kind].merge(measure_untidy_course(receiver_course_case(kind, index))[1])
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_missed_extra_misread_or_torn(measured: dict[str, Errors], kind: str) -> None:
    counts = measured[kind].counts
    # Holes of up to 100 s, two a lap, may hide what tells an unknown hold; a given one is cut all the same.
    left_out = ("not found", *(["holds", "circuits", "entries", "turns"] if kind == "long holes" else []))
    wrong = {name: n for name, n in counts.items() if n and not name.startswith(left_out)}
    given = {name: n for name, n in counts.items() if n and name.endswith("(given)")}
    assert {**wrong, **given} == {}


@pytest.mark.parametrize("kind", KINDS)
def test_the_wind_is_known(measured: dict[str, Errors], kind: str) -> None:
    assert np.median(measured[kind].values["wind"]) <= MOST_WIND_KT.get(kind, 1.2)


@pytest.mark.parametrize("name", ["wind", "wind per circuit", "TAS", "bank", "fix", "course"])
def test_two_sigma_are_honest_over_all_kinds(measured: dict[str, Errors], name: str) -> None:
    """At least 92 % within two sigmas, as the accuracy command asks; fewer of so few flights are by chance."""
    off = np.abs(np.concatenate([errors.in_sd[name] for errors in measured.values()]))
    assert np.mean(off <= 2.0) >= 0.88
    assert np.percentile(off, 99.0) < 5.0


@pytest.mark.parametrize(("index", "seed"), [(8, 0), (8, 71), (8, 72), (10, 73), (14, 73)])
def test_holes_over_the_turns_of_some_laps_hide_none_of_them(index: int, seed: int) -> None:
    """Turns in holes, in up to 34 kt of wind: the other laps show the fix, and the flight comes round to it."""
    errors = measure_untidy(receiver_case("long holes", index, seed))[1]
    assert {name: n for name, n in errors.counts.items() if n and not name.startswith("not found")} == {}
