"""The table of circuits, what captions and folded headings say, and how phases are told apart."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from analyser.pages import captions
from analyser.pages.circuit_views import COLUMNS, circuit_rows, no_advice
from analyser.pages.shown_hold import sections, variation_words
from analyser.pages.subject import PHASES
from analyser.schema.debrief_file import WrittenCircuit, WrittenHold, WrittenLeaving
from tests.pages_fixture import debriefed, typed
from tests.test_pages_words import results, words, written


def cells(circuit: WrittenCircuit) -> dict[str, tuple[str, str | None]]:
    """A circuit's row of the table: what was flown and what was right, by heading."""
    ((_, row),) = circuit_rows([circuit], None)
    told = [(words(one.value), None if one.target is None else words(one.target)) for one in row]
    return dict(zip(COLUMNS, told, strict=True))


def test_the_table_has_what_was_flown_and_what_was_right() -> None:
    one = written().circuits[0]
    assert one.outbound_leg is not None and one.inbound_leg is not None and one.outbound_turn is not None
    out = replace(one.outbound_leg, timed_s=61.4, ideal_timed_s=55.2, ideal_timed_wings_s=48.7, clock="abeam",
                  heading_true=83.2, ideal_heading_true=None)  # fmt: skip
    back = replace(one.inbound_leg, duration_s=70.2, ideal_duration_s=60.0, cross_track_rms_nm=0.123)
    turn = replace(one.outbound_turn, bank_mean=-17.26, bank_target=18.4)
    circuit = replace(one, outbound_leg=out, inbound_leg=back, outbound_turn=turn, fix_miss_nm=0.067,
                      altitude_error_max_ft=123.4, speed_error_max_kt=-7.6)  # fmt: skip
    found = cells(circuit)
    assert found["Altitude, worst"] == ("+123 ft +38 m", None) and found["Speed, worst"] == ("−8 kt", None)
    assert found["Outbound time"] == ("61 s", "55 s (49 s from wings level)")
    assert found["Outbound heading"] == ("083°T", None)
    assert found["Bank, outbound turn"] == ("17.3°", "18.4°")
    assert found["Inbound time"] == ("70 s", "60 s")
    assert found["Off course inbound, typically"] == ("0.12 NM", None) and found["Fix missed by"] == (
        "0.07 NM",
        None,
    )
    # The other clock's number only where it is another one, and where this one runs from abeam.
    for changed in ({"ideal_timed_wings_s": 55.4}, {"ideal_timed_wings_s": None}, {"clock": "wings level"}):
        leg = replace(out, **changed)  # type: ignore[arg-type]
        assert cells(replace(one, outbound_leg=leg))["Outbound time"] == ("61 s", "55 s"), changed
    unasked = replace(out, ideal_timed_s=None)
    assert cells(replace(one, outbound_leg=unasked))["Outbound time"] == ("61 s", None)


def test_what_was_not_flown_or_not_seen_is_not_judged_in_the_table() -> None:
    one = written().circuits[0]
    assert one.inbound_turn is not None
    gone = cells(replace(one, outbound_leg=None, inbound_leg=None, outbound_turn=None,
                         inbound_turn=replace(one.inbound_turn, bank_mean=None)))  # fmt: skip
    absent = [head for head, (value, _) in gone.items() if value == "not judged"]
    assert set(absent) >= {
        "Outbound time", "Outbound heading", "Bank, outbound turn", "Bank, inbound turn", "Inbound time",
        "Inbound heading", "Off course inbound, typically",
    }  # fmt: skip
    assert all(gone[head][1] is None for head in absent)


def test_why_a_circuit_has_no_advice_is_said() -> None:
    one = written().circuits[0]
    within = {key: replace(value, verdict="within") for key, value in one.scores.items()}
    assert no_advice(replace(one, scores=within)) == "Nothing moved the roll-out enough to speak of."
    outside = {**within, "bank": replace(within["bank"], verdict="outside")}
    small, large = (replace(one.error_budget[0], cause=cause, cross_track_nm=off, along_track_nm=-off)
                    for cause, off in (("bank", 0.1), ("wind_change", 0.3)))  # fmt: skip
    said = no_advice(replace(one, scores=outside, error_budget=(small, large)))
    # 0.3 NM to the side and as much behind: √2 times that.
    assert said.startswith("No single fault to correct. What moved the roll-out most, by 0.42 NM, was the ")
    assert said.endswith(", which nobody flies.")
    none = replace(one, error_budget=(), error_budget_missing=None)
    assert no_advice(none) == "too little of this circuit was flown or recorded."
    assert no_advice(replace(none, error_budget_missing="the wind is not known")) == "the wind is not known."


def test_turns_are_drawn_twice_as_thick_as_legs_and_the_way_back_is_dashed() -> None:
    """The same line for both turns, and for both legs, but for the dashes; what is no hold is thinnest, dotted."""
    lines = {name: (one.width, one.dash) for name, one in PHASES.items()}
    assert lines["outbound_turn"][0] == lines["inbound_turn"][0] == 2.0 * lines["outbound_leg"][0]
    assert lines["outbound_leg"][0] == lines["inbound_leg"][0]
    assert lines["outbound_turn"][1] is lines["outbound_leg"][1] is None
    assert lines["inbound_turn"][1] == lines["inbound_leg"][1] is not None
    assert lines["approach"] == lines["departure"] and lines["approach"][0] == min(
        one for one, _ in lines.values()
    )
    dotted, entry, dashed = (lines[name][1] or () for name in ("approach", "entry", "inbound_leg"))
    # A dot is shorter than the gap behind it, a dash longer.
    assert dotted[0] < dotted[1] and entry[0] < entry[1] and dashed[0] > 3.0 * dashed[1]
    assert lines["outbound_leg"][0] < lines["entry"][0] < lines["outbound_turn"][0]


