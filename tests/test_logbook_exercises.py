"""What the next exercise asks for suits what it is to train; how an instructor's lean is limited."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyser.logbook.documents import LoggedHold, logged_holds
from analyser.logbook.leaning import Leaning, leanings
from analyser.logbook.marks import ITEMS
from analyser.logbook.practise import Exercise, made_to_measure, plan_for
from analyser.rules.scales import load_scale
from tests.club import term
from tests.logbook_documents import document
from tests.test_logbook_leaning import _graded


def flown(**changed: object) -> LoggedHold:
    return replace(logged_holds(document())[0], **changed)


def exercise(item: str, *, hard: bool = False, tas_kt: float = 200.0) -> Exercise:
    plan = plan_for(item)
    assert plan is not None
    made = made_to_measure(plan, flown(tas_kt=tas_kt), hard=hard)
    assert made is not None
    return made


@pytest.mark.parametrize("item", [one.key for one in ITEMS])
def test_a_hard_exercise_has_a_tenth_of_the_airspeed_more_wind(item: str) -> None:
    easy, hard = (exercise(item, hard=hard) for hard in (False, True))
    assert hard.wind_speed_kt - easy.wind_speed_kt == 20.0
    assert replace(hard, wind_speed_kt=0.0, briefing=None) == replace(easy, wind_speed_kt=0.0, briefing=None)
    # Strong enough to be felt, and no more than a light aircraft meets on a breezy day.
    assert 0.0 < easy.wind_speed_kt < hard.wind_speed_kt <= 0.25 * 200.0


def test_wind_is_strongest_where_wind_is_what_is_trained_and_least_where_hands_are() -> None:
    winds = {item: exercise(item).wind_speed_kt for item in (one.key for one in ITEMS)}
    least = {winds.pop(item) for item in ("bank", "steadiness", "altitude", "speed")}
    most = winds.pop("wind_correction")
    assert len(least) == 1 and least.pop() < min(winds.values()) <= max(winds.values()) < most


def test_drift_is_trained_straight_across_and_time_mostly_along() -> None:
    def off_course_deg(item: str) -> float:
        made = exercise(item)
        return abs((made.wind_from_true_deg - made.hold.inbound_course_true_deg + 180.0) % 360.0 - 180.0)

    for item in ("bank", "steadiness", "wind_correction", "altitude"):
        assert off_course_deg(item) == pytest.approx(90.0, abs=2.6), item
    # Along is where the legs differ most in time; the course is to be held in a wind more across than along.
    assert off_course_deg("timing") < 45.0 < off_course_deg("track") < 90.0


@pytest.mark.parametrize(("flown_ft", "asked_ft"), [(5840.0, 5800.0), (5860.0, 5900.0), (None, 4000.0)])
def test_an_exercise_is_flown_at_the_hundred_feet_nearest_to_what_was_flown(
    flown_ft: float | None, asked_ft: float
) -> None:
    plan = plan_for("bank")
    made = None if plan is None else made_to_measure(plan, flown(altitude_ft=flown_ft), hard=False)
    assert made is not None and made.hold.altitude_ft == asked_ft
    assert f"altitude_ft = {asked_ft:.0f}\n" in made.hold_file()


def test_winds_are_whole_knots_and_five_degrees_and_never_nothing() -> None:
    slow = exercise("bank", tas_kt=8.0)
    assert slow.wind_speed_kt == 1.0 and slow.wind_from_true_deg % 5.0 == 0.0


#: Two-sided 5 % points of Student's t, shared between two and three comparisons, by degrees of freedom
#: (O. J. Dunn, J. Am. Stat. Assoc. 56, 1961, table 1; from memory).
DUNN = {7: (2.841, 3.128), 8: (2.752, 3.016), 10: (2.634, 2.870)}


@pytest.mark.parametrize("sessions", [8, 9, 11])
def test_the_limits_of_a_lean_hold_for_all_rows_of_an_instructor_together(sessions: int) -> None:
    """The same grades in one item, where it and the whole are spoken of, and beside a second one: three rows."""
    model = term.sessions(class_of=term.members()[:1])[0]
    scale = load_scale()
    points = [level.points_from for level in scale.levels][2] + 0.5 * (
        scale.levels[3].points_from - scale.levels[2].points_from
    )
    proposed = scale.propose_place(points)
    assert proposed is not None

    def half(items: tuple[str, ...]) -> float:
        made = []
        for number in range(sessions):
            row = [(item, 3 + (number % 3 == 0), points, proposed) for item in items]
            made.append(_graded(model, number, row))
        found: dict[str, Leaning] = {one.item: one for one in leanings(made, scale)}
        one = found["bank"]
        assert one.lean is not None and one.low is not None and one.high is not None
        assert one.high - one.lean == pytest.approx(one.lean - one.low)
        return one.high - one.lean

    two, three = DUNN[sessions - 1]
    assert half(("bank", "speed")) / half(("bank",)) == pytest.approx(three / two, rel=1e-3)
