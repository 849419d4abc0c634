"""A collection of hold files: each hold of each flight takes the one that fits, and what fits nothing is said."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from analyser.collection.files import HoldFiles, collect, own_folder, read
from analyser.errors import HoldFileError, UsageError
from tests.work_flights import flight, write_gpx

#: Where the invented flight holds.
HOLD = """
name = "Invented hold"
fix = "N48°12.108' E011°01.476'"
inbound_course = "230T"
turns = "R"
"""
ELSEWHERE = HOLD.replace("N48°", "N49°").replace("Invented hold", "Another hold")
PARTLY = 'name = "Course and hand"\ninbound_course = "225T"\nturns = "R"\n'


@pytest.fixture(scope="module")
def lesson(tmp_path_factory):
    return write_gpx(flight(1000, laps=2), tmp_path_factory.mktemp("flown") / "lesson.gpx")


@pytest.fixture
def debrief(monkeypatch, program, tmp_path, lesson):
    """Debrief the lesson in an empty folder with a data folder of its own; return status, JSON and both streams."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("ANALYSER_DATA", str(tmp_path / "data"))

    def run(*words):
        status, out, err = program("debrief", lesson, *words)
        data = Path("reports/lesson.json")
        return status, json.loads(data.read_text()) if data.exists() else None, out, err

    return run


def keep(name: str, text: str, folder="holds") -> Path:
    path = Path(folder, name)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def test_of_a_folder_the_one_that_fits_is_taken_and_named(debrief):
    keep("a_elsewhere.toml", ELSEWHERE)
    keep("b_here.toml", HOLD)
    status, document, out, err = debrief("--hold", "holds")
    assert (status, err) == (0, "")
    assert [(one["definition"], one["definition_file"]) for one in document["holds"]] == [
        ("given", "b_here.toml")
    ]
    assert "as given in b_here.toml" in " ".join(out.split())


def test_the_users_own_collection_needs_no_option(debrief):
    keep("here.toml", HOLD, "data/holds")
    status, document, _, err = debrief()
    assert (status, err) == (0, "")
    assert document["holds"][0]["definition_file"] == "here.toml"
    # Nor is it used where the hold is to be inferred, or others are given.
    assert debrief("--infer")[1]["holds"][0]["definition"] == "inferred"


def test_several_files_and_one_that_fits_nothing(debrief):
    here, there = keep("here.toml", HOLD), keep("there.toml", ELSEWHERE)
    status, document, _, err = debrief("--hold", there, "--hold", here)
    assert status == 0
    assert document["holds"][0]["definition_file"] == "here.toml"
    assert "there.toml fits no hold of this flight" in err
    assert "here.toml fits" not in err.replace("there.toml", "")
    fits = {one["file"]: one for one in document["definition_fit"]}
    assert (fits["here.toml"]["code"], fits["here.toml"]["holds"]) == ("flown", [1])
    assert fits["here.toml"]["named"] and fits["there.toml"]["named"]
    assert "Another hold" in Path("reports/lesson.html").read_text(encoding="utf-8")
    # One degree of latitude away, about 60 NM.
    assert fits["there.toml"]["holds"] == [] and 50 < fits["there.toml"]["nearest_nm"] < 62
    # It is said again when the debrief of before is told again.
    assert "there.toml fits no hold of this flight" in debrief("--hold", there, "--hold", here)[3]


def test_a_collection_of_which_none_fits_says_so_once(debrief):
    keep("one.toml", ELSEWHERE)
    keep("two.toml", ELSEWHERE.replace("N49°", "S49°"))
    status, document, out, err = debrief("--hold", "holds")
    assert (status, document["holds"][0]["definition"]) == (0, "inferred")
    assert "none of the 2 hold files fits" in err and err.count("\n") == 1
    assert "inferred from the track" in out


