"""Pages and the debrief file never judge: what is outside, and by what, is decided once and carried to them."""

import ast
from dataclasses import replace
from pathlib import Path

import pytest

from analyser.debrief import debrief_track
from analyser.document import written_debrief
from analyser.pages.circuit_views import COLUMNS, circuit_rows
from analyser.pages.pictures import hold_strips
from analyser.pages.subject import subject_of
from tests.flights.as_track import seen_track
from tests.flights.flight import see
from tests.flights.receiver import Receiver
from tests.planted.fault import Fault, Scene
from tests.planted.fly import flown

PACKAGE = Path(__file__).parent.parent / "analyser"
#: What judging is done with: whoever imports one of these decides something.
JUDGING = {
    "entry", "findings", "judge", "terms.terms_of", "score.Gauge",
    "keeping.excursions", "keeping.keeping", "keeping.judge_altitude", "keeping.judge_speed",
    "legs_and_turns.judge_bank", "legs_and_turns.judge_leaving", "legs_and_turns.judge_timing",
    "legs_and_turns.judge_track", "legs_and_turns.judge_wind_correction",
}  # fmt: skip
#: Pages and documents of the debrief; the card before the flight reckons by the rules itself.
SHOWING = [
    *sorted((PACKAGE / "pages").rglob("*.py")),
    *sorted((PACKAGE / "grading").glob("*_document.py")),
    PACKAGE / "document.py",
    PACKAGE / "summary.py",
]


@pytest.mark.parametrize("path", SHOWING, ids=lambda path: path.stem)
def test_what_shows_imports_nothing_that_judges(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.ImportFrom) or not (node.module or "").startswith("analyser."):
            continue
        module = node.module.removeprefix("analyser.grading.")
        named = {module, *(f"{module}.{alias.name}" for alias in node.names)}
        assert not named & JUDGING, f"{path.name} judges by {node.module}"
        if not path.name.startswith("card"):
            assert "leg_minutes" not in {alias.name for alias in node.names}, path.name
            shown = path.is_relative_to(PACKAGE / "pages")
            tolerances = ("analyser.rules.flight_test_standard", "analyser.rules.scoring")
            assert not shown or node.module not in tolerances, path.name


#: Column of the table of circuits → the graded item whose verdict it shows.
ITEM = {
    "Outbound time": "timing", "Outbound heading": "wind_correction", "Inbound time": "timing",
    "Off course inbound, typically": "track", "Altitude, worst": "altitude", "Speed, worst": "speed",
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("interval_s", [1.0, 12.0])
@pytest.mark.parametrize("rules", ["icao", "faa"])
def test_a_cell_is_marked_where_the_file_says_outside_and_nowhere_else(interval_s, rules):
    one = flown(
        Scene(rules=rules), Fault(bank_deg=30.0, outbound_s=25.0, outbound_heading_deg=14.0, speed_kt=12.0)
    )
    coarse = seen_track(see(one.flight, Receiver(interval_s=interval_s), 1), "coarse")
    (hold,) = debrief_track(coarse, hold=replace(one.hold), rules=rules).holds
    written = written_debrief(debrief_track(coarse, hold=one.hold, rules=rules)).holds[0]
    marked = 0
    for (circuit, cells), judged in zip(
        circuit_rows(written.circuits, None), hold.judged.circuits, strict=True
    ):
        for title, cell in zip(COLUMNS, cells, strict=True):
            if title.startswith("Bank"):
                part = "outbound_turn" if "outbound" in title else "inbound_turn"
                expected = judged.turns[part].verdict == "outside"
            elif title in ("Outbound time", "Inbound time"):
                timed = "outbound" if circuit.timed != "inbound" else "inbound"
                expected = title.lower().startswith(timed) and judged.scores["timing"].verdict == "outside"
            else:
                expected = title in ITEM and judged.scores[ITEM[title]].verdict == "outside"
            assert cell.outside == expected, (title, circuit.number)
            marked += cell.outside
    # At one sample a second the faults show.
    assert marked >= 6 or interval_s > 1.0


@pytest.mark.parametrize("interval_s", [1.0, 12.0])
def test_a_strip_marks_what_the_file_says_lay_outside_and_nothing_else(interval_s):
    one = flown(Scene(), Fault(bank_deg=30.0, speed_kt=12.0, beside_nm=0.4, bust_ft=-250.0))
    coarse = seen_track(see(one.flight, Receiver(interval_s=interval_s), 1), "coarse")
    debrief = debrief_track(coarse, hold=one.hold)
    written = written_debrief(debrief).holds[0]
    strips = hold_strips(subject_of(debrief.holds[0], written))
    item = {"cross": "track"}
    for strip in strips:
        name = item.get(strip.key, strip.key)
        judged_on = {c.number for c in written.circuits if c.scores[name].points is not None}
        expected = [
            each.start_s
            for each in written.excursions
            if each.item == name and judged_on & set(each.circuits)
        ]
        assert [spot.start_s for spot in strip.outside] == expected, strip.key
    assert interval_s > 1.0 or all(strip.outside for strip in strips)
