"""Recording, reading, grading, moving, erasing: the same on SQLite and on PostgreSQL."""

from __future__ import annotations

import io
import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyser.errors import LogbookError, UsageError
from analyser.logbook.book import Logbook
from analyser.logbook.documents import logged_holds
from analyser.logbook.exchange import Prefer
from analyser.logbook.marks import item_points
from analyser.logbook.names import clean_name
from analyser.logbook.sessions import Given, Trace
from analyser.rules.scales import load_scale
from tests.logbook_documents import document
from tests.logbook_places import a_place  # noqa: F401

SCALE = load_scale("evidence-1-5")


def one_grade(
    item: str, level: str, *, given_as: str = "instructor", grader: str = "", remark: str = ""
) -> Given:
    return Given(
        hold=1,
        item=item,
        given_as="pilot" if given_as == "pilot" else "instructor",
        grader=grader,
        level=level,
        required="3",
        remark=remark,
    )


def test_a_debrief_comes_back_as_it_was_recorded(place: str) -> None:
    made = document()
    made["holds"][0]["name"] = "a\u0000b \ud800 \u202e ☂"
    trace = Trace([[[0.0, 0.001, -0.002], [4.0, 0.1, 0.2]]], [[0.0, 47.1, 8.2], [10.0, 47.2, 8.3]])
    with Logbook.open(place) as book:
        outcome = book.record(made, pilot="Ada Vane", instructor="Ilja Moor", device="trainer", trace=trace)
        back = book.session(outcome.session[:8])
    assert outcome.kind == "new"
    assert (back.pilot, back.instructor, back.device) == ("Ada Vane", "Ilja Moor", "trainer")
    assert back.flown == datetime(2026, 3, 14, 17, 5, tzinfo=UTC)
    assert back.debrief.document == made
    assert back.debrief.trace == trace
    assert back.earlier == ()


def test_the_same_log_twice_is_one_session(place: str) -> None:
    with Logbook.open(place) as book:
        first = book.record(document(), pilot="Ada Vane")
        second = book.record(document(), pilot=" ada  VANE ")
        assert (first.kind, second.kind) == ("new", "already there")
        assert len(book.sessions()) == 1
        assert book.pilots() == {"Ada Vane": 1}


def test_newer_rules_count_and_the_old_result_stays(place: str) -> None:
    old, new = document(), document()
    new["holds"][0]["points"] = 12.5
    with Logbook.open(place) as book:
        book.record(old, pilot="Ada Vane", rules="rules-1")
        outcome = book.record(new, pilot="Ada Vane", rules="rules-2")
        assert outcome.kind == "re-debriefed"
        assert "rules-2" in outcome.message and "rules-1" in outcome.message and "kept" in outcome.message
        back = book.session("last")
        assert back.debrief.document == new
        assert [kept.document for kept in back.earlier] == [old]
        assert [kept.rules_version for kept in back.earlier] == ["rules-1"]
        # Going back to the first way of judging makes that one count again, and loses neither.
        assert book.record(old, pilot="Ada Vane", rules="rules-1").kind == "already there"
        back = book.session("last")
        assert back.debrief.document == old and len(back.earlier) == 1


def test_the_same_result_of_another_program_version_is_one_more_debrief(place: str) -> None:
    with Logbook.open(place) as book:
        book.record(document(), pilot="Ada Vane", program="1.0", rules="r")
        again = book.record(document(), pilot="Ada Vane", program="2.0", rules="r")
        assert again.kind == "re-debriefed" and "2.0, before 1.0" in again.message
        assert "other rules" not in again.message
        back = book.session("last")
        assert back.debrief.program_version == "2.0"
        assert [kept.program_version for kept in back.earlier] == ["1.0"]
        assert book.record(document(), pilot="Ada Vane", program="2.0", rules="r").kind == "already there"
        assert len(book.session("last").earlier) == 1


def test_a_log_of_one_pilot_is_not_taken_for_another_quietly(place: str) -> None:
    with Logbook.open(place) as book:
        mark = book.record(document(), pilot="Ada Vane").session
        with pytest.raises(LogbookError, match="as flown by Ada Vane"):
            book.record(document(), pilot="Bo Lund")
        assert book.pilots() == {"Ada Vane": 1}
        book.corrected(by="Kim Ost").move(mark[:8], pilot="Bo Lund")
        assert book.pilots() == {"Bo Lund": 1}


