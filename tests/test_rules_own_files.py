"""A school's own files: each value at the edge of what is fair is taken, the next beyond it is refused with its key."""

from __future__ import annotations

import copy
import json
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field

import analyser.rules
from analyser.errors import SettingsError
from analyser.rules.graded_items import ITEMS, SECTIONS, item_of
from analyser.rules.load import load_regime, load_standard
from analyser.rules.regime import SpeedLimit
from analyser.rules.scales import Scale, load_scale, load_scales
from analyser.rules.scoring import AdviceLimits, Scoring, load_scoring
from analyser.rules.toml_data import UnfitError, fill, filled, read_toml

HOUSE = Path(analyser.rules.__file__).parent
GRADED = ("unsafe", "wrong_side", "below_standard", "outside")


def as_toml(value: Any) -> str:
    """Write a value inline: a table, a list, a word or a number."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {as_toml(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(as_toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False)


def written(folder: Path, data: dict[str, Any]) -> Path:
    own = folder / "own.toml"
    own.write_text("\n".join(f"{key} = {as_toml(value)}" for key, value in data.items()), encoding="utf-8")
    return own


def changed(house: str, path: str, value: Any) -> dict[str, Any]:
    """Return a file of the house with one value of it another; None leaves the key out."""
    data = copy.deepcopy(read_toml(HOUSE / house, error=SettingsError))
    *parents, last = [int(part) if part.isdigit() else part for part in path.split(".")]
    inner: Any = data
    for part in parents:
        inner = inner.setdefault(part, {}) if isinstance(inner, dict) else inner[part]
    if value is None:
        del inner[last]
    else:
        inner[last] = value
    return data


def scored_by(folder: Path, path: str, value: Any) -> Scoring:
    return load_scoring(written(folder, changed("scoring.toml", path, value)))


#: Of each: a value that is just fair, and one that no longer is.
FAIR: list[tuple[str, Any, Any]] = [
    ("points.knots", [[0.0, 100.0], [3.0, 0.0]], [[0.0, 100.0]]),
    ("points.knots.2.0", 0.3, 0.25),
    ("points.knots.2.1", 100.0, 100.5),
    ("points.knots.0.1", 100.0, 100.05),
    ("points.knots.4.1", 0.05, -0.05),
    ("grade.steps.1.from_points", 89.0, 91.0),
    *[(f"caps.{name}.highest_grade", 5, 6) for name in GRADED],
    *[(f"caps.{name}.points", 0.0, -0.05) for name in GRADED],
    *[(f"caps.{name}.points", 100.0, 100.05) for name in GRADED],
    ("bank.tolerance_deg", 0.05, 0.0),
    ("steadiness.tolerance_deg", 0.05, 0.0),
    ("length.tolerance_nm", 0.05, 0.0),
    ("leaving.tolerance_s", 0.05, 0.0),
    ("unsafe.level_off_ft", 0.05, 0.0),
    ("unsafe.level_tolerances", 0.05, 0.0),
    ("unsafe.outbound_multiple", 0.05, 0.0),
    ("parts.entry", 0.0, -0.05),
    ("parts.measuring_circuit", 0.0, -0.05),
    ("parts.circuit", 0.0, -0.05),
    ("parts.leaving", 0.0, -0.05),
    ("weights.bank", 0.0, -0.05),
    ("weights.track", 0.05, -0.05),
]


@pytest.mark.parametrize(("path", "fair", "unfair"), FAIR)
def test_a_schools_scoring_is_taken_to_the_edge_of_what_is_fair(
    tmp_path: Path, path: str, fair: Any, unfair: Any
) -> None:
    scored_by(tmp_path, path, fair)
    # The key that is named is that of the rule: of a table of knots or grades, the table's.
    key = ".".join(path.split(".")[:2]) if path.startswith(("points", "grade")) else path
    with pytest.raises(SettingsError, match=f"key '{key}'"):
        scored_by(tmp_path, path, unfair)


def test_a_scoring_without_grades_or_with_a_knot_of_three_numbers_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"grade\.steps.*best first"):
        scored_by(tmp_path, "grade.steps", [])
    with pytest.raises(SettingsError, match=r"points\.knots\.1"):
        scored_by(tmp_path, "points.knots.1", [0.25, 100.0, 1.0])


def test_weights_of_ones_own_go_beside_those_of_the_house_and_their_source_is_none(tmp_path: Path) -> None:
    own = scored_by(tmp_path, "weights", {"source": "a school's", "standing": "common practice", "bank": 2.5})
    assert own.weights == {**load_scoring().weights, "bank": 2.5}


def test_a_last_bit_costs_no_grade_and_a_cap_leaves_the_best_that_is_no_higher() -> None:
    grades = load_scoring().grade
    for points, grade in ((89.9999999999, 5), (89.99, 4), (-5.0, 1)):
        assert grades.step(points).grade == grade
    best, least = grades.step(100.0), grades.step(0.0)
    assert [grades.at_most(best, highest).grade for highest in (6, 5, 4, 1, 0)] == [5, 5, 4, 1, 1]
    assert grades.at_most(least, 4) == least


def test_what_only_a_good_hand_can_fly_is_less_of_the_same() -> None:
    """All finer differences are one share of the coarse ones; how much of an error may be left stays."""
    coarse = load_scoring().advice
    fine = coarse.finer()
    finer = {name for name in vars(coarse) if getattr(fine, name) != getattr(coarse, name)}
    assert finer == {"counts_nm", "flyable_s", "flyable_nm", "flyable_bank_deg", "flyable_heading_deg"}
    shares = {getattr(fine, name) / getattr(coarse, name) for name in finer}
    assert max(shares) == pytest.approx(min(shares)) and 0.2 < min(shares) < 0.5


def test_a_school_that_says_little_of_advice_is_advised_as_the_house_does(tmp_path: Path) -> None:
    data = read_toml(HOUSE / "scoring.toml", error=SettingsError)
    kept = ("at_most", "least_share", "least_nm", "least_s", "source", "standing")
    data["advice"] = {key: data["advice"][key] for key in kept}
    data["learning"] = {k: v for k, v in data["learning"].items() if not k.startswith("worth_")}
    for part, key in (
        ("entry", "not_recommended_points"),
        ("unsafe", "fix_missed_nm"),
        ("parts", "least_judged_of_hold"),
    ):
        del data[part][key]
    for part in ("limiting_radial", "fix_passage", "slow_down"):
        del data[part]
    own, house = load_scoring(written(tmp_path, data)), load_scoring()
    assert own.advice == house.advice and own.learning == house.learning
    assert own.advice.finer() == house.advice.finer()
    assert (own.entry, own.unsafe, own.parts) == (house.entry, house.unsafe, house.parts)
    assert own.limiting_radial.tolerance_deg == house.limiting_radial.tolerance_deg
    assert own.fix_passage.beside_nm == house.fix_passage.beside_nm
    assert own.fix_passage.missed_nm == house.fix_passage.missed_nm


# Standards and scales


STANDARD_KEYS = [
    "altitude.tolerance_ft",
    "speed.tolerance_kt",
    "heading.tolerance_deg",
    "track.deflection_fraction",
    "track.angular_deg",
    "track.linear_nm",
    "track.linear_brief_nm",
    "cdi.vor_full_scale_deg",
    "cdi.gps_full_scale_nm",
    "timing.tolerance_s",
]


@pytest.mark.parametrize("key", STANDARD_KEYS)
def test_a_standards_tolerance_may_be_small_and_not_nothing(tmp_path: Path, key: str) -> None:
    load_standard(written(tmp_path, changed("standards/part-fcl-instrument.toml", key, 0.05)))
    with pytest.raises(SettingsError, match=f"key '{key}': must be above zero"):
        load_standard(written(tmp_path, changed("standards/part-fcl-instrument.toml", key, 0.0)))


def test_a_needle_stands_at_its_stop_beyond_full_scale_on_either_side() -> None:
    standard = load_standard("acs-instrument")
    assert [standard.vor_deflection(off) for off in (-30.0, -12.0, 3.0, 12.0, 30.0)] == [-1, -1, 0.25, 1, 1]
    assert [standard.gps_deflection(off) for off in (-2.0, -1.0, 0.25, 1.0, 2.0)] == [-1, -1, 0.25, 1, 1]


def scale_of(folder: Path, starts: list[float], required: str = "b", keys: str = "abc") -> Scale:
    levels = [
        {"key": key.strip(), "label": f"word {key}", "points_from": start}
        for key, start in zip(keys, starts, strict=False)
    ]
    data = {"key": "own", "name": "Own", "required": required, "levels": levels}
    return load_scale(written(folder, data))


@pytest.mark.parametrize(
    ("starts", "key"),
    [
        ([0.0, 100.0], None),
        ([0.0, 50.0, 100.0], None),
        ([0.5, 50.0], None),
        ([50.0], "levels"),
        ([], "levels"),
        ([-0.5, 50.0], "levels"),
        ([0.0, 100.5], "levels"),
        ([0.0, 50.0, 50.0], "levels"),
        ([0.0, 70.0, 50.0], "levels"),
    ],
)
def test_a_scale_has_two_levels_or_more_whose_points_rise_within_a_hundred(
    tmp_path: Path, starts: list[float], key: str | None
) -> None:
    if key is None:
        assert len(scale_of(tmp_path, starts).levels) == len(starts)
        return
    with pytest.raises(SettingsError, match=f"'{key}'"):
        scale_of(tmp_path, starts, "a")


def test_a_scales_keys_are_told_apart_in_any_case_and_none_is_empty(tmp_path: Path) -> None:
    assert scale_of(tmp_path, [0.0, 50.0], "B").asked_points == 50.0
    for keys in ("aA", "a "):
        with pytest.raises(SettingsError, match="a key of its own"):
            scale_of(tmp_path, [0.0, 50.0], "a", keys)
    with pytest.raises(SettingsError, match="'required': is 'c'"):
        scale_of(tmp_path, [0.0, 50.0], "c")


def test_points_propose_the_highest_level_they_reach_and_the_lowest_where_they_reach_none(
    tmp_path: Path,
) -> None:
    scale = scale_of(tmp_path, [10.0, 50.0, 80.0])
    for points, place in ((0.0, 1), (10.0, 1), (49.9, 1), (50.0, 2), (80.0, 3), (100.0, 3)):
        level = scale.levels[place - 1]
        assert scale.propose(points) == level and scale.propose_place(points) == (level.key, place)
    assert scale.place(" WORD C ") == 3 and scale.level("c").title == "c word c"
    assert load_scale("learner-centred").levels[0].title == "Describe"


def test_levels_that_a_learner_grades_by_start_at_points_where_the_five_grades_do() -> None:
    """Both stand beside each other on one sheet: nobody gets "practise" by points that are not adequate."""
    five = {level.label: level.points_from for level in load_scale("evidence-1-5").levels}
    four = {level.label: level.points_from for level in load_scale("learner-centred").levels}
    assert four == {
        "Describe": five["unsafe"],
        "Explain": five["minimally acceptable"],
        "Practise": five["adequate"],
        "Perform": five["effective"],
    }
    assert load_scale("learner-centred").asked_points == five["effective"]


def test_the_scales_that_are_offered_are_those_named_or_else_the_houses(tmp_path: Path) -> None:
    scale_of(tmp_path, [0.0, 50.0])
    own = str(tmp_path / "own.toml")
    assert [scale.key for scale in load_scales([own, "evidence-1-5"])] == ["own", "evidence-1-5"]
    assert {scale.key for scale in load_scales([])} == {"evidence-1-5", "learner-centred"}
    with pytest.raises(SettingsError, match="two grade scales have the key 'own'"):
        load_scales([own, own])


# Items and levels


def test_which_items_the_first_circuit_is_excused_and_which_sections_are_printed() -> None:
    """The first circuit measures the wind: what the wind moves is excused there. Paper shows no list twice."""
    assert {key for key, item in ITEMS.items() if item.measures_wind} == {
        "timing",
        "wind_correction",
        "track",
    }
    assert {one.key for one in SECTIONS if not one.printed} == {"findings", "grade_sheet", "sources"}
    later = item_of("late_call")
    assert (later.title, later.short, later.decimals, later.weight) == ("Late call", "Late call", 1, None)
    assert item_of("timing") is ITEMS["timing"]


def test_what_is_shown_to_a_tenth_is_bank_steadiness_and_track() -> None:
    """A degree of bank or of track is much against tolerances of 3° and 5°; a second, a foot or a knot is not."""
    assert {key for key, item in ITEMS.items() if item.decimals == 1} == {"bank", "steadiness", "track"}
    assert {item.decimals for item in ITEMS.values()} == {0, 1}


@pytest.mark.parametrize(
    ("altitude_ft", "kias"),
    [(float("nan"), 100.0), (0.0, 100.0), (1000.0, 100.0), (1001.0, 120.0), (2000.0, 120.0), (2001.0, 90.0)],
)
def test_a_speed_table_is_read_up_to_and_including_each_level_and_low_where_none_is_known(
    altitude_ft: float, kias: float
) -> None:
    icao, said = load_regime("icao"), {"source": "made up", "standing": "common practice"}
    rows = (
        SpeedLimit(kias=100.0, up_to_altitude_ft=1000.0, **said),  # type: ignore[arg-type]
        SpeedLimit(kias=120.0, above_altitude_ft=1000.0, up_to_altitude_ft=2000.0, **said),  # type: ignore[arg-type]
        SpeedLimit(kias=90.0, above_altitude_ft=2000.0, **said),  # type: ignore[arg-type]
    )
    assert replace(icao, speeds=rows).speed_limit_kias(altitude_ft) == kias


# What a file may not say


class Aliased(BaseModel):
    """A model of pydantic's, as hold files are read by."""

    model_config = ConfigDict(extra="forbid", strict=True)
    from_nm: float = Field(alias="from")


