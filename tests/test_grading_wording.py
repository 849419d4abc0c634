"""Numbers, counts and shares as they are written in sentences, and a score that is as sure as it says."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import pytest

from analyser.circuits.flown import FlownHold
from analyser.grading.judge import judge_hold
from analyser.grading.judged import JudgedCircuit
from analyser.grading.lap import course_doubt
from analyser.grading.score import Gauge, mean_points, passed
from analyser.grading.wording import (
    Advice,
    Number,
    at_least,
    clock_words,
    count,
    listed,
    on_circuits,
    said_apart_deg,
    sentence,
    share_of,
    up_to,
    with_article,
)
from analyser.rules.load import load_regime, load_standard
from analyser.rules.scoring import load_scoring
from tests.grading_flights import Faults, Plan, fly

SCORING = load_scoring()


@pytest.mark.parametrize(
    ("number", "variation_deg", "said"),
    [
        (Number(105.4, "°", "true"), None, "105°T"),
        (Number(105.4, "°", "true"), 3.0, "102°M"),
        (Number(2.0, "°", "true"), 3.0, "359°M"),
        (Number(359.7, "°", "true"), None, "360°T"),
        (Number(17.6, "°"), 3.0, "18°"),
        (Number(51.5, "s"), None, "52 s"),
        (Number(0.214, "NM"), None, "0.21 NM"),
        (Number(1.994, "NM"), None, "1.99 NM"),
        (Number(2.04, "NM"), None, "2.0 NM"),
        (Number(-3.06, "NM"), None, "-3.1 NM"),
        (Number(4012.4, "ft"), None, "4,012 ft"),
        (Number(103.6, "kt"), None, "104 kt"),
    ],
)
def test_a_number_is_written_as_it_is_read(number: Number, variation_deg: float | None, said: str) -> None:
    assert number.said(variation_deg) == said


def test_counts_lists_and_circuits() -> None:
    assert [count(n, "circuit") for n in (0, 1, 2, 12, 13)] == [
        "no circuits", "one circuit", "two circuits", "twelve circuits", "13 circuits",
    ]  # fmt: skip
    assert listed(["timing"]) == "timing" and listed(["a", "b"]) == "a and b"
    assert listed(["timing", "bank", "track"]) == "timing, bank and track"
    assert (on_circuits([]), on_circuits([2]), on_circuits([1, 3])) == (
        "",
        " on circuit 2",
        " on circuits 1 and 3",
    )
    assert (up_to([1]), up_to([1, 2])) == ("", "up to ")
    assert (with_article("offset entry"), with_article("teardrop")) == ("an offset entry", "a teardrop")
    assert (sentence("nothing came near"), sentence("Done. ")) == ("Nothing came near.", "Done.")


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0.2, "1 s"),
        (45.4, "45 s"),
        (119.4, "119 s"),
        (120.0, "2 min"),
        (200.0, "3 min 20 s"),
        (119.6, "2 min"),
    ],
)
def test_how_long_is_said_in_seconds_and_from_two_minutes_in_minutes(seconds: float, said: str) -> None:
    assert clock_words(seconds) == said


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.1, "next to none of"),
        (0.14, "a quarter of"),
        (0.3, "a third of"),
        (0.45, "half of"),
        (0.6, "two thirds of"),
        (0.74, "three quarters of"),
        (0.9, "about all of"),
        (1.3, "half as much again as"),
        (1.8, "twice"),
        (2.4, "twice"),
        (2.6, "three times"),
        (5.0, "three times"),
    ],
)
def test_a_share_is_said_by_the_nearest_words(share: float, said: str) -> None:
    assert share_of(share) == said


@pytest.mark.parametrize(
    ("value", "said"),
    [(5.02, "5.1"), (5.0, "5.0"), (0.503, "0.51"), (0.0401, "0.041"), (12.1, "13"), (130.2, "131")],
)
def test_what_is_known_badly_is_never_said_to_be_known_better(value: float, said: str) -> None:
    assert at_least(value) == said
    assert float(said) >= value


def test_how_far_apart_two_directions_are_is_the_difference_of_what_is_said() -> None:
    assert said_apart_deg(105.4, 97.6, None) == 105 - 98
    # With 2.3° of variation they are 103 and 95.
    assert said_apart_deg(105.4, 97.6, 2.3) == 103 - 95
    assert said_apart_deg(3.0, 357.0, None) == 6 and said_apart_deg(357.0, 3.0, None) == -6
    advice = Advice("Fly {fly}, not {flown}.", Number(105.4, "°", "true"), Number(97.6, "°", "true"))
    assert (advice.said(), advice.said(2.3)) == ("Fly 105°T, not 098°T.", "Fly 103°M, not 095°M.")


@pytest.mark.parametrize(
    ("value", "target", "said"),
    [
        (70.4, 60.0, "just over 70 s"),
        (71.0, 60.0, "71 s"),
        (49.6, 60.0, "just under 50 s"),
        (48.4, 60.0, "48 s"),
    ],
)
def test_a_value_outside_is_not_written_as_one_within(value: float, target: float, said: str) -> None:
    score = Gauge(SCORING, "s", 10.0).score(value, target, 0.5)
    assert score.verdict == "outside" and passed(score, " s") == said


def test_points_are_given_by_the_deviation_and_not_where_two_sigma_exceed_the_tolerance() -> None:
    gauge = Gauge(SCORING, "kt", 5.0, "a rule", "logged")
    at = gauge.score(107.0, 102.0, 2.5, "a note", reference=102.0)
    # At the tolerance, which is just judged: 70 points.
    assert (at.points, at.verdict, at.deviation, at.sd, at.note) == (70.0, "within", 5.0, 2.5, "a note")
    assert (at.value, at.target, at.tolerance, at.unit, at.rule, at.how, at.reference) == (
        107.0, 102.0, 5.0, "kt", "a rule", "logged", 102.0,
    )  # fmt: skip
    over = gauge.score(107.0, 102.0, 2.6)
    assert (over.points, over.verdict) == (None, "not judged")
    assert over.note == "known only to ±5.2 kt, where ±5 kt is allowed"
    mean = gauge.score(107.0, 102.0, 1.0, deviation=-2.0)
    assert mean.deviation == -2.0 and mean.verdict == "within"
    lost = gauge.score(math.nan, 102.0, 1.0)
    assert (lost.points, lost.value, lost.note) == (None, None, "the log does not say")
    assert gauge.score(107.0, 102.0, math.inf).note == "the log does not say"
    assert "surely outside all the same" in gauge.score(120.0, 102.0, 3.0, beyond_doubt=True).note


def test_a_mean_leaves_out_what_was_not_judged_and_is_none_where_that_is_too_much() -> None:
    parts = [(80.0, 1.0), (None, 1.0), (50.0, 0.5)]
    assert mean_points(parts) == pytest.approx((80.0 + 25.0) / 1.5)
    assert mean_points(parts, 0.6) == pytest.approx(70.0) and mean_points(parts, 0.61) is None
    assert mean_points([(None, 1.0)]) is None and mean_points([(80.0, 0.0)]) is None


def test_a_course_is_doubted_beyond_two_sigma_of_what_is_asked() -> None:
    assert course_doubt(None) == course_doubt(7.5) == ""
    assert course_doubt(8.0) == "the course is inferred to ±16° only; a hold file settles it"
    assert course_doubt(3.0, 5.0) == "the course is inferred to ±6° only; a hold file settles it"
    assert course_doubt(90.0).startswith("which end of the racetrack is the fix cannot be told")


@cache
def three() -> FlownHold:
    return fly(Plan(faults=(Faults(),) * 3))


def first(**changed: float) -> JudgedCircuit:
    circuits = tuple(replace(one, **changed) for one in three().circuits)
    return judge_hold(
        replace(three(), circuits=circuits), load_regime("icao"), load_standard("acs-instrument")
    ).circuits[1]


def test_what_was_right_is_as_sure_as_wind_and_airspeed() -> None:
    """20 kt across at 110 kt: three times the drift is flown outbound, so a knot of wind turns it by about 1.5°."""
    none = first(wind_sd_kt=0.0, tas_sd_kt=0.0).ideal
    assert none.outbound_heading_sd_deg == none.outbound_time_sd_s == none.outbound_timed_sd_s == 0.0
    wind, airspeed = first(wind_sd_kt=1.0, tas_sd_kt=0.0).ideal, first(wind_sd_kt=0.0, tas_sd_kt=2.0).ideal
    drift_deg = math.degrees(1.0 / 110.0)
    assert 2.0 * drift_deg < wind.outbound_heading_sd_deg < 4.0 * drift_deg
    both = first(wind_sd_kt=1.0, tas_sd_kt=2.0).ideal
    for name in ("outbound_heading_sd_deg", "outbound_timed_sd_s", "outbound_time_sd_s"):
        parts = math.hypot(getattr(wind, name), getattr(airspeed, name))
        assert getattr(both, name) == pytest.approx(parts, rel=1e-6) and getattr(wind, name) > 0.0
    # Twice the doubt of the wind is twice the doubt of the heading.
    double = first(wind_sd_kt=2.0, tas_sd_kt=0.0).ideal
    assert double.outbound_heading_sd_deg == pytest.approx(2.0 * wind.outbound_heading_sd_deg, rel=0.1)
    # A second of a minute outbound for each knot along, roughly: what a knot of wind does to a minute's leg and back.
    assert 0.3 < wind.outbound_timed_sd_s < 3.0
