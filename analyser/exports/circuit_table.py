"""Debriefs as a plain table, one row per circuit, for analysis elsewhere; written as rows come, put in place whole."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime, timedelta
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from analyser.errors import UsageError
from analyser.rules.scoring import ITEMS
from analyser.schema.debrief_file import WrittenCircuit, WrittenDebrief
from analyser.schema.plain_data import FilePart
from analyser.whole_files import as_report_error, being_written, cell_text

Cell = str | float | int | bool | None
Row = tuple[Cell, ...]

#: Rows gathered before a group is written: parquet's columns want some length.
_GROUP_ROWS = 5_000

#: Name of each column with its unit → kind of its cells, and where it is found: in the log's description ("log"),
#: the hold ("hold"), the circuit ("circuit"), or worked out here ("").
_COLUMNS: tuple[tuple[str, type, str, str], ...] = (
    ("log", str, "log", "name"),
    ("log_sha256", str, "log", "sha256"),
    ("log_start_utc", str, "log", "start_utc"),
    ("sampling_interval_s", float, "log", "interval_s"),
    ("rules", str, "hold", "rules"),
    ("standard", str, "", "standard"),
    ("hold", int, "", "hold"),
    ("hold_name", str, "hold", "name"),
    ("definition", str, "hold", "definition"),
    ("fix_lat_deg", float, "hold", "fix.lat"),
    ("fix_lon_deg", float, "hold", "fix.lon"),
    ("inbound_course_true_deg", float, "hold", "inbound_course_true"),
    ("inbound_course_magnetic_deg", float, "hold", "inbound_course_magnetic"),
    ("variation_deg", float, "hold", "variation"),
    ("turns", str, "hold", "turns"),
    ("leg_minutes", float, "hold", "leg.minutes"),
    ("leg_distance_nm", float, "hold", "leg.distance_nm"),
    ("hold_wind_from_true_deg", float, "hold", "wind.from_true"),
    ("hold_wind_speed_kt", float, "hold", "wind.speed_kt"),
    ("hold_wind_sd_kt", float, "hold", "wind.sd_kt"),
    ("hold_points", float, "hold", "points"),
    ("hold_grade", str, "hold", "grade"),
    ("entry_flown", str, "hold", "entry.flown"),
    ("entry_verdict", str, "hold", "entry.verdict"),
    ("circuit", int, "circuit", "number"),
    ("complete", bool, "circuit", "complete"),
    ("start_utc", str, "", "start_utc"),
    ("start_s", float, "circuit", "start_s"),
    ("end_s", float, "circuit", "end_s"),
    ("tas_kt", float, "circuit", "tas_kt"),
    ("altitude_ft", float, "circuit", "altitude_ft"),
    ("wind_east_kt", float, "circuit", "wind.east_kt"),
    ("wind_north_kt", float, "circuit", "wind.north_kt"),
    ("wind_sd_kt", float, "circuit", "wind.sd_kt"),
    ("outbound_bank_mean_deg", float, "circuit", "outbound_turn.bank_mean"),
    ("outbound_bank_max_deg", float, "circuit", "outbound_turn.bank_max"),
    ("outbound_turn_rate_mean_dps", float, "circuit", "outbound_turn.rate_mean"),
    ("outbound_heading_true_deg", float, "circuit", "outbound_leg.heading_true"),
    ("outbound_ideal_heading_true_deg", float, "circuit", "outbound_leg.ideal_heading_true"),
    ("outbound_track_true_deg", float, "circuit", "outbound_leg.track_true"),
    ("outbound_timed_s", float, "circuit", "outbound_leg.timed_s"),
    ("outbound_ideal_timed_s", float, "circuit", "outbound_leg.ideal_timed_s"),
    ("outbound_timed_wings_s", float, "circuit", "outbound_leg.timed_wings_s"),
    ("outbound_ideal_timed_wings_s", float, "circuit", "outbound_leg.ideal_timed_wings_s"),
    ("inbound_bank_mean_deg", float, "circuit", "inbound_turn.bank_mean"),
    ("inbound_bank_max_deg", float, "circuit", "inbound_turn.bank_max"),
    ("inbound_turn_rate_mean_dps", float, "circuit", "inbound_turn.rate_mean"),
    ("rollout_cross_track_nm", float, "circuit", "inbound_turn.rollout_cross_track_nm"),
    ("inbound_heading_true_deg", float, "circuit", "inbound_leg.heading_true"),
    ("inbound_duration_s", float, "circuit", "inbound_leg.duration_s"),
    ("inbound_ideal_duration_s", float, "circuit", "inbound_leg.ideal_duration_s"),
    ("inbound_cross_track_rms_nm", float, "circuit", "inbound_leg.cross_track_rms_nm"),
    ("inbound_cross_track_max_nm", float, "circuit", "inbound_leg.cross_track_max_nm"),
    ("fix_miss_nm", float, "circuit", "fix_miss_nm"),
    ("altitude_error_max_ft", float, "circuit", "altitude_error_max_ft"),
    ("speed_error_max_kt", float, "circuit", "speed_error_max_kt"),
    *(
        (f"{item}_{what}", kind, "circuit", f"scores.{item}.{what}")
        for item in ITEMS
        for what, kind in (("points", float), ("verdict", str))
    ),
    ("points", float, "circuit", "points"),
    ("largest_cause", str, "", "largest_cause"),
)

#: Columns in order, with the kind of their cells; any cell may be empty.
COLUMNS: dict[str, type] = {name: kind for name, kind, _, _ in _COLUMNS}


def is_table(head: str) -> bool:
    """Tell from its first characters whether a text is a table that this program wrote."""
    return head.startswith(",".join(list(COLUMNS)[:5]))


def rows_of(document: WrittenDebrief) -> Iterator[Row]:
    """Return the circuits of a debrief as rows: a cell for each of :data:`COLUMNS`, None where it is not known."""
    for place, hold in enumerate(document.holds, start=1):
        for circuit in hold.circuits:
            found = {"log": document.log, "hold": hold, "circuit": circuit}
            own = {
                "standard": document.standard.key,
                "hold": place,
                "start_utc": _instant(document.log.start_utc, circuit.start_s),
                "largest_cause": _largest_cause(circuit),
            }
            yield tuple(
                _cell(_at(found[source], key) if source else own[key], kind)
                for _, kind, source, key in _COLUMNS
            )


def _at(part: FilePart, path: str) -> Any:
    value: Any = part
    for key in path.split("."):
        if value is not None:
            value = value.get(key) if isinstance(value, Mapping) else getattr(value, key)
    return value


def _cell(value: Any, kind: type) -> Cell:
    cell: Cell = None if value is None else kind(value)
    return cell


def _instant(start_utc: str | None, seconds: float) -> str | None:
    """Return the moment of a circuit, to the tenth of a second, as ISO 8601."""
    if start_utc is None:
        return None
    moment = datetime.fromisoformat(start_utc) + timedelta(seconds=round(seconds, 1))
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _largest_cause(circuit: WrittenCircuit) -> str | None:
    """Return what moved the roll-out farthest from where it should have been."""
    shares = circuit.error_budget
    most = max(shares, key=lambda one: math.hypot(one.cross_track_nm, one.along_track_nm), default=None)
    return None if most is None else most.cause


class _CsvTable:
    """Comma-separated values under way: UTF-8, a heading, a point for decimals, an empty cell for what is not known."""

    def __init__(self, file: Path) -> None:
        self._stream = file.open("w", encoding="utf-8", newline="")
        self._csv = csv.writer(self._stream, lineterminator="\n")
        self._csv.writerow(COLUMNS)

    def add(self, rows: Iterable[Row]) -> None:
        self._csv.writerows([csv_cell(cell) for cell in row] for row in rows)

    def close(self) -> None:
        self._stream.close()


class _ParquetTable:
    """Columns with their types under way, for which pyarrow is needed."""

    def __init__(self, file: Path) -> None:
        import pyarrow as pa
        import pyarrow.parquet as pq

        kinds = {str: pa.string(), float: pa.float64(), int: pa.int64(), bool: pa.bool_()}
        self._pa: Any = pa
        self._schema = pa.schema([(name, kinds[kind]) for name, kind in COLUMNS.items()])
        self._writer = pq.ParquetWriter(str(file), self._schema)
        self._waiting: list[Row] = []

    def add(self, rows: Iterable[Row]) -> None:
        self._waiting += rows
        if len(self._waiting) >= _GROUP_ROWS:
            self._write_group()

    def _write_group(self) -> None:
        columns = list(zip(*self._waiting, strict=True)) or [() for _ in COLUMNS]
        arrays = [
            self._pa.array(column, type=field.type)
            for column, field in zip(columns, self._schema, strict=True)
        ]
        self._writer.write_table(self._pa.Table.from_arrays(arrays, schema=self._schema))
        self._waiting.clear()

    def close(self) -> None:
        self._write_group()
        self._writer.close()


@contextmanager
def open_table(path: Path) -> Iterator[Callable[[Iterable[Row]], None]]:
    """Begin a table, ``.csv`` or ``.parquet``; the end of the ``with`` statement puts it in its place.

    What is given out appends rows. Raises UsageError: another ending, a library that is missing, or a database that
    would be written over. Raises ReportError if the folder cannot be written, or rows cannot.
    """
    kinds: dict[str, type[_CsvTable] | type[_ParquetTable]] = {".csv": _CsvTable, ".parquet": _ParquetTable}
    kind = kinds.get(path.suffix.lower())
    if kind is None:
        mend = "write a name that ends in .csv or .parquet"
        raise UsageError(f"'{path}' is no kind of table", place="--table", mend=mend)
    if kind is _ParquetTable and find_spec("pyarrow") is None:
        mend = "pip install 'analyser[parquet]', or write a .csv"
        raise UsageError("a parquet file needs pyarrow", place="--table", mend=mend)
    if path.is_dir():
        raise UsageError(f"'{path}' is a folder", place="--table", mend="name a file")
    with being_written(path) as temporary:
        with as_report_error(path):
            table = kind(temporary)

        def add(rows: Iterable[Row]) -> None:
            with as_report_error(path):
                table.add(rows)

        try:
            yield add
        finally:
            with as_report_error(path):
                table.close()


def csv_cell(cell: Cell) -> Cell:
    """Make a cell safe: numbers as they are, also negative ones; true and false in small letters."""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    return cell_text(cell) if isinstance(cell, str) else cell
