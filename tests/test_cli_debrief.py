"""What ``analyser debrief`` promises to whoever scripts it: files, words, streams, exit status."""

from __future__ import annotations

import json
import os
import pty
import re
import shutil
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import jsonschema
import pytest

from analyser.schema import load_schema
from tests.interrupts import start_hearing_interrupts
from tests.work_flights import flight, lesson_and_transit, write_gpx

HEAD = '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
TAIL = "</trkseg></trk></gpx>"

HOLD = """
name = "Invented hold"
fix = { lat = 48.2018, lon = 11.0246 }
inbound_course = 230
reference = "true"
turns = "right"
altitude_ft = 4000
"""


@pytest.fixture(scope="module")
def flown(tmp_path_factory):
    return lesson_and_transit(tmp_path_factory.mktemp("flown"))


@pytest.fixture
def place(tmp_path, monkeypatch):
    """Be in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def debrief(program, place):
    return lambda *words: program("debrief", *words)


def points(count, *, lat=48.0, step=1e-4, lon=11.0, timed=True, sign=1):
    begun = datetime(2026, 3, 14, 12, tzinfo=UTC)
    made = []
    for i in range(count):
        when = f"<time>{(begun + timedelta(seconds=sign * i)).isoformat()}</time>" if timed else ""
        made.append(
            f'<trkpt lat="{lat if isinstance(lat, str) else lat + i * step}" lon="{lon}">{when}</trkpt>'
        )
    return HEAD + "".join(made) + TAIL


def test_a_log_becomes_a_page_its_json_and_a_summary(debrief, flown):
    status, out, err = debrief(flown / "lesson.gpx")
    assert (status, err) == (0, "")
    assert sorted(path.name for path in Path("reports").iterdir()) == [
        "index.html",
        "lesson.html",
        "lesson.json",
    ]
    lines = out.splitlines()
    assert lines[0] == "lesson.gpx: 1 hold"
    assert "right-hand, inferred from the track" in lines[1]
    assert lines[-1] == f"  page: {Path('reports/lesson.html')}"
    page = Path("reports/lesson.html").read_text(encoding="utf-8")
    assert page.startswith("<!doctype html>")
    assert page.rstrip().endswith("</html>")


def test_the_json_is_what_was_published(debrief, flown):
    debrief(flown / "lesson.gpx", "--out", "deep/er", "--quiet")
    document = json.loads(Path("deep/er/lesson.json").read_text(encoding="utf-8"))
    jsonschema.validate(document, load_schema())
    assert document["log"]["name"] == "lesson.gpx"
    assert document["holds"][0]["definition"] == "inferred"
    assert document["program"]["files"] == ["lesson"]


def test_no_hold_is_an_answer_and_says_what_came_nearest(debrief, flown):
    status, out, err = debrief(flown / "transit.gpx")
    assert (status, err) == (0, "")
    assert out.startswith("transit.gpx: no hold found; no two turns")
    assert json.loads(Path("reports/transit.json").read_text(encoding="utf-8"))["holds"] == []
    assert Path("reports/transit.html").exists()


def test_quiet_leaves_only_errors(debrief, flown):
    assert debrief(flown / "lesson.gpx", "--quiet") == (0, "", "")
    assert debrief(flown / "lesson.gpx", "--quiet") == (0, "", "")
    status, out, err = debrief(flown / "lesson.gpx", "nowhere.gpx", "--quiet")
    assert (status, out) == (1, "")
    assert err == "analyser: nowhere.gpx: there is no such file or folder (check the path)\n"


def test_a_given_hold_is_said_to_be_given(debrief, flown):
    Path("hold.toml").write_text(HOLD, encoding="utf-8")
    status, out, _ = debrief(flown / "lesson.gpx", "--hold", "hold.toml", "--rules", "faa")
    assert status == 0
    assert "Invented hold, inbound" in out
    assert "as given" in out
    document = json.loads(Path("reports/lesson.json").read_text(encoding="utf-8"))
    assert (document["holds"][0]["definition"], document["holds"][0]["rules"]) == ("given", "faa")


def test_logs_of_one_stem_keep_their_own_reports(debrief, flown, place):
    for folder, seed in (("a", 1), ("b", 2), ("c", 3)):
        (place / folder).mkdir()
        write_gpx(flight(290, seed=seed), place / folder / "log.gpx")
    status, out, _ = debrief("a", "b")
    assert status == 0
    assert "reports/log.html" in out
    assert "reports/log-2.html" in out
    first = Path("reports/log.json").read_bytes()
    # A later run with another log of that name, and those of before in another order.
    debrief("c", "b", "a")
    assert Path("reports/log.json").read_bytes() == first
    marks = {json.loads(path.read_text())["log"]["sha256"] for path in Path("reports").glob("*.json")}
    assert len(marks) == len(list(Path("reports").glob("log*.html"))) == 3


def test_the_same_log_twice_is_debriefed_once(debrief, flown, place):
    (place / "copy").mkdir()
    shutil.copy(flown / "transit.gpx", place / "copy" / "transit.gpx")
    status, out, err = debrief(flown / "transit.gpx", "copy")
    assert status == 0
    assert out.count("page:") == 1
    assert "the same log as" in err
    assert len(list(Path("reports").glob("*.json"))) == 1


BAD = {
    "empty.gpx": ("", "the file is empty"),
    "blank.csv": ("\n \n", "the file is empty"),
    "picture.gpx": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(200), "binary content"),
    "letter.txt": ("Dear all,\nit was a nice flight.\n", "no row names a latitude and a longitude"),
    "page.xml": ("<html><body/></html>", "root element 'html'"),
    "no_time.gpx": (points(100, timed=False), "no track point has a time"),
    "no_position.csv": (
        "time,altitude_ft\n" + "".join(f"2026-03-14T12:00:{i:02d}Z,{4000 + i}\n" for i in range(60)),
        "no row names a latitude and a longitude",
    ),
    "one_point.gpx": (points(1), "only one usable sample"),
    "all_equal.gpx": (points(300, step=0.0), "the position never changes"),
    "not_numbers.gpx": (points(300, lat="NaN"), "no sample has a position"),
    "off_the_globe.gpx": (points(300, lat=148.0, lon=411.0), "outside the globe"),
}


def test_each_bad_log_has_its_message_and_the_others_are_still_done(debrief, flown):
    for name, (content, _) in BAD.items():
        Path(name).write_bytes(content if isinstance(content, bytes) else content.encode())
    status, out, err = debrief(*BAD, flown / "transit.gpx", "nowhere.gpx", "--jobs", 1)
    assert status == 1
    assert "transit.gpx: no hold found" in out
    lines = err.splitlines()
    assert len(lines) == len(BAD) + 1
    for name, (_, message) in BAD.items():
        assert any(line.startswith(f"analyser: {name}") and message in line for line in lines), (name, err)
    assert sorted(path.name for path in Path("reports").iterdir()) == [
        "index.html",
        "transit.html",
        "transit.json",
    ]


def test_times_that_go_backwards_are_put_in_order_and_noted(debrief):
    Path("backwards.gpx").write_text(points(300, sign=-1))
    assert debrief("backwards.gpx")[0] == 0
    log = json.loads(Path("reports/backwards.json").read_text())["log"]
    assert log["start_utc"] == "2026-03-14T11:55:01Z"
    assert any("time" in notice["code"] for notice in log["notices"])


def test_a_folder_without_logs_is_a_fault_and_no_stop(debrief, flown):
    Path("empty").mkdir()
    status, out, err = debrief("empty", flown / "transit.gpx")
    assert status == 1
    assert "transit.gpx" in out
    assert "empty: no logs in this folder" in err


@pytest.mark.parametrize(
    ("line", "key"),
    [
        ("colour = 1", "colour"),
        (
            'fix = { lat = 98.0, lon = 11.0 }\ninbound_course = 230\nreference = "true"\nturns = "right"',
            "fix.lat",
        ),
        ('fix = { lat = 48.0, lon = 11.0 }\ninbound_course = "x"\nreference = "true"\nturns = "up"', "turns"),
    ],
)
def test_a_wrong_hold_file_names_the_key_and_nothing_is_done(debrief, flown, line, key):
    Path("hold.toml").write_text(line if "fix" in line else f"{HOLD}\n{line}\n", encoding="utf-8")
    status, out, err = debrief(flown / "lesson.gpx", "--hold", "hold.toml")
    assert (status, out) == (2, "")
    assert err.startswith("analyser: hold.toml")
    assert key in err
    assert not Path("reports").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--hold", "nowhere.toml"), "nowhere.toml: no such file"),
        (("--columns", "time"), "--columns: 'time' is not of the form name=value"),
        (("--units", "alt"), "--units: 'alt' is not of the form name=value (write it like alt=m,gs=km/h)"),
        (("--units", "alt=furlong"), "--units: 'furlong' is no unit for 'alt'"),
        (("--units", "date=xyz"), "--units: 'xyz' is no unit for 'date'"),
        (("--columns", "nonsense=3"), "--columns: 'nonsense' is no column the program knows"),
        (("--rules", "lunar"), "--rules: no rules are called 'lunar'"),
        (("--standard", "lunar"), "--standard: no test standard is called 'lunar'"),
        (("--leave-at", "18:32"), "--leave-at: a time to leave needs a hold"),
        (("--table", "circuits.xls"), "--table: 'circuits.xls' is no kind of table"),
        (("--table", "."), "--table"),
        (("--instructor", "Ida"), "--instructor: nothing is recorded without a pilot"),
        (("--scale", "stars"), "no grade scale is called 'stars'"),
        (("--scale", "evidence-1-5", "--scale", "evidence-1-5"), "two grade scales have the key"),
        (("--pilot", "Ida", "--pilot-folders"), "a pilot and folders of pilots are given"),
        (("--pilot", " "), "the pilot's name is empty"),
        (("--jobs", "0"), "--jobs"),
        (("--nonsense",), "--nonsense"),
    ],
)
def test_wrong_usage_is_status_two_and_nothing_is_done(debrief, flown, words, said):
    status, out, err = debrief(flown / "lesson.gpx", *words)
    assert (status, out) == (2, "")
    assert said in err
    assert not Path("reports").exists()


def test_a_folder_of_reports_that_is_a_file_is_said_before_any_log_is_read(debrief, flown):
    Path("reports").write_text("notes", encoding="utf-8")
    status, out, err = debrief(flown / "lesson.gpx")
    assert (status, out) == (1, "")
    assert "reports: the folder cannot be written to: a file is in its place" in err
    assert Path("reports").read_text(encoding="utf-8") == "notes"


def test_no_log_at_all_is_wrong_usage(debrief):
    assert debrief()[0] == 2


def test_a_time_to_leave_that_is_none(debrief, flown):
    Path("hold.toml").write_text(HOLD, encoding="utf-8")
    status, _, err = debrief(flown / "lesson.gpx", "--hold", "hold.toml", "--leave-at", "noon")
    assert status == 2
    assert "--leave-at: 'noon' is no time" in err


def test_a_report_that_cannot_be_written_is_a_fault_and_the_others_are_done(debrief, flown):
    Path("reports/lesson.html").mkdir(parents=True)
    status, out, err = debrief(flown / "lesson.gpx", flown / "transit.gpx")
    assert status == 1
    assert "reports/lesson.html: the file could not be written" in err
    assert "transit.gpx" in out
    # A JSON without its page would look like a log that is done.
    assert not Path("reports/lesson.json").exists()
    Path("reports/lesson.html").rmdir()
    assert debrief(flown / "lesson.gpx")[0] == 0
    assert Path("reports/lesson.html").is_file()


def test_a_page_is_replaced_whole_or_not_at_all(debrief, flown, monkeypatch):
    debrief(flown / "transit.gpx")
    before = {path.name: path.read_bytes() for path in Path("reports").iterdir()}
    with monkeypatch.context() as broken:
        broken.setattr("os.fsync", _full_disk)
        status, _, err = debrief(flown / "transit.gpx", "--again")
    assert status == 1
    assert "could not be written: No space left" in err
    assert {path.name: path.read_bytes() for path in Path("reports").iterdir()} == before


def _full_disk(_handle):
    raise OSError(28, "No space left on device")


def test_a_log_that_fails_is_named_with_its_folder(debrief):
    """In the folders of a class several logs have one name."""
    for pilot in ("Ada", "Bo"):
        Path("class", pilot).mkdir(parents=True)
        Path("class", pilot, "flight.gpx").write_text(pilot, encoding="utf-8")
    status, _, err = debrief("class")
    told = [f"analyser: class/{pilot}/flight.gpx, line 1: the content" for pilot in ("Ada", "Bo")]
    assert status == 1 and [line.split(" is in no")[0] for line in err.splitlines()] == told


def test_what_is_done_is_told_again_and_not_done_again(debrief, flown):
    _, first, _ = debrief(flown / "lesson.gpx")
    stamp = _stamps()
    status, second, err = debrief(flown / "lesson.gpx")
    assert (status, second) == (0, first)
    assert "debriefed before with the same settings" in err
    assert "--again" in err
    assert _stamps() == stamp
    assert debrief(flown / "lesson.gpx", "--again")[2] == ""
    assert _stamps() != stamp


@pytest.mark.parametrize(
    "change",
    [
        "rules",
        "hold file",
        "scale",
        "page gone",
        "page of another version",
        "program mended since",
        "file cut off",
    ],
)
def test_what_would_come_out_differently_is_done_again(debrief, flown, change):
    Path("hold.toml").write_text(HOLD, encoding="utf-8")
    words = [flown / "lesson.gpx", "--hold", "hold.toml"]
    debrief(*words)
    data = Path("reports/lesson.json")
    if change == "rules":
        words += ["--rules", "faa"]
    elif change == "hold file":
        Path("hold.toml").write_text(HOLD.replace("4000", "4100"), encoding="utf-8")
    elif change == "scale":
        words += ["--scale", "learner-centred"]
    elif change == "page gone":
        Path("reports/lesson.html").unlink()
    elif change == "page of another version":
        data.write_text(data.read_text().replace('"version": "', '"version": "0.0.'))
    elif change == "program mended since":
        # Older than any file of the program, which need not have counted its version up.
        os.utime(data, (1e9, 1e9))
    else:
        text = data.read_text()
        data.write_text(text[: len(text) // 2])
    status, _, err = debrief(*words)
    assert (status, err) == (0, "")
    assert Path("reports/lesson.html").exists()
    jsonschema.validate(json.loads(data.read_text(encoding="utf-8")), load_schema())


def test_reports_in_the_folder_of_the_logs_are_no_logs(debrief, flown, place):
    shutil.copy(flown / "transit.gpx", place)
    assert debrief(".", "--out", ".", "--table", "all.csv")[0] == 0
    status, out, err = debrief(".", "--out", ".", "--table", "all.csv")
    assert status == 0, err
    assert out.count("page:") == 1
    (place / "transit.gpx").unlink()
    # The table and the debriefs are left, and the reports of some logs are no logs.
    status, out, err = debrief(".", "--out", "elsewhere")
    assert (status, out) == (1, "") and "no logs but the reports of some" in err


def test_a_table_has_a_row_for_each_circuit_also_of_what_was_debriefed_before(debrief, flown, place):
    shutil.copy(flown / "lesson.gpx", place)
    assert debrief("lesson.gpx")[0] == 0
    assert debrief("lesson.gpx", flown / "transit.gpx", "--table", "all.csv")[0] == 0
    (hold,) = json.loads(Path("reports/lesson.json").read_text(encoding="utf-8"))["holds"]
    rows = Path("all.csv").read_text(encoding="utf-8").splitlines()
    assert len(rows) == 1 + len(hold["circuits"]) > 2


def test_a_log_is_never_overwritten_by_its_own_debrief(debrief, place):
    track = {"type": "LineString", "coordinates": [[11.0, 48.0 + k / 1000, 900] for k in range(200)]}
    begun = datetime(2026, 3, 14, 12, tzinfo=UTC)
    times = [(begun + timedelta(seconds=2 * k)).isoformat() for k in range(200)]
    text = json.dumps({"type": "Feature", "geometry": track, "properties": {"coordTimes": times}})
    Path("flight.json").write_text(text)
    assert debrief("flight.json", "--out", ".")[0] == 0
    assert Path("flight.json").read_text() == text
    assert Path("flight-2.html").exists()


def test_text_from_a_log_commands_no_terminal(debrief, flown, place):
    name = "evil\x1b[31m\x07\udce9.gpx"
    shutil.copy(flown / "lesson.gpx", place / name)
    status, out, err = debrief(name)
    assert (status, err) == (0, "")
    assert "\x1b" not in out
    assert "\x07" not in out
    assert len(list(Path("reports").glob("*.json"))) == 1


def test_a_very_long_name_still_gets_its_report(debrief, flown, place):
    shutil.copy(flown / "transit.gpx", place / f"{'ü' * 120}.gpx")
    assert debrief(place / f"{'ü' * 120}.gpx")[0] == 0
    assert len(list(Path("reports").iterdir())) == 3


def test_a_flight_is_recorded_for_its_pilot(debrief, flown):
    words = (
        flown / "lesson.gpx",
        "--pilot",
        "Imaginary Pilot",
        "--device",
        "trainer",
        "--logbook",
        "book.db",
    )
    status, _, err = debrief(*words)
    assert status == 0, err
    status, _, err = debrief(*words)
    assert status == 0
    assert "in the logbook already" in err
    # Nor is it another result where the job has another mark, though nothing comes of it.
    status, _, err = debrief(*words, "--scale", "evidence-1-5", "--out", "elsewhere", "--again")
    assert status == 0 and "in the logbook already; nothing was added" in err
    from analyser.logbook.book import Logbook

    with Logbook.open("book.db") as book:
        sessions = book.sessions()
        assert [(one.pilot, one.device) for one in sessions] == [("Imaginary Pilot", "trainer")]
        assert sessions[0].debrief.document["log"]["name"] == "lesson.gpx"


def test_each_pilot_has_a_folder(debrief, flown):
    for pilot, log in (("Ida_Example", "lesson.gpx"), ("Imaginary Pilot", "transit.gpx")):
        Path("logs", pilot).mkdir(parents=True)
        shutil.copy(flown / log, Path("logs", pilot))
    # The transit is how the lesson begins: flown on another day it is another flight.
    transit = Path("logs", "Imaginary Pilot", "transit.gpx")
    transit.write_text(
        transit.read_text(encoding="utf-8").replace("2026-03-14T", "2026-03-15T"), encoding="utf-8"
    )
    status, _, err = debrief("logs", "--pilot-folders", "--instructor", "Ines", "--logbook", "book.db")
    assert status == 0, err
    from analyser.logbook.book import Logbook

    with Logbook.open("book.db") as book:
        kept = {one.pilot: (one.log_name, one.instructor) for one in book.sessions()}
    assert kept == {"Ida Example": ("lesson.gpx", "Ines"), "Imaginary Pilot": ("transit.gpx", "Ines")}


def test_the_page_offers_the_scales_asked_for(debrief, flown):
    scale = """
    key = "school"
    name = "Two words of ours"
    required = "good"
    levels = [{ key = "poor", label = "poor", points_from = 0 },
              { key = "good", label = "<good>", points_from = 1 }]
    """
    Path("school.toml").write_text(scale, encoding="utf-8")
    words = (flown / "lesson.gpx", "--scale", "school.toml", "--scale", "learner-centred")
    assert debrief(*words)[0] == 0
    page = Path("reports/lesson.html").read_text(encoding="utf-8")
    offered = re.findall(r'<option value="([^"]*)"', page.partition('<select name="scale">')[2][:400])
    assert offered[:2] == ["school", "learner-centred"] and "evidence-1-5" not in page
    assert "&lt;good&gt;" in page and "<good>" not in page
    # The file counts by its content: another scale under the same name is another page.
    Path("school.toml").write_text(scale.replace('"poor"', '"weak"'), encoding="utf-8")
    debrief(*words)
    assert "weak" in Path("reports/lesson.html").read_text(encoding="utf-8")


def test_a_flight_debriefed_before_is_recorded_with_its_path(debrief, flown):
    debrief(flown / "lesson.gpx")
    debrief(flown / "lesson.gpx", "--pilot", "Imaginary Pilot", "--logbook", "book.db")
    from analyser.logbook.book import Logbook

    with Logbook.open("book.db") as book:
        assert book.sessions()[0].debrief.trace


def test_a_logbook_that_cannot_be_used_keeps_no_one_from_a_debrief(debrief, flown):
    Path("book.db").write_text("this is no logbook, " * 100)
    status, out, err = debrief(flown / "lesson.gpx", "--pilot", "Imaginary Pilot", "--logbook", "book.db")
    assert status == 1
    assert "nothing is recorded: " in err
    assert "lesson.gpx: 1 hold" in out
    assert Path("book.db").read_text().startswith("this is no logbook")


def _stamps():
    return {path.name: path.stat().st_mtime_ns for path in Path("reports").iterdir()}


def _program(*words, cwd, **more):
    return subprocess.run([*words], capture_output=True, text=True, cwd=cwd, check=False, **more)


def test_module_and_console_script_are_the_same_program(flown, place):
    script = Path(sys.executable).with_name("analyser")
    if not script.exists():
        pytest.fail("the console script is not installed beside this Python")
    by_module = _program(
        sys.executable, "-m", "analyser", "debrief", flown / "transit.gpx", "--out", "a", cwd=place
    )
    by_script = _program(script, "debrief", flown / "transit.gpx", "--out", "a", "--again", cwd=place)
    assert by_module.returncode == by_script.returncode == 0
    assert by_module.stdout == by_script.stdout
    assert by_module.stderr == by_script.stderr == ""


def test_a_terminal_without_degree_signs_gets_its_summary(flown, place):
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    done = _program(
        sys.executable, "-m", "analyser", "debrief", flown / "lesson.gpx", cwd=place, env=environment
    )
    assert done.returncode == 0
    assert "lesson.gpx: 1 hold" in done.stdout


@pytest.mark.slow
def test_a_bar_only_where_a_person_is_watching(flown, place):
    words = [
        sys.executable,
        "-m",
        "analyser",
        "debrief",
        flown / "transit.gpx",
        flown / "lesson.gpx",
        "--jobs",
        "1",
    ]
    piped = _program(*words, cwd=place)
    assert "\x1b" not in piped.stdout + piped.stderr
    watched = _on_a_terminal([*words, "--again"], place)
    assert "\x1b[" in watched
    assert "2/2" in watched or "1/2" in watched
    # One log needs no bar.
    assert "/1" not in _on_a_terminal([*words[:5], "--again"], place)


def _on_a_terminal(words, place):
    parent, child = pty.openpty()
    process = subprocess.Popen(list(map(str, words)), stdout=subprocess.DEVNULL, stderr=child, cwd=place)
    os.close(child)
    seen = bytearray()
    while True:
        try:
            chunk = os.read(parent, 65536)
        except OSError:
            break
        if not chunk:
            break
        seen += chunk
    os.close(parent)
    assert process.wait(60) == 0
    return seen.decode(errors="replace")


@pytest.mark.slow
@pytest.mark.parametrize("jobs", [1, 2])
def test_ctrl_c_leaves_finished_work_finished(place, jobs):
    logs = place / "logs"
    logs.mkdir()
    for seed in range(8):
        write_gpx(flight(900, seed=seed, laps=2), logs / f"log{seed:02d}.gpx")
    words = [sys.executable, "-m", "analyser", "debrief", "logs", "--jobs", str(jobs), "--table", "all.csv"]
    process = start_hearing_interrupts(words, place)
    waited = time.monotonic() + 120
    while not list(place.glob("reports/*.json")) and process.poll() is None and time.monotonic() < waited:
        time.sleep(0.02)
    # As a terminal does it: to every process of the group.
    os.killpg(process.pid, signal.SIGINT)
    _, err = process.communicate(timeout=120)
    assert process.returncode == 130, err
    assert "Traceback" not in err
    assert "what is finished is kept" in err
    finished = sorted(place.glob("reports/*.json"))
    assert 0 < len(finished) < 8
    for path in finished:
        json.loads(path.read_text(encoding="utf-8"))
    assert not [path for path in place.rglob(".*") if path.suffix == ".part"]
    assert not (place / "all.csv").exists()
    assert (place / "reports" / "index.html").read_text().count("<h2>") == len(finished)
    again = _program(*words, cwd=place)
    assert again.returncode == 0
    assert again.stderr.count("debriefed before") == len(finished)
    assert len(list(place.glob("reports/log*.html"))) == 8
    assert (place / "reports" / "index.html").read_text().count("<h2>") == 8
    assert len((place / "all.csv").read_text().splitlines()) == 1 + 8 * 2


@pytest.mark.slow
@pytest.mark.parametrize("later_s", [0.0, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0])
def test_ctrl_c_pressed_twice_while_workers_begin_ends_quietly(place, later_s):
    logs = place / "logs"
    logs.mkdir()
    first = write_gpx(flight(900, laps=2), logs / "log00.gpx")
    for number in range(1, 40):
        (logs / f"log{number:02d}.gpx").write_bytes(
            first.read_bytes().replace(b"Z</time>", b".0Z</time>", number)
        )
    process = start_hearing_interrupts(
        [sys.executable, "-m", "analyser", "debrief", "logs", "--jobs", "2"], place
    )
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    waited = time.monotonic() + 60
    while not children.read_text().strip() and time.monotonic() < waited:
        time.sleep(0.005)
    time.sleep(later_s)
    for _ in range(2):
        os.killpg(process.pid, signal.SIGINT)
    _, err = process.communicate(timeout=60)
    # The interpreter ends itself by the signal where that met text being compiled; a shell calls both 130.
    assert process.returncode in (130, -signal.SIGINT), err
    assert "Traceback" not in err
    assert "what is finished is kept" in err