@dataclass(frozen=True)
class Bounded:
    """A shape with rules of its own, in one place told to pydantic by a default and in one by the class."""

    count: int = Field(default=3, gt=2)
    word: Literal["one", "two"] = "one"


@dataclass(frozen=True)
class Plain:
    """A shape without any."""

    word: str
    pair: tuple[int, float] = (1, 2.0)


@dataclass(frozen=True)
class Counting:
    """A shape that keeps something for itself."""

    word: str
    letters: int = field(init=False, default=0)


def test_a_plain_shape_is_filled_without_the_library_that_explains_mistakes_and_no_other() -> None:
    assert filled(Plain, {"word": "a", "pair": [3, 4]}) == Plain("a", (3, 4.0))
    for shape, data in (
        (Plain, {"word": "a", "pair": [3]}),
        (Plain, {"word": "a", "pair": [3, 4, 5]}),
        (Plain, {"word": "a", "pair": {"0": 3}}),
        (Plain, {}),
        (Plain, {"word": "a", "letters": 1}),
        (Counting, {"word": "a"}),
        (Bounded, {"count": 3}),
        (Aliased, {"from": 2.0}),
    ):
        with pytest.raises(UnfitError):
            filled(shape, data)


def test_shapes_with_rules_of_their_own_are_held_to_them() -> None:
    def filled_in(shape: type[Any], **data: Any) -> Any:
        return fill(shape, data, file="own.toml", error=SettingsError)

    assert filled_in(Aliased, **{"from": 2}).from_nm == 2.0
    with pytest.raises(SettingsError, match="'form': no such key, did you mean 'from'"):
        filled_in(Aliased, **{"from": 2.0, "form": 1.0})
    with pytest.raises(SettingsError, match="'from': is missing"):
        filled_in(Aliased)
    assert filled_in(Bounded, count=3).count == 3
    for wrong in ({"count": 2}, {"count": 3.0}, {"count": True}, {"word": "three"}, {"word": 1}):
        with pytest.raises(SettingsError, match=f"key '{next(iter(wrong))}': must be"):
            filled_in(Bounded, **wrong)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("advice.at_most", 2.5),
        ("advice.at_most", True),
        ("advice.least_nm", "0.1"),
        ("advice.least_nm", [0.1]),
        ("below_standard.excuse_measuring_circuit", 1),
        ("below_standard", [1.0]),
        ("grade.steps", {"grade": 1}),
        ("grade.steps.0", 5),
        ("points.knots.0", [0.0]),
        ("points.knots.0", 0.0),
        ("slow_down.severity", "worst"),
        ("points.standing", "guessed"),
        ("key", None),
        ("points", None),
    ],
)
def test_another_type_or_word_is_refused_with_its_key(tmp_path: Path, path: str, value: Any) -> None:
    with pytest.raises(SettingsError, match=f"'{path}"):
        scored_by(tmp_path, path, value)


def test_a_whole_number_may_stand_for_a_length_and_every_mistake_is_told(tmp_path: Path) -> None:
    whole = scored_by(tmp_path, "advice.least_nm", 1).advice
    assert isinstance(whole, AdviceLimits) and whole.least_nm == 1.0
    data = changed("scoring.toml", "advice.most_lft", 0.5)
    data["bank"]["tolerance_deg"] = "five"
    with pytest.raises(SettingsError) as caught:
        load_scoring(written(tmp_path, data))
    said = str(caught.value)
    assert "'advice.most_lft': no such key, did you mean 'most_left'" in said
    assert "'bank.tolerance_deg': must be" in said and "'five'" in said