def test_course_and_hand_alone(debrief):
    file = keep("partly.toml", PARTLY)
    status, document, out, err = debrief("--hold", file)
    assert (status, err) == (0, "")
    hold = document["holds"][0]
    assert (hold["definition"], hold["inbound_course_true"], hold["name"]) == (
        "partly given",
        225.0,
        "Course and hand",
    )
    assert (hold["fix"]["lat"], hold["fix"]["lon"]) == pytest.approx((48.2018, 11.0246), abs=0.01)
    # The fix is as well known as the flight tells it; the course is what the file says.
    assert 0.0 < hold["fix"]["sd_nm"] < 0.5 and hold["inbound_course_sd"] is None
    assert "its fix inferred from the track" in " ".join(out.split())


def test_course_and_hand_of_another_hold(debrief):
    file = keep("partly.toml", PARTLY.replace("225T", "050T"))
    status, document, _, err = debrief("--hold", file)
    assert (status, document["holds"][0]["definition"]) == (0, "inferred")
    assert "partly.toml fits no hold of this flight" in err
    assert document["definition_fit"][0]["code"] == "unlike"


@pytest.mark.parametrize(("course", "definition"), [("273T", "partly given"), ("277T", "inferred")])
def test_how_far_a_course_may_lie_from_the_one_flown(debrief, course, definition):
    """Flown inbound 230° true: up to 45° off it is the same hold with much to say of it, beyond that another."""
    file = keep("partly.toml", PARTLY.replace("225T", course))
    assert debrief("--hold", file)[1]["holds"][0]["definition"] == definition


@pytest.mark.parametrize(
    ("course", "doubted"), [("230T", False), ("234T", False), ("250T", True), ("215T", True)]
)
def test_a_file_whose_course_the_circuits_themselves_surely_do_not_fit_is_doubted(debrief, course, doubted):
    """Flown inbound 230° true: magnetic taken for true, or a figure mistyped, is asked about, and judged."""
    file = keep("here.toml", HOLD.replace("230T", course))
    _, document, _, err = debrief("--hold", file)
    page = Path("reports/lesson.html").read_text(encoding="utf-8")
    (fit,) = document["definition_fit"]
    assert document["holds"][0]["definition"] == "given"
    assert ("check the course in the file" in err) == doubted
    assert ("Check the hold file." in page) == doubted
    assert (fit["code"], fit["holds"]) == ("flown-course" if doubted else "flown", [1])
    if doubted:
        way = "left" if course == "250T" else "right"
        assert f"° further {way} (±" in fit["sentence"]


def test_a_collections_half_known_file_must_have_the_hand_too(debrief):
    file = keep("partly.toml", PARTLY.replace('"R"', '"L"'))
    assert debrief("--hold", "holds")[1]["holds"][0]["definition"] == "inferred"
    # Who names it means it, whichever way was flown.
    assert debrief("--hold", file)[1]["holds"][0]["definition"] == "partly given"


def test_a_wrong_file_of_a_folder_is_said_and_the_others_are_used(debrief):
    keep("here.toml", HOLD)
    keep("wrong.toml", HOLD.replace('"R"', '"up"'))
    keep("scale.toml", 'key = "school"\n')
    status, document, _, err = debrief("--hold", "holds")
    assert status == 1
    assert document["holds"][0]["definition_file"] == "here.toml"
    assert "wrong.toml, key 'turns'" in err and "scale.toml, key" in err and err.count("left out") == 2


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--hold", "empty"), "no hold files in this folder"),
        (("--hold", "nowhere.toml"), "no such file"),
        (("--hold", "wrong.toml"), "key 'turns'"),
        (
            ("--hold", "log.gpx"),
            "this is a log, no hold file (debrief it: analyser debrief log.gpx; or make one of what it flew: analyser "
            "hold from log.gpx)",
        ),
        (("--hold", "here.toml", "--infer"), "a hold file is given, and the hold is to be inferred"),
    ],
)
def test_what_was_asked_for_must_be_possible(debrief, words, said):
    Path("empty").mkdir()
    keep("wrong.toml", HOLD.replace('"R"', '"up"'), ".")
    keep("here.toml", HOLD, ".")
    keep("log.gpx", "<gpx></gpx>", ".")
    status, document, _, err = debrief(*words)
    assert (status, document) == (2, None)
    assert said in err


