"""``analyser hold``: a hold is entered once, in a chart's words, taken from a flight, looked at, listed."""

from __future__ import annotations

import math
import re
import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analyser.collection.checked import _drawing, check
from analyser.collection.files import HoldFiles, holds_for
from analyser.collection.made import _flown, checked, hold_file_of, place_for
from analyser.errors import HoldFileError, UsageError
from analyser.holds.definition import LegLimit
from analyser.holds.holdfile import read_hold, read_hold_file
from analyser.holds.holdfile_words import hold_file_text
from analyser.logs.read import ReadOptions, read_log
from analyser.logs.track import Track
from analyser.rules.load import load_regime
from tests.pages_fixture import debriefed
from tests.work_flights import flight, write_gpx


@pytest.fixture(scope="module")
def lesson(tmp_path_factory):
    return write_gpx(flight(1000, laps=2), tmp_path_factory.mktemp("flown") / "lesson.gpx")


@pytest.fixture
def hold(monkeypatch, program, tmp_path):
    """Run the command in an empty folder; return its status and what it said on both streams."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("ANALYSER_DATA", str(tmp_path / "data"))

    return lambda *words: program("hold", *words)


CHART = ("--name", "North of the field", "--fix", "N46°30.0' W033°00.0'", "--course", "274M", "--turns", "R")


def test_a_new_hold_lands_in_the_collection(hold):
    status, out, err = hold("new", *CHART, "--leg", "1 min", "--altitude", "FL60", "--speed", "98 kt")
    assert (status, err) == (0, "")
    path = Path(out.strip())
    assert path == Path("data/holds/north_of_the_field.toml").absolute()
    found = read_hold(path, 2026.0)
    assert (found.name, found.turns, found.leg.minutes) == ("North of the field", "right", 1.0)
    assert (found.fix_lat_deg, found.fix_lon_deg) == (46.5, -33.0)
    assert (found.altitude_ft, found.speed_kias) == (6000, 98)
    assert found.inbound_course_true_deg == pytest.approx(274.0 + found.variation_deg)
    assert "not for navigation" in path.read_text(encoding="utf-8")
    # A second one of that name stands beside it; where a file is named, it is not written over.
    assert hold("new", *CHART)[1].strip() == str(path.with_stem("north_of_the_field_2"))
    assert read_hold(path, 2026.0) == found
    assert hold("new", *CHART, "--to", "here.toml")[:2] == (0, "here.toml\n")
    status, out, err = hold("new", *CHART, "--to", "here.toml")
    assert (status, out) == (2, "")
    assert "there already" in err


def test_a_fix_by_bearing_and_distance_stays_one(hold):
    fix = "090T 60 NM from 00 00.0N 120 00.0E"
    hold("new", "--fix", fix, "--course", "264T", "--turns", "left", "--leg", "4 NM", "--to", "a.toml")
    found = read_hold("a.toml")
    assert (found.fix_lat_deg, found.fix_lon_deg) == pytest.approx((0.0, 120.998), abs=1e-3)
    assert (found.turns, found.leg.distance_nm) == ("left", 4.0)
    assert "from = { lat = 0, lon = 120 }" in Path("a.toml").read_text(encoding="utf-8")


def test_the_five_questions_are_asked_again_until_they_can_be_read(hold, monkeypatch):
    typed = iter(
        ["Typed", "north of the field", "46 30.0N 033 00.0W", "west", "274", "264T", "", "both", "L", "1 min"]
    )
    asked = []
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr("typer.prompt", lambda text, **_: (asked.append(text), next(typed))[1])
    status, out, _ = hold("new", "--to", "typed.toml")
    assert status == 0 and list(typed) == []
    assert len(set(asked)) == 5
    assert "latitude and a longitude" in out and "R for right or L for left" in out
    found = read_hold("typed.toml")
    assert (found.name, found.turns, found.inbound_course_true_deg) == ("Typed", "left", 264.0)


def test_what_is_missing_is_named_where_nobody_can_be_asked(hold):
    """By the words that are typed: nobody who types knows the keys of the file."""
    status, out, err = hold("new", "--turns", "R")
    assert (status, out) == (2, "")
    assert err.startswith("analyser: --course: without it there is no hold")
    assert hold("new")[2].startswith("analyser: --course, --turns: ")
    assert not Path("data").exists()


def test_a_level_and_a_speed_need_no_unit_where_the_option_has_one(hold):
    status, _, _ = hold("new", *CHART, "--altitude", "4000", "--speed", "98", "--to", "plain.toml")
    found = read_hold("plain.toml")
    assert (status, found.altitude_ft, found.speed_kias) == (0, 4000.0, 98.0)
    assert "feet or a flight level" in hold("new", *CHART, "--altitude", "high", "--to", "other.toml")[2]


@pytest.mark.parametrize(
    ("option", "value", "key"),
    [
        ("--fix", "N46", "fix"),
        ("--course", "400M", "inbound_course"),
        ("--turns", "up", "turns"),
        ("--leg", "4 m", "leg"),
    ],
)
def test_what_cannot_be_read_is_named(hold, option, value, key):
    words = [*CHART, "--leg", "1 min"]
    words[words.index(option) + 1] = value
    status, _, err = hold("new", *words)
    assert status == 2
    assert f"key '{key}': must be" in err
    assert "is missing" not in err


def test_from_a_flight_with_its_sigmas(hold, lesson):
    status, out, err = hold("from", lesson)
    assert (status, out, err) == (0, "lesson.toml\n", "")
    text = Path("lesson.toml").read_text(encoding="utf-8")
    assert "one sigma" in text and "not what is published" in text and "2 circuits flown" in text
    found = read_hold("lesson.toml", 2026.2)
    # Where the invented flight holds.
    assert (found.fix_lat_deg, found.fix_lon_deg) == pytest.approx((48.2018, 11.0246), abs=0.005)
    assert found.inbound_course_true_deg == pytest.approx(230.0, abs=4.0)
    assert found.turns == "right"
    assert hold("from", lesson)[0] == 2
    assert hold("from", lesson, "--force")[0] == 0


def test_what_is_written_of_a_flight_is_as_fine_as_a_chart_prints_it(hold, lesson, tmp_path):
    """A metre of the fix, a tenth of a degree, a hundred feet; without a date the course is true."""
    undated = tmp_path / "undated.csv"
    track = read_log(lesson, ReadOptions())[0]
    rows = zip(track.time_s, track.lat_deg, track.lon_deg, track.channels["altitude_ft"] + 130.0, strict=True)
    lines = [f"{t:.1f},{lat:.7f},{lon:.7f},{height:.1f}" for t, lat, lon, height in rows]
    undated.write_text("\n".join(["elapsed_s,latitude,longitude,altitude_ft", *lines]) + "\n")
    for log, reference, level_ft in ((lesson, "magnetic", 4000), (undated, "true", 4100)):
        assert hold("from", log, "--to", "found.toml", "--force")[0] == 0
        text = Path("found.toml").read_text(encoding="utf-8")
        said = tomllib.loads(text)
        assert said["reference"] == reference and said["altitude_ft"] == level_ft
        (flown_ft,) = re.findall(r"flown (\d+) on the average", text)
        assert int(flown_ft) == pytest.approx(level_ft, abs=50)
        decimals = {key: len(str(said["fix"][key]).partition(".")[2]) for key in ("lat", "lon")}
        assert set(decimals.values()) <= {4, 5}
        found = read_hold("found.toml", track.start_utc)
        assert found.inbound_course_true_deg == pytest.approx(230.0, abs=4.0)
        assert round(said["inbound_course"], 1) == said["inbound_course"]
        near_nm, near_deg = (
            re.findall(r"one sigma (\d\.\d\d) NM", text),
            re.findall(r"one sigma (\d\.\d) degrees", text),
        )
        assert 0.0 < float(near_nm[0]) < 0.5 and 0.0 < float(near_deg[0]) < 4.0


@pytest.mark.parametrize(
    ("leg", "said"),
    [
        (LegLimit(minutes=1.5), {"minutes": 1.5}),
        (LegLimit(distance_nm=4.26), {"distance_nm": 4.3}),
        (LegLimit(distance_nm=3.94), {"distance_nm": 3.9}),
        (None, None),
    ],
)
def test_a_leg_is_written_in_minutes_or_to_a_tenth_of_a_mile(leg, said):
    made = debriefed()[0]
    one = replace(
        made.holds[0], flown=replace(made.holds[0].flown, hold=replace(made.holds[0].flown.hold, leg=leg))
    )
    text = _flown(one, made.track, 2)
    found = tomllib.loads(text)
    assert (found.get("leg"), found["name"]) == (said, f"Hold 2 of {made.track.name}")
    # A fix and a course that were given have no sigma.
    assert "one sigma" not in text and "3 circuits flown" in text


@pytest.mark.parametrize(("north_nm", "taken"), [(59.0, True), (-59.0, True), (61.0, False), (-61.0, False)])
def test_of_a_collection_files_within_sixty_miles_of_a_flight_are_tried(tmp_path, north_nm, taken):
    """A minute of latitude is a mile. One that was named by itself is meant, wherever it is."""
    track = Track(
        name="there", format="table", sha256="", time_s=np.arange(900.0),
        lat_deg=46.5 + np.linspace(0.0, 0.1, 900) * (-1.0 if north_nm > 0.0 else 1.0) - north_nm / 60.0,
        lon_deg=np.full(900, -33.0),
    )  # fmt: skip
    file = kept(tmp_path)
    assert bool(holds_for(HoldFiles((file,)), track).holds) == taken
    assert [one.file for one in holds_for(HoldFiles((file,), frozenset((file,))), track).holds] == [
        "said.toml"
    ]


def test_from_a_flight_without_a_hold(hold, tmp_path):
    write_gpx(flight(290), tmp_path / "transit.gpx")
    status, _, err = hold("from", "transit.gpx")
    assert status == 1
    assert "no hold was found in this log" in err


def test_checking_a_file_alone_and_with_a_flight(hold, lesson):
    hold("new", "--fix", "N48°12.108' E011°01.476'", "--course", "230T", "--turns", "R", "--to", "here.toml")
    status, out, err = hold("check", "here.toml")
    assert (status, err) == (0, "")
    for said in (
        "N48°12.1' E011°01.5'",
        "230° true",
        "right-hand",
        "by altitude, from the rules",
        "not judged",
        "NM",
    ):
        assert said in out
    # Knots indicated at the usual 4,000 ft are 6 % more true (ISA: 110 kt at 5,000 ft are 118, at sea level 110).
    hold("new", *CHART, "--speed", "100 kt", "--to", "quick.toml")
    assert "in still air at 106 kt true airspeed" in hold("check", "quick.toml")[1]
    assert "against 100 kt indicated" in hold("check", "quick.toml")[1]
    status, out, _ = hold("check", "here.toml", lesson)
    assert status == 0
    assert "lesson.gpx: " in out and "fits no hold" not in out
    hold("new", "--fix", "S48°12.108' E011°01.476'", "--course", "230T", "--turns", "R", "--to", "south.toml")
    assert "fits no hold of this flight" in hold("check", "south.toml", lesson, "--no-plan")[1]


PLAIN = {
    "fix": "{ lat = 46.5, lon = -33.0 }", "inbound_course": '"274M"', "turns": '"right"', "leg": "{ minutes = 1.5 }",
}  # fmt: skip


def kept(folder: Path, **said: str) -> Path:
    """Keep a hold file of these lines; an empty one is left out."""
    file = folder / "said.toml"
    lines = [f"{key} = {text}" for key, text in (PLAIN | said).items() if text]
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


@pytest.mark.parametrize(
    ("rules", "said", "told"),
    [
        ("icao", {}, ["turns: right-hand", "leg: 1.5 min", "judged: the outbound time", "leaving: not judged"]),
        ("faa", {}, ["judged: the inbound time"]),
        ("icao", {"leg": "{ distance_nm = 4 }", "turns": '"L"'}, ["leg: 4 NM", "judged: where the outbound leg ends"]),
        ("faa", {"leg": ""}, ["leg: by altitude, from the rules", "judged: the inbound time"]),
        ("icao", {"altitude_ft": "4000"}, ["altitude: against 4,000 ft", "speed: what the flight itself kept"]),
        ("icao", {"speed_kias": "98"}, ["speed: against 98 kt indicated", "altitude: what the flight itself kept"]),
        ("icao", {"leave_fix_at": "2026-03-14T18:32:07Z"}, ["leaving: at 18:32:07 UTC on 2026-03-14"]),
        ("icao", {"fix": ""}, ["fix: inferred from each flight", "inbound: 274° magnetic"]),
        ("icao", {"fix": "", "inbound_course": '"264T"'}, ["inbound: 264° true"]),
    ],
)  # fmt: skip
def test_a_file_that_is_checked_is_told_line_by_line(tmp_path, rules, said, told):
    lines = {line[2:11].strip(): line for line in check(kept(tmp_path, **said), rules).lines}
    for one in told:
        line, words = one.split(": ", 1)
        assert words in lines[line]
    assert ("drawn" in lines) == (said.get("fix") != "")


@pytest.mark.parametrize(("lon", "way"), [(-33.0, "west"), (25.0, "east")])
def test_a_course_is_told_magnetic_and_true_with_its_variation(tmp_path, lesson, lon, way):
    """Magnetic variation, from memory of the charts: west in mid-Atlantic, east over Romania. West is best: what
    lies west is added to true for magnetic."""
    file = kept(tmp_path, fix=f"{{ lat = 46.5, lon = {lon} }}")
    (line,) = [one for one in check(file, "icao").lines if "inbound" in one[:11]]
    magnetic, true, variation = map(float, re.findall(r"\d[\d.]*", line))
    assert magnetic == 274.0 and f"{way} today" in line and 3.0 < variation < 20.0
    assert true == pytest.approx(magnetic + (variation if way == "east" else -variation), abs=0.6)
    told = check(file, "icao", lesson).lines
    assert f"{way} on the day of the flight" in next(one for one in told if "inbound" in one[:11])


@pytest.mark.parametrize(
    ("said", "tas_kt"),
    [
        ({}, 110.0),
        ({"speed_kias": "98"}, 98.0 * 1.061),
        ({"speed_kias": "98", "altitude_ft": "10000"}, 98.0 * 1.164),
    ],
)
def test_what_is_drawn_of_a_file_is_the_circuit_in_still_air(tmp_path, said, tas_kt):
    """Rate-one turns (3° a second) are flown in circles of a speed over 188.5 an hour, legs for their minutes; true
    airspeed over calibrated, by the standard atmosphere's density: 1.061 at 4,000 ft, 1.164 at 10,000."""
    told = check(kept(tmp_path, inbound_course='"270T"', **said), "icao")
    assert f"in still air at {tas_kt:.0f} kt true" in told.lines[-1]
    drawing, radius_nm = told.drawing, tas_kt / 60.0 / math.pi
    # Rolling in and out takes a few seconds more.
    assert drawing.height_nm == pytest.approx(2.0 * radius_nm, rel=0.12)
    assert drawing.width_nm == pytest.approx(tas_kt * 1.5 / 60.0 + 2.0 * radius_nm, rel=0.08)
    # It comes back to the fix, over which it began.
    assert np.hypot(drawing.east_nm, drawing.north_nm)[[0, -1]] == pytest.approx([0.0, 0.0], abs=0.02)
    assert list(np.flatnonzero(drawing.after_hole)) == [0]


