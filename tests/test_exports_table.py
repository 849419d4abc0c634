"""The table: a row per circuit, units in its names, cells that no spreadsheet runs, whole or not there at all."""

from __future__ import annotations

import csv
import io
import json
import re
import sys
from pathlib import Path

import pytest

from analyser.errors import ReportError, UsageError
from analyser.exports.circuit_table import COLUMNS, csv_cell, is_table, open_table, rows_of
from analyser.work.run import Recorder, _kept
from analyser.work.task import Finished
from tests.pages_fixture import debriefed, typed


@pytest.fixture(scope="module")
def document():
    return json.loads(json.dumps(debriefed()[1]))


def written(path: Path, rows) -> list[dict[str, str]]:
    with open_table(path) as add:
        add(rows)
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


def test_every_number_has_its_unit_in_its_name():
    plain = {"hold", "circuit", "points", "hold_points", "leg_minutes"}
    unit = re.compile(r"_(s|nm|kt|ft|deg|dps|points)$")
    for name, kind in COLUMNS.items():
        if kind in (int, float) and name not in plain:
            assert unit.search(name), name


def test_a_row_is_what_the_debrief_says(tmp_path, document):
    rows = written(tmp_path / "t.csv", rows_of(typed(document)))
    circuits = [(hold, circuit) for hold in document["holds"] for circuit in hold["circuits"]]
    assert len(rows) == len(circuits) > 0
    for row, (hold, circuit) in zip(rows, circuits, strict=True):
        assert list(row) == list(COLUMNS)
        assert row["log"] == document["log"]["name"]
        assert row["turns"] == hold["turns"]
        assert int(row["circuit"]) == circuit["number"]
        assert row["complete"] == str(circuit["complete"]).lower()
        for column, value in (
            ("start_s", circuit["start_s"]),
            ("outbound_timed_s", circuit["outbound_leg"]["timed_s"]),
            ("rollout_cross_track_nm", (circuit["inbound_turn"] or {}).get("rollout_cross_track_nm")),
            ("inbound_bank_mean_deg", (circuit["inbound_turn"] or {}).get("bank_mean")),
            ("timing_points", circuit["scores"]["timing"]["points"]),
        ):
            assert (float(row[column]) if row[column] else None) == value, column
        assert (
            re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", row["start_utc"]) or not row["start_utc"]
        )


def test_what_is_not_known_is_an_empty_cell(tmp_path, document):
    hold = {**document["holds"][0], "entry": None, "wind": {**document["holds"][0]["wind"], "speed_kt": None}}
    circuit = {**hold["circuits"][0], "inbound_turn": None, "inbound_leg": None, "error_budget": []}
    part = {**document, "log": {**document["log"], "start_utc": None}}
    row = written(tmp_path / "t.csv", rows_of(typed({**part, "holds": [{**hold, "circuits": [circuit]}]})))[0]
    unknown = ["entry_flown", "hold_wind_speed_kt", "inbound_bank_mean_deg", "inbound_duration_s"]
    for column in [*unknown, "largest_cause", "start_utc"]:
        assert row[column] == "", column


def test_the_largest_cause_is_what_moved_the_roll_out_farthest(document):
    """Across and along together: 0.3 and 0.4 are 0.5, more than 0.45 across alone."""
    hold = document["holds"][0]
    shares = hold["circuits"][0]["error_budget"][:3]
    moves = [(0.45, 0.0), (-0.3, 0.4), (0.0, -0.1)]
    told = [
        {**share, "cross_track_nm": across, "along_track_nm": along}
        for share, (across, along) in zip(shares, moves, strict=True)
    ]
    part = {**document, "holds": [{**hold, "circuits": [{**hold["circuits"][0], "error_budget": told}]}]}
    (row,) = rows_of(typed(part))
    assert row[list(COLUMNS).index("largest_cause")] == shares[1]["cause"]


def test_the_moment_of_a_circuit_crosses_midnight(document):
    late = {**document, "log": {**document["log"], "start_utc": "2026-12-31T23:59:00Z"}}
    hold = {**late["holds"][0], "circuits": [{**late["holds"][0]["circuits"][0], "start_s": 61.25}]}
    (row,) = rows_of(typed({**late, "holds": [hold]}))
    assert row[list(COLUMNS).index("start_utc")] == "2027-01-01T00:00:01.200Z"


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1", "  =1", "=cmd|' /C calc'!A0"])
def test_text_stays_text(text):
    assert csv_cell(text) == f"'{text}"


def test_numbers_stay_numbers_and_words_words():
    assert [csv_cell(cell) for cell in (-1.5, 3, None, True, "a-b", "")] == [-1.5, 3, None, "true", "a-b", ""]
    assert csv_cell("bad \udcff\x00") == "bad ?\N{REPLACEMENT CHARACTER}"


def test_untrusted_names_stay_in_their_cell(tmp_path, document):
    name = '=HYPERLINK("x"),"\n;\u202e'
    rows = written(tmp_path / "t.csv", rows_of(typed({**document, "log": {**document["log"], "name": name}})))
    assert {row["log"] for row in rows} == {f"'{name}"}


def test_a_table_is_known_for_one(tmp_path, document):
    written(tmp_path / "t.csv", rows_of(typed(document)))
    assert is_table((tmp_path / "t.csv").read_text(encoding="utf-8")[:200])
    assert not is_table("time,lat,lon\n")


def test_a_table_is_replaced_whole_or_not_at_all(tmp_path, document):
    (tmp_path / "t.csv").write_text("old")
    with pytest.raises(RuntimeError), open_table(tmp_path / "t.csv") as add:
        add(rows_of(typed(document)))
        raise RuntimeError
    assert (tmp_path / "t.csv").read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["t.csv"]


def test_a_folder_that_cannot_be_is_said(tmp_path):
    (tmp_path / "file").write_text("")
    with (
        pytest.raises(ReportError, match="the folder cannot be written to"),
        open_table(tmp_path / "file" / "t.csv"),
    ):
        pass


def test_parquet_without_its_library_is_said(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with (
        pytest.raises(UsageError, match=r"needs pyarrow.*write a \.csv"),
        open_table(tmp_path / "t.parquet"),
    ):
        pass
    assert not list(tmp_path.iterdir())


def test_parquet_has_the_same_rows_with_types(tmp_path, document):
    pytest.importorskip("pyarrow", reason="pyarrow, the extra 'parquet', is not installed")
    import pyarrow.parquet as pq

    rows = list(rows_of(typed(document)))
    with open_table(tmp_path / "t.parquet") as add:
        add(rows)
    found = pq.read_table(tmp_path / "t.parquet")
    assert found.column_names == list(COLUMNS)
    assert [tuple(row.values()) for row in found.to_pylist()] == rows
    assert {str(field.type) for field in found.schema} == {"string", "double", "int64", "bool"}
    with open_table(tmp_path / "none.parquet"):
        pass
    assert pq.read_table(tmp_path / "none.parquet").num_rows == 0


def test_where_the_table_cannot_be_written_on_that_is_said_once_and_the_logs_are_still_done():
    def add(rows):
        list(rows)
        raise ReportError("no space left", file="all.csv")

    found = [Finished(Path(f"{number}.gpx"), faults=(f"{number}",)) for number in range(3)]
    kept = list(_kept(iter(found), add, Recorder(None), {}))
    assert [one.faults for one in kept] == [("0", "all.csv: no space left"), ("1",), ("2",)]
