"""Progress: the weakness planted in each pilot of the imaginary club is found, and the page says so."""

from __future__ import annotations

import random
import re
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyser.errors import UsageError
from analyser.holds.entries import sectors_allowed
from analyser.holds.holdfile import read_hold
from analyser.logbook.book import Logbook
from analyser.logbook.classes import compare, readiness
from analyser.logbook.documents import logged_holds
from analyser.logbook.marks import ITEMS, by_item, wind_share
from analyser.logbook.practise import made_to_measure, plan_for
from analyser.logbook.progress import Progress, _noise, progress_of
from analyser.logbook.sessions import Given, Session, Trace
from analyser.logbook.standard import recency
from analyser.logbook.trend import WindCost
from analyser.pages.compare import compare_page
from analyser.pages.pilot_pages import _cost_words, progress_page, record_page, summary
from analyser.pages.progress_charts import trend_words
from analyser.pages.progress_files import file_stem, why_words, write_progress
from analyser.rules.scales import load_scale
from tests.club.build import FIRST_DAY, fill, filled_club
from tests.club.build import sessions as club_sessions
from tests.club.people import PILOTS
from tests.club.session import make_session
from tests.logbook_documents import document

SCALE = load_scale()
DAY = date(2026, 3, 10)


def _club(tmp: Path, seed: int) -> list[Session]:
    with Logbook.open(tmp / f"club-{seed}.sqlite") as book:
        fill(book, seed)
        return book.sessions()


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Session]]:
    with Logbook.open(filled_club(tmp_path_factory.mktemp("club") / "club.sqlite")) as book:
        yield book.sessions()


def of(pilot: str, sessions: list[Session]) -> Progress:
    return progress_of(pilot, sessions, scale=SCALE, on=DAY)


def test_the_club_is_as_large_as_the_story_says(club: list[Session]) -> None:
    assert len(club) >= 40 and len({one.pilot for one in club}) == 3
    assert {one.instructor for one in club} == {"Ines Tarrow"}
    days = [one.when for one in club]
    assert timedelta(weeks=7) < max(days) - min(days) <= timedelta(weeks=8)


@pytest.mark.parametrize("pilot", PILOTS, ids=lambda one: one.name)
def test_the_planted_weakness_is_found_and_trained(pilot, club: list[Session]) -> None:  # type: ignore[no-untyped-def]
    found = of(pilot.name, club)
    assert found.weakest is not None and found.weakest.item.key == pilot.weakness
    assert found.close == (), "the planted weakness stands clear of everything else"
    assert found.exercise is not None and found.exercise.plan.item == pilot.weakness
    page = progress_page(found)
    title = found.weakest.item.title.lower()
    assert f"Work on {title}" in page and found.exercise.plan.title in page


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1, 9))
def test_the_weakness_is_found_whatever_the_dice(seed: int, tmp_path: Path) -> None:
    """Eight other clubs of the same people: the finding does not hang on one seed."""
    sessions = _club(tmp_path, seed)
    for pilot in PILOTS:
        found = of(pilot.name, sessions)
        assert found.weakest is not None and found.weakest.item.key == pilot.weakness, pilot.name


def test_what_is_learnt_is_seen_and_growing_wind_is_not_held_against_anybody(club: list[Session]) -> None:
    # Form that drifts would have moved her other items too.
    track = next(one for one in of("Alma Brook", club).items if one.item.key == "track")
    assert track.trend is not None and track.trend.slope.per_week > 2.0 and track.moved > 20.0
    assert track.trend.seen_beside
    assert re.fullmatch(
        r"Getting better: about [\d.]+ points a week; beside the pilot's other items it rises by [\d.]+ to [\d.]+ "
        r"a week, most likely\.",
        trend_words(track),
    )
    windy = of("Bruno Falk", club)
    fallen = 0
    for one in windy.items:
        assert one.trend is None or one.trend.verdict != "worse", one.item.key
        weeks = [(mark.when - one.marks[0].when).days / 7.0 for mark in one.marks]
        fallen += np.polyfit(weeks, [mark.points for mark in one.marks], 1)[0] < -0.3
    assert fallen >= 2, "the story's growing wind must cost raw points, or this test shows nothing"


def test_points_are_raised_in_more_wind_and_lowered_in_less(club: list[Session]) -> None:
    flown = of("Bruno Falk", club)
    seen = 0
    for one in flown.items:
        for mark, allowed in zip(one.marks, one.allowed, strict=True):
            if one.cost.per_share and mark.wind_share is not None and 0 < allowed < 100:
                more = mark.wind_share - flown.reference_share
                assert np.sign(allowed - mark.points) == np.sign(round(more, 9))
                seen += 1
    assert seen > 50