def test_a_hold_file_given_as_a_log_is_recognised(debrief):
    keep("here.toml", HOLD, ".")
    status, document, _, err = debrief("here.toml")
    assert status == 1
    assert document is not None
    assert (
        "here.toml: a hold file is no log (give it with --hold: analyser debrief LOG --hold here.toml)" in err
    )


@pytest.mark.parametrize(
    ("name", "is_log"),
    [("a.gpx", True), ("A.IGC", True), ("a.csv", True), ("a.md", False), ("a.toml", False)],
)
def test_a_log_given_as_a_hold_file_is_known_by_its_ending_and_nothing_else_is(tmp_path, name, is_log):
    file = keep(name, "no hold", tmp_path)
    with pytest.raises(HoldFileError) as raised:
        read(file)
    assert ("this is a log" in str(raised.value)) == is_log
    # What is a hold file in all but a value is none the less, whatever its name.
    keep(name, HOLD.replace('"R"', '"up"'), tmp_path)
    with pytest.raises(HoldFileError, match="'turns'"):
        read(file)


def test_the_place_of_the_collection(monkeypatch, tmp_path):
    monkeypatch.setenv("ANALYSER_DATA", str(tmp_path))
    assert own_folder() == tmp_path / "holds"
    # Nobody needs to have one.
    assert collect(()) == HoldFiles()
    monkeypatch.delenv("ANALYSER_DATA")
    assert own_folder().name == "holds" and own_folder().is_absolute()


def test_each_file_is_taken_once_in_the_order_given(tmp_path):
    for name in ("b.toml", "a.toml", ".hidden.toml", "c.TOML", "notes.txt"):
        (tmp_path / name).write_text(HOLD, encoding="utf-8")
    found = collect([tmp_path / "b.toml", tmp_path])
    assert [file.name for file in found.files] == ["b.toml", "a.toml", "c.TOML"]
    assert (found.named, found.left_out) == ({tmp_path / "b.toml"}, ())


def test_infer_and_a_file_exclude_each_other(tmp_path):
    with pytest.raises(UsageError, match="inferred"):
        collect([tmp_path], infer=True)
    with pytest.raises(HoldFileError, match="no hold files"):
        collect([tmp_path])


def test_one_that_fits_as_well_as_the_one_taken_is_named(debrief):
    keep("a_here.toml", HOLD)
    keep("b_alike.toml", HOLD.replace("Invented hold", "The same hold"))
    status, document, _, err = debrief("--hold", "holds")
    taken = document["holds"][0]["definition_file"]
    other = ({"a_here.toml", "b_alike.toml"} - {taken}).pop()
    assert status == 0
    assert f"{other} fits as well as the hold file that was taken" in err


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("E011°", "W011°", "the other sign of its longitude"),
        ("230T", "050T", "reciprocal"),
        ("N48°12.108'", "N48°52.108'", "came no nearer|never came near"),
    ],
)
def test_why_a_file_that_was_named_fits_nothing(debrief, old, new, said):
    import re

    status, _, _, err = debrief("--hold", keep("wrong.toml", HOLD.replace(old, new)))
    assert status == 0
    assert "wrong.toml fits no hold of this flight" in err
    assert re.search(said, err), err


def test_a_schools_own_scoring_is_used_and_a_wrong_one_said(debrief):
    own = Path(__file__).parent.parent / "analyser" / "rules" / "scoring.toml"
    text = own.read_text(encoding="utf-8").replace('name = "House scoring"', 'name = "School scoring"')
    status, _, _, _ = debrief("--infer")
    strict = keep("school.toml", text)
    status, data, _, _ = debrief("--infer", "--scoring", strict)
    assert status == 0
    assert data["holds"][0]["scoring"]["name"] == "School scoring"
    keep("school.toml", text.replace("points = 79.0", "points = 179.0"))
    status, _, _, said = debrief("--infer", "--scoring", strict)
    # As with a wrong scale or standard: said once, before the first log.
    assert status == 2
    assert said.count("school.toml") == 1
    assert "caps.below_standard.points" in said and "school.toml" in said
