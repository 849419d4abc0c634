"""Planted faults are judged as an examiner would: points, grade and what is said first."""

import pytest

from tests.examiner import examine
from tests.planted.single_laps import PLANTED
from tests.planted.table import TABLE

#: One of each kind of danger, and flights with nothing wrong: held at every run, the whole table in the full check.
ALWAYS = (
    "1,000 ft low throughout",
    "left-hand in a right-hand hold",
    "305 KIAS, limit 230",
    "outbound five times too long",
    "offset entry turned away",
    "45° of bank",
    "outbound turn 40 s late, every lap",
    "nothing, parallel entry",
    "everything wrong",
    "wrong side and everything else",
    "climbed as cleared",
    "no drift in 35 kt",
)


def _id(planted):
    return f"{planted.name} ({planted.scene.rules}, {'right' if planted.scene.side > 0 else 'left'})"


@pytest.mark.parametrize("planted", [one for one in PLANTED if one.name in ALWAYS], ids=_id)
def test_what_is_planted_is_judged_as_an_examiner_would(planted):
    assert examine(planted).wrong == []


@pytest.mark.parametrize("planted", [one for one in PLANTED if one.name not in ALWAYS], ids=_id)
def test_the_rest_of_the_table_is_too(planted):
    assert examine(planted).wrong == []


def test_the_table_has_forty_faults_under_both_rules_and_both_hands():
    faults = [one for one in TABLE if one.severity != "good"]
    assert len(faults) >= 40
    assert {(one.scene.rules, one.scene.side) for one in faults} == {
        ("icao", 1), ("icao", -1), ("faa", 1), ("faa", -1)
    }  # fmt: skip