def test_wind_difficulty_is_the_share_of_the_airspeed() -> None:
    made = document()
    hold = made["holds"][0]
    assert wind_share(logged_holds(made)) == pytest.approx(hold["wind"]["speed_kt"] / hold["tas_kt"])
    hold["wind"]["speed_kt"] = None
    assert wind_share(logged_holds(made)) is None


def test_items_that_were_not_judged_are_left_out_not_nought(tmp_path: Path) -> None:
    made = document()
    for circuit in made["holds"][0]["circuits"]:
        circuit["scores"]["speed"] |= {"points": None, "value": None, "verdict": "not judged"}
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(made, pilot="Ada Vane")
        assert "speed" not in by_item(book.sessions())


def test_streaks_are_counted_by_circuit(tmp_path: Path) -> None:
    verdicts = [["within", "outside", "within"], ["within", "within"], ["within", "outside"]]
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        for day, row in enumerate(verdicts):
            made = document(day)
            circuits = made["holds"][0]["circuits"]
            made["holds"][0]["circuits"] = [circuits[0] | {"scores": _bank(said)} for said in row]
            book.record(made, pilot="Ada Vane", flown=datetime(2026, 1, 1 + day, tzinfo=UTC))
        (streak,) = [one for one in of("Ada Vane", book.sessions()).streaks if one.item.key == "bank"]
    assert (streak.circuits, streak.first.day, streak.last.day, streak.running) == (4, 1, 3, False)


def _bank(said: str) -> dict[str, object]:
    return {"bank": {"points": 80.0, "value": 17.0, "target": 17.0, "tolerance": 5.0, "verdict": said}}


@pytest.mark.parametrize("item", [one.key for one in ITEMS])
@pytest.mark.parametrize("turns", ["right", "left"])
def test_every_item_has_an_exercise_that_can_be_flown(item: str, turns: str, tmp_path: Path) -> None:
    name = 'Nasty "quote" \\ \x07 name'
    flown = replace(logged_holds(document())[0], turns=turns, name=name)
    plan = plan_for(item)
    assert plan is not None
    for hard in (False, True):
        exercise = made_to_measure(plan, flown, hard=hard)
        assert exercise is not None and exercise.briefing is not None
        # The hold file is read back by the reader of hold files, and the heading lies in the sector asked for.
        path = tmp_path / "exercise.toml"
        path.write_text(exercise.hold_file(), encoding="utf-8")
        back = read_hold(path, datetime(2026, 3, 1, tzinfo=UTC))
        assert back.name == name and back.turns == turns
        assert back.inbound_course_true_deg == pytest.approx(exercise.hold.inbound_course_true_deg, abs=0.05)
        assert back.reported_wind == (exercise.wind_from_true_deg or 360.0, exercise.wind_speed_kt)
        heading = exercise.arrival_heading_true_deg
        assert sectors_allowed(heading, back.inbound_course_true_deg, turns) == (plan.entry,)  # type: ignore[arg-type]
        # From the holding side means from the right in a right-hand hold.
        off = (exercise.wind_from_true_deg - back.inbound_course_true_deg + 180.0) % 360.0 - 180.0
        assert off * (1 if turns == "right" else -1) == pytest.approx(plan.wind_off_course_deg, abs=2.6)


def test_an_exercise_needs_a_hold_that_is_known() -> None:
    plan = plan_for("timing")
    assert plan is not None
    for missing in ("fix", "inbound_course_true", "turns", "tas_kt"):
        made = document()
        made["holds"][0][missing] = None
        assert made_to_measure(plan, logged_holds(made)[0], hard=True) is None
    assert plan_for("juggling") is None


def flown_on(days: list[date | None], tmp_path: Path) -> list[Session]:
    with Logbook.open(tmp_path / "recency.sqlite") as book:
        for mark, day in enumerate(days):
            made = document(mark)
            made["log"]["start_utc"] = None if day is None else f"{day}T12:00:00Z"
            book.record(made, pilot="Ada Vane")
        return book.sessions()