def test_sessions_are_found_by_pilot_instructor_and_time(place: str) -> None:
    with Logbook.open(place) as book:
        for mark, (pilot, instructor, day) in enumerate(
            [("Ada Vane", "Ilja Moor", 3), ("Bo Lund", None, 1), ("Ada Vane", "Kim Ost", 2)]
        ):
            when = datetime(2026, 5, day, tzinfo=UTC)
            book.record(document(mark), pilot=pilot, instructor=instructor, flown=when)
        assert [one.when.day for one in book.sessions()] == [1, 2, 3]
        assert [one.when.day for one in book.sessions(pilots=["ada vane"])] == [2, 3]
        assert [one.when.day for one in book.sessions(instructor="Kim Ost")] == [2]
        assert [one.when.day for one in book.sessions(since=datetime(2026, 5, 2, tzinfo=UTC))] == [2, 3]
        assert [one.when.day for one in book.sessions(until=datetime(2026, 5, 2, tzinfo=UTC))] == [1, 2]
        with pytest.raises(UsageError, match="no session"):
            book.session("ffffffff")


def test_a_log_without_a_date_says_so(place: str) -> None:
    made = document()
    made["log"]["start_utc"] = None
    with Logbook.open(place) as book:
        book.record(made, pilot="Ada Vane")
        back = book.session("last")
        assert back.flown is None and back.flown_from == "unknown" and back.when == back.recorded
        book.corrected(by="Kim Ost").date(back.reference, datetime(2026, 3, 1, 18, tzinfo=UTC))
        dated = book.session("last")
        assert dated.flown == dated.when == datetime(2026, 3, 1, 18, tzinfo=UTC)
        assert dated.flown_from == "given"


def test_grades_are_added_and_never_written_over(place: str) -> None:
    made = document()
    points = item_points(logged_holds(made)[0])["altitude"]
    noon, soon, later = (datetime(2026, 3, 14, hour, tzinfo=UTC) for hour in (12, 13, 14))
    with Logbook.open(place) as book:
        mark = book.record(made, pilot="Ada Vane", instructor="Ilja Moor").session
        book.grade(mark, [one_grade("altitude", "4", given_as="pilot")], scale=SCALE, graded=noon)
        book.grade(mark, [one_grade("altitude", "2", remark="200 ft")], scale=SCALE, graded=soon)

        assert book.grade(mark, [one_grade("altitude", "3")], scale=SCALE, graded=later) == 1
        assert book.grade(mark, [one_grade("altitude", "3")], scale=SCALE, graded=later) == 0
        back = book.session("last")
    assert [(one.given_as, one.level, one.grader) for one in back.grades] == [
        ("pilot", "4", "Ada Vane"),
        ("instructor", "2", "Ilja Moor"),
        ("instructor", "3", "Ilja Moor"),
    ]
    assert {one.computed_points for one in back.grades} == {points}
    assert back.standing_grades()[1, "altitude", "instructor"].level == "3"
    assert back.debrief.document == made


@pytest.mark.parametrize(
    ("given_one", "says"),
    [
        (one_grade("altitude", "3", grader="Kim Ost", given_as="pilot"), "flown by Ada Vane"),
        (one_grade("altitude", "3"), "no instructor"),
        (one_grade("juggling", "3", grader="Kim Ost"), "no item 'juggling'"),
    ],
)
def test_grades_that_cannot_be_are_refused_whole(tmp_path: Path, given_one: Given, says: str) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        mark = book.record(document(), pilot="Ada Vane").session
        fair = one_grade("bank", "4", given_as="pilot")
        with pytest.raises((LogbookError, UsageError), match=says):
            book.grade(mark, [fair, given_one], scale=SCALE)
        assert book.session(mark).grades == ()


def test_export_and_import_lose_nothing(place: str, tmp_path: Path) -> None:
    changed = document(1)
    changed["holds"][0]["points"] = 1.5
    with Logbook.open(place) as book:
        book.record(document(1), pilot="Ada Vane", instructor="Ilja Moor", rules="a")
        book.record(changed, pilot="Ada Vane", rules="b", trace=None)
        book.record(document(2), pilot="Zoë Ñandú 李", device='"dev;ice"', trace=Trace([[[0.0, 1.0, 2.0]]]))
        given_two = [
            one_grade("bank", "2", grader="Kim Ost", remark="so\nso"),
            one_grade("track", "4", given_as="pilot"),
        ]
        book.grade(document(1)["log"]["sha256"], given_two, scale=SCALE)
        out = io.StringIO()
        assert book.export(out) == 2
        there = book.sessions()
    with Logbook.open(tmp_path / "copy.sqlite") as copy:
        assert copy.import_(out.getvalue().splitlines()).new == 2
        assert copy.sessions() == there
        again = io.StringIO()
        copy.export(again)
        assert copy.import_(out.getvalue().splitlines()).already_there == 2
        assert copy.sessions() == there
    assert again.getvalue() == out.getvalue()
    for line in out.getvalue().splitlines():
        json.loads(line)


