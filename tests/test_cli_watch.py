"""``analyser watch``: one page for a batch, the folder remembered, and nothing that ends it but the person."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from analyser.logbook.book import Logbook
from analyser.work import watching
from analyser.work.watching import Watched, remember, remembered
from tests.work_flights import lesson_and_transit

HOLD = 'name = "Invented hold"\nfix = "N48°12.108\' E011°01.476\'"\ninbound_course = "230T"\nturns = "R"\n'


@pytest.fixture(scope="module")
def flown(tmp_path_factory):
    return lesson_and_transit(tmp_path_factory.mktemp("flown"))


@pytest.fixture
def watch(monkeypatch, program, tmp_path):
    """Watch with batches handed over at once and then ended by Ctrl-C; return both streams and the pages opened."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("ANALYSER_DATA", str(tmp_path / "data"))
    opened: list[str] = []
    monkeypatch.setattr("typer.launch", opened.append)

    def run(*words, batches=()):
        def loop(folders):
            each = folders[0][1]
            for batch in batches:
                each([Path(log) for log in batch])
            raise KeyboardInterrupt

        monkeypatch.setattr(watching, "watch", loop)
        return *program("watch", *words), [Path(page).name for page in opened]

    return run


def test_one_log_opens_its_page_and_several_the_list(watch, flown):
    lesson, transit = flown / "lesson.gpx", flown / "transit.gpx"
    status, out, err, opened = watch(flown, batches=[[lesson]])
    assert status == 0 and "ended; what was finished is kept" in err
    assert opened == ["lesson.html"] and "lesson.gpx: 1 hold" in out
    assert watch(flown, batches=[[lesson, transit]])[3] == ["lesson.html", "index.html"]
    assert len(watch(flown, "--no-open", batches=[[lesson]])[3]) == 2
    assert Path("reports/index.html").exists()


def test_logs_are_judged_as_a_debrief_by_the_same_options_would(watch, flown, program):
    said = ("--rules", "faa", "--flight-director", "--turbulence", "--infer")
    assert watch(flown, *said, batches=[[flown / "transit.gpx"]])[0] == 0
    done = "debriefed before with the same settings"
    assert done in program("debrief", flown / "transit.gpx", *said)[2]
    assert done not in program("debrief", flown / "transit.gpx", *said[:-2], "--infer")[2]
    # What is wrong is said at once, not with the first log.
    for option in ("--obstacles", "--scoring"):
        status, _, err, _ = watch(flown, option, "nowhere")
        assert status == 2 and "nowhere" in err


def test_the_folder_is_remembered(watch, flown, tmp_path):
    status, _, err, _ = watch()
    assert status == 2
    assert "no folder has been watched before" in err
    watch(flown, "--out", "pages", "--pilot", "Imaginary Pilot", "--logbook", "book.db")
    (tmp_path / "elsewhere").mkdir()
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tmp_path / "elsewhere")
        status, _out, err, opened = watch("--logbook", "book.db", batches=[[flown / "lesson.gpx"]])
    assert status == 0 and f"watching {flown.absolute()}" in err
    assert (tmp_path / "pages" / "lesson.html").exists() and opened == ["lesson.html"]
    # For the same pilot, too.
    assert "Imaginary Pilot" in err


def test_a_school_that_watches_again_types_nothing(watch, flown, tmp_path):
    """Pilots' folders, instructor, device and the folder of saved sheets; a lesson is another one the next time."""
    downloads = tmp_path / "downloads"
    downloads.mkdir()
    said = ("--instructor", "Ilja Moor", "--device", "trainer 1", "--lesson", "IR 7", "--sheets", downloads)
    watch(tmp_path, "--pilot-folders", *said, "--logbook", "book.db")
    status, _, err, _ = watch("--logbook", "book.db", batches=[[flown / "lesson.gpx"]])
    assert status == 0 and f"{downloads} for grade sheets" in err and f"session of {flown.name}" in err
    with Logbook.open("book.db") as book:
        one = book.session("last")
    assert (one.instructor, one.device, one.lesson) == ("Ilja Moor", "trainer 1", None)
    # In the folder of all pilots itself a log is nobody's.
    beside = watch(flown, "--pilot-folders", "--logbook", "book.db", batches=[[flown / "lesson.gpx"]])[2]
    assert "lies beside the pilots' folders" in beside
    watch(tmp_path, "--pilot-folders", *said, "--logbook", "book.db")
    downloads.rmdir()
    assert watch("--logbook", "book.db")[0] == 0, "a download folder that is gone stops nothing"


def test_the_users_collection_is_used(watch, flown):
    Path("data/holds").mkdir(parents=True)
    Path("data/holds/here.toml").write_text(HOLD, encoding="utf-8")
    out = watch(flown, batches=[[flown / "lesson.gpx"]])[1]
    assert "as given in here.toml" in " ".join(out.split())


def test_a_bad_log_is_said_and_the_next_is_done(watch, flown, tmp_path):
    bad = tmp_path / "bad.gpx"
    bad.write_text("no log")
    status, out, err, opened = watch(flown, batches=[[bad], [flown / "transit.gpx"]])
    assert (status, opened) == (0, ["transit.html"])
    assert "bad.gpx" in err and "transit.gpx: no hold found" in out


def test_a_hold_file_that_goes_wrong_meanwhile_does_not_end_it(watch, flown, monkeypatch):
    Path("here.toml").write_text(HOLD, encoding="utf-8")
    spoilt = [[flown / "lesson.gpx"], [flown / "transit.gpx"]]

    class Spoiling(list):
        def __iter__(self):
            yield spoilt[0]
            Path("here.toml").write_text('turns = "up"\n', encoding="utf-8")
            yield spoilt[1]

    status, out, err, opened = watch(flown, "--hold", "here.toml", batches=Spoiling())
    assert (status, opened) == (0, ["lesson.html"])
    assert "here.toml, key 'turns'" in err and "lesson.gpx: 1 hold" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("nowhere",), "there is no such folder"),
        ((".", "--settle", "0"), "must be above zero"),
        ((".", "--rules", "own"), "own"),
        ((".", "--hold", "nowhere.toml"), "no such file"),
        ((".", "--pilot", "A", "--pilot-folders"), "give one of them"),
        ((".", "--instructor", "A"), "without a pilot"),
    ],
)
def test_what_is_impossible_is_said_before_the_first_log(watch, words, said):
    status, _, err, _ = watch(*words)
    assert status == 2
    assert said in err


def test_what_is_remembered_may_be_lost(monkeypatch, tmp_path):
    monkeypatch.setenv("ANALYSER_DATA", str(tmp_path))
    remember(Watched("/logs", "/pages", None))
    assert remembered() == Watched("/logs", "/pages", None)
    assert json.loads((tmp_path / "watched.json").read_text())["pilot"] is None
    # As an older program kept it.
    (tmp_path / "watched.json").write_text('{"folder": "/logs", "out": "/pages", "pilot": "A"}')
    assert remembered() == Watched("/logs", "/pages", "A")
    for spoilt in ("{", "[]", '{"folder": 5, "out": "/pages"}', '{"folder": "/logs"}'):
        (tmp_path / "watched.json").write_text(spoilt)
        with pytest.raises(Exception, match="no folder has been watched before"):
            remembered()
    # Where nothing can be kept, watching goes on.
    monkeypatch.setenv("ANALYSER_DATA", "/dev/null")
    remember(Watched("/logs", "/pages", None))
