"""A scored item is added by its measure and a row of the items' file: everything else shows it by itself."""

import csv
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
ROW = """
[[items]]
key = "start_turn"
title = "Start of the outbound turn"
short = "Start"
unit = "s"
decimals = 0
meaning = "from the fix to leaving level"
deviation = "late (+) or early (−)"
weight = 2.0
"""
#: The measure: a turn begun more than a second from the fix is outside.
MEASURE = """

def judge_start(lap, measures):
    from analyser.grading.score import Gauge

    return Gauge(lap.scoring, "s", 1.0, how="derived").score(measures.start_delay_s, 0.0, 0.05)
"""


def _with_the_item(folder: Path) -> Path:
    shutil.copytree(ROOT / "analyser", folder / "analyser", ignore=shutil.ignore_patterns("__pycache__"))
    rules, judge = folder / "analyser/rules/items.toml", folder / "analyser/grading/judge.py"
    rules.write_text(rules.read_text(encoding="utf-8") + ROW, encoding="utf-8")
    text, line = judge.read_text(encoding="utf-8"), '        "bank": judge_bank(lap),\n'
    assert line in text
    judge.write_text(
        text.replace(line, f'{line}        "start_turn": judge_start(lap, measures),\n') + MEASURE,
        encoding="utf-8",
    )
    return folder


@pytest.mark.slow
def test_a_new_item_is_judged_weighed_told_and_tabulated_everywhere(tmp_path):
    code = _with_the_item(tmp_path / "program")
    log, out = ROOT / "sample_logs/first_lesson.gpx", tmp_path / "out"
    subprocess.run(
        [
            sys.executable,
            "-m",
            "analyser",
            "debrief",
            log,
            "--out",
            out,
            "--table",
            out / "all.csv",
            "--quiet",
        ],
        cwd=code,
        env={**os.environ, "PYTHONPATH": str(code)},
        check=True,
    )
    hold = json.loads((out / "first_lesson.json").read_text(encoding="utf-8"))["holds"][0]
    found = [circuit["scores"]["start_turn"] for circuit in hold["circuits"]]
    # In the order of the items' file: the new row stands last.
    assert all(list(circuit["scores"])[-1] == "start_turn" for circuit in hold["circuits"])
    assert {score["verdict"] for score in found} >= {"outside"}
    for circuit in hold["circuits"]:
        points = {key: one["points"] for key, one in circuit["scores"].items() if one["points"] is not None}
        weights = {"start_turn": 2.0, "timing": 1.0, "bank": 0.75, "steadiness": 0.5, "wind_correction": 1.25,
                   "track": 1.5, "altitude": 1.0, "speed": 0.75}  # fmt: skip
        mean = sum(points[key] * weights[key] for key in points) / sum(weights[key] for key in points)
        assert abs(circuit["points"] - mean) < 0.1
    (finding,) = (one for one in hold["findings"] if one["kind"] == "start_turn")
    assert re.search(
        r"the start of the outbound turn was \d+\.\d s; 0\.0 s ±1\.0 s is asked\.", finding["sentence"]
    )
    page = (out / "first_lesson.html").read_text(encoding="utf-8")
    assert '>Start of the outbound turn</span><span class="short" aria-hidden="true">Start</span>' in page
    assert "from the fix to leaving level" in page and 'data-item="start_turn"' in page
    rows = list(csv.DictReader((out / "all.csv").read_text(encoding="utf-8").splitlines()))
    assert [float(row["start_turn_points"]) for row in rows] == [score["points"] for score in found]