def test_import_into_a_database_and_beside_what_is_there(place: str, tmp_path: Path) -> None:
    out = io.StringIO()
    with Logbook.open(tmp_path / "other.sqlite") as other:
        other.record(document(1), pilot="Ada Vane", rules="new")
        other.record(document(2), pilot="Ada Vane")
        other.export(out)
    with Logbook.open(place) as book:
        book.record(document(1), pilot="Ada Vane", rules="old")
        taken = book.import_(out.getvalue().splitlines())
        assert (taken.new, taken.extended, taken.already_there) == (1, 1, 0)
        assert [len(one.earlier) for one in book.sessions()] == [1, 0]


def exported(tmp_path: Path) -> list[str]:
    out = io.StringIO()
    with Logbook.open(tmp_path / "one.sqlite") as book:
        book.record(document(1), pilot="Ada Vane")
        book.record(document(2), pilot="Ada Vane")
        book.export(out)
    return out.getvalue().splitlines()


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda lines: ["{}"], "not a logbook export"),
        (lambda lines: [], "not a logbook export"),
        (lambda lines: ["{", ' "schema": 2', "}"], "not a logbook export.*analyser logbook export wrote"),
        (lambda lines: ['{"kind": "holding logbook", "form": 99}'], "form is 99"),
    ],
)
def test_what_is_no_export_is_refused(tmp_path: Path, spoil, says: str) -> None:  # type: ignore[no-untyped-def]
    with Logbook.open(tmp_path / "two.sqlite") as book, pytest.raises(LogbookError, match=f"(?s){says}"):
        book.import_(iter(spoil(exported(tmp_path))), name="export.jsonl")


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda lines: [*lines[:1], *lines[2:-1]], "not whole"),
        (lambda lines: [lines[0], lines[1][:50], *lines[2:]], "line 2.*not JSON"),
        (lambda lines: [lines[0], '{"log_sha256": "x"}', *lines[2:]], "line 2.*KeyError"),
        (
            lambda lines: [lines[0], lines[1].replace('"debriefs": [', '"debriefs": [7,'), *lines[2:]],
            "line 2",
        ),
        (lambda lines: [lines[0], lines[1].replace('"Ada Vane"', '""'), *lines[2:]], "line 2.*empty"),
    ],
)
def test_a_spoilt_line_is_told_and_the_rest_taken_over(tmp_path: Path, spoil, says: str) -> None:  # type: ignore[no-untyped-def]
    with Logbook.open(tmp_path / "two.sqlite") as book:
        taken = book.import_(iter(spoil(exported(tmp_path))), name="export.jsonl")
        assert taken.new == len(book.sessions()) == 1
    (fault,) = taken.faults
    assert re.search(f"(?s){says}", str(fault)) and "export.jsonl" in str(fault)


def other_book(tmp_path: Path, **words: str) -> list[str]:
    """Another logbook's export: one flight that both know, told otherwise, and one that is only there."""
    out = io.StringIO()
    with Logbook.open(tmp_path / "other.sqlite") as other:
        mark = other.record(document(1), **{"pilot": "Bo Lund", "instructor": "Kim Ost", **words}).session
        other.grade(
            mark,
            [one_grade("bank", "4"), one_grade("track", "5", given_as="pilot")],
            scale=SCALE,
            graded=datetime(2026, 3, 15, tzinfo=UTC),
        )
        other.record(document(2), pilot="Cy Holt")
        other.export(out)
    return out.getvalue().splitlines()


def test_a_merge_goes_on_past_what_differs_and_tells_both_sides(place: str, tmp_path: Path) -> None:
    lines = other_book(tmp_path)
    with Logbook.open(place) as book:
        book.record(document(1), pilot="Ada Vane", instructor="Ilja Moor")
        before = book.session(document(1)["log"]["sha256"])
        taken = book.import_(lines)
        assert (taken.new, taken.left, taken.faults) == (1, 1, ())
        assert [(one.about, one.here, one.there) for one in taken.conflicts] == [
            ("pilot", "Ada Vane", "Bo Lund"),
            ("instructor", "Ilja Moor", "Kim Ost"),
        ]
        assert book.session(before.key) == before and "Cy Holt" in book.pilots()


