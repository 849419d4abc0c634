"""What a command says, asks and leaves unsaid, and what counts where an option is left out."""

from __future__ import annotations

import copy
import getpass
import io
import json
import shlex
import signal
import sys
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

import pytest

from analyser.commands import screen
from analyser.logbook.book import Logbook
from analyser.work.task import Finished, Report
from analyser.work.watching import Watcher
from tests import program
from tests.logbook_documents import document
from tests.old_logbooks import lay_old
from tests.test_commands_flags import Terminal
from tests.work_flights import START, flight, write_gpx

HOLD = 'fix = "N48°12.108\' E011°01.476\'"\ninbound_course = "230T"\nturns = "R"\n'


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Be in a folder with a logbook of one session, of a flight with two holds."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("ANALYSER_LOGBOOK", str(tmp_path / "logbook.sqlite"))
    flown = document()
    flown["holds"].append(copy.deepcopy(flown["holds"][0]))
    with Logbook.open(tmp_path / "logbook.sqlite") as opened:
        opened.record(flown, pilot="Ada Vane", instructor="Ilja Moor")
    return tmp_path / "logbook.sqlite"


def standing(book: Path) -> dict[tuple[int, str, str], tuple[str, str]]:
    """Return level and remark of each grade that stands, by hold, item and who gave it."""
    with Logbook.open(book) as opened:
        grades = opened.session("last").standing_grades()
    return {key: (one.level, one.remark) for key, one in grades.items()}


def test_each_record_has_its_own_pilots_changes_and_the_class_is_counted(book: Path) -> None:
    with Logbook.open(book) as opened:
        opened.record(document(1), pilot="Bo Lund")
        references = {one.pilot: one.reference for one in opened.sessions()}
    for pilot, why in (("Ada Vane", "wrong sheet"), ("Bo Lund", "other lesson")):
        program.run("logbook", "set", references[pilot], "--lesson", "IR 7", "--why", why)
    told = program.run("progress", "--all", "--out", "pages").stdout.splitlines()
    for pilot, own, other in (
        ("Ada Vane", "wrong sheet", "other lesson"),
        ("Bo Lund", "other lesson", "wrong sheet"),
    ):
        page = Path(f"pages/record-{pilot.replace(' ', '_')}.html").read_text(encoding="utf-8")
        assert own in page and other not in page
    # One session is too few to say anything: of both.
    assert told[0] == "2 too few sessions"


def test_two_names_are_made_one_person_only_where_that_is_meant(book: Path) -> None:
    with Logbook.open(book) as opened:
        opened.record(document(1), pilot="Bo Lund")
    refused = program.run("logbook", "rename", "Ada Vane", "Bo Lund")
    with Logbook.open(book) as opened:
        assert refused.returncode == 2 and "--merge" in refused.stderr and len(opened.pilots()) == 2
    assert program.run("logbook", "rename", "Ada Vane", "Bo Lund", "--merge").returncode == 0
    with Logbook.open(book) as opened:
        assert opened.pilots() == {"Bo Lund": 2}


@pytest.mark.parametrize("copies", [False, True])
def test_a_copy_of_an_older_logbook_may_hold_a_name_and_is_erased_where_that_is_meant(
    tmp_path: Path, copies: bool
) -> None:
    place = {"ANALYSER_LOGBOOK": str(tmp_path / "old.sqlite")}
    lay_old(str(tmp_path / "old.sqlite"))
    # The first command that opens it moves it on, and says where its copy is.
    moved = program.run("logbook", "list", environment=place)
    (copy_of,) = [one for one in tmp_path.iterdir() if one.name != "old.sqlite"]
    assert moved.returncode == 0 and str(copy_of) in moved.stderr
    with Logbook.open(tmp_path / "old.sqlite") as opened:
        (pilot, *_) = opened.pilots()
    words = ("logbook", "forget", pilot, "--yes", *["--copies"] * copies)
    ended = program.run(*words, environment=place)
    assert ended.returncode == 0 and copy_of.exists() != copies
    warned = f"{copy_of}: this copy of an older logbook may still hold the name (--copies erases it)"
    assert (warned in ended.stderr) != copies and (f"erased: {copy_of}" in ended.stdout) == copies


