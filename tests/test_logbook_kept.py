"""What the logbook keeps of words, how points and winds spread, and what a database's refusals are called."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from sqlalchemy import String
from sqlalchemy.exc import OperationalError, SQLAlchemyError

from analyser.errors import LogbookError
from analyser.logbook.classes import compare
from analyser.logbook.documents import logged_holds
from analyser.logbook.engine import find_place, in_words
from analyser.logbook.tables import hold
from analyser.logbook.trend import Series, WindCost, fit_forms, forms_met, trend_of
from analyser.pages.compare import compare_page, write_table
from analyser.rules.scales import load_scale
from tests.logbook_documents import document
from tests.test_logbook_orders import pilot_with


def test_words_of_a_debrief_are_cut_to_what_a_database_keeps_of_them() -> None:
    """A database that a school shares refuses what is longer than its column."""
    made = document()
    flown = made["holds"][0]
    flown |= {"name": "n" * 1000, "rules": "r" * 1000, "grade": "g" * 1000}
    flown["entry"] |= {"flown": "f" * 1000, "verdict": "v" * 1000}
    (kept,) = logged_holds(made)
    columns = kept.columns()
    cut = {name: len(value) for name, value in columns.items() if isinstance(value, str) and len(value) > 9}
    assert set(cut) == {"name", "rules", "grade", "entry_flown", "entry_verdict"}
    for name, length in cut.items():
        kind = hold.c[name].type
        assert isinstance(kind, String) and kind.length == length, name


def test_half_of_a_pilots_sessions_lie_between_a_classs_lower_and_upper_points() -> None:
    """The quartiles of five evenly spaced values are the second and the fourth (Hyndman & Fan 1996, definition 7)."""
    (row,) = compare(pilot_with([50.0, 10.0, 30.0, 20.0, 40.0]), load_scale()).rows
    cell = row.cells["bank"]
    assert (cell.low, cell.high, cell.points) == pytest.approx((20.0, 40.0, 30.0))


@pytest.mark.parametrize(
    ("address", "origin", "said"),
    [
        (
            "postgresql://desk@host/school",
            SimpleNamespace(sqlstate=None),
            "the database server cannot be reached",
        ),
        (
            "postgresql://desk@host/school",
            SimpleNamespace(sqlstate="28P01"),
            "refused the name or the password",
        ),
        (
            "postgresql://desk@host/school",
            SimpleNamespace(sqlstate="08006"),
            "the connection to the database broke",
        ),
        ("postgresql://desk@host/school", SimpleNamespace(sqlstate="22000"), "the database said: "),
        ("postgresql://desk@host/school", None, "the database said: "),
        (
            "book.sqlite",
            SimpleNamespace(sqlite_errorname="SQLITE_IOERR_WRITE"),
            "the disk refused to read or write",
        ),
        ("book.sqlite", SimpleNamespace(sqlite_errorname="SQLITE_RANGE"), "the database said: "),
        ("book.sqlite", SimpleNamespace(), "the database said: "),
    ],
)
def test_what_a_database_refuses_is_said_by_its_own_code(address: str, origin: Any, said: str) -> None:
    fault = SQLAlchemyError("odd") if origin is None else OperationalError("select", {}, origin)
    with pytest.raises(LogbookError) as raised, in_words(find_place(address)):
        raise fault
    assert said in str(raised.value) and "\n" not in str(raised.value)


@pytest.mark.parametrize("prior", [WindCost(-60.0, 12.0), WindCost(-20.0, 3.0)])
def test_sessions_in_one_wind_tell_nothing_of_what_wind_costs(prior: WindCost) -> None:
    """What was known before is all that is known then."""
    weeks = np.arange(10.0)
    points = 60.0 + np.random.default_rng(3).normal(0.0, 5.0, 10)
    fits = fit_forms(Series(weeks, points, np.full(10, 0.1), np.full(10, 25.0)), prior, reference_share=0.1)
    cost = trend_of(fits, forms_met([]), items=1).cost
    assert cost.per_share == pytest.approx(prior.per_share, rel=1e-3)
    # A robust fit is a little less sure than one of normal noise would be.
    assert 1.0 <= cost.sd / prior.sd < 1.06


def test_what_many_winds_tell_outweighs_what_was_held_before() -> None:
    chance = np.random.default_rng(5)
    shares = chance.uniform(0.0, 0.3, 60)
    points = 80.0 - 100.0 * (shares - 0.1) + chance.normal(0.0, 2.0, 60)
    series = Series(np.linspace(0.0, 30.0, 60), points, shares, np.full(60, 4.0))
    cost = trend_of(
        fit_forms(series, WindCost(-20.0, 100.0), reference_share=0.1), forms_met([]), items=1
    ).cost
    assert cost.per_share == pytest.approx(-100.0, abs=3.0 * cost.sd) and cost.sd < 10.0


def test_a_row_of_the_classs_table_has_its_hold_and_its_measure() -> None:
    """Every measure of each circuit, and the entry, with what the debrief's own document says of the hold."""
    sessions = pilot_with([80.0, 60.0])
    text = io.StringIO()
    count = write_table(sessions, text)
    rows = list(csv.DictReader(io.StringIO(text.getvalue())))
    assert len(rows) == count > 20
    plain = {one.log_sha256: one.debrief.document["holds"][0] for one in sessions}
    for row in rows:
        hold = plain[row["log_sha256"]]
        told = {
            key: float(row[key])
            for key in ("wind_speed_kt", "wind_from_true_deg", "tas_kt", "inbound_course_true_deg")
        }
        assert told == pytest.approx(
            {"wind_speed_kt": hold["wind"]["speed_kt"], "wind_from_true_deg": hold["wind"]["from_true"],
             "tas_kt": hold["tas_kt"], "inbound_course_true_deg": hold["inbound_course_true"]}
        )  # fmt: skip
        assert (row["turns"], row["hold"], row["hold_name"]) == (hold["turns"], "1", hold["name"])
        if row["item"] == "bank":
            score = hold["circuits"][int(row["circuit"]) - 1]["scores"]["bank"]
            assert float(row["points"]) == score["points"] and row["verdict"] == score["verdict"]


def test_beside_each_flight_of_an_exercise_stands_the_wind_in_which_it_was_flown() -> None:
    one, other = pilot_with([80.0, 60.0])
    other = replace(other, pilot="Bo Lund")
    for session, speed_kt in ((one, 17.4), (other, None)):
        session.debrief.document["holds"][0]["wind"]["speed_kt"] = speed_kt
    found = compare([one, other], load_scale())
    page = re.sub(r"&nbsp;|\s+", " ", compare_page(found, scale=load_scale()))
    assert len(found.exercises[0][1]) == 2
    assert page.count("wind 17 kt") >= 1 and page.count("wind not known") >= 1