@pytest.mark.parametrize("prefer", ["here", "there"])
def test_whose_word_counts_in_a_merge_is_chosen(place: str, tmp_path: Path, prefer: Prefer) -> None:
    lines = other_book(tmp_path)
    with Logbook.open(place) as book:
        mark = book.record(document(1), pilot="Ada Vane", instructor="Ilja Moor").session
        book.grade(mark, [one_grade("bank", "2", given_as="pilot")], scale=SCALE)
        dry = book.import_(lines, prefer=prefer, dry_run=True)
        assert (book.pilots(), book.trail()) == ({"Ada Vane": 1}, []), "a dry run keeps nothing"
        taken = book.import_(lines, prefer=prefer)
        assert (dry.new, dry.extended, dry.conflicts) == (taken.new, taken.extended, taken.conflicts)
        back = book.session(mark)
        counting = {(key[1], key[2]): one.grader for key, one in back.standing_grades().items()}
        if prefer == "here":
            assert (back.pilot, back.instructor) == ("Ada Vane", "Ilja Moor")
            # What another pilot thought of a flight of Ada's is not taken over; what an instructor thought is.
            assert counting == {("bank", "pilot"): "Ada Vane", ("bank", "instructor"): "Kim Ost"}
            assert book.trail() == []
        else:
            assert (back.pilot, back.instructor) == ("Bo Lund", "Kim Ost")
            assert counting == {("track", "pilot"): "Bo Lund", ("bank", "instructor"): "Kim Ost"}
            assert "before: Ada Vane" in book.trail(mark)[0].said


def test_what_is_said_only_there_is_no_difference_and_extends_what_is_here(tmp_path: Path) -> None:
    """A dated flight of an undated one, and a lesson where none was named: nobody contradicts, something is taken."""
    undated = document(1)
    undated["log"] |= {"start_utc": None}
    out = io.StringIO()
    with Logbook.open(tmp_path / "other.sqlite") as other:
        other.record(undated, pilot="Ada Vane", lesson="IR 7", flown=datetime(2026, 3, 14, tzinfo=UTC))
        other.export(out)
    with Logbook.open(tmp_path / "here.sqlite") as book:
        mark = book.record(undated, pilot="Ada Vane").session
        taken = book.import_(out.getvalue().splitlines(), prefer="there")
        assert (taken.extended, taken.already_there, taken.conflicts) == (1, 0, ())
        assert (book.session(mark).lesson, str(book.session(mark).flown)[:10]) == ("IR 7", "2026-03-14")
        again = book.import_(out.getvalue().splitlines(), prefer="there")
        assert (again.extended, again.already_there) == (0, 1)


def test_only_what_is_new_may_be_taken_over(tmp_path: Path) -> None:
    lines = other_book(tmp_path, pilot="Ada Vane")
    with Logbook.open(tmp_path / "here.sqlite") as book:
        mark = book.record(document(1), pilot="Ada Vane").session
        taken = book.import_(lines, only_new=True)
        assert (taken.new, taken.left, taken.conflicts) == (1, 1, ())
        assert book.session(mark).grades == () and book.session(mark).instructor is None
        assert book.import_(lines).extended == 1


def test_forgetting_erases_the_person_and_nobody_else(place: str) -> None:
    with Logbook.open(place) as book:
        book.record(document(1), pilot="Ada Vane", instructor="Ilja Moor")
        book.record(document(2), pilot="Bo Lund", instructor="Ada Vane")
        book.grade(document(2)["log"]["sha256"], [one_grade("bank", "4")], scale=SCALE)
        kept = book.session(document(2)["log"]["sha256"])
        assert kept.grades[0].grader == "Ada Vane"
        erased = book.forget("ada vane")
        assert (erased.sessions, erased.elsewhere) == (1, 2)
        (left,) = book.sessions()
        assert (left.pilot, left.instructor, left.grades[0].grader) == ("Bo Lund", None, None)
        assert left.debrief == kept.debrief and left.grades[0].level == "4"
        with pytest.raises(UsageError, match="nobody called"):
            book.forget("Ada Vane")
        out = io.StringIO()
        book.export(out)
    # The instructor of the erased session was named nowhere else, so that name went too.
    assert "Vane" not in out.getvalue() and "Moor" not in out.getvalue()