#: One command after another on one logbook.
SPOKEN = (
    "brief --hold hold.toml --tas 105 --altitude 4000",
    "grade last --item bank=4",
    "progress 'Ada Vane' --out pages",
    "progress --all --out pages",
    "record 'Ada Vane' --out pages",
    "compare --out pages",
    "logbook move last --pilot 'Bo Lund'",
    "logbook set last --lesson 'IR 7'",
    "logbook date last 2026-02-03",
    "logbook rename 'Bo Lund' 'Cy Holt'",
    "logbook withdraw last --item bank",
    "logbook undo 5",
    "logbook export lines.jsonl",
    "logbook import lines.jsonl",
    "logbook delete last",
    "logbook forget 'Cy Holt' --yes",
)


@pytest.mark.parametrize("quiet", [False, True])
def test_each_command_says_what_it_did_unless_it_is_to_be_quiet(book: Path, quiet: bool) -> None:
    Path("hold.toml").write_text(HOLD, encoding="utf-8")
    for typed in SPOKEN:
        ended = program.run(*shlex.split(typed), *["--quiet"] * quiet)
        assert ended.returncode == 0, f"{typed}: {ended.stderr}"
        assert bool(ended.stdout) != quiet, f"{typed}: {ended.stdout}"
        # A change can be taken back, which is said beside it; files that hold a forgotten name are always named.
        undoing = typed.startswith("logbook") and typed.split()[1] in (
            "move",
            "set",
            "date",
            "rename",
            "withdraw",
            "delete",
        )
        assert ("analyser logbook undo takes it back" in ended.stderr) == (undoing and not quiet), typed