def test_recency_counts_the_six_calendar_months_before_the_month(tmp_path: Path) -> None:
    """14 CFR 61.57(c)(1): within the six calendar months preceding the month of the flight."""
    days = [date(2025, 8, 31), date(2025, 9, 1), date(2026, 2, 28), date(2026, 3, 1), None]
    found = recency(flown_on(days, tmp_path), date(2026, 3, 10))
    assert (found.first_day, found.last_day) == (date(2025, 9, 1), date(2026, 2, 28))
    assert found.counted == 2 and found.undated == 1 and found.met
    # A hold of 1 March 2026 lies within the six months before any month up to September.
    assert found.latest == date(2026, 3, 1) and found.through == date(2026, 9, 30)


@pytest.mark.parametrize(
    ("flown", "through"), [((2026, 8, 15), (2027, 2, 28)), ((2027, 8, 1), (2028, 2, 29))]
)
def test_recency_ends_with_a_month(
    flown: tuple[int, int, int], through: tuple[int, int, int], tmp_path: Path
) -> None:
    found = recency(flown_on([date(*flown)], tmp_path), date(*flown))
    assert found.through == date(*through) and not found.met


def test_a_hold_in_the_month_of_the_flight_is_not_said_to_count_and_not_to_count(tmp_path: Path) -> None:
    """The rule's words: within the six calendar months preceding the month of the flight."""
    sessions = flown_on([date(2026, 3, 3)], tmp_path)
    progress = progress_of("Ada Vane", sessions, scale=load_scale(), on=date(2026, 3, 10))
    page = " ".join(record_page(progress, sessions, []).split())
    assert "The holding part is not met by what is in this logbook." in page
    assert (
        "lies in the month of the flight, which the rule's words leave out; it counts for flights from the"
        in page
    )
    assert "up to 2026-09-30" in page and "keeps counting" not in page
    later = progress_of("Ada Vane", sessions, scale=load_scale(), on=date(2026, 4, 10))
    page = " ".join(record_page(later, sessions, []).split())
    assert "is met by what" in page and "keeps counting for flights up to 2026-09-30" in page
    assert "Ada Vane, date" in page, "the sheet to be signed says whose it is, also on a page of its own"


def test_a_broken_off_circuit_is_no_hold_for_recency(tmp_path: Path) -> None:
    made = document()
    for circuit in made["holds"][0]["circuits"]:
        circuit["complete"] = False
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(made, pilot="Ada Vane")
        assert recency(book.sessions(), date(2026, 4, 1)).latest is None


def test_the_page_is_whole_in_itself_and_careful(club: list[Session]) -> None:
    page = progress_page(of("Bruno Falk", club))
    assert "<script" not in page and not re.search(r"(src|href)=\"(?!#|data:)", page)
    for caution in (
        "Training aid",
        "not for navigation",
        "obstacle clearance",
        "AIP",
        "qualified instructor",
    ):
        assert caution in page
    assert "Logging is the pilot" in page and "61.57" in page
    assert "wind allowed for" in page and "give or take" in page
    assert page == progress_page(of("Bruno Falk", club)), "the same logbook gives the same bytes"


