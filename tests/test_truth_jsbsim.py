"""Real aircraft models flown by JSBSim: what the program says from positions alone, against the library's truth.

JSBSim (an open flight-dynamics library) supplies aircraft, wind and turbulence; only the pilot is ours.
``python -m tests.accuracy --set jsbsim`` measures on eighteen flights; three are held here.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.accuracy_compare import Errors
from tests.accuracy_work import measure_model
from tests.flights.cache import remembered
from tests.jsbsim_flights.plans import PLANS, ModelPlan, fly_model

pytestmark = pytest.mark.slow

#: A single in steady wind and in moderate turbulence, a turboprop trainer in steady wind, a jet in light turbulence.
FLOWN = tuple(plan for plan in PLANS if plan.number in (1, 3, 11, 16))


@pytest.fixture(scope="module", params=FLOWN, ids=lambda p: p.name)
def errors(request: pytest.FixtureRequest) -> Errors:
    return measure_model(request.param)[1]


def test_hold_circuits_and_entry_are_found(errors: Errors) -> None:
    assert {name: n for name, n in errors.counts.items() if not name.startswith("not found")} == {}


def test_wind_is_known(errors: Errors) -> None:
    assert errors.values["wind"][0] <= 2.3
    assert np.median(errors.values["wind per circuit"]) <= 2.3


def test_airspeed_is_known(errors: Errors) -> None:
    assert abs(errors.values["TAS"][0]) <= 2.0


def test_bank_of_the_turns(errors: Errors) -> None:
    assert np.median(np.abs(errors.values["bank, 1–2 s"])) <= 1.5


def test_instants_of_the_turns(errors: Errors) -> None:
    assert np.median(np.abs(errors.values["leaving level, 1–2 s"])) <= 2.0
    assert np.median(np.abs(errors.values["wings level, 1–2 s"])) <= 2.0
    assert np.median(np.abs(errors.values["fix passage"])) <= 0.3


def test_fix_and_course_are_inferred() -> None:
    """The median of the flights: one inbound leg that never settles tells little of its course."""
    every = [measure_model(plan)[1].values for plan in FLOWN]
    assert np.median([values["fix inferred"][0] for values in every]) <= 0.15
    assert np.median([abs(values["course inferred"][0]) for values in every]) <= 3.0


def _truth(plan: ModelPlan) -> tuple[float, float, float]:
    """Return rms of |ground − wind| less TAS, of the bank less that of a balanced turn, and of the gusts."""
    series = fly_model(plan).series
    east = series["ground_east_kt"] - series["wind_east_kt"]
    north = series["ground_north_kt"] - series["wind_north_kt"]
    time_s = series["time_s"]
    tas_mps = series["tas_kt"] * 1852.0 / 3600.0
    smooth = np.ones(41) / 41.0
    rate = np.convolve(np.radians(np.gradient(series["heading_deg"], time_s)), smooth, mode="same")
    balanced = np.degrees(np.arctan(tas_mps * rate / 9.80665))
    turning = np.abs(series["bank_deg"]) > 12.0
    off = (series["bank_deg"] - balanced)[turning]
    speed = float(np.sqrt(np.mean((np.hypot(east, north) - series["tas_kt"]) ** 2)))
    return speed, float(np.abs(off.mean())), float(series["wind_east_kt"].std())


def test_the_librarys_truth_hangs_together() -> None:
    """Wind, ground velocity and airspeed close the triangle, and the autopilot's turns are balanced."""
    speed, bank, gusts = remembered(f"truth of {PLANS[0]!r}", lambda: _truth(PLANS[0]))
    assert speed < 0.5
    assert bank < 0.3
    assert gusts < 0.1