def test_grades_are_asked_for_item_by_item_and_again_until_they_can_be_read(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The pilot's own first, then the instructor's; Enter leaves one out, and one too low needs a reason."""
    typed = {
        "Bank in the turns": iter(["nine", "4", "2"]),
        "below the grade asked for; why": iter([" shallow, twice "]),
        "Altitude": iter(["", "5"]),
    }
    asked: list[str] = []

    def prompt(text: str, **_: object) -> str:
        asked.append(text.strip())
        return next(typed.get(asked[-1].split(" (")[0], iter([""])), "")

    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr("typer.prompt", prompt)
    ended = program.run("grade", "last", "--hold", "2")
    assert ended.returncode == 0 and "3 grades kept" in ended.stdout, ended
    assert standing(book) == {
        (2, "bank", "pilot"): ("4", ""),
        (2, "bank", "instructor"): ("2", "shallow, twice"),
        (2, "altitude", "instructor"): ("5", ""),
    }
    assert [not any(answers) for answers in typed.values()] == [True] * 3
    # Each item twice, one of them once more, and one reason.
    items = [one for one in asked if not one.startswith("below")]
    assert len(asked) == len(items) + 1 and len(items) == 2 * len(set(items)) + 1
    said = ended.stdout
    heads = "invented.gpx, hold 2, flown by Ada Vane", "Pilot's own", "nine", "Instructor's", "3 grades kept"
    places = [said.index(one) for one in heads]
    assert places == sorted(places)


@pytest.mark.parametrize(
    "words", [("grade", "last", "--item", "bank=4"), ("logbook", "withdraw", "last", "--item", "bank")]
)
def test_the_first_hold_is_meant_where_none_is_named(book: Path, words: tuple[str, ...]) -> None:
    for hold in (1, 2):
        assert program.run("grade", "last", "--item", "bank=3", "--hold", hold).returncode == 0
    assert program.run(*words).returncode == 0
    found = standing(book)
    assert found.get((1, "bank", "instructor")) != ("3", "") and found[2, "bank", "instructor"] == ("3", "")


def test_the_air_is_standard_where_no_deviation_is_said(book: Path) -> None:
    Path("hold.toml").write_text(HOLD, encoding="utf-8")
    words = [
        "brief",
        "--hold",
        "hold.toml",
        "--ias",
        "100",
        "--altitude",
        "4000",
        "--date",
        "2026-03-14",
        "--json",
    ]
    plain, cold, warm = (
        json.loads(program.run(*words, *more).stdout)
        for more in ((), ("--isa-deviation", "0"), ("--isa-deviation", "0.1"))
    )
    assert plain == cold != warm


@pytest.mark.parametrize(("encoding", "braille"), [("utf-8", True), ("latin-1", False)])
def test_a_plan_in_the_terminal_is_drawn_in_signs_that_it_has(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, encoding: str, braille: bool
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("hold.toml").write_text(HOLD, encoding="utf-8")
    write_gpx(flight(290), tmp_path / "transit.gpx")
    for words in (("inspect", "transit.gpx"), ("hold", "check", "hold.toml")):
        for plan in (True, False):
            ended = program.run(*words, *["--no-plan"] * (not plan), encoding=encoding)
            assert ended.returncode == 0 and "?" not in ended.stdout, ended.stdout
            assert any("\u2800" <= sign <= "\u28ff" for sign in ended.stdout) == (braille and plan), words
            assert ("NM, north up" in ended.stdout) == plan


def test_a_file_for_each_flight_of_a_log_is_written_and_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Numbered where there are several, and named after the log where no other name is given."""
    monkeypatch.chdir(tmp_path)
    write_gpx(flight(290), tmp_path / "one.gpx")
    later = write_gpx(flight(290), tmp_path / "later.gpx", start=START + timedelta(hours=5))
    points = later.read_text(encoding="utf-8").partition("<trkseg>")[2]
    both = (tmp_path / "one.gpx").read_text(encoding="utf-8").partition("</trkseg>")[0]
    Path("two.flights.gpx").write_text(f"{both}</trkseg><trkseg>{points}", encoding="utf-8")
    for log, drawings, tracks in (
        ("one.gpx", ["plan.svg"], ["one.csv"]),
        ("two.flights.gpx", ["plan-1.svg", "plan-2.svg"], ["two-1.csv", "two-2.csv"]),
    ):
        said = program.run("inspect", log, "--svg", "plan.svg", "--no-holds").stdout
        assert [line.split()[-1] for line in said.splitlines() if "  drawn  " in line] == drawings
        assert all(Path(one).read_text(encoding="utf-8").startswith("<svg") for one in drawings)
        assert program.run("export", log, "--to", "csv").stdout.split() == tracks
        assert all(Path(one).exists() for one in tracks)


def test_a_list_says_what_was_flown_and_how_it_was_judged(book: Path) -> None:
    """A session without a hold was flown, too; one without a date has the day on which it was recorded."""
    none, unsure = document(1, name="none.gpx"), document(2, name="unsure.gpx")
    none["holds"], unsure["holds"][0]["points"], unsure["log"]["start_utc"] = [], None, None
    with Logbook.open(book) as opened:
        points = opened.sessions()[0].holds[0].points
        for one in (none, unsure):
            opened.record(one, pilot="Ada Vane")
    program.run("grade", "last", "--item", "bank=4", "--item", "speed=4", "--by", "Ilja Moor")
    lines = {
        line.split("  ")[-1].split(":")[0]: line
        for line in program.run("logbook", "list").stdout.splitlines()
    }
    assert lines["none.gpx"].endswith("none.gpx: no hold") and "?" not in lines["none.gpx"]
    assert f"circuits, {points:.0f} points; hold 2" in lines["invented.gpx"]
    assert "? " in lines["unsure.gpx"] and lines["unsure.gpx"].endswith(
        "circuits, not judged; 2 items graded"
    )


def test_ctrl_c_ends_a_debrief_as_a_shell_expects(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """POSIX shells: 128 and the signal's number."""
    monkeypatch.chdir(tmp_path)
    write_gpx(flight(290), tmp_path / "transit.gpx")

    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    monkeypatch.setattr(screen.Screen, "follow", interrupted)
    try:
        ended = program.run("debrief", "transit.gpx", "--infer", "--jobs", "1")
        # A second one would only spoil the exit status.
        assert signal.getsignal(signal.SIGINT) == signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)
    assert ended.returncode == 128 + signal.SIGINT
    assert "the same command goes on from there" in ended.stderr and ended.stdout == ""


def test_one_long_name_pushes_nobody_elses_sessions_aside(book: Path) -> None:
    """Names have room for 26 letters: others stand where they stood while the longest had just these."""

    def column() -> int:
        lines = program.run("logbook", "list").stdout.splitlines()
        return next(line.index("invented.gpx") for line in lines if "Ada Vane" in line)

    with Logbook.open(book) as opened:
        opened.record(document(1), pilot="Bo " + "L" * 22)
    before = column()
    program.run("logbook", "rename", "Bo " + "L" * 22, "Bo " + "L" * 23)
    assert column() == before + 1
    program.run("logbook", "rename", "Bo " + "L" * 23, "Bo " + "L" * 60)
    assert column() == before + 1


def test_one_long_name_pushes_nobodys_points_aside_in_a_class(book: Path) -> None:
    """Names have room for 26 letters there, too; what does not fit is cut, and is seen to be."""

    def column() -> int:
        lines = program.run("compare", "--out", "pages").stdout.splitlines()
        heading = next(line for line in lines if line.startswith("points, wind allowed for"))
        return heading.index("entry" if "entry" in heading else "Entry")

    columns = []
    name = "Ada Vane"
    for length in (23, 26, 60):
        program.run("logbook", "rename", name, "Bo " + "L" * (length - 3))
        name = "Bo " + "L" * (length - 3)
        columns.append(column())
    assert columns[1] - columns[0] == 2 and columns[2] == columns[1]
    (line,) = [
        one for one in program.run("compare", "--out", "pages").stdout.splitlines() if one.startswith("Bo")
    ]
    assert line[:28] == "Bo " + "L" * 22 + "…  "


@pytest.mark.parametrize(
    ("day", "status"),
    [
        ("1903-12-16", 2),
        ("1903-12-17", 0),
        ("2026-03-14T18:30", 0),
        ("2999-01-01", 2),
        ("0001-01-01T00:00+14:00", 2),
    ],
)
def test_a_session_has_a_day_on_which_somebody_can_have_flown(book: Path, day: str, status: int) -> None:
    """The first powered, controlled flight was on 17 December 1903, at Kill Devil Hills."""
    ended = program.run("logbook", "date", "last", day)
    assert (ended.returncode, bool(ended.stdout)) == (status, not status)


def test_a_day_named_as_the_last_counts_to_its_end(book: Path) -> None:
    for time, until, listed in (
        ("23:59:30", "03-14", True),
        ("23:59:30", "03-13", False),
        ("00:00", "03-14", True),
    ):
        program.run("logbook", "date", "last", f"2026-03-14T{time}")
        for word in ("--until", "--since"):
            found = program.run("logbook", "list", word, f"2026-{until}").stdout
            assert ("Ada Vane" in found) == (listed or word == "--since"), (time, until, word)


def test_whoever_makes_a_change_is_the_user_of_this_computer_unless_named(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(getpass, "getuser", lambda: "kim")
    program.run("logbook", "set", "last", "--lesson", "IR 7")
    program.run("logbook", "set", "last", "--lesson", "IR 8", "--by", "Lea Ohm")
    monkeypatch.setattr(getpass, "getuser", lambda: {}["nobody"])
    program.run("logbook", "set", "last", "--lesson", "IR 9")
    lines = program.run("logbook", "trail").stdout.splitlines()
    assert [by in line for by, line in zip(("kim", "Lea Ohm", "somebody"), lines, strict=True)] == [True] * 3


class Typed(io.TextIOWrapper):
    """Somebody types this at a terminal."""

    def __init__(self, text: str) -> None:
        super().__init__(io.BytesIO(text.encode()), encoding="utf-8")

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(("typed", "erased"), [("n\n", False), ("\n", False), ("y\n", True)])
def test_nobody_is_erased_without_being_asked(
    book: Path, monkeypatch: pytest.MonkeyPatch, typed: str, erased: bool
) -> None:
    monkeypatch.setattr(sys, "stdin", Typed(typed))
    ended = program.run("logbook", "forget", "Ada Vane")
    assert f"Erase Ada Vane and 1 session from {book}? This cannot be undone." in ended.stdout
    assert (ended.returncode == 0) == erased == ("erased: 1 session" in ended.stdout)
    with Logbook.open(book) as opened:
        assert bool(opened.pilots()) != erased


@pytest.mark.parametrize("existing", [False, True])
def test_a_folder_that_is_watched_begins_with_what_is_there_where_that_is_asked_for(
    collection: Path, monkeypatch: pytest.MonkeyPatch, existing: bool
) -> None:
    """Logs and saved sheets alike; for three seconds unchanged, and so whole."""
    Path("sheets").mkdir()
    Path("sheets/flight-grades.json").write_text("{}", encoding="utf-8")

    def looked(folders: Sequence[tuple[Watcher, object]]) -> None:
        # A log is whole when nothing was written to it for three seconds.
        assert not any(one.ready(at_s) for at_s in (0.0, 2.9) for one, _ in folders)
        found = [{path.name for path in one.ready(3.0)} for one, _ in folders]
        assert found == ([{"lesson.gpx"}, {"flight-grades.json"}] if existing else [set(), set()])
        raise KeyboardInterrupt

    monkeypatch.setattr("analyser.work.watching.watch", looked)
    ended = program.run("watch", ".", "--sheets", "sheets", *["--existing"] * existing)
    said = "what is there comes first" if existing else "1 log there already"
    assert ended.returncode == 0 and f"watching . ({said}), and sheets for grade sheets" in ended.stderr
    assert "ended; what was finished is kept" in ended.stderr


def report(page: str, summary: str) -> Report:
    return Report(Path(page), Path(page).with_suffix(".json"), summary, 1)


@pytest.mark.parametrize(("watched", "logs"), [(True, 2), (True, 1), (False, 2)])
def test_results_and_messages_keep_to_their_streams_whether_or_not_somebody_watches(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], watched: bool, logs: int
) -> None:
    """Results may go into a file while the bar is on the terminal."""
    seen = Terminal()
    if watched:
        monkeypatch.setattr(sys, "stderr", seen)
        monkeypatch.setenv("TERM", "xterm")
    with screen.Screen(logs, quiet=False) as shown:
        shown.show(
            Finished(Path("a.gpx"), (report("a.html", "a.gpx: 1 hold"),), ("b is bad",), ("by the way",))
        )
    out, err = capsys.readouterr()
    err += seen.getvalue()
    assert out == "a.gpx: 1 hold\n" and shown.faults == 1
    assert "analyser: b is bad" in err and "by the way" in err and "1 hold" not in err
    # The bar goes when the work is done, and shows the cursor again.
    assert ("1/2" in err) == (watched and logs == 2) == ("\x1b[?25h" in err)


@pytest.mark.parametrize(
    ("pages", "opened"), [([], []), (["a.html"], ["a.html"]), (["a.html", "b.html"], ["index.html"])]
)
def test_one_page_is_opened_and_of_several_their_list(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], pages: list[str], opened: list[str]
) -> None:
    launched: list[str] = []
    monkeypatch.setattr("typer.launch", launched.append)
    shown = screen.Screen(3, quiet=True)
    for page in pages:
        shown.show(Finished(Path("a.gpx"), (report(page, "said"),)))
    shown.open_page(Path("index.html"))
    assert launched == opened and capsys.readouterr() == ("", "")


