"""What a pilot's page says first, sentence by sentence: where the pilot stands, what changes, what is not known."""

from __future__ import annotations

import dataclasses
import math
import re
from datetime import UTC, date, datetime
from types import SimpleNamespace
from typing import Any

import pytest

from analyser.logbook.progress import Streak, progress_of
from analyser.pages.pilot_pages import (
    _cost_words,
    _days_words,
    _hold_words,
    _overlay,
    _wind_words,
    progress_page,
    summary,
)
from analyser.rules.graded_items import item_of
from analyser.rules.scales import load_scale
from tests.test_logbook_orders import pilot_with


def item(
    key: str, points: float, verdict: str = "", *, sessions: int = 3, sd: float = 3.0, moved: float = 0.0
) -> Any:
    return SimpleNamespace(
        item=item_of(key),
        now=SimpleNamespace(points=points, sd=sd, sessions=sessions),
        trend=SimpleNamespace(verdict=verdict) if verdict else None,
        count=None,
        moved=moved,
    )


def progress(*items: Any, **more: Any) -> Any:
    known: dict[str, Any] = {
        "weakest": min(items, key=lambda one: one.now.points) if items else None,
        "items": items, "overall": None, "asked_points": 70.0, "standards": (), "unsafe": (), "looked_for_unsafe": 5,
        "close": (),
    }  # fmt: skip
    return SimpleNamespace(**(known | more))


def test_the_weakest_item_is_to_be_worked_on_with_its_points_and_how_well_they_are_known() -> None:
    said = summary(progress(item("bank", 55.0, "no trend"), item("track", 80.0, "no trend")))
    assert said == [
        "Work on bank in the turns: 55 points (give or take 6) over the last 3 sessions.",
        "No change in any item can be told from the ups and downs yet.",
    ]
    once = summary(progress(item("bank", 55.0, sessions=1, sd=40.0)))
    assert once[0] == "Work on bank in the turns: 55 points (known only roughly) in the latest session."
    assert once[-1] == "To tell a change takes 5 sessions at least, on more than one day."
    assert summary(progress()) == ["No session with a judged hold is in the logbook yet."]


def test_where_all_is_good_enough_the_lowest_is_named_and_the_holds_as_a_whole() -> None:
    items = item("bank", 75.0, "no trend"), item("track", 90.0, "no trend")
    good = summary(progress(*items, overall=item("overall", 72.0, "no trend")))
    assert good[0] == (
        "By the points every item is at the grade asked for; the lowest is bank in the turns, 75 points "
        "(give or take 6) over the last 3 sessions."
    )
    assert len(good) == 2
    low = summary(progress(*items, overall=item("overall", 64.0, "no trend")))
    assert low[1] == "The holds as a whole are below it: 64 points."


def test_what_gets_better_and_what_gets_worse_is_named() -> None:
    items = item("bank", 55.0, "better"), item("track", 60.0, "worse"), item("speed", 80.0, "worse")
    said = summary(progress(*items, overall=item("overall", 64.0, "better")))
    assert "Getting better: bank in the turns, the holds overall." in said
    assert "Getting worse, the wind allowed for: inbound track, speed." in said
    assert not [one for one in said if one.startswith(("No change", "To tell a change", "Not as at first"))]
    moved = summary(progress(item("bank", 55.0, "no trend", moved=-12.0), item("track", 60.0, "no trend")))
    assert moved[-1] == (
        "Not as at first: bank in the turns. Whether that lasts or form only drifts cannot be told yet."
    )


def test_something_unsafe_is_said_first_and_an_instructors_grade_before_the_trend() -> None:
    unsafe = ((SimpleNamespace(when=datetime(2026, 5, 4, tzinfo=UTC)), ("low",)),) * 2
    standards = (
        SimpleNamespace(item="track", graded=True, open=True),
        SimpleNamespace(item="bank", graded=True, open=False),
        SimpleNamespace(item="speed", graded=False, open=True),
    )
    close = (item("track", 56.0),)
    said = summary(progress(item("bank", 55.0, "no trend"), unsafe=unsafe, standards=standards, close=close))
    assert said[0] == "Something was unsafe in 2 of 5 sessions, the last time on 2026-05-04."
    assert said[2] == "An instructor's last grade is below what was asked for: inbound track."
    assert said[3] == (
        "Whether bank in the turns is the weakest is not sure: the scatter does not tell it from inbound track."
    )


@pytest.mark.parametrize(
    ("per_share", "sd", "said"),
    [
        (0.0, 0.0, "no wind allowed for"),
        (-42.0, 11.0, "−4 points for each tenth of the airspeed, give or take 2"),
        (2.0, 1.0, "no cost to be seen"),
        (2.0, 9.0, "0 points for each tenth of the airspeed, give or take 2"),
    ],
)
def test_what_the_wind_costs_is_said_for_a_tenth_of_the_airspeed(
    per_share: float, sd: float, said: str
) -> None:
    one: Any = SimpleNamespace(cost=SimpleNamespace(per_share=per_share, sd=sd))
    assert _cost_words(one).replace("+0", "0") == said


def hold(**more: Any) -> Any:
    known: dict[str, Any] = {
        "wind_from_true_deg": 239.7, "wind_speed_kt": 14.6, "circuits": (1, 2), "points": 71.6,
        "entry_verdict": "correct", "entry_flown": "offset", "name": "", "number": 3,
    }  # fmt: skip
    return SimpleNamespace(**(known | more))


