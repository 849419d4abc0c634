"""Grade scales are data: monotone, complete, and one's own may be used."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyser.errors import SettingsError
from analyser.logbook.standard import meets
from analyser.rules.load import load_standard  # noqa: F401 - the scales live beside the standards
from analyser.rules.scales import load_scale, scale_names

OWN = """
key = "three"
name = "Three words"
required = "good"
levels = [
  { key = "poor", label = "poor", points_from = 0 },
  { key = "good", label = "good", points_from = 60 },
  { key = "fine", label = "fine", points_from = 90 },
]
"""


def test_the_words_of_the_five_grades_are_the_published_ones() -> None:
    """EASA AMC4 ORO.FC.231(d)(1), as read for the project."""
    labels = [level.label for level in load_scale("evidence-1-5").levels]
    assert labels == ["unsafe", "minimally acceptable", "adequate", "effective", "exemplary"]
    assert [level.key for level in load_scale("evidence-1-5").levels] == ["1", "2", "3", "4", "5"]


def test_the_four_levels_are_the_learner_centred_ones() -> None:
    """From memory, as TRADE calls them: describe, explain, practise, perform."""
    labels = [level.label for level in load_scale("learner-centred").levels]
    assert labels == ["Describe", "Explain", "Practise", "Perform"]


@given(st.floats(0, 100), st.floats(0, 100), st.sampled_from(scale_names()))
def test_more_points_never_propose_less(one: float, other: float, name: str) -> None:
    scale = load_scale(name)
    low, high = sorted((one, other))
    assert scale.propose_place(low)[1] <= scale.propose_place(high)[1]  # type: ignore[index]


def test_nothing_is_proposed_where_nothing_was_judged() -> None:
    assert load_scale().propose(None) is None and load_scale().propose_place(None) is None


def test_a_school_may_bring_its_own(tmp_path: Path) -> None:
    path = tmp_path / "three.toml"
    path.write_text(OWN, encoding="utf-8")
    scale = load_scale(path)
    assert scale.propose(75.0).key == "good"  # type: ignore[union-attr]
    assert scale.place("FINE") == 3 and scale.asked_points == 60.0
    with pytest.raises(SettingsError, match="no grade of the scale"):
        scale.place("best")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("points_from = 60", "points_from = 95", "must rise"),
        ("points_from = 90", "points_from = 190", "must rise"),
        ('required = "good"', 'required = "better"', "no level's key"),
        ('key = "fine"', 'key = "good"', "key of its own"),
        ("name =", "nmae =", "did you mean"),
        ('label = "fine"', "label = 3", "must be"),
    ],
)
def test_a_wrong_scale_says_what_is_wrong(tmp_path: Path, old: str, new: str, says: str) -> None:
    path = tmp_path / "three.toml"
    path.write_text(OWN.replace(old, new), encoding="utf-8")
    with pytest.raises(SettingsError, match=says):
        load_scale(path)


def test_an_unknown_scale_names_those_there_are() -> None:
    with pytest.raises(SettingsError, match="evidence-1-5, learner-centred"):
        load_scale("stars")


@pytest.mark.parametrize(
    ("scale", "level", "place", "required", "met"),
    [
        ("evidence-1-5", "3", 3, "3", True),
        ("evidence-1-5", "4", 4, "3", True),
        ("evidence-1-5", "2", 2, "3", False),
        ("evidence-1-5", "2", 2, "2", True),
        # Nothing else asked for is what the scale asks for: adequate.
        ("evidence-1-5", "3", 3, None, True),
        ("evidence-1-5", "2", 2, None, False),
        ("evidence-1-5", "5", 5, None, True),
        # Of a scale that is not at hand nobody knows which level is above which.
        ("a school's", "good", 2, "good", True),
        ("a school's", "fine", 3, "good", False),
        ("a school's", "poor", 1, None, True),
    ],
)
def test_a_grade_meets_what_was_asked_for_on_its_own_scale(
    scale: str, level: str, place: int, required: str | None, met: bool
) -> None:
    grade: Any = SimpleNamespace(scale=scale, level=level, place=place, required=required)
    assert meets(grade, load_scale("evidence-1-5")) == met
