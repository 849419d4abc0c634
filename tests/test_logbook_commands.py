"""The logbook's commands as a person types them: results, messages, exit statuses."""

from __future__ import annotations

import itertools
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

import pytest

from analyser.errors import UsageError
from analyser.logbook.book import Logbook
from analyser.logbook.names import pilot_from_folder
from analyser.logbook.progress import progress_of
from analyser.rules.scales import load_scale
from tests import program
from tests.club.__main__ import main as make_club
from tests.club.build import filled_club
from tests.club.people import PILOTS
from tests.interrupts import start_hearing_interrupts
from tests.logbook_documents import document
from tests.test_logbook_grade_sheet import filled

ROOT = Path(__file__).parent.parent


def run(*words: object, book: Path | None = None, text: str = "") -> program.Ended:
    """Run the program with a logbook of the test's own."""
    return program.run(*words, environment={"ANALYSER_LOGBOOK": str(book)} if book else None, text=text)


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return filled_club(tmp_path_factory.mktemp("club") / "club.sqlite")


@pytest.fixture
def one(tmp_path: Path) -> Path:
    path = tmp_path / "logbook.sqlite"
    with Logbook.open(path) as book:
        book.record(document(), pilot="Ada Vane", instructor="Ilja Moor")
    return path


@pytest.mark.slow
def test_one_command_flies_a_club_whose_weaknesses_are_found(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every fourth session is flown by the generator and read from its log by the program; they alone tell, too."""
    path = tmp_path / "club.sqlite"
    assert make_club([str(path)]) == 0
    assert "45 invented sessions" in capsys.readouterr().out
    assert make_club([str(path)]) == 2
    with Logbook.open(path) as book:
        sessions = book.sessions()
    flown = [one for one in sessions if "standard" in one.debrief.document]
    assert len(sessions) == 45 and len(flown) == 12 and all(one.debrief.trace for one in sessions)
    for pilot, known in itertools.product(PILOTS, (sessions, flown)):
        found = progress_of(pilot.name, known, scale=load_scale(), on=date(2026, 3, 10))
        assert found.weakest is not None and found.weakest.item.key == pilot.weakness, pilot.name


def test_recording_says_what_it_came_to(tmp_path: Path) -> None:
    place = tmp_path / "logbook.sqlite"
    kinds = []
    for _ in range(2):
        with Logbook.open(place) as book:
            kinds.append(book.record(document(), pilot="Ada Vane").kind)
    assert kinds == ["new", "already there"]
    assert pilot_from_folder(Path("logs/Ada_Vane/evening.gpx")) == "Ada Vane"


def test_a_log_beside_the_pilots_folders_is_nobodys() -> None:
    school = [Path("logs")]
    assert pilot_from_folder(Path("logs/Ada_Vane/evening.gpx"), school) == "Ada Vane"
    assert pilot_from_folder(Path("logs/Ada_Vane/march/evening.gpx"), school) == "Ada Vane"
    assert pilot_from_folder(Path("elsewhere/Bo_Lund/evening.gpx"), school) == "Bo Lund"
    with pytest.raises(UsageError, match=r"evening.gpx: lies beside the pilots' folders"):
        pilot_from_folder(Path("logs/evening.gpx"), school)


def test_a_log_beside_the_pilots_folders_is_debriefed_and_not_recorded(tmp_path: Path) -> None:
    """The folder of all is no pilot; a pilot's own folder, given by itself, is."""
    log = ROOT / "sample_logs" / "no_hold.gpx"
    (tmp_path / "logs" / "Ada_Vane").mkdir(parents=True)
    shutil.copy(log, tmp_path / "logs" / "Ada_Vane")
    text = log.read_text(encoding="utf-8")
    (tmp_path / "logs" / "stray.gpx").write_text(text.replace("2026-", "2025-"), encoding="utf-8")
    book = tmp_path / "logbook.sqlite"
    words = ["--pilot-folders", "--out", tmp_path / "reports", "--logbook", book, "--jobs", "1"]
    done = run("debrief", tmp_path / "logs", *words)
    assert done.returncode == 1 and "stray.gpx: lies beside the pilots' folders" in done.stderr
    assert (tmp_path / "reports" / "stray.html").exists()
    with Logbook.open(book) as opened:
        assert opened.pilots() == {"Ada Vane": 1}
    again = run("debrief", tmp_path / "logs" / "Ada_Vane", *words)
    assert again.returncode == 0 and "in the logbook already" in again.stderr


def test_everybodys_pages_at_once_and_a_record(club: Path, tmp_path: Path) -> None:
    done = run("progress", "--all", "--out", tmp_path, "--on", "2026-03-10", book=club)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == str(tmp_path / "class.html")
    page = (tmp_path / "class.html").read_text(encoding="utf-8")
    for pilot in PILOTS:
        for kind in ("progress", "record"):
            assert (tmp_path / f"{kind}-{pilot.name.replace(' ', '_')}.html").exists()
        assert pilot.name in page
    record = run("record", "alma BROOK", "--out", tmp_path / "one", "--on", "2026-03-10", book=club)
    assert record.stdout.strip() == str(tmp_path / "one" / "record-Alma_Brook.html")
    for words in (["progress"], ["progress", "--all", "Alma Brook"], ["record", "Alma Brok"]):
        wrong = run(*words, book=club)
        assert wrong.returncode == 2 and "Traceback" not in wrong.stderr, words
    told = run("record", "Alma Brok", book=club).stderr
    assert "did you mean Alma Brook" in told


def test_a_misspelt_pilot_is_not_dropped_without_a_word(club: Path, tmp_path: Path) -> None:
    wrong = run("compare", "Alma Brook", "Bruno Flak", "--out", tmp_path, book=club)
    assert wrong.returncode == 2 and "did you mean Bruno Falk" in wrong.stderr
    early = run("compare", "Alma Brook", "bruno falk", "--until", "2026-01-05", "--out", tmp_path, book=club)
    assert early.returncode in (0, 2)
    if early.returncode == 0:
        assert "has no session in this period" in early.stderr or "Bruno Falk" in early.stdout


def test_forgetting_tells_where_the_name_may_still_stand(one: Path, tmp_path: Path) -> None:
    run("progress", "Ada Vane", "--out", tmp_path, book=one)
    run("compare", "--out", tmp_path, "--csv", tmp_path / "all.csv", book=one)
    run("logbook", "export", tmp_path / "all.jsonl", book=one)
    done = run("logbook", "forget", "Ada Vane", "--yes", book=one)
    assert done.returncode == 0
    exercise = ("progress-Ada_Vane-exercise.html", "progress-Ada_Vane-exercise.toml")
    for name in ("progress-Ada_Vane.html", *exercise, "compare.html", "all.csv", "all.jsonl"):
        assert f"{tmp_path / name}: this file may hold the name" in done.stderr
    assert "Only the logbook was searched" in done.stderr and "saved grade sheets" in done.stderr


def test_changes_are_made_listed_and_undone(one: Path) -> None:
    by = ["--by", "Kim Ost"]
    assert "is called Ada Holm" in run("logbook", "rename", "Ada Vane", "Ada Holm", *by, book=one).stdout
    assert (
        "lesson IR 7, before: none" in run("logbook", "set", "last", "--lesson", "IR 7", *by, book=one).stdout
    )
    run("grade", "last", "--item", "bank=4", book=one)
    taken = run("logbook", "withdraw", "last", "--item", "bank", "--why", "wrong sheet", *by, book=one)
    assert "Bank in the turns 4 by Ilja Moor" in taken.stdout
    out = run("logbook", "delete", "last", *by, book=one)
    assert "taken out" in out.stdout and "undo" in out.stderr
    assert run("logbook", "list", book=one).stdout == "no sessions\n"
    trail = run("logbook", "trail", book=one).stdout.splitlines()
    assert len(trail) == 4 and all("Kim Ost" in line for line in trail) and "(wrong sheet)" in trail[2]
    assert run("logbook", "undo", "4", *by, book=one).returncode == 0
    assert "Ada Holm" in run("logbook", "list", book=one).stdout
    assert run("logbook", "undo", "4", *by, book=one).returncode == 2
    assert "[undone]" in run("logbook", "trail", book=one).stdout


def test_an_import_tells_what_differs_and_goes_on(one: Path, tmp_path: Path) -> None:
    other, lines = tmp_path / "other.sqlite", tmp_path / "other.jsonl"
    with Logbook.open(other) as book:
        book.record(document(), pilot="Bo Lund")
        book.record(document(5), pilot="Bo Lund")
        book.export(lines)
    dry = run("logbook", "import", lines, "--dry-run", book=one)
    assert dry.stdout.startswith("dry run, nothing was kept: 1 new session,")
    done = run("logbook", "import", lines, book=one)
    assert done.returncode == 1 and "1 new session," in done.stdout and "1 left alone" in done.stdout
    assert "pilot here: Ada Vane; there: Bo Lund" in done.stderr and "--prefer" in done.stderr
    settled = run("logbook", "import", lines, "--prefer", "there", "--by", "Kim Ost", book=one)
    assert settled.returncode == 0
    with Logbook.open(one) as book:
        assert book.pilots() == {"Bo Lund": 2}


def test_a_folder_of_saved_sheets_is_graded(one: Path, tmp_path: Path) -> None:
    folder = tmp_path / "sheets"
    folder.mkdir()
    for name, content in (("a.json", filled()), ("b.json", filled(saved_utc="2026-03-14T20:00:00Z"))):
        (folder / name).write_text(json.dumps(content), encoding="utf-8")
    (folder / "debrief.json").write_text(json.dumps(document()), encoding="utf-8")
    done = run("grade", folder, book=one)
    assert done.returncode == 0 and done.stdout.count("5 grades kept") == 2, done.stderr
    (tmp_path / "empty").mkdir()
    none = run("grade", tmp_path / "empty", book=one)
    assert none.returncode == 2 and "no grade sheet" in none.stderr


def test_progress_writes_page_card_and_hold_file(club: Path, tmp_path: Path) -> None:
    done = run("progress", "bruno falk", "--out", tmp_path, "--on", "2026-03-10", book=club)
    assert done.returncode == 0 and done.stderr == ""
    assert done.stdout.startswith("Work on altitude:")
    files = [Path(line) for line in done.stdout.splitlines() if line.startswith(str(tmp_path))]
    assert [path.suffix for path in files] == [".html", ".html", ".toml"] and all(
        path.exists() for path in files
    )
    card = run("brief", "--hold", files[2], "--tas", "105", "--wind", "355/5", "--heading", "65", "--true")
    assert card.returncode == 0, card.stderr
    assert run("progress", "Zed", "--out", tmp_path, book=club).returncode == 2


def test_compare_writes_page_and_csv(club: Path, tmp_path: Path) -> None:
    table = tmp_path / "class.csv"
    words = ("compare", "Alma Brook", "Carla Ness", "--since", "2026-01-05", "--until", "2026-02-01")
    done = run(*words, "--out", tmp_path, "--csv", table, book=club)
    assert done.returncode == 0, done.stderr
    assert "Alma Brook" in done.stdout and "Bruno" not in done.stdout
    content = table.read_text(encoding="utf-8-sig")
    assert "2026-01-" in content and "2026-02-2" not in content and "Bruno" not in content
    bad = run("compare", "--since", "yesterday", book=club)
    assert bad.returncode == 2 and "--since" in bad.stderr and "Traceback" not in bad.stderr
    none = run("compare", "--since", "2030-01-01", "--out", tmp_path, book=club)
    assert none.returncode == 2 and "no such session" in none.stderr


def test_long_and_joined_names_are_listed_whole_and_push_nobody_aside(one: Path) -> None:
    joined, long = "Cy 👩\u200d✈️ Holt", "Maximiliana " * 9 + "Ost"
    run("logbook", "move", "last", "--pilot", joined, "--by", "Kim Ost", book=one)
    assert joined in run("logbook", "list", book=one).stdout
    trail = run("logbook", "trail", book=one).stdout
    assert f"flown by {joined}" in trail and "\ufffd" not in trail
    run("logbook", "rename", joined, long, "--by", "Kim Ost", book=one)
    (line,) = run("logbook", "list", book=one).stdout.splitlines()
    assert f"{long}  invented.gpx" in line


def test_sessions_are_listed_moved_exported_imported_and_forgotten(one: Path, tmp_path: Path) -> None:
    listed = run("logbook", "list", book=one)
    assert "Ada Vane" in listed.stdout and "invented.gpx" in listed.stdout
    reference = listed.stdout.split()[0]
    moved = run("logbook", "move", reference, "--pilot", "Bo Lund", "--by", "Kim Ost", book=one)
    assert "flown by Bo Lund, before: Ada Vane" in moved.stdout
    assert "flown 2026-02-03 00:00" in run("logbook", "date", "last", "2026-02-03", book=one).stdout
    assert run("logbook", "date", "last", "soon", book=one).returncode == 2
    lines = tmp_path / "out.jsonl"
    assert "1 session written" in run("logbook", "export", lines, book=one).stdout
    piped = run("logbook", "export", "-", "--quiet", book=one)
    assert piped.stdout == lines.read_text(encoding="utf-8")
    other = tmp_path / "other.sqlite"
    assert "1 new" in run("logbook", "import", lines, book=other).stdout
    assert "1 already there" in run("logbook", "import", "-", book=other, text=piped.stdout).stdout
    unsure = run("logbook", "forget", "Bo Lund", book=one)
    assert unsure.returncode == 2 and "--yes" in unsure.stderr
    assert "erased: 1 session;" in run("logbook", "forget", "Bo Lund", "--yes", book=one).stdout
    assert run("logbook", "list", book=one).stdout == "no sessions\n"
    assert run("logbook", "where", book=one).stdout.strip() == str(one)
    cut = tmp_path / "cut.jsonl"
    cut.write_text(piped.stdout.splitlines()[0] + "\n", encoding="utf-8")
    broken = run("logbook", "import", cut, book=other)
    assert broken.returncode == 1 and "not whole" in broken.stderr
    missing = run("logbook", "import", tmp_path / "no.jsonl", book=other)
    assert missing.returncode == 1 and "no.jsonl" in missing.stderr and "Traceback" not in missing.stderr


def test_grades_from_files_and_typed(one: Path, tmp_path: Path) -> None:
    good, bad = tmp_path / "good.json", tmp_path / "bad.json"
    good.write_text(json.dumps(filled()), encoding="utf-8")
    bad.write_text("{}", encoding="utf-8")
    done = run("grade", bad, good, book=one)
    assert done.returncode == 1 and "5 grades kept" in done.stdout and "not a grade sheet" in done.stderr
    assert "in the logbook already" in run("grade", good, book=one).stdout
    typed = run("grade", "last", "--item", "speed=4", "--item", "timing=2:late", book=one)
    assert typed.returncode == 0 and "2 grades kept" in typed.stdout
    for words in (
        ["last"],
        ["last", "--item", "timing=2"],
        ["last", "--item", "x=3"],
        ["ffff", "--item", "bank=3"],
    ):
        wrong = run("grade", *words, book=one)
        assert wrong.returncode == 2 and "Traceback" not in wrong.stderr, words
    with Logbook.open(one) as book:
        assert len(book.session("last").grades) == 7


@pytest.mark.skipif(
    shutil.which("script") is None, reason="needs a terminal to type into (util-linux 'script')"
)
def test_grades_typed_at_the_terminal(one: Path) -> None:
    with Logbook.open(one) as book:
        count = len(book.session("last").holds[0].circuits[0].scores) + 2
    # The pilot's own grades, one of them wrong at first; then the instructor's, one below standard.
    answers = ["7", "4", *["4"] * (count - 1), "2", "missed the sector", *["3"] * (count - 1)]
    command = f"{sys.executable} -m analyser grade last --logbook {one}"
    done = subprocess.run(
        ["script", "-qec", command, "/dev/null"],
        cwd=ROOT,
        input="\n".join(answers) + "\n",
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert f"{2 * count} grades kept" in done.stdout, done.stdout
    with Logbook.open(one) as book:
        standing = book.session("last").standing_grades()
    assert standing[1, "entry", "pilot"].level == "4"
    assert standing[1, "entry", "instructor"].remark == "missed the sector"


@pytest.mark.skipif(shutil.which("script") is None, reason="needs a terminal (util-linux 'script')")
def test_long_work_shows_a_bar_on_a_terminal_and_lines_in_a_pipe(club: Path, tmp_path: Path) -> None:
    piped = run("logbook", "export", tmp_path / "a.jsonl", book=club)
    assert "exporting: 45 of 45" in piped.stderr and "\x1b" not in piped.stderr
    assert run("logbook", "export", tmp_path / "b.jsonl", "--quiet", book=club).stderr == ""
    command = f"{sys.executable} -m analyser logbook export {tmp_path / 'c.jsonl'} --logbook {club}"
    words = ["script", "-qec", command, "/dev/null"]
    seen = subprocess.run(
        words, cwd=ROOT, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL
    )
    assert "\x1b[" in seen.stdout and "exporting" in seen.stdout and "of 45" not in seen.stdout
    assert (tmp_path / "a.jsonl").read_bytes() == (tmp_path / "c.jsonl").read_bytes()
    assert (tmp_path / "a.jsonl").stat().st_mode & 0o777 == 0o600


def test_a_read_command_makes_no_logbook(tmp_path: Path) -> None:
    path = tmp_path / "none.sqlite"
    for words in (
        ["logbook", "list"],
        ["progress", "Ada"],
        ["compare"],
        ["grade", "last"],
        ["logbook", "export", "-"],
    ):
        done = run(*words, book=path)
        assert done.returncode == 1 and "no logbook here" in done.stderr, words
    assert not path.exists()


def test_the_help_of_every_command_names_its_options() -> None:
    for words in (["grade"], ["progress"], ["compare"], ["watch"], ["logbook", "forget"]):
        done = run(*words, "--help")
        assert done.returncode == 0 and "--logbook" in done.stdout


def test_starting_the_program_loads_no_database() -> None:
    heavy = ("sqlalchemy", "alembic", "rich.progress")
    code = f"import sys, analyser.cli; print([one for one in {heavy} if one in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.slow
def test_a_watched_folder_is_debriefed_recorded_and_left_whole(tmp_path: Path) -> None:
    """A log is written piece by piece while the folder is watched; Ctrl-C ends it, finished work stays."""
    source = ROOT / "sample_logs" / "first_lesson.gpx"
    logs, out, book = tmp_path / "logs", tmp_path / "reports", tmp_path / "logbook.sqlite"
    (logs / "Ada_Vane").mkdir(parents=True)
    words = ["watch", logs, "--out", out, "--no-open", "--settle", "1", "--pilot-folders", "--logbook", book]
    command = [sys.executable, "-m", "analyser", *map(str, words)]
    with start_hearing_interrupts(command, ROOT) as watching:
        assert watching.stderr is not None and watching.stdout is not None
        assert "watching" in watching.stderr.readline()
        text = source.read_text(encoding="utf-8")
        with (logs / "Ada_Vane" / "evening.gpx").open("w", encoding="utf-8") as stream:
            for start in range(0, len(text), len(text) // 4 + 1):
                stream.write(text[start : start + len(text) // 4 + 1])
                stream.flush()
                time.sleep(0.4)
        said = []
        for line in watching.stderr:
            said.append(line)
            if "new session of Ada Vane" in line:
                break
        os.killpg(watching.pid, signal.SIGINT)
        rest, complaints = watching.communicate(timeout=30)
    assert watching.returncode == 0 and "what was finished is kept" in complaints, complaints + rest
    assert "Traceback" not in complaints
    assert [path.name for path in sorted(out.iterdir())] == ["evening.html", "evening.json", "index.html"]
    with Logbook.open(book) as kept:
        (session,) = kept.sessions()
    assert (session.pilot, session.log_name) == ("Ada Vane", "evening.gpx")
    written = json.loads((out / "evening.json").read_text(encoding="utf-8"))
    del written["program"]
    assert session.debrief.document == written
    assert len(session.debrief.path(0) or ()) > 100


def test_a_folder_that_is_not_there_is_said() -> None:
    done = run("watch", "/nowhere/at/all")
    assert done.returncode == 2 and "no such folder" in done.stderr