def test_a_hold_is_said_with_its_circuits_points_and_entry() -> None:
    assert _hold_words(hold()) == "Hold 3: 2 circuits, 72 points, offset entry right"
    bad = hold(name="North", circuits=(1,), points=None, entry_verdict="incorrect")
    assert _hold_words(bad) == "North: 1 circuit, not judged, offset entry wrong"
    assert _hold_words(hold(entry_verdict="not judged")) == "Hold 3: 2 circuits, 72 points"
    assert _wind_words(hold()) == "wind 240°T/15 kt"
    assert _wind_words(hold(wind_from_true_deg=0.2)) == "wind 360°T/15 kt"
    assert (
        _wind_words(hold(wind_speed_kt=None))
        == _wind_words(hold(wind_from_true_deg=None))
        == "wind not known"
    )


def test_days_are_said_from_the_first_to_the_last() -> None:
    def on(day: int | None) -> Any:
        return SimpleNamespace(flown=None if day is None else datetime(2026, 5, day, tzinfo=UTC))

    assert _days_words([on(9), on(None), on(4)]) == "2026-05-04 to 2026-05-09"
    assert _days_words([on(4), on(4)]) == "2026-05-04"
    assert (_days_words([on(None)]), _days_words([])) == ("no dates", "")


def session(
    day: int, *, name: str = "North", wind_kt: float = 10.0, whole: int = 2, fix_lat: float = 47.0
) -> Any:
    """Fly circuits of four minutes, a point each minute, so many of them whole."""
    circuits = [
        SimpleNamespace(complete=k < whole, start_s=240.0 * k, end_s=240.0 * (k + 1)) for k in range(2)
    ]
    path = [(60.0 * k, float(k), float(day)) for k in range(9)]
    one = hold(
        name=name, wind_speed_kt=wind_kt, circuits=circuits, inbound_course_true_deg=30.0, fix_lat_deg=fix_lat,
        fix_lon_deg=8.0, turns="right",
    )  # fmt: skip
    return SimpleNamespace(
        holds=[one], when=datetime(2026, 5, day, tzinfo=UTC), debrief=SimpleNamespace(path=lambda place: path)
    )


def test_the_first_and_the_latest_circuit_of_the_hold_flown_last_lie_over_each_other(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    drawn: list[Any] = []
    monkeypatch.setattr("analyser.pages.progress_charts.overlay", lambda *how: drawn.append(how) or "picture")
    elsewhere = session(1, name="South")
    found = _overlay([elsewhere, session(2), session(5, wind_kt=18.0)])
    assert found is not None and found["name"] == "North" and found["winds_differ"]
    first, latest, labels = drawn[0]
    # Minutes 0 to 4 of the first session's first circuit, minutes 4 to 8 of the last session's last one.
    assert [point[0] for point in first] == [0.0, 60.0, 120.0, 180.0, 240.0] and first[0][2] == 2.0
    assert [point[0] for point in latest] == [240.0, 300.0, 360.0, 420.0, 480.0] and latest[0][2] == 5.0
    assert labels == ["2026-05-02, wind 240°T/10 kt", "2026-05-05, wind 240°T/18 kt"]
    # The only whole circuit is not laid over itself; another place is another hold.
    assert _overlay([session(2, whole=1)]) is None and _overlay([session(2, whole=0)]) is None
    apart = _overlay([session(2, fix_lat=45.0), session(5)])
    assert apart is not None and drawn[-1][0][0][2] == 5.0 and not apart["winds_differ"]


def test_the_five_longest_streaks_are_told_with_their_days() -> None:
    found = progress_of("Ada Vane", pilot_with([80.0] * 3), scale=load_scale(), on=date(2026, 6, 1))
    days = datetime(2026, 5, 2, tzinfo=UTC), datetime(2026, 5, 20, tzinfo=UTC)
    keys = ("track", "bank", "altitude", "speed", "timing", "wind_correction")
    streaks = tuple(Streak(item_of(key), 20 - k, *days, k == 0) for k, key in enumerate(keys))
    page = progress_page(dataclasses.replace(found, streaks=streaks))
    told = re.findall(r"(\d+) circuits in a row within tolerance, from 2026-05-02 ([^<]+)\.<", page)
    assert told == [("20", "and not broken yet"), *((str(n), "to 2026-05-20") for n in (19, 18, 17, 16))]


@pytest.mark.parametrize("wind_kt", [10.0, 25.0])
def test_the_reference_wind_is_told_as_the_most_that_it_makes_an_aircraft_drift(wind_kt: float) -> None:
    """Across the track it drifts by the angle whose sine is the wind's share of the airspeed."""
    sessions = pilot_with([80.0] * 3)
    for one in sessions:
        for hold in one.debrief.document["holds"]:
            hold["wind"]["speed_kt"], hold["tas_kt"] = wind_kt, 100.0
    found = progress_of(sessions[0].pilot, sessions, scale=load_scale(), on=date(2026, 6, 1))
    text = re.sub(r"&nbsp;|\s+", " ", progress_page(found))
    (share, drift_deg) = re.findall(
        r"a wind of (\d+) % of the true airspeed.*?a drift of about (\d+)° at most", text
    )[0]
    assert int(share) == round(wind_kt)
    assert int(drift_deg) == pytest.approx(math.degrees(math.asin(wind_kt / 100.0)), abs=0.6)