def test_nothing_of_a_forgotten_name_is_left_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    with Logbook.open(path) as book:
        for mark in range(20):
            book.record(document(mark, name="quagga_flight.gpx"), pilot="Quagga Vane")
        book.record(document("other"), pilot="Bo Lund")
        assert b"uagga" in path.read_bytes()
        book.forget("Quagga Vane")
    assert b"uagga" not in path.read_bytes().lower()
    assert [one.name for one in tmp_path.iterdir()] == ["logbook.sqlite"]


HOSTILE = [
    "Robert'); DROP TABLE session;--",
    '"><script>alert(1)</script>',
    '=HYPERLINK("http://example.invalid")',
    "../../etc/passwd",
    "%s %d {0} {{x}} \\n",
    "Zoë Ñandú-O’Neil 李小龍 🛩",
    "null",
    "a" * 120,
]


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_only_names(place: str, name: str) -> None:
    with Logbook.open(place) as book:
        book.record(document(1, name=name), pilot=name, instructor=name, device=name)
        book.record(document(2), pilot="Bo Lund")
        assert set(book.pilots()) == {name, "Bo Lund"}
        assert [one.log_name for one in book.sessions(pilots=[name])] == [name]
        assert book.forget(name).sessions == 1
        assert set(book.pilots()) == {"Bo Lund"}


@pytest.mark.parametrize(
    "name", ["", "   ", "a\x00b", "a\nb", "a\x1b[31mb", "a\u202eb", "\ud800", "a" * 121, "a\u2028b"]
)
def test_names_that_could_forge_something_are_refused(tmp_path: Path, name: str) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        with pytest.raises(UsageError, match="name"):
            book.record(document(), pilot=name)
        assert book.sessions() == []


@pytest.mark.slow
@given(st.text(max_size=130))
@settings(max_examples=300, suppress_health_check=[HealthCheck.too_slow], deadline=None)
def test_any_text_is_a_clean_name_or_a_clear_refusal(text: str) -> None:
    try:
        name = clean_name(text)
    except UsageError:
        return
    assert name == clean_name(name)
    assert name.replace("\u200c", "").replace("\u200d", "").isprintable()


@pytest.mark.parametrize(
    "bad",
    [
        {},
        {"log": {"sha256": "x"}, "holds": []},
        {"log": {"sha256": "a" * 64}, "holds": [{}]},
        {"log": {"sha256": "a" * 64}, "holds": [{"circuits": []}], "x": float("nan")},
    ],
)
def test_what_is_no_debrief_is_not_kept(tmp_path: Path, bad: dict[str, object]) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        with pytest.raises((LogbookError, UsageError)):
            book.record(bad, pilot="Ada Vane")
        assert book.sessions() == [] and book.pilots() == {}


def test_two_flights_of_one_log_are_two_sessions(place: str, tmp_path: Path) -> None:
    one, other = document(name="pair.csv (A)"), document(name="pair.csv (B)")
    other["holds"][0]["points"] = 11.0
    with Logbook.open(place) as book:
        keys = [
            book.record(made, pilot="Ada Vane", flight=k).session for k, made in enumerate((one, other), 1)
        ]
        assert keys[1] == keys[0] + "-2"
        assert [
            made.kind
            for made in (book.record(one, pilot="Ada Vane"), book.record(other, pilot="Ada Vane", flight=2))
        ] == [
            "already there",
            "already there",
        ]
        assert book.session(keys[0][:8]).log_name == "pair.csv (A)"
        second = book.session(f"{keys[0][:8]}-2")
        assert second.log_name == "pair.csv (B)" and second.reference.endswith("-2")
        book.corrected(by="Kim Ost").move(second.reference, pilot="Bo Lund")
        assert [flown.pilot for flown in book.flights(one["log"]["sha256"])] == ["Ada Vane", "Bo Lund"]
        book.grade(second.reference, [one_grade("bank", "4", given_as="pilot")], scale=SCALE)
        out = io.StringIO()
        book.export(out)
        there = book.sessions()
        for wrong in (f"{keys[0][:8]}-3", f"{keys[0][:8]}-x", f"{keys[0][:8]}-" + "9" * 40):
            with pytest.raises(UsageError):
                book.session(wrong)
    with Logbook.open(tmp_path / "copy.sqlite") as copy:
        copy.import_(out.getvalue().splitlines())
        assert copy.sessions() == there


def test_a_renamed_log_and_another_folder_are_the_same_result(place: str) -> None:
    made, again = document(name="a.gpx"), document(name="b.gpx")
    again["program"] = {"version": "0.1.0", "files": ["other"]}
    with Logbook.open(place) as book:
        book.record(made, pilot="Ada Vane")
        assert book.record(again, pilot="Ada Vane").kind == "already there"
        assert book.session("last").debrief.document == made


