"""Pictures to take away: from a log or a debrief file, the same file each time, and nothing else loads matplotlib."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from analyser.picture_files import draw
from analyser.picture_files.draw import MARK, written
from analyser.schema.debrief_file import WrittenHold
from tests.program import run
from tests.work_flights import flight, write_gpx

ROOT = Path(__file__).parent.parent
KINDS = ("plan", "wind", "strips", "budget")


@pytest.fixture(scope="module")
def flown(tmp_path_factory):
    """The sample lesson, debriefed once: its JSON."""
    out = tmp_path_factory.mktemp("pictures")
    log, hold = (str(ROOT / "sample_logs" / f"first_lesson.{ending}") for ending in ("gpx", "toml"))
    assert run("debrief", log, "--hold", hold, "--out", out, "--quiet").returncode == 0
    return out / "first_lesson.json"


@pytest.fixture
def picture(monkeypatch, program, tmp_path):
    monkeypatch.chdir(tmp_path)
    return lambda *words: program("picture", *words)


def words_of(svg: bytes) -> str:
    return " ".join(
        "".join(one.itertext()) for one in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")
    )


def plain_hold(data: Path):
    return json.loads(data.read_text(encoding="utf-8"))["holds"][0]


def hold_of(data: Path) -> WrittenHold:
    return WrittenHold.from_json(plain_hold(data))


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_is_the_same_file_each_time_and_its_letters_are_letters(picture, flown, kind):
    assert picture(flown, "--as", kind, "--to", "a.svg") == (0, "a.svg\n", "")
    assert picture(flown, "--as", kind, "--to", "b.svg")[0] == 0
    first = Path("a.svg").read_bytes()
    assert first == Path("b.svg").read_bytes()
    said = words_of(first)
    assert "Practice hold, first lesson" in said and "not for navigation" in said
    assert re.search(rb"<dc:date>|20\d\d-\d\d-\d\dT", first) is None


def test_what_each_kind_says(flown):
    hold = hold_of(flown)
    made = {kind: words_of(written(lambda k=kind: getattr(draw, k)("x.gpx", hold), "svg")) for kind in KINDS}
    assert (
        "circuit 4" in made["plan"] and "fix" in made["plan"] and "274° magnetic, right-hand" in made["plan"]
    )
    assert "true airspeed 104 kt" in made["wind"] and "wind from 215° magnetic" in made["wind"]
    assert "Wind correction" in made["strips"] and "tolerances from the target" in made["strips"]
    assert "Circuit 1: what moved the roll-out" in made["budget"] and "all together" in made["budget"]


@pytest.mark.slow
@pytest.mark.parametrize(("ending", "mark"), [("png", b"\x89PNG"), ("pdf", b"%PDF")])
def test_for_slides_and_for_print(flown, ending, mark):
    hold = hold_of(flown)
    first, second = (written(lambda: draw.plan("x.gpx", hold), ending) for _ in range(2))
    assert first == second
    assert first.startswith(mark)
    assert b"CreationDate" not in first


def test_the_bars_of_the_budget_add_up_to_what_was_measured(flown):
    for circuit in hold_of(flown).circuits:
        figure = draw.budget("x.gpx", hold_of(flown), circuit.number)
        bars = [bar.get_width() for bar in figure.axes[0].patches]
        half = len(bars) // 2
        for moved in (bars[:half], bars[half:]):
            assert sum(moved[:-1]) == pytest.approx(moved[-1], abs=2e-3)


def test_ground_velocities_lie_about_the_circle_that_is_drawn(flown):
    hold = hold_of(flown)
    points, circle = draw.wind("x.gpx", hold).axes[0].lines[:2]
    off = np.hypot(points.get_xdata() - hold.wind.east_kt, points.get_ydata() - hold.wind.north_kt)
    assert np.median(off) == pytest.approx(hold.tas_kt, abs=1.0)
    assert np.ptp(circle.get_xdata()) == pytest.approx(2 * hold.tas_kt, rel=1e-3)


def test_the_winds_arrows_point_where_it_blows_to_and_its_words_say_where_from(flown):
    """A wind of 12 kt towards the east and 16 towards the south: from 323° true, 313° magnetic with 10° east."""
    hold = hold_of(flown)
    blowing = replace(hold, wind=replace(hold.wind, east_kt=12.0, north_kt=-16.0, sd_kt=1.25), variation=10.0)
    for kind in ("plan", "wind"):
        axes = getattr(draw, kind)("x.gpx", blowing).axes[0]
        (arrow,) = [one for one in axes.texts if one.arrowprops is not None]
        across, up = (tip - root for tip, root in zip(arrow.xy, arrow.xyann, strict=True))
        assert across > 0 > up and across / -up == pytest.approx(12.0 / 16.0)
    assert "wind from 313° magnetic, 20 ± 2.5 kt" in [line.get_label() for line in axes.lines]
    true = replace(blowing, variation=None)
    assert draw._wind_words(true.wind, true) == "from 323° true, 20 ± 2.5 kt"


def test_strips_stand_at_their_tolerances_and_marks_where_the_file_says_outside(flown):
    hold = hold_of(flown)
    scores = {
        key: replace(one, deviation=None, verdict="not judged")
        for key, one in hold.circuits[0].scores.items()
    }
    scores["timing"] = replace(scores["timing"], deviation=-15.0, tolerance=10.0, verdict="outside")
    scores["bank"] = replace(scores["bank"], deviation=2.5, tolerance=5.0, verdict="within")
    scores["track"] = replace(scores["track"], deviation=80.0, tolerance=5.0, verdict="outside")
    one = replace(hold.circuits[0], scores=scores)
    axes = draw.strips("x.gpx", replace(hold, circuits=(one,))).axes[0]
    dots = {round(float(line.get_ydata()[0])): line for line in axes.lines if line.get_marker() == "o"}
    rows = [label.get_text() for label in axes.get_yticklabels()]
    named = {rows[place]: float(line.get_xdata()[0]) for place, line in dots.items()}
    assert named["Leg timing"] == -1.5 and named["Bank in the turns"] == 0.5
    # Sixteen tolerances are drawn at the edge, and said.
    far = named["Inbound track"]
    assert 0.5 < far < 16.0 and far < axes.get_xlim()[1]
    assert "1 (+16)" in [text.get_text() for text in axes.texts]
    assert [text.get_text() for text in axes.texts].count("not judged") == len(rows) - 3
    colours = {rows[place]: line.get_color() for place, line in dots.items()}
    assert colours["Leg timing"] == colours["Inbound track"] == MARK != colours["Bank in the turns"]


def test_a_velocity_is_taken_over_its_own_time_and_not_across_a_hole():
    """Miles in two seconds each, then a hole of ten minutes: 0.1 NM in 4 s are 90 kt."""
    time = np.array([0.0, 2.0, 4.0, 6.0, 606.0, 608.0])
    east, north = 0.05 * np.arange(6.0), np.zeros(6)
    across, up = draw._velocities(time, east, north)
    assert across == pytest.approx([90.0, 90.0]) and up == pytest.approx([0.0, 0.0])


def test_the_exact_circuit_closes_on_the_fix_and_lies_on_the_holding_side(flown):
    hold = hold_of(flown)
    lines = {line.get_label(): line for line in draw.plan("x.gpx", hold).axes[0].lines}
    for circuit in hold.circuits:
        flown = lines[f"circuit {circuit.number}"].get_xydata()
        # From over the fix to over the fix, to the path's step of three seconds.
        assert np.abs(flown[[0, -1]]).max() < 0.12
    exact = lines["exact for circuit 4"]
    ends = exact.get_xydata()[[0, -1]]
    assert np.abs(ends).max() < 0.02
    # Inbound to the west, right-hand: the circuit lies north of the course.
    assert exact.get_ydata().max() > 1.0 > -0.2 < exact.get_ydata().min()
    # Held to the other hand than the file's: the exact circuit is of the hand that was flown, as on the page.
    other = draw.plan("x.gpx", replace(hold, turns_flown="left")).axes[0].lines
    (drawn,) = [line for line in other if line.get_label() == "exact for circuit 4"]
    assert drawn.get_ydata().min() < -1.0 and drawn.get_ydata().max() < 0.5


def test_a_circuit_alone_and_one_that_is_not_there(picture, flown):
    assert picture(flown, "--as", "plan", "--circuit", 2, "--to", "two.svg")[0] == 0
    said = words_of(Path("two.svg").read_bytes())
    assert "circuit 2" in said and "exact for circuit 2" in said and "circuit 1" not in said
    status, _, err = picture(flown, "--as", "plan", "--circuit", 9, "--to", "nine.svg")
    assert status == 2
    assert "there is no circuit 9" in err and "1, 2, 3, 4" in err
    assert not Path("nine.svg").exists()


def test_from_a_log_without_a_debrief_before(picture, tmp_path):
    write_gpx(flight(1000, laps=2), tmp_path / "lesson.gpx")
    assert picture("lesson.gpx", "--as", "strips", "--to", "lesson.png")[0] == 0
    write_gpx(flight(290), tmp_path / "transit.gpx")
    status, _, err = picture("transit.gpx", "--as", "plan", "--to", "transit.png")
    assert status == 1
    assert "no hold was found" in err


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("x.json", "--as", "cake", "--to", "x.png"), 2, "'cake' is no kind of picture"),
        (("x.json", "--as", "plan", "--to", "x.gif"), 2, "'.gif' is no kind of picture file"),
        (("x.json", "--as", "plan", "--to", "x"), 2, "the file has no ending"),
        ((".", "--as", "plan", "--to", "x.png"), 1, "this is a folder (name one of the logs in it)"),
        (("nowhere.gpx", "--as", "plan", "--to", "x.png"), 1, "No such file"),
        (("old.json", "--as", "plan", "--to", "x.png"), 2, "no flown path"),
        (("half.json", "--as", "plan", "--to", "x.png"), 1, "the debrief file is damaged"),
        (
            ("odd.json", "--as", "plan", "--to", "x.png"),
            1,
            "damaged: holds: wind: source: '7' does not belong here",
        ),
        (
            ("old.json", "--as", "plan", "--number", "2", "--to", "x.png"),
            2,
            "no hold 2 (the flight has one hold)",
        ),
        (("old.json", "--as", "plan", "--to", "there.png"), 2, "there already"),
    ],
)
def test_what_cannot_be_drawn_is_said(picture, flown, words, status, said):
    document = json.loads(flown.read_text(encoding="utf-8"))
    del document["holds"][0]["flown_path"]
    Path("old.json").write_text(json.dumps(document))
    Path("half.json").write_text(flown.read_text(encoding="utf-8")[:5000], encoding="utf-8")
    document["holds"][0]["wind"]["source"] = 7
    Path("odd.json").write_text(json.dumps(document))
    Path("there.png").write_text("mine")
    found, _, err = picture(*words)
    assert found == status
    assert said in err
    assert Path("there.png").read_text() == "mine"
    assert not Path("x.png").exists()


def test_names_are_drawn_as_they_stand(flown):
    hold = replace(hold_of(flown), name="cost $x^2$ & <b> \\frac{1}{2} \x1b[31m")
    said = words_of(written(lambda: draw.plan("a$b.gpx", hold), "svg"))
    assert "cost $x^2$ & <b> \\frac{1}{2}" in said and "a$b.gpx" in said and "\x1b" not in said


def test_what_was_not_judged_is_said_to_be_so(flown):
    plain = plain_hold(flown)
    for circuit in plain["circuits"]:
        circuit["scores"]["bank"] |= {"verdict": "not judged", "points": None, "deviation": None}
    hold = WrittenHold.from_json(plain)
    assert "not judged" in words_of(written(lambda: draw.strips("x.gpx", hold), "svg"))


@pytest.mark.slow
def test_a_debrief_loads_no_matplotlib_and_a_picture_no_window_toolkit(flown, tmp_path):
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from analyser.work.job import Job\n"
        "from analyser.work.task import Task, carry_out\n"
        "from analyser.picture_files.picture import picture_of\n"
        f"job = Job(Path({str(tmp_path)!r}))\n"
        f"log = Path({str(ROOT / 'sample_logs' / 'first_lesson.gpx')!r})\n"
        "assert carry_out(Task(log, log.stem, job)).reports\n"
        "print('matplotlib' in sys.modules)\n"
        f"picture_of({str(flown)!r}, 'plan', 'svg', job)\n"
        "print([name for name in ('matplotlib.pyplot', 'tkinter') if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert run.stdout.split() == ["False", "[]"]


def test_a_pilots_progress(picture, flown):
    from analyser.logbook.book import Logbook

    document = json.loads(flown.read_text(encoding="utf-8"))
    document.pop("program")
    with Logbook.open("book.db") as book:
        for day in range(1, 5):
            document["log"] |= {"sha256": f"{day:064d}", "start_utc": f"2026-03-0{day}T10:00:00Z"}
            book.record(document, pilot="Imaginary Pilot")
    words = ("imaginary pilot", "--as", "progress", "--logbook", "book.db")
    for file in ("a.svg", "b.svg"):
        assert picture(*words, "--to", file)[0] == 0
    assert Path("a.svg").read_bytes() == Path("b.svg").read_bytes()
    said = words_of(Path("a.svg").read_bytes())
    assert (
        "Holding progress: Imaginary Pilot" in said and "4 sessions" in said and "not for navigation" in said
    )
    for item in ("Entry", "Leg timing", "Bank in the turns", "Wind correction", "Altitude", "Speed"):
        assert item in said
    status, _, err = picture("Nobody", *words[1:], "--to", "c.svg")
    assert status == 2
    assert "no session of 'Nobody'" in err
