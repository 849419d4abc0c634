"""How grades lean: a fair instructor is called fair, also of pilots at the top of the scale."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyser.logbook.leaning import ALL_ITEMS, Leaning, leanings, place_of
from analyser.logbook.sessions import Session
from analyser.rules.scales import load_scale
from tests.club import term

SCALE = load_scale()


def class_of(
    level: float, *, lean: float = 0.0, mood: float = 0.0, by_points: bool, seed: int
) -> list[Session]:
    """Fifteen graded sessions of an instructor who sees the points, or the proposal, through a scatter."""
    chance = np.random.default_rng(seed)
    model = term.sessions(class_of=term.members()[:1])[0]
    grades = []
    for number in range(15):
        evening = chance.normal() * mood
        row = []
        for item in ("timing", "bank", "track", "altitude", "speed", "overall"):
            points = float(np.clip(level + 8.0 * chance.normal(), 0.0, 100.0))
            proposed = SCALE.propose_place(points)
            assert proposed is not None
            seen = place_of(points, SCALE) if by_points else proposed[1]
            place = int(np.clip(np.round(seen + lean + evening + 0.45 * chance.normal()), 1, 5))
            row.append((item, place, points, proposed))
        grades.append((number, row))
    return [_graded(model, number, row) for number, row in grades]


def _graded(model: Session, number: int, row: list) -> Session:  # type: ignore[type-arg]
    given = model.grades[-1]
    found = tuple(
        replace(
            given,
            item=item,
            place=place,
            level=str(place),
            computed_points=points,
            proposed=proposed[0],
            proposed_place=proposed[1],
        )
        for item, place, points, proposed in row
    )
    return replace(model, log_sha256=f"{number:064x}", grades=found)


def told(sessions: list[Session]) -> list[Leaning]:
    return [one for one in leanings(sessions, SCALE) if one.verdict in ("kinder", "stricter")]


def test_a_place_on_the_scale_is_where_the_points_are() -> None:
    begins = [level.points_from for level in SCALE.levels]
    for place, points in enumerate(begins[1:], start=2):
        assert place_of(points, SCALE) == pytest.approx(place - 0.5)
        assert SCALE.propose_place(points)[1] == round(place_of(points + 0.1, SCALE))  # type: ignore[index]
    assert 0.4 < place_of(0.0, SCALE) < 1.5 and 4.5 < place_of(100.0, SCALE) < 5.6


@pytest.mark.slow
@pytest.mark.parametrize("by_points", [True, False])
@pytest.mark.parametrize("level", [96.0, 85.0, 60.0])
def test_a_fair_instructor_is_called_fair_also_of_strong_and_weak_pilots(
    level: float, by_points: bool
) -> None:
    """A mean of differences called 25 of 200 such instructors of strong pilots strict."""
    classes = [class_of(level, mood=0.2, by_points=by_points, seed=seed) for seed in range(20)]
    assert sum(bool(told(one)) for one in classes) <= 1
    differences = [
        g.place - g.proposed_place for one in classes for s in one for g in s.grades if g.proposed_place
    ]
    if level > 90.0:
        assert np.mean(differences) < -0.04, (
            "a mean of differences is pulled down, or this test shows nothing"
        )


@pytest.mark.parametrize("lean", [0.7, -0.7])
def test_a_lean_is_found(lean: float) -> None:
    whole = [
        next(
            one
            for one in leanings(class_of(78.0, lean=lean, by_points=True, seed=seed), SCALE)
            if one.item == "all"
        )
        for seed in range(5)
    ]
    assert {one.verdict for one in whole} == {"kinder" if lean > 0 else "stricter"}
    assert np.mean([one.lean for one in whole]) == pytest.approx(lean, abs=0.2)


def test_too_few_sessions_or_a_scale_that_is_not_at_hand_is_said() -> None:
    few = class_of(78.0, lean=-1.5, by_points=True, seed=1)[:4]
    assert {one.verdict for one in leanings(few, SCALE)} == {"too little"}
    from dataclasses import replace

    other = [
        replace(one, grades=tuple(replace(g, scale="ours") for g in one.grades))
        for one in class_of(78.0, lean=-1.5, by_points=True, seed=1)
    ]
    found = leanings(other, SCALE)
    assert {one.verdict for one in found} == {"too little"} and found[0].lower > found[0].higher


def test_grades_that_all_agree_with_the_points_break_nothing() -> None:
    sessions = class_of(78.0, by_points=False, seed=2)
    from dataclasses import replace

    exact = [
        replace(one, grades=tuple(replace(g, place=g.proposed_place or 1) for g in one.grades))
        for one in sessions
    ]
    assert told(exact) == []


@pytest.mark.parametrize("lean", [0, -1])
def test_who_gives_what_the_page_proposes_leans_nowhere_though_points_are_worth_more(lean: int) -> None:
    """79 points with something below the standard: grade 2 is proposed for the whole, and not the 3 of the points."""
    sessions = []
    for one in class_of(79.0, by_points=False, seed=4):
        whole = replace(one.grades[-1], computed_points=79.0, proposed="2", proposed_place=2, place=2 + lean)
        sessions.append(replace(one, grades=(whole,)))
    (every, overall) = leanings(sessions, SCALE)
    assert (every.verdict, overall.verdict) == (("stricter",) * 2 if lean else ("none",) * 2)
    assert overall.same == (0 if lean else 15) and overall.lower == (15 if lean else 0)
    nothing = [replace(one, grades=(replace(one.grades[0], proposed_place=None),)) for one in sessions]
    assert leanings(nothing, SCALE) == [], "nothing was proposed, so nothing can be leant against"


def test_grades_are_counted_against_what_was_proposed() -> None:
    """Above, at and below it, by instructor and item; one that nothing was proposed for does not count."""
    model = term.sessions(class_of=term.members()[:1])[0]
    places = [
        ("bank", 4, 3),
        ("bank", 3, 3),
        ("speed", 2, 3),
        ("speed", 1, 4),
        ("track", 5, 2),
        ("track", 5, None),
    ]
    rows = [(item, place, 70.0, (str(proposed), proposed)) for item, place, proposed in places]
    found = {
        one.item: one
        for one in leanings([_graded(model, 1, rows[::2]), _graded(model, 2, rows[1::2])], SCALE)
    }
    counted = {
        item: (one.grades, one.sessions, one.higher, one.same, one.lower) for item, one in found.items()
    }
    assert counted == {
        ALL_ITEMS: (5, 2, 2, 1, 2), "bank": (2, 2, 1, 1, 0), "speed": (2, 2, 0, 0, 2), "track": (1, 1, 1, 0, 0),
    }  # fmt: skip
    assert {one.verdict for one in found.values()} == {"too little"}
