"""Which end of a racetrack is the fix: told where the flight shows it, and left open where it does not."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.circuits.find import find_holds
from analyser.circuits.flown import FlownHold
from analyser.circuits.hold_inference import in_doubt_of_its_end
from analyser.circuits.thresholds import ENDS
from analyser.debrief import debrief_track
from analyser.document import document
from analyser.earth.angles import wrap180
from analyser.earth.plane import LocalPlane
from tests.drawn_flights import COURSE_DEG, FIX, LEG_S, SPEED_NM_S, drawn, laps, straight, turn

#: From one end of a racetrack to the other: half a circle at rate one across, and a minute along.
APART_NM = float(np.hypot(60.0 / np.pi * 2.0 * SPEED_NM_S, LEG_S * SPEED_NM_S))


def held(before: list[float], after: list[float]) -> FlownHold:
    (found,) = find_holds(drawn(before, after))
    return found


def off_nm(lat_deg: float, lon_deg: float) -> float:
    """Return how far a place is from the fix."""
    east, north, _ = LocalPlane(*FIX).to_plane(np.array([lat_deg]), np.array([lon_deg]))
    return float(np.hypot(east[0], north[0]))


@pytest.mark.parametrize("side", [1, -1])
def test_a_log_that_shows_nothing_but_like_laps_leaves_both_ends_open(side: int) -> None:
    half_a_lap = [*turn(180.0 * side), *straight(LEG_S), *turn(180.0 * side), *straight(10)]
    found = held(straight(15), [*laps(2, side), *half_a_lap])
    other = found.other_end
    assert other is not None
    assert 0.3 < other.chance <= 0.5
    one_deg, other_deg = found.hold.inbound_course_true_deg, other.inbound_course_true_deg
    assert abs(wrap180(other_deg - one_deg)) == pytest.approx(180.0, abs=5.0)
    # Both ends are told, and the fix is one of them.
    ends = {
        round(abs(wrap180(course - COURSE_DEG))) < 90: off_nm(lat, lon)
        for course, lat, lon in (
            (one_deg, found.hold.fix_lat_deg, found.hold.fix_lon_deg),
            (other_deg, other.fix_lat_deg, other.fix_lon_deg),
        )
    }
    assert ends[True] < 0.2
    assert ends[False] == pytest.approx(APART_NM, abs=0.25)
    assert found.course_sd_deg is not None and 2.0 * found.course_sd_deg >= 180.0
    assert found.fix_sd_nm is not None and 2.0 * found.fix_sd_nm >= APART_NM - 0.25
    assert [n.code for n in found.notices].count("other-end") == 1


def test_what_leans_on_the_end_is_not_judged() -> None:
    """Entry, times, wind correction and track lean on it; bank and height do not. The file names both ends."""
    half_a_lap = [*turn(180.0), *straight(LEG_S), *turn(180.0), *straight(10)]
    debrief = debrief_track(drawn(straight(15), [*laps(2, 1), *half_a_lap]))
    (hold,) = document(debrief)["holds"]
    assert hold["other_end"] is not None
    assert {"lat", "lon"} == set(hold["other_end"]["fix"])
    for circuit in hold["circuits"]:
        verdicts = {name: item["verdict"] for name, item in circuit["scores"].items()}
        assert {verdicts[name] for name in ("timing", "wind_correction", "track")} == {"not judged"}
        assert verdicts["bank"] != "not judged"
        assert "which end" in circuit["error_budget_missing"]
    assert hold["grade"] is None
    assert "which end" in " ".join(finding["sentence"] for finding in hold["findings"])


@pytest.mark.parametrize("side", [1, -1])
def test_an_arrival_over_the_fix_and_a_departure_over_it_tell_the_end(side: int) -> None:
    found = held(straight(200), [*laps(3, side), *straight(120)])
    assert found.other_end is None
    assert abs(wrap180(found.hold.inbound_course_true_deg - COURSE_DEG)) < 3.0
    assert "other-end" not in {n.code for n in found.notices}


@pytest.mark.parametrize("side", [1, -1])
def test_a_leg_that_is_corrected_again_and_again_leads_to_the_fix(side: int) -> None:
    """Without arrival and departure, the needle is what the one leg is flown by and the other is not."""
    weave = [*turn(-20.0 * side), *straight(8), *turn(15.0 * side), *straight(8), *turn(-10.0 * side)]
    weave += [*straight(8), *turn(-5.0 * side), *straight(12)]
    lap = [*turn(180.0 * side), *straight(55), *turn(200.0 * side), *weave]
    found = held(straight(15), [*lap * 3, *turn(180.0 * side), *straight(20)])
    assert abs(wrap180(found.hold.inbound_course_true_deg - COURSE_DEG)) < 25.0
    assert found.other_end is None or found.other_end.chance < 0.2


@pytest.mark.parametrize(("chance", "open_"), [(ENDS.open_chance - 0.001, False), (ENDS.open_chance, True)])
def test_a_doubt_is_spoken_of_beyond_two_sigmas(chance: float, open_: bool) -> None:
    """What lies beyond two sigmas is 4.6 % of a normal distribution (tables of it)."""
    clear = held(straight(200), [*laps(3, 1), *straight(120)])
    doubted = in_doubt_of_its_end(clear, chance)
    assert (doubted.other_end is not None) is open_
    assert (doubted is clear) is not open_