@pytest.mark.parametrize(
    ("off_nm", "sd_nm", "said"),
    [
        # A doubt of two sigmas is said from a twentieth of a mile on.
        (0.83, 0.024, "0.83 NM right of the course"),
        (0.83, 0.025, "0.83 NM right of the course (±0.05 NM)"),
        (-0.12, None, "0.12 NM left of the course"),
        (0.004, 0.1, "on the course (±0.20 NM)"),
        (0.006, None, "0.01 NM right of the course"),
        (-0.006, 0.03, "0.01 NM left of the course (±0.06 NM)"),
    ],
)
def test_a_roll_out_has_its_side_and_its_doubt(off_nm: float, sd_nm: float | None, said: str) -> None:
    assert captions.rollout_words(off_nm, sd_nm) == said


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({}, "325°T 19 kt"),
        ({"from_true": None}, "not known from this log"),
        ({"speed_kt": None}, "not known from this log"),
    ],
)
def test_a_wind_needs_its_direction_and_its_speed(changed: dict[str, None], said: str) -> None:
    wind = replace(written().wind, **({"from_true": 325.2, "speed_kt": 19.3} | changed))  # type: ignore[arg-type]
    assert words(captions.wind_words(replace(written(), wind=wind, variation=None))) == said


@pytest.mark.parametrize(
    ("left_s", "said"),
    [
        (None, "Wanted over the fix at 6:30; it was not passed again."),
        (490.4, "Wanted over the fix at 6:30, left at 6:30: on the second."),
        (482.0, "Wanted over the fix at 6:30, left at 6:22: 8 s early."),
        (505.0, "Wanted over the fix at 6:30, left at 6:45: 15 s late."),
    ],
)
def test_leaving_is_told_from_the_arrival(left_s: float | None, said: str) -> None:
    score = next(iter(written().circuits[0].scores.values()))
    leaving = WrittenLeaving(leave_at_s=490.0, left_s=left_s, score=score, plans=(), turn_in=())
    hold = replace(written(), leaving=leaving, start_s=100.0)
    assert results(hold)["leaving"] == said


@pytest.mark.parametrize(
    ("variation", "given", "said"),
    [
        (None, None, "not known: courses are true"),
        (3.24, None, "3.2° E"),
        (-3.24, None, "3.2° W"),
        (0.0, None, "0.0° E"),
        # Over central Europe the needle points east of north these years, and nowhere near twelve degrees west.
        (-12.0, datetime(2026, 3, 14, tzinfo=UTC), "12.0° W, as given with the hold (the model says "),
    ],
)
def test_a_variation_has_its_side_and_says_where_the_model_has_another(
    variation: float | None, given: datetime | None, said: str
) -> None:
    assert variation_words(replace(written(), variation=variation), given).startswith(said)


def test_of_the_models_own_variation_the_models_words_are_said() -> None:
    day = datetime(2026, 3, 14, tzinfo=UTC)
    told = re.findall(
        r"the model says (\d\.\d)° E", variation_words(replace(written(), variation=-12.0), day)
    )
    assert "as given with the hold" not in variation_words(replace(written(), variation=float(told[0])), day)


def test_headings_count_what_was_right_and_say_where_nothing_was_judged() -> None:
    hold = written()
    unjudged = tuple(
        replace(
            one,
            scores={
                key: replace(score, points=None, verdict="not judged") for key, score in one.scores.items()
            },
        )
        for one in hold.circuits
    )
    assert results(replace(hold, circuits=unjudged))["numbers"] == "nothing was judged"
    assert "learning" not in results(replace(hold, learning=())) and "findings" not in results(
        replace(hold, findings=())
    )
    assert results(replace(hold, grade=None))["grade_sheet"] == "no grade proposed"
    rows = hold.learning
    right = sum(one.is_right for one in rows)
    assert results(hold)["learning"] == f"{right} of {len(rows)} corrections were right"
    thumbs = [one for one in hold.circuits if one.rules_of_thumb][-1].rules_of_thumb
    assert results(hold)["thumbs"] == f"{sum(one.good for one in thumbs)} of {len(thumbs)} hold in this wind"


def test_what_takes_more_than_two_sheets_of_paper_stays_folded_there() -> None:
    """More than ten corrections, or the numbers of more than twenty circuits."""

    def printed(hold: WrittenHold) -> dict[str, bool]:
        return {one.key: one.printed for one in sections(hold, typed(debriefed()[1]))}

    hold = written()
    ten, twenty = hold.learning[:1] * 10, hold.circuits[:1] * 20
    for changed, key, shown in (
        ({"learning": ten}, "learning", True),
        ({"learning": hold.learning[:1] * 11}, "learning", False),
        ({"circuits": twenty}, "numbers", True),
        ({"circuits": hold.circuits[:1] * 21}, "numbers", False),
    ):
        assert printed(replace(hold, **changed))[key] == (shown and printed(hold)[key]), (key, shown)
