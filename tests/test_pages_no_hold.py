"""The page of a flight without a hold: what came nearest, why, where, and what to do."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from analyser.circuits.flown import PossibleHold, SearchReason
from analyser.debrief import Debrief, debrief_track
from analyser.holds.definition import Hold
from analyser.logs.track import Notice, Track
from tests.drawn_flights import FIX, drawn, straight, turn
from tests.pages_fixture import rendered


def page(debrief: Debrief) -> str:
    text = re.sub(r"<style>.*?</style>|<script.*?</script>", "", rendered(debrief), flags=re.S)
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def swinging() -> Track:
    lap = [*turn(220.0), *straight(15), *turn(-150.0)]
    return drawn(
        straight(300), [*turn(180.0), *straight(40), *lap, *straight(40), *turn(-60.0), *straight(200)]
    )


def possible(**changes: object) -> PossibleHold:
    one = PossibleHold(
        310.0, 470.0, *FIX, 205.0, "right", 2, ("It came back.",), ("It has hardly any legs.",)
    )
    return replace(one, **changes)  # type: ignore[arg-type]


def test_nothing_near_a_hold_says_so_and_draws_the_flight() -> None:
    debrief = debrief_track(drawn(straight(300), straight(300)))
    said = page(debrief)
    assert "No holding pattern was found in this log." in said
    assert "Nothing in it came near a hold." in said
    assert "give the hold with --hold" in said
    assert 'data-fig="search"' in rendered(debrief)


def test_what_may_have_been_a_hold_is_shown_with_both_sides_and_no_score() -> None:
    debrief = replace(debrief_track(drawn(straight(300), straight(300))), possible=(possible(),))
    said = page(debrief)
    assert "Perhaps a hold: nothing in this log is surely one" in said
    assert "Perhaps a hold, A: 2 laps, 5:10 to 7:50" in said
    assert "For It came back. Against It has hardly any legs." in said
    assert "points" not in said


def test_no_more_than_three_are_shown_and_the_rest_counted() -> None:
    many = tuple(possible(start_s=40.0 * k, end_s=40.0 * k + 30.0) for k in range(5))
    said = page(replace(debrief_track(drawn(straight(300), straight(300))), possible=many))
    assert said.count("Perhaps a hold, ") == 3
    assert "2 more such places are in the JSON file" in said


def test_of_many_those_with_most_laps_are_shown_in_the_order_of_flight() -> None:
    laps = (1, 3, 1, 2, 4)
    many = tuple(possible(start_s=60.0 * k, end_s=60.0 * k + 30.0, laps=n) for k, n in enumerate(laps))
    said = page(replace(debrief_track(drawn(straight(300), straight(300))), possible=many))
    shown = re.findall(r"Perhaps a hold, ([ABC]): (\d) laps, (\d:\d\d)", said)
    assert shown == [("A", "3", "1:00"), ("B", "2", "3:00"), ("C", "4", "4:00")]


def test_a_reason_is_told_once_for_a_stretch_and_not_where_a_possible_hold_is_shown() -> None:
    def reason(said: str, start_s: float, end_s: float) -> SearchReason:
        return SearchReason("legs-too-long", f"{said}.", start_s, end_s)

    reasons = (
        reason("Within what is shown", 400.0, 500.0),
        reason("Up to where that begins", 200.0, 310.0),
        reason("The same stretch again", 290.0, 305.0),
        reason("From where that ends", 470.0, 550.0),
    )
    debrief = debrief_track(drawn(straight(300), straight(300)))
    said = page(replace(debrief, possible=(possible(),), reasons=reasons))
    assert "Up to where that begins." in said and "From where that ends." in said
    assert "Within what is shown." not in said and "The same stretch again." not in said


@pytest.mark.parametrize(("after_s", "said"), [(100, True), (200, False)])
def test_a_log_that_ends_after_the_first_turn_is_said_to(after_s: int, said: bool) -> None:
    debrief = debrief_track(drawn(straight(300), [*turn(180.0), *straight(after_s)]))
    assert ("The log ends before a lap is round" in page(debrief)) == said
    assert ("log-ends" in {reason.code for reason in debrief.reasons}) == said


def test_a_log_that_was_cut_off_is_said_to_be() -> None:
    track = drawn(straight(300), straight(300))
    track = replace(track, notices=(Notice("file-cut-off", "The file is damaged."),))
    assert "The log was cut off" in page(debrief_track(track))


def test_a_given_hold_that_was_not_flown_leads_to_the_check() -> None:
    hold = Hold(FIX[0] + 1.0, FIX[1], 25.0, "right")
    said = page(debrief_track(drawn(straight(300), straight(300)), holds=[hold]))
    assert "never came near this fix" in said
    assert "analyser hold check" in said


def test_what_was_dropped_stands_with_its_minutes_and_its_reason() -> None:
    said = page(debrief_track(swinging()))
    assert re.search(r"\d+:\d\d", said)