def test_of_a_flight_what_lies_round_the_fix_is_drawn_and_no_line_leads_to_it(tmp_path):
    along_nm = np.arange(-40.0, 40.0, 0.1)
    track = Track(
        name="past", format="table", sha256="", time_s=2.0 * np.arange(along_nm.size),
        lat_deg=46.5 + along_nm / 60.0, lon_deg=np.full(along_nm.size, -33.0),
    )  # fmt: skip
    hold = read_hold(kept(tmp_path), 2026.0)
    drawing = _drawing(hold, load_regime("icao"), (track,))
    _, begun = np.flatnonzero(drawing.after_hole)
    flown = drawing.north_nm[begun:]
    assert (flown.min(), flown.max()) == pytest.approx((-15.0, 15.0), abs=0.15)
    assert np.diff(flown) == pytest.approx(0.1, rel=0.01) and flown.size == pytest.approx(300, abs=3)
    # Of one that passes nowhere near nothing is.
    far = replace(track, lat_deg=track.lat_deg + 10.0)
    assert np.flatnonzero(_drawing(hold, load_regime("icao"), (far,)).after_hole).tolist() == [0]


def test_checking_a_file_that_gives_no_fix(hold, lesson):
    hold("new", "--course", "230T", "--turns", "R", "--to", "partly.toml")
    out = hold("check", "partly.toml")[1]
    assert "inferred from each flight" in out and "230° true" in out
    assert "N48°12.1' E011°01.5'" in hold("check", "partly.toml", lesson)[1]