def test_one_session_is_enough_for_a_page_and_for_no_trend(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(document(), pilot="Ada Vane")
        found = of("Ada Vane", book.sessions())
    assert all(one.trend is None for one in found.items)
    assert "Judged in 1 session: too few to tell a change yet." in progress_page(found)


def test_entries_are_counted_and_come_among_the_items(tmp_path: Path) -> None:
    """Six sessions, the first two entries wrong: 4 of 6 in all and lately, and of points the share that was right."""
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        for mark in range(6):
            made = document(mark)
            made["log"]["start_utc"] = f"2026-03-{10 + mark}T10:00:00Z"
            made["holds"][0]["entry"]["verdict"] = "incorrect" if mark < 2 else "correct"
            book.record(made, pilot="Ada Vane")
        found = of("Ada Vane", book.sessions())
    entry = next(one for one in found.items if one.item.key == "entry")
    assert entry.count is not None and entry.trend is None
    assert (entry.count.right, entry.count.of, entry.count.lately_right, entry.count.lately_of) == (
        4,
        6,
        4,
        6,
    )
    assert entry.now.points == pytest.approx(100.0 * 4 / 6)
    assert [mark.points for mark in entry.marks] == [0.0, 0.0, 100.0, 100.0, 100.0, 100.0]
    page = " ".join(progress_page(found).split())
    assert "4 of 6 right" in page and "of 6 in all" not in page


def test_sessions_of_one_day_tell_no_change_and_are_not_called_too_few(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        for mark in range(6):
            made = document(mark)
            made["log"]["start_utc"] = None
            book.record(made, pilot="Ada Vane")
        found = of("Ada Vane", book.sessions())
    page = " ".join(progress_page(found).split())
    assert "the sessions lie on one day, or have no dates" in page and "too few to tell" not in page
    assert "6 sessions</span> <span>no dates</span>" in page


def test_a_logbook_without_holds_says_so(tmp_path: Path) -> None:
    made = document()
    made["holds"] = []
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(made, pilot="Ada Vane")
        found = of("Ada Vane", book.sessions())
    assert summary(found) == ["No session with a judged hold is in the logbook yet."]
    assert "No session with a judged hold" in progress_page(found)


def test_text_from_logs_and_people_is_only_text(tmp_path: Path) -> None:
    evil = "<script>alert(1)</script>"
    made = document(name=f"{evil}.gpx")
    made["holds"][0]["name"] = evil
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(
            made,
            pilot=evil,
            instructor=evil,
            device=evil,
            trace=Trace([[[0.0, 0.0, 0.0], [900.0, 1.0, 1.0]]]),
        )
        sessions = book.sessions()
    written = write_progress(evil, sessions, tmp_path, scale=SCALE, on=DAY)
    assert "<script" not in written.page.read_text(encoding="utf-8")
    assert written.page.parent == tmp_path and written.hold is not None
    assert tomllib.loads(written.hold.read_text(encoding="utf-8"))["name"] == evil


def test_files_of_two_pilots_never_collide() -> None:
    names = [
        "Ada Vane",
        "Ada_Vane",
        "Ada/Vane",
        "../Ada Vane",
        "ADA VANE",
        "Ädä",
        "a" * 120,
        "a" * 119 + "b",
        "..",
        "李小龍",
    ]
    stems = [file_stem(name) for name in names]
    assert len(set(stems)) == len(names)
    for stem in stems:
        assert re.fullmatch(r"[\w-]+", stem) and len(stem) < 80


def test_a_pilot_nobody_knows_is_said_with_those_who_are(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        for one in ("Alma Brook", "Bruno Falk", "Carla Ness"):
            book.record(document(one), pilot=one)
        with pytest.raises(UsageError, match="Alma Brook, Bruno Falk, Carla Ness"):
            book.known_pilots(["Zed"])
        assert book.known_pilots(["carla NESS", "Bruno Falk"]) == ["Carla Ness", "Bruno Falk"]


def test_the_club_is_the_same_every_time() -> None:
    one, other = ([made.document for made in club_sessions()] for _ in range(2))
    assert one == other


def test_a_cost_of_nothing_is_said_in_words() -> None:
    """ "0 points, give or take 0" would tell of a certainty that nobody has."""
    said = {
        per: _cost_words(SimpleNamespace(cost=WindCost(per, sd))) for per, sd in ((0.0, 0.0), (-0.5, 0.2))
    }  # type: ignore[arg-type]
    assert said == {0.0: "no wind allowed for", -0.5: "no cost to be seen"}
    told = _cost_words(SimpleNamespace(cost=WindCost(-60.0, 50.0)))  # type: ignore[arg-type]
    assert told.endswith("6 points for each tenth of the airspeed, give or take 10")


def test_good_points_do_not_hide_a_low_grade_or_a_capped_hold(tmp_path: Path) -> None:
    """Three sources beside each other: items by points, whole holds (capped by what was unsafe), an instructor."""
    made = document()
    (hold,) = made["holds"]
    hold["points"] = 59.0
    hold["entry"] |= {"verdict": "correct", "points": 100.0}
    for circuit in hold["circuits"]:
        for score in circuit["scores"].values():
            score |= {"points": 95.0, "verdict": "within"}
    given = [Given(1, "altitude", "instructor", "Ilja Moor", "2", "3", "ballooned")]
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        key = book.record(made, pilot="Ada Vane").session
        assert not any("below" in one for one in summary(of("Ada Vane", book.sessions()))[2:])
        book.grade(key, given, scale=SCALE)
        said = summary(of("Ada Vane", book.sessions()))
    assert said[0].startswith("By the points every item is at the grade asked for; the lowest is")
    assert said[1] == "The holds as a whole are below it: 59 points."
    assert said[2] == "An instructor's last grade is below what was asked for: altitude."


def test_one_session_is_no_certainty_and_two_that_differ_much_are_known_only_roughly(tmp_path: Path) -> None:
    """Sessions differ by some eight points where nobody's own tell it; "give or take 120" would tell nothing."""
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        for mark, points in enumerate((95.0, 20.0)):
            made = document(mark)
            for circuit in made["holds"][0]["circuits"]:
                circuit["scores"]["altitude"]["points"] = points
            book.record(made, pilot="Ada Vane")
            found = of("Ada Vane", book.sessions())
            now = next(one.now for one in found.items if one.item.key == "altitude")
            page = progress_page(found)
            if mark == 0:
                assert 15.0 <= 2.0 * now.sd <= 25.0 and f"give or take {2.0 * now.sd:.0f}" in page
    assert now.sd > 25.0 and "known only roughly" in page


def test_one_session_of_one_pilot_is_told_as_that(tmp_path: Path) -> None:
    """No plural, no span of one day, no comparison of a thing with itself."""
    made, flown = document(), make_session(PILOTS[0], FIRST_DAY, 0.5, 0, random.Random(1), drawn=True)
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(made, pilot="Ada Vane", instructor="Kim Ost", trace=flown.trace)
        book.grade(made["log"]["sha256"], [Given(1, "bank", "instructor", "", "4", None, "")], scale=SCALE)
        sessions = book.sessions()
    found = of("Ada Vane", sessions)
    for text in (progress_page(found), compare_page(compare(sessions, SCALE), scale=SCALE)):
        shown = " ".join(re.sub("<[^>]+>", " ", text).split())
        assert "1 sessions" not in shown and "2026-03-14 to" not in shown and "of the last 1" not in shown
        assert "the winds differ" not in shown and "Between pilots" not in shown
        assert not re.search(r"(\d+)–\1\b", shown), "no middle half of one session"
    assert "takes 5 sessions at least" in summary(found)[-1]


def test_the_class_is_told_who_gets_worse_also_at_what_is_still_good_enough(tmp_path: Path) -> None:
    """An instructor wants to know before it falls below the points asked for."""
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(document(), pilot="Ada Vane")
        found = of("Ada Vane", book.sessions())
    worse: Any = SimpleNamespace(verdict="worse")
    items = tuple(replace(one, trend=worse) if one.item.key == "bank" else one for one in found.items)
    for asked, said in ((0.0, "getting worse: bank in the turns"), (101.0, ", getting worse")):
        progress = replace(found, items=items, asked_points=asked)
        every = replace(
            readiness(progress), below=tuple(one for one in items if one.item.key == "bank" and asked)
        )
        assert why_words(progress, every).endswith(said)


@pytest.mark.parametrize(
    ("unsafe", "below", "graded", "judged", "said"),
    [
        (0, 0, 0, True, ""),
        (0, 0, 0, False, "nothing judged yet"),
        (0, 0, 1, True, "graded below the standard: bank in the turns"),
        # What the points say stands before what was graded.
        (1, 0, 1, True, "unsafe in 1 of the latest sessions"),
        (2, 3, 0, True, "unsafe in 2 of the latest sessions; a 60; b 60; c 60"),
        (0, 5, 1, True, "a 60; b 60; c 60; 2 more items below"),
    ],
)
def test_why_a_pilot_stands_where_the_index_has_it_is_said_in_few_words(
    unsafe: int, below: int, graded: int, judged: bool, said: str
) -> None:
    items = [
        SimpleNamespace(
            item=SimpleNamespace(title=title), count=None, first_points=40.0, marks=[1], trend=None,
            now=SimpleNamespace(points=60.0, sessions=1),
        )
        for title in "ABCDE"[:below]
    ]  # fmt: skip
    progress: Any = SimpleNamespace(items=items or [SimpleNamespace(trend=None)] * judged, asked_points=70.0)
    found: Any = SimpleNamespace(unsafe=unsafe, below=items, open=[SimpleNamespace(item="bank")] * graded)
    assert why_words(progress, found) == said


def test_few_circuits_take_their_scatter_from_everybody_and_everybody_from_what_is_usual() -> None:
    """By hand: where all circuits are alike, ten differences halve 64 for everybody and that again for the pilot."""
    alike = SimpleNamespace(each=[80.0] * 11)
    single = SimpleNamespace(each=[80.0])
    scatter = _noise({"Ada Vane": {"bank": [alike]}, "Bo Lund": {"bank": [single], "speed": [single]}})
    assert scatter == {("Ada Vane", "bank"): 16.0, ("Bo Lund", "bank"): 32.0, ("Bo Lund", "speed"): 64.0}
