"""Small rules of the logbook, each from both sides: forms of an export, holds that there are, words of an exercise."""

from __future__ import annotations

import io
import json
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogbookError, UsageError
from analyser.logbook.book import Logbook
from analyser.logbook.documents import logged_holds
from analyser.logbook.leaning import ALL_ITEMS, Leaning, leanings
from analyser.logbook.practise import made_to_measure, plan_for
from analyser.logbook.progress import learn
from analyser.logbook.record import fingerprint
from analyser.logbook.sheet import TypedSheet, is_sheet
from analyser.logbook.trace import relation
from analyser.logbook.trend import UNKNOWN_COST, Series, fit_forms
from analyser.rules.scales import load_scale
from tests.club import term
from tests.logbook_documents import document
from tests.test_logbook_book import one_grade
from tests.test_logbook_leaning import _graded
from tests.test_logbook_same_flight import at, flight

SCALE = load_scale("evidence-1-5")


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Logbook]:
    """A logbook of one session, debriefed by three sets of rules one after the other."""
    with Logbook.open(tmp_path_factory.mktemp("small") / "logbook.sqlite") as opened:
        for rules in ("first", "second", "third"):
            opened.record(document(), pilot="Ada Vane", instructor="Ilja Moor", rules=rules)
        yield opened


def exported(book: Logbook, form: int) -> list[str]:
    written = io.StringIO()
    book.export(written)
    _, *rest = written.getvalue().splitlines(keepends=True)
    return [json.dumps({"kind": "holding logbook", "form": form}) + "\n", *rest]


@pytest.mark.parametrize("form", [1, 2])
def test_exports_of_both_forms_are_read_with_every_debrief_in_its_order(
    book: Logbook, tmp_path: Path, form: int
) -> None:
    with Logbook.open(tmp_path / "there.sqlite") as there:
        taken = there.import_(exported(book, form))
        session = there.session("last")
    assert (taken.new, taken.faults) == (1, ())
    assert [one.rules_version for one in session.earlier] == ["first", "second"]
    assert session.debrief.rules_version == "third"


@pytest.mark.parametrize("form", [0, 3])
def test_an_export_of_another_form_is_refused(book: Logbook, tmp_path: Path, form: int) -> None:
    with Logbook.open(tmp_path / "there.sqlite") as there, pytest.raises(LogbookError, match="its form is"):
        there.import_(exported(book, form))


@pytest.mark.parametrize("hold", [0, 2])
def test_a_hold_that_a_session_does_not_have_is_neither_graded_nor_asked_about(
    book: Logbook, hold: int
) -> None:
    session = book.session("last")
    with pytest.raises(UsageError, match="has 1 hold"):
        book.grade(session.key, [replace(one_grade("altitude", "3"), hold=hold)], scale=SCALE)
    with pytest.raises(UsageError, match="has 1 hold"):
        TypedSheet(session, hold, "evidence-1-5", None, "")
    assert book.session("last").grades == ()


def test_a_log_that_was_renamed_says_the_same_and_another_flight_does_not() -> None:
    one, renamed, other = document(), document(), document()
    renamed["log"]["name"] = "another name.gpx"
    other["log"]["duration_s"] = 1.0
    assert fingerprint(one) == fingerprint(renamed) != fingerprint(other)


def test_a_file_called_like_a_sheet_that_cannot_be_read_is_not_passed_over(tmp_path: Path) -> None:
    for name, counts in (("flight-hold-1-grades.json", True), ("notes.json", False)):
        (tmp_path / name).write_text("{")
        assert is_sheet(tmp_path / name) == counts


@pytest.mark.parametrize(
    ("leg", "said"),
    [
        ({"leg_minutes": None, "leg_distance_nm": 4.04}, {"distance_nm": 4.0}),
        ({"leg_minutes": 1.5, "leg_distance_nm": None}, {"minutes": 1.5}),
    ],
)
def test_an_exercise_keeps_the_place_to_a_metre_and_the_leg_as_it_was_flown(
    leg: dict[str, float | None], said: dict[str, float]
) -> None:
    plan = plan_for("bank")
    assert plan is not None
    flown = replace(logged_holds(document())[0], fix_lat_deg=47.123456789, fix_lon_deg=-8.000004, **leg)
    made = made_to_measure(plan, flown, hard=False)
    assert made is not None
    file = tomllib.loads(made.hold_file())
    assert file["fix"] == {"lat": 47.12346, "lon": -8.0} and file["leg"] == said


def test_what_a_recording_is_beside_another_depends_on_which_is_longer() -> None:
    whole, part = flight(900.0), flight(600.0)
    assert relation(whole, at(0), part, at(0)) == "longer"
    assert relation(part, at(0), whole, at(0)) == "shorter"
    assert relation(whole, at(0), whole, at(0)) == "same"
    # Two receivers are never begun and ended at the same second.
    assert relation(flight(904.0), at(0), whole, at(0)) == "same"
    assert relation(flight(908.0, step_s=2.0), at(0), whole, at(0)) == "longer"
    assert relation(whole, at(0), whole, None) is None


def test_where_no_wind_is_known_points_are_stated_for_an_ordinary_one(tmp_path: Path) -> None:
    made = document()
    for hold in made["holds"]:
        hold["wind"] = {}
    with Logbook.open(tmp_path / "windless.sqlite") as there:
        there.record(made, pilot="Ada Vane")
        known = learn(there.sessions())
    # Common practice: ten to twenty knots at training speeds.
    assert 10.0 / 150.0 <= known.reference_share <= 20.0 / 100.0


def test_neighbours_of_a_form_that_walks_are_alike_as_those_of_a_random_walk() -> None:
    """Two places of a random walk, after i and i + 1 steps, correlate as √(i / (i + 1)); textbook."""
    weeks = np.arange(6.0)
    points = np.array([60.0, 63.0, 58.0, 66.0, 61.0, 64.0])
    fits = fit_forms(
        Series(weeks, points, np.full(6, 0.1), np.full(6, 1.0)), UNKNOWN_COST, reference_share=0.1
    )
    assert (fits.neighbours >= 0.0).all() and (fits.neighbours < 1.0).all()
    after = np.arange(1.0, 6.0)
    # The last kind walks so far that the noise of the circuits hardly counts.
    assert fits.neighbours[-1] == pytest.approx(float(np.mean(np.sqrt(after / (after + 1.0)))), abs=0.02)


def test_a_lean_is_known_less_well_where_whole_evenings_differ() -> None:
    """The same grades, a step up or down: mixed in each session, and a session all up or all down."""
    model = term.sessions(class_of=term.members()[:1])[0]
    items = ("timing", "bank", "track", "speed")

    def leaning(steps: list[tuple[int, ...]]) -> Leaning:
        rows = [
            [(item, 3 + step, 65.0, ("3", 3)) for item, step in zip(items, each, strict=True)]
            for each in steps
        ]
        sessions = [_graded(model, number, row) for number, row in enumerate(rows)]
        return next(one for one in leanings(sessions, SCALE) if one.item == ALL_ITEMS)

    mixed, moods = leaning([(1, -1, 1, -1)] * 10), leaning([(1,) * 4, (-1,) * 4] * 5)
    assert (mixed.higher, mixed.lower) == (moods.higher, moods.lower) == (20, 20)
    assert mixed.lean == pytest.approx(moods.lean, abs=1e-6)
    assert (
        mixed.low is not None and mixed.high is not None and moods.low is not None and moods.high is not None
    )
    assert moods.high - moods.low > 1.5 * (mixed.high - mixed.low)
