"""Rules filled in without pydantic are what pydantic makes of them; what does not fit is left to it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pydantic import TypeAdapter

import analyser.rules
from analyser.airspace.allowances import AirspaceRules
from analyser.errors import SettingsError
from analyser.rules.flight_test_standard import Standard
from analyser.rules.graded_items import GradedItems
from analyser.rules.regime import Regime
from analyser.rules.scales import Scale
from analyser.rules.scoring import Scoring
from analyser.rules.thumb import ThumbRules
from analyser.rules.toml_data import UnfitError, fill, filled, read_toml

HERE = Path(analyser.rules.__file__).parent
SHAPES = {
    "icao.toml": Regime,
    "faa.toml": Regime,
    "thumb.toml": ThumbRules,
    "scoring.toml": Scoring,
    "airspace.toml": AirspaceRules,
    "items.toml": GradedItems,
    **{f"standards/{path.name}": Standard for path in (HERE / "standards").glob("*.toml")},
    **{f"scales/{path.name}": Scale for path in (HERE / "scales").glob("*.toml")},
}


def test_no_file_is_forgotten():
    assert {str(path.relative_to(HERE)) for path in HERE.rglob("*.toml")} == set(SHAPES)


@pytest.mark.parametrize("name", SHAPES)
def test_both_ways_make_the_same(name):
    data = read_toml(HERE / name, error=SettingsError)
    checked = TypeAdapter(SHAPES[name]).validate_json(json.dumps(data, default=str), strict=True)
    assert filled(SHAPES[name], data) == checked


def _places(data, path=()):
    yield path
    for key, value in (
        data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    ):
        yield from _places(value, (*path, key))


def _with(data, path, value):
    if not path:
        return value
    copy = dict(data) if isinstance(data, dict) else list(data)
    copy[path[0]] = _with(copy[path[0]], path[1:], value)
    return copy


@pytest.mark.parametrize("wrong", ["60", 1, True, float("nan"), [], {}, {"nonsense": 1}, [1, "x"]])
def test_whatever_it_takes_pydantic_takes_to_the_same(wrong):
    """Each value of the rules is replaced by something else; the quick way may only take what the other takes."""
    data = read_toml(HERE / "icao.toml", error=SettingsError)
    adapter = TypeAdapter(Regime)
    taken = 0
    for path in _places(data):
        changed = _with(data, path, wrong)
        try:
            found = filled(Regime, changed)
        except UnfitError:
            continue
        taken += 1
        assert adapter.validate_json(json.dumps(changed, default=str), strict=True) == found, path
    assert taken < 200


@pytest.mark.parametrize("extra", [{"colour": 1}, None])
def test_unknown_and_missing_keys_are_still_named(extra):
    data = dict(read_toml(HERE / "icao.toml", error=SettingsError))
    key = next(iter(data)) if extra is None else "colour"
    data = {name: value for name, value in data.items() if name != key} if extra is None else data | extra
    with pytest.raises(SettingsError, match=key):
        fill(Regime, data, file="mine.toml", error=SettingsError)
