"""A hold read from a station: its limiting radial, and the published ways to its fix."""

from dataclasses import replace
from functools import cache

import pytest

from analyser.debrief import debrief_track
from analyser.holds.definition import LegLimit
from analyser.holds.entries import sectors_allowed
from analyser.holds.ideal_circuit import ideal_circuit
from analyser.rules.load import load_regime
from tests.planted.fault import Fault, Scene
from tests.planted.fly import flown

#: The inbound course of 030° leads away from the station: the fix reads 12 NM, the outbound leg ends at 8.
AWAY = LegLimit(None, 4.0, 12.0, towards_station=False)


@cache
def _flown():
    return flown(Scene(leg_nm=4.0, tas_kt=150.0), Fault())


def _judged(radial_deg, one=None, rules="icao", **hold):
    one = one or _flown()
    given = replace(one.hold, leg=AWAY, limiting_radial_true_deg=radial_deg, **hold)
    (found,) = debrief_track(one.track, hold=given, rules=rules).holds
    return found.judged


def _found(judged, kind):
    return next((one for one in judged.findings if one.kind == kind), None)


def test_an_inbound_turn_begun_beyond_the_limiting_radial_is_below_standard():
    # By hand: 150 kt turn at rate one with a radius of 0.80 NM, so some 1.6 to 1.9 NM aside with 15 kt across; 8.4 NM
    # from the station that is a radial of 030° + 11° to 13°.
    judged = _judged(35.0)
    found = _found(judged, "limiting radial")
    assert judged.findings[0] is found
    assert (found.severity, found.circuits, found.target) == ("below standard", (1, 2, 3), 0.0)
    assert 5.0 < found.value < 10.0
    assert "beyond the limiting radial of 035°" in found.sentence
    assert judged.points == 79.0
    assert not any("Turn inbound at" in one.advice for one in judged.findings)


def test_before_the_limiting_radial_nothing_is_found():
    judged = _judged(60.0)
    assert _found(judged, "limiting radial") is None
    assert all(one.measures.beyond_radial_deg < -10.0 for one in judged.circuits)
    assert {one.scores["timing"].verdict for one in judged.circuits} == {"within"}


def test_a_leg_ended_by_its_radial_is_not_held_against_the_distance():
    judged = _judged(42.0)
    assert _found(judged, "limiting radial") is None
    timing = judged.circuits[2].scores["timing"]
    assert timing.verdict == "not judged" and "radial came before" in timing.note
    # The circuit to fly turns inbound on the radial and not beyond it.
    exact, hold = judged.circuits[2].ideal.circuit, judged.flown.hold
    beyond_deg = hold.beyond_radial_deg(exact.outbound_end_along_nm, exact.outbound_end_cross_nm)
    assert beyond_deg == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("turns", ["right", "left"])
def test_a_circuit_ends_at_the_radial_or_the_distance_whichever_comes_first(turns):
    hold = replace(_flown().hold, leg=AWAY, turns=turns, inbound_course_true_deg=30.0)
    side = hold.side
    air = {"tas_kt": 150.0, "altitude_ft": 4000.0, "wind_east_kt": 0.0, "wind_north_kt": 0.0}
    plain = ideal_circuit(hold, load_regime("icao"), **air)
    ends = []
    for off_deg in (20.0, 11.0, 10.0, 9.0):
        limited = replace(hold, limiting_radial_true_deg=30.0 + side * off_deg)
        one = ideal_circuit(limited, load_regime("icao"), **air)
        beyond = limited.beyond_radial_deg(one.outbound_end_along_nm, one.outbound_end_cross_nm)
        assert beyond < 1e-3
        ends.append(-one.outbound_end_along_nm)
    assert ends[0] == pytest.approx(-plain.outbound_end_along_nm)
    assert ends == sorted(ends, reverse=True) and ends[-1] < ends[0]


#: Doc 8168 Vol II App. C-16: a reciprocal arrival flies 30° to the holding side; Vol I, on the arc: sector 1 or 3 (from
#: memory). Inbound course 030°, right hand: the reciprocal is 210°, on the arc a heading is 120° or 300°.
@pytest.mark.parametrize(
    ("heading", "way", "turns", "allowed"),
    [
        (212.0, "reciprocal", "right", ("offset",)),
        (208.0, "reciprocal", "left", ("offset",)),
        (228.0, "reciprocal", "right", ("offset",)),
        (143.0, "arc", "right", ("direct",)),
        (137.0, "arc", "right", ("direct",)),
        (300.0, "arc", "right", ("parallel",)),
        (318.0, "arc", "right", ("parallel", "direct")),
        # Came another way than the file says: by sector, as any other.
        (212.0, "arc", "right", ("parallel", "offset")),
        (100.0, "reciprocal", "right", ("direct",)),
    ],
)
def test_the_published_way_to_the_fix_decides_the_entry(heading, way, turns, allowed):
    assert sectors_allowed(heading, 30.0, turns, rule=load_regime("icao").entry, way=way) == allowed
    # The FAA names no entries for them.
    rule = load_regime("faa").entry
    assert sectors_allowed(heading, 30.0, turns, rule=rule, way=way) == sectors_allowed(heading, 30.0, turns)


def test_a_parallel_entry_from_the_reciprocal_is_wrong_where_the_file_names_the_way():
    one = flown(Scene(entry="parallel", arrival_off_deg=-3.0, leg_nm=4.0, tas_kt=150.0), Fault())
    judged = _judged(None, one, arrival="reciprocal")
    found = judged.findings[0]
    assert (found.kind, found.severity) == ("entry", "below standard")
    assert found.sentence == (
        "The arrival along the reciprocal asked for an offset entry; you flew a parallel one."
    )
    assert _judged(None, one).entry.verdict == "correct"
    assert _judged(None, one, rules="faa", arrival="reciprocal").entry.verdict == "correct"