def test_checking_a_wrong_file(hold):
    Path("wrong.toml").write_text('turns = "up"\n')
    status, out, err = hold("check", "wrong.toml")
    assert (status, out) == (2, "")
    assert "'turns'" in err and "'inbound_course'" in err


def test_a_folder_that_is_none_is_not_listed_as_empty(hold):
    assert hold("list", "nowhere")[0] == 2
    assert "nowhere: there is no such folder" in hold("list", "nowhere")[2]


def test_the_list_says_what_is_wrong_with_a_file(hold):
    assert "no hold files" in hold("list")[1]
    hold("new", *CHART)
    hold("new", "--course", "230T", "--turns", "L", "--name", "Half known")
    Path("data/holds/wrong.toml").write_text('turns = "up"\n')
    lines = hold("list")[1].splitlines()
    assert [line.split(":")[0] for line in lines] == [
        "half_known.toml",
        "north_of_the_field.toml",
        "wrong.toml",
    ]
    assert "fix inferred" in lines[0] and "N46°30.0' W033°00.0'; inbound 274°M" in lines[1]
    assert "cannot be used" in lines[2]


def test_untrusted_text_makes_no_other_file(monkeypatch, tmp_path):
    monkeypatch.setenv("ANALYSER_DATA", str(tmp_path))
    assert place_for("../../etc/passwd").parent == tmp_path / "holds"
    assert place_for("").name == "hold.toml"
    name = 'a"b\\c\n[table]\x00'
    text = hold_file_text(
        {"name": name, "turns": "left"}, remarks={"turns": "x\nfix = 1"}, heading=("a\nb = 2",)
    )
    assert tomllib.loads(text) == {"name": name, "turns": "left"}


