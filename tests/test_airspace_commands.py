"""``brief --obstacles`` and ``debrief --obstacles``: the level, its sum and its cautions, and wrong use."""

from __future__ import annotations

import json
import re
import shutil
import sys
from pathlib import Path

import pytest

from analyser.cli import main
from tests.program import run

SAMPLES = Path(__file__).parent.parent / "sample_logs"
HOLD, LOG = SAMPLES / "first_lesson.toml", SAMPLES / "first_lesson.gpx"
#: 1,000 ft + 984 ft lies far below; 3,700 ft two miles from the fix and 984 ft make 4,684 ft: 4,700 ft.
OBSTACLES = "name,lat,lon,elevation_ft\nmast,46.50,-32.99,1000\nridge,46.47,-33.00,3700\n"


@pytest.fixture
def obstacles(tmp_path: Path) -> Path:
    path = tmp_path / "obstacles.csv"
    path.write_text(OBSTACLES, encoding="utf-8")
    return path


def test_brief_prints_the_level_with_its_sum_and_caution(obstacles: Path) -> None:
    done = run("brief", "--hold", HOLD, "--obstacles", obstacles)
    assert done.returncode == 0, done.stderr
    assert "Minimum holding level over the file's obstacles, not in high terrain: 4,700 ft." in done.stdout
    assert (
        "ridge, inside the holding area: 3,700 ft + 984 ft = 4,684 ft, rounded up to 4,700 ft" in done.stdout
    )
    assert "The altitude planned is 4,000 ft, 700 ft below it." in done.stdout
    assert "not obstacle clearance, not for planning or navigation" in done.stdout
    assert "FAA" not in done.stdout.split("Lowest level")[1].split("[1]")[0]


def test_brief_in_high_terrain_as_data_and_as_a_page(obstacles: Path, tmp_path: Path) -> None:
    """On paper: 3,700 + 1,969 = 5,669, so 5,700 ft."""
    page = tmp_path / "card.html"
    done = run(
        "brief",
        "--hold",
        HOLD,
        "--obstacles",
        obstacles,
        "--high-terrain",
        "--rules",
        "faa",
        "--json",
        "--out",
        page,
    )
    assert done.returncode == 0, done.stderr
    level = json.loads(done.stdout)["minimum_level"]
    assert level["level_ft"] == 5700.0
    assert level["controlling"]["name"] == "ridge"
    assert level["high_terrain"] is True
    html = page.read_text(encoding="utf-8")
    assert "3,700 ft + 1,969 ft = 5,669 ft" in html
    assert "this is not the FAA&#39;s area" in html


def test_brief_without_obstacles_says_nothing_of_a_level() -> None:
    done = run("brief", "--hold", HOLD, "--json")
    assert json.loads(done.stdout)["minimum_level"] is None


def test_debrief_holds_the_flown_altitude_against_the_level(obstacles: Path, tmp_path: Path) -> None:
    log = tmp_path / LOG.name
    shutil.copy(LOG, log)
    out = tmp_path / "reports"
    done = run("debrief", log, "--hold", HOLD, "--obstacles", obstacles, "--out", out)
    assert done.returncode == 0, done.stderr
    hold = json.loads((out / "first_lesson.json").read_text(encoding="utf-8"))["holds"][0]
    found = hold["airspace"]
    assert found["minimum_level"]["level_ft"] == 4700.0
    assert found["minimum_level"]["flown_below"] is True
    lowest_ft = found["minimum_level"]["lowest_flown_ft"]
    page = (out / "first_lesson.html").read_text(encoding="utf-8")
    assert re.search(rf"{4700 - lowest_ft:.0f} ft</span>.{{0,80}} below it", page)
    # Hundreds of feet below what the obstacles ask for comes before every fault of heading or time.
    first = hold["findings"][0]
    assert (first["kind"], first["severity"], first["target"]) == ("minimum level", "unsafe", 4700.0)
    assert hold["verdict"].startswith(first["sentence"])
    assert hold["points"] <= 59.0


def test_a_hundred_feet_below_the_level_is_altitude_keeping(tmp_path: Path) -> None:
    """Whoever holds at the level itself may dip by the tolerance: said, not unsafe."""
    file = tmp_path / "ridge.csv"
    # 3,948 ft is the lowest flown: the level over this ridge is 4,000 ft, 52 ft higher.
    file.write_text("name,lat,lon,elevation_ft\nridge,46.5,-33.0,3010\n", encoding="utf-8")
    out = tmp_path / "reports"
    done = run("debrief", LOG, "--hold", HOLD, "--obstacles", file, "--out", out)
    assert done.returncode == 0, done.stderr
    hold = json.loads((out / "first_lesson.json").read_text(encoding="utf-8"))["holds"][0]
    (found,) = [one for one in hold["findings"] if one["kind"] == "minimum level"]
    assert (found["severity"], found["target"]) == ("improve", 4000.0)


@pytest.mark.parametrize("command", ["brief", "debrief"])
def test_wrong_use_is_said_once_with_the_mend(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    first = (
        ["brief", "--hold", HOLD] if command == "brief" else ["debrief", LOG, "--out", tmp_path / "reports"]
    )
    bad = tmp_path / "bad.csv"
    bad.write_text("name,lat,lon,elevation\nmast,46.5,-33,1000\n", encoding="utf-8")
    for more, said in (
        (["--high-terrain"], "--high-terrain: high terrain is about obstacles"),
        (["--obstacles", bad], "column 'elevation': the elevation's unit is not said"),
        (["--obstacles", tmp_path / "none.csv"], "no such file"),
    ):
        monkeypatch.setattr(sys, "argv", ["analyser", *map(str, [*first, *more])])
        with pytest.raises(SystemExit) as left:
            main()
        assert left.value.code == 2
        done = capsys.readouterr()
        assert done.err.count("analyser: ") == 1
        assert said in done.err
        assert not done.out
