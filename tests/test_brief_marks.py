"""What stands in a card's cells, over many winds: each mark is explained where it is used, and the times add up."""

from __future__ import annotations

import dataclasses
import re
from functools import cache

import pytest

from analyser.holds.definition import LegLimit
from analyser.pages.card_writer import Card, card_of, side_of
from tests.test_brief_card import HOLD, briefing, rows_of, table_of

#: Still air, across, so strong that only a makeshift circuit closes, and on the nose outbound.
WINDS = [(0, 0), (300, 38), (0, 60), (180, 30)]


@cache
def cards() -> list[Card]:
    """Cards by both rules, of a hold by time to the right and one by distance to the left."""
    left = dataclasses.replace(HOLD, turns="left", leg=LegLimit(distance_nm=4.0))
    return [
        card_of(briefing(hold, rules=rules, wind=wind, leave_after_s=(150.0, 200.0, 300.0)))
        for wind in WINDS
        for hold, rules in ((HOLD, "icao"), (HOLD, "faa"), (left, "faa"))
    ]


def test_each_mark_is_explained_where_it_stands_and_nowhere_else() -> None:
    """A makeshift circuit's star and a dagger beside their own table; brackets once, by the first table with some."""
    seen = {"*": set[bool](), "†": set[bool]()}
    for card in cards():
        bracketed = [
            any(re.search(r"\(\d+:\d\d\)", cell) for row in table.rows for cell in row)
            for table in card.tables
        ]
        explained = ["In brackets" in table.note for table in card.tables]
        assert explained.count(True) <= 1
        if any(bracketed[:2]):
            assert explained.index(True) == bracketed.index(True)
        for table in (*card.tables, *card.short):
            cells = [cell for row in table.rows for cell in row]
            for mark, words in (("*", "* The shortest circuit that closes"), ("†", "† From wings level")):
                marked = any(mark in cell for cell in cells)
                assert (words in table.note) == marked, (table.title, table.note, cells)
                seen[mark].add(marked)
    assert all(found == {True, False} for found in seen.values()), seen


def test_a_star_stands_at_the_winds_in_which_no_circuit_is_as_long_as_the_rules_ask() -> None:
    """Of each wind that the table has, the card of that very wind warns, or it does not."""
    table = table_of(card_of(briefing(wind=(0, 40)), magnetic=False), "If the wind differs")
    stars = set()
    for row in table.rows:
        for head, cell in zip(table.head[1:], row[1:], strict=True):
            own = card_of(briefing(wind=(int(row[0][:3]), int(head.split()[0]))), magnetic=False)
            warned = any(said.startswith("No circuit closes") for said in own.warnings)
            assert ("*" in cell) == warned and (cell == "none") == (not own.circuit)
            rows = rows_of(own)
            if not warned and own.circuit:
                assert cell.split(" ")[:2] == [rows["Outbound heading"].value, rows["Outbound time"].value]
                assert cell.endswith(f"in {rows['Inbound heading'].value}")
            stars.add(warned)
    assert stars == {True, False}


def seconds(clock: str) -> int:
    minutes, rest = clock.split(":")
    return 60 * int(minutes) + int(rest)


@pytest.mark.parametrize("wind", [(90, 20), (180, 30), (0, 15)])
def test_after_turning_in_the_inbound_turn_and_leg_are_left(wind: tuple[int, int]) -> None:
    """Of a plan to leave on time, and of each circuit cut short: worked from the other end than the card does."""
    made = briefing(wind=wind, leave_after_s=(200.0, 300.0, 430.0, 500.0))
    card = card_of(made)
    told = {row[0]: row for row in table_of(card, "Leaving").rows if row[-1] != "–"}
    plans = [plan for plan in made.leaving if plan.feasible]
    assert plans
    for plan in plans:
        last = plan.shortened[-1] if plan.shortened else made.exact
        row = told[f"{int(plan.wanted_s) // 60}:{int(plan.wanted_s) % 60:02d}"]
        left_s = last.second_turn_s + last.inbound_time_s
        assert seconds(row[-1]) == pytest.approx(plan.leaves_s - left_s, abs=1.0)
        said = [f"{plan.full_circuits} full"] * bool(plan.full_circuits) + [
            f"{len(plan.shortened)} short"
        ] * bool(plan.shortened)
        assert row[1] == ", ".join(said)
    for row, line in zip(table_of(card, "Turn in early").rows, made.turn_in, strict=True):
        assert seconds(row[-1]) == pytest.approx(line.second_turn_s + line.inbound_time_s, abs=1.0)


@pytest.mark.parametrize(("turns", "side"), [("right", 1), ("left", -1)])
def test_the_gate_is_seen_from_the_holding_side(turns: str, side: int) -> None:
    """Flying out on the holding side of a course due north, the fix bears to the other side of north."""
    card = card_of(briefing(dataclasses.replace(HOLD, turns=turns), wind=(0, 0)), magnetic=False)
    bearing, off = re.findall(r"(\d+)°", rows_of(card)["Turn in when"].value)
    assert (-side * int(off) - int(bearing)) % 360 == 0 and 10 < int(off) < 60


def test_numbers_beside_figures_lead_to_the_rules_that_they_rest_on() -> None:
    for card in cards():
        for rules in (row.rules for row in (*card.hold, *card.circuit)):
            numbers = [int(one) for one in card.marks(rules).split(", ") if one]
            assert [card.rules[number - 1] for number in numbers] == list(rules)
        assert len(set(card.rules)) == len(card.rules)


def test_a_makeshift_circuit_leads_beyond_a_charted_distance_and_says_so() -> None:
    """Where the least circuit that closes is longer than the leg that is charted, the distance counts."""
    said = set()
    for leg_nm in (0.6, 1.0):
        for speed_kt in (0, 30, 60):
            hold = dataclasses.replace(HOLD, leg=LegLimit(distance_nm=leg_nm))
            made = briefing(hold, wind=(180, speed_kt))
            row = rows_of(card_of(made))["Outbound ends at"]
            assert row.value == f"{leg_nm} NM out" and row.main
            beyond = -made.exact.outbound_end_along_nm > leg_nm + 0.05
            assert ("the times above lead beyond it" in row.detail) == beyond
            said.add(beyond)
    assert said == {True, False}


@pytest.mark.parametrize(
    ("correction_deg", "said"),
    [
        (24.4, "24° right"),
        (-23.6, "24° left"),
        (1.0, "1° right"),
        (-0.6, "1° left"),
        (0.4, "0°"),
        (-0.4, "0°"),
    ],
)
def test_a_correction_is_in_whole_degrees_with_its_side(correction_deg: float, said: str) -> None:
    assert side_of(correction_deg) == said