def test_answers_are_read_as_the_file_reads_them():
    assert checked("leg", "4 NM") == "4 NM"
    with pytest.raises(UsageError, match="274M"):
        checked("inbound_course", "274")
    with pytest.raises(HoldFileError, match="'inbound_course'"):
        hold_file_of({"turns": "R", "inbound_course": "274"})


def test_numbers_in_a_file_keep_what_they_mean(tmp_path):
    path = tmp_path / "a.toml"
    data = {
        "fix": {"lat": -46.512345678, "lon": 0.1 + 0.2},
        "inbound_course": 0.0,
        "reference": "true",
        "turns": "left",
    }
    path.write_text(hold_file_text(data), encoding="utf-8")
    found = read_hold_file(path).hold()
    assert (found.fix_lat_deg, found.fix_lon_deg) == pytest.approx((-46.512345678, 0.3), abs=1e-7)


def test_what_may_have_been_a_hold_becomes_a_file_to_be_corrected(hold, lesson, monkeypatch):
    from analyser.circuits.flown import PossibleHold
    from analyser.debrief import Debrief

    perhaps = PossibleHold(0.0, 100.0, 48.2018, 11.0246, 230.0, "right", 2, ("two like turns",), ("no legs",))

    def found(track, **_):
        return Debrief(track, (), "nothing like one", None, None, (perhaps,))

    monkeypatch.setattr("analyser.debrief.debrief_track", found)
    assert hold("from", lesson)[0] == 0
    text = Path("lesson.toml").read_text(encoding="utf-8")
    assert "may have been a hold" in text and "Against a hold speaks: no legs" in text
    read = read_hold("lesson.toml", 2026.2)
    assert (read.turns, read.inbound_course_true_deg) == ("right", pytest.approx(230.0, abs=0.2))


def test_of_several_holds_none_is_written_where_one_is_there_already(hold):
    log = Path(__file__).parent.parent / "sample_logs" / "two_holds.gpx"
    Path("two_holds-2.toml").write_text("mine")
    status, out, err = hold("from", log)
    assert (status, out) == (2, "")
    assert "two_holds-2.toml: the file is there already" in err
    assert [path.name for path in Path().glob("*.toml")] == ["two_holds-2.toml"]
    assert hold("from", log, "--to", "mine.toml")[1].split() == ["mine-1.toml", "mine-2.toml"]
    assert [read_hold(f"mine-{number}.toml", 2026.3).turns for number in (1, 2)] == ["left", "right"]