@pytest.fixture
def collection(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Be in a folder with a lesson and a collection of holds, of which one file is broken."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("ANALYSER_DATA", str(tmp_path / "data"))
    holds = tmp_path / "data" / "holds"
    holds.mkdir(parents=True)
    (holds / "good.toml").write_text(HOLD, encoding="utf-8")
    (holds / "broken.toml").write_text(HOLD.replace('"R"', '"\\u001b[31mR"'), encoding="utf-8")
    write_gpx(flight(1000, laps=2), tmp_path / "lesson.gpx")
    return holds


@pytest.mark.parametrize(
    ("words", "status"),
    [
        ("debrief lesson.gpx --jobs 1 --quiet", 1),
        ("export lesson.gpx --to gpx --out out.gpx", 0),
        ("picture lesson.gpx --as wind --to wind.svg --quiet", 0),
        ("watch . --no-open --quiet", 0),
    ],
)
def test_a_broken_file_of_the_collection_is_said_and_the_others_are_used(
    collection: Path, monkeypatch: pytest.MonkeyPatch, words: str, status: int
) -> None:
    """A debrief may want that very file, so its exit status tells of it, too."""

    def interrupted(_folders: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("analyser.work.watching.watch", interrupted)
    ended = program.run(*words.split())
    assert ended.returncode == status
    (said,) = ended.stderr.splitlines()
    assert said.startswith(f"analyser: {collection / 'broken.toml'}, key 'turns'") and "left out" in said
    assert "\x1b" not in said
    if words.startswith("debrief"):
        (hold,) = json.loads(Path("reports/lesson.json").read_text(encoding="utf-8"))["holds"]
        assert hold["definition"] == "given"


def test_what_is_quoted_from_a_file_commands_no_terminal(collection: Path) -> None:
    for words in (("inspect", "no\x1b[31m.gpx"), ("hold", "check", collection / "broken.toml")):
        ended = program.run(*words)
        assert ended.returncode and "analyser: " in ended.stderr and "\x1b" not in ended.stderr