def test_a_document_of_an_older_program_is_read_as_far_as_it_goes() -> None:
    """Schema 1 looked for nothing unsafe, gave an entry no points, and some parts may be missing or null."""
    old = {
        "log": {"sha256": "0" * 64},
        "holds": [
            {"circuits": []},
            {
                "name": None,
                "fix": None,
                "entry": {"flown": "parallel", "verdict": "incorrect"},
                "circuits": [
                    {"scores": {"bank": None, "timing": {"points": 80, "value": 62.0, "target": 60.0}}}
                ],
                "points": float("nan"),
            },
            {
                "entry": {"verdict": "not judged"},
                "circuits": [{"scores": None, "complete": True, "start_s": 1, "end_s": True}],
                "findings": [
                    {"kind": "level", "severity": "unsafe"},
                    {"severity": "unsafe", "sentence": "Too low."},
                    {"severity": "good", "sentence": "Well flown."},
                    None,
                ],
            },
        ],
    }
    bare, second, third = logged_holds(old)
    assert (bare.number, bare.name, bare.fix_lat_deg, bare.entry, bare.circuits) == (1, "", None, None, ())
    assert bare.unsafe is None and third.unsafe == ("level", "Too low.")
    assert second.entry is not None and second.entry.points == 0.0 and second.points is None
    (circuit,) = second.circuits
    assert list(circuit.scores) == ["timing"] and not circuit.complete
    timing = circuit.scores["timing"]
    assert (timing.deviation, timing.tolerance, timing.verdict) == (2.0, None, "not judged")
    assert third.entry is not None and third.entry.points is None
    old["holds"][1]["entry"]["verdict"] = "correct"  # type: ignore[index]
    right = logged_holds(old)[1].entry
    assert right is not None and right.points == 100.0
    assert (third.circuits[0].start_s, third.circuits[0].end_s, third.circuits[0].complete) == (
        1.0,
        None,
        True,
    )
    assert [place[:2] for place in second.measures()] == [(0, "entry"), (1, "timing")]
    assert second.columns()["circuits"] == 1 and "unsafe" not in second.columns()


@pytest.mark.parametrize(
    ("where", "value"),
    [
        # Each of these was kept, or ended the import, and every later command with it.
        (("trail", 0, "changed_utc"), "soon"),
        (("trail", 0, "changed_utc"), ""),
        (("grades", 0, "proposed_place"), "high"),
        (("grades", 0, "given_as"), "passenger"),
        (("grades", 0, "computed_points"), float("nan")),
        (("grades", 0), "none"),
        (("debriefs", 0, "trace"), {"holds": "x", "flight": []}),
        (("debriefs", 0, "document"), []),
        (("debriefs", 0, "document", "log", "start_utc"), [1]),
        (("debriefs", 0, "document", "holds", 0, "entry"), 7),
        (("debriefs", 0, "document", "log", "duration_s"), float("inf")),
        (("flown_utc",), "9999-12-31T23:59:59-10:00"),
        (("flight",), 10**30),
        (("flight",), True),
        (("flight",), -1),
        (("device",), "a\nforged line"),
        (("others",), [[1, 2]]),
        (("pilot",), None),
    ],
)
def test_a_line_with_a_part_of_another_kind_is_left_out_and_told(
    tmp_path: Path, where: tuple[str | int, ...], value: object
) -> None:
    with Logbook.open(tmp_path / "one.sqlite") as book:
        key = book.record(document(1), pilot="Ada Vane", instructor="Ilja Moor", device="trainer").session
        book.grade(key, [one_grade("bank", "3")], scale=SCALE)
        book.corrected(by="Kim Ost").set_about(key, lesson="IR 7")
        book.record(document(2), pilot="Bo Lund")
        out = io.StringIO()
        book.export(out)
    lines = out.getvalue().splitlines()
    place = next(n for n, line in enumerate(lines) if "Ada Vane" in line)
    told = json.loads(lines[place])
    part = told
    for step in where[:-1]:
        part = part[step]
    part[where[-1]] = value
    lines[place] = json.dumps(told)
    with Logbook.open(tmp_path / "other.sqlite") as book:
        taken = book.import_(lines)
        assert taken.new == 1 and [one.place for one in taken.faults] == [f"line {place + 1}"]
        assert book.pilots() == {"Bo Lund": 1} and book.trail() == []
