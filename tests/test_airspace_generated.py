"""Whole flights of the generator, from positions alone: who flies as he should is inside, who flies on is not."""

from __future__ import annotations

import pytest

from analyser.debrief import debrief_track
from analyser.document import document
from tests.flights.air import Air
from tests.flights.aircraft import Hand
from tests.flights.as_track import to_hold, to_track
from tests.flights.flight import make_flight
from tests.flights.hold_plan import FlightPlan, Habits, HoldPlan, Incident
from tests.flights.receiver import Receiver


def _debriefed(plan: FlightPlan, rules: str = "icao"):
    flight = make_flight(plan)
    return debrief_track(to_track(flight, Receiver(), seed=3), hold=to_hold(flight.holds[0]), rules=rules)


@pytest.mark.slow
@pytest.mark.parametrize("entry", ["direct", "parallel", "offset"])
@pytest.mark.parametrize("side", [1, -1])
def test_an_ordinary_pilot_in_30_kt_keeps_inside(entry: str, side: int) -> None:
    # Outbound course 210: offset sectors lie to its one side, parallel to the other (US Navy P-821, fig. 3-8).
    arrival = {"direct": 30.0, "offset": 210.0 - side * 35.0, "parallel": 210.0 + side * 50.0}[entry]
    hold = HoldPlan(
        course_deg=30.0,
        side=side,
        entry=entry,
        arrival_heading_deg=arrival % 360.0,
        habits=Habits(),
        circuits=2,
    )
    air = Air(from_deg=280.0, speed_kt=30.0, gust_kt=2.0)
    debrief = _debriefed(FlightPlan(seed=21 + side, tas_kt=120.0, air=air, hand=Hand(), holds=(hold,)))
    (found,) = debrief.holds
    assert found.airspace is not None
    report = found.airspace.report
    assert report.strayed is False
    assert report.inside_share == 1.0
    assert report.speed.kept is True
    assert len(report.circuits) == len(found.flown.circuits)


def test_who_forgets_to_turn_in_leaves_the_area_and_is_told_so_first() -> None:
    """Seven and a half minutes outbound at 110 kt make thirteen miles: the area for 170 kt ends nine out."""
    hold = HoldPlan(
        course_deg=30.0,
        side=1,
        arrival_heading_deg=20.0,
        habits=Habits(),
        circuits=3,
        incidents={2: Incident(outbound_s=450.0)},
    )
    plan = FlightPlan(seed=5, tas_kt=110.0, air=Air(from_deg=210.0, speed_kt=5.0), hand=Hand(), holds=(hold,))
    debrief = _debriefed(plan)
    (found,) = debrief.holds
    assert found.airspace is not None
    report = found.airspace.report
    assert report.strayed is True
    assert report.deepest is not None
    assert report.deepest.phase.circuit == 2
    assert report.deepest.phase.name in ("outbound leg", "inbound turn")
    assert report.deepest.along_nm < -11.0
    assert found.airspace.cause == "the outbound time"
    written = document(debrief)["holds"][0]
    assert written["verdict"].startswith("You left the holding area: ")
    assert "what took you there most was the outbound time" in written["verdict"]
