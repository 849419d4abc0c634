"""FIT, TCX, JSON, NDJSON and spreadsheets, each made by a writer that shares nothing with the reader; and archives."""

from __future__ import annotations

import bz2
import gzip
import io
import json
import lzma
import tarfile
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs import archive, limits
from analyser.logs.read import find_logs, read_log
from analyser.logs.records import flat
from analyser.logs.track import Track
from tests.logs_invented import (
    Invented,
    as_csv,
    as_fit,
    as_gpx,
    as_json,
    as_ndjson,
    as_tcx,
    as_xlsx,
    invented_flight,
    records,
)
from tests.logs_reading import codes, read_one

FLIGHT = invented_flight(samples=300)
LATE = invented_flight(samples=300, start=datetime(2026, 3, 14, 23, 57, tzinfo=UTC))
SOUTH = invented_flight(samples=300, lat=-33.0, lon=-179.99)
WRITERS: dict[str, Callable[[Invented], bytes]] = {
    "fit": as_fit,
    "tcx": lambda flight: as_tcx(flight).encode(),
    "json": lambda flight: as_json(flight).encode(),
    "ndjson": lambda flight: as_ndjson(flight).encode(),
    "xlsx": as_xlsx,
}


def _read(folder: Path, data: bytes) -> Track:
    (folder / "log").write_bytes(data)
    (track,) = read_log(folder / "log")
    return track


@pytest.mark.parametrize("form", list(WRITERS))
@pytest.mark.parametrize("flight", [FLIGHT, LATE, SOUTH], ids=["noon", "midnight", "date line"])
def test_every_format_gives_the_flight_back(tmp_path: Path, form: str, flight: Invented) -> None:
    track = _read(tmp_path, WRITERS[form](flight))
    assert track.format == ("json" if form == "ndjson" else form)
    np.testing.assert_allclose(track.time_s, flight.time_s, atol=2e-3)
    np.testing.assert_allclose(track.lat_deg, flight.lat, atol=2e-7)
    np.testing.assert_allclose((track.lon_deg - flight.lon + 180.0) % 360.0 - 180.0, 0.0, atol=2e-7)
    np.testing.assert_allclose(track.channels["altitude_ft"], flight.altitude_ft, atol=0.4)
    np.testing.assert_allclose(track.channels["ground_speed_kt"], flight.ground_speed_kt, atol=0.06)
    assert track.start_utc is not None
    assert abs((track.start_utc - flight.start).total_seconds()) < 2e-3


# FIT.


def test_fit_cut_off_keeps_its_beginning(tmp_path: Path) -> None:
    data = as_fit(FLIGHT)
    track = _read(tmp_path, data[: len(data) // 2])
    assert 130 < track.samples < 160
    assert "file-cut-off" in codes(track)


def test_fit_without_positions_and_fit_that_is_none(tmp_path: Path) -> None:
    nowhere, no_longitude = (
        as_fit(FLIGHT).replace(bytes((field, 4, 0x85)), bytes((99, 4, 0x85))) for field in (0, 1)
    )
    for data, said in (
        (nowhere, "no record of the FIT file has a position"),
        (no_longitude, "no record of the FIT file has a position"),
        (as_fit(FLIGHT)[:20], "cut off"),
    ):
        (tmp_path / "a.fit").write_bytes(data)
        with pytest.raises(LogError, match=said):
            read_log(tmp_path / "a.fit")


# TCX.


def test_tcx_activities_are_flights_and_points_without_a_position_are_passed_over(tmp_path: Path) -> None:
    other = as_tcx(invented_flight(samples=100, start=datetime(2026, 3, 15, 9, 0, tzinfo=UTC)))
    second = other[other.index("<Activity ") : other.index("</Activities>")]
    text = as_tcx(FLIGHT).replace("</Activities>", second + "</Activities>")
    text = text.replace("<Position>", "<Nothing>", 1).replace("</Position>", "</Nothing>", 1)
    text = text.replace("LatitudeDegrees>", "X>", 2)
    (tmp_path / "a.tcx").write_text(text)
    tracks = read_log(tmp_path / "a.tcx")
    assert [track.samples for track in tracks] == [299, 100]


@pytest.mark.parametrize("missing", ["LatitudeDegrees", "LongitudeDegrees"])
def test_tcx_without_positions(tmp_path: Path, missing: str) -> None:
    (tmp_path / "a.tcx").write_text(as_tcx(FLIGHT).replace(missing, "Nothing"))
    with pytest.raises(LogError, match="no track point has a position"):
        read_log(tmp_path / "a.tcx")


# JSON and NDJSON.


@pytest.mark.parametrize(
    "shape", ["list", "nested", "posix", "several aircraft", "separators", "one list of each", "inside"]
)
def test_json_of_other_shapes(tmp_path: Path, shape: str) -> None:
    points = records(FLIGHT)
    if shape == "posix":
        points = [{**p, "time": m.timestamp()} for p, m in zip(points, FLIGHT.moments(), strict=True)]
    document = {
        "list": lambda: json.dumps(points),
        "nested": lambda: json.dumps({"flight": {"day": 1, "samples": points}, "note": [1, 2]}, indent=1),
        "posix": lambda: json.dumps(points),
        "several aircraft": lambda: json.dumps([{**p, "callsign": "A"} for p in points]),
        "one list of each": lambda: json.dumps(
            {name: [flat(p)[name] for p in points] for name in flat(points[0])}
        ),
        "inside": lambda: json.dumps(
            [
                {"gps": {"time": p["time"], **p["position"]}, "attitude": {"bank_deg": p["bank_deg"]}}
                for p in points
            ]  # type: ignore[dict-item]
        ),
        "separators": lambda: "".join(f"\x1e{json.dumps(p)}\n" for p in points),
    }[shape]()
    track = read_one(tmp_path, "a.json", document)
    assert track.samples == 300
    np.testing.assert_allclose(track.channels["bank_deg"], FLIGHT.bank_deg, atol=0.006)
    assert track.start_utc == FLIGHT.start


def test_a_json_list_that_is_long_and_empty_hides_nothing_behind_it(tmp_path: Path) -> None:
    """Five million blanks between its brackets are more than a value is read of at once."""
    points, blank = json.dumps(records(FLIGHT)), " " * 5_000_000
    track = read_one(
        tmp_path, "a.json", f'{{"notes": [{blank}], "settings": {{{blank}}}, "points": {points}}}'
    )
    assert track.samples == FLIGHT.lat.size


def test_json_of_two_aircraft_is_two_flights(tmp_path: Path) -> None:
    far = records(invented_flight(samples=300, lat=50.0))
    points = [
        {**p, "callsign": "AB"[k % 2]}
        for k, p in enumerate(x for pair in zip(records(FLIGHT), far, strict=True) for x in pair)
    ]
    (tmp_path / "a.json").write_text(json.dumps(points))
    assert [track.samples for track in read_log(tmp_path / "a.json")] == [300, 300]


def test_ndjson_with_a_broken_end_and_values_that_some_lines_lack(tmp_path: Path) -> None:
    lines = as_ndjson(FLIGHT).splitlines()
    lines[10] = lines[10].replace('"bank_deg"', '"mood"')
    track = read_one(tmp_path, "a.ndjson", "\n".join(lines)[:-30])
    assert track.samples == 299
    assert np.isnan(track.channels["bank_deg"][10])
    assert "file-cut-off" in codes(track)


def test_json_lists_of_different_lengths_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_text('{"time": [1, 2, 3], "lat": [48.1, 48.2, 48.3], "lon": [11.1, 11.2]}')
    with pytest.raises(LogError, match="3 under 'time', 3 under 'lat', 2 under 'lon'"):
        read_log(tmp_path / "a.json")


def test_json_that_holds_no_points(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_text('{"a": [{"b": 1}, {"b": 2}]}')
    with pytest.raises(LogError, match="no list of points with a position"):
        read_log(tmp_path / "a.json")


# Spreadsheets.


def test_a_workbook_with_dates_and_clocks_in_two_columns(tmp_path: Path) -> None:
    import xlsxwriter

    book = xlsxwriter.Workbook(tmp_path / "a.xlsx", {"remove_timezone": True})
    sheet = book.add_worksheet()
    day, clock = book.add_format({"num_format": "dd.mm.yyyy"}), book.add_format({"num_format": "hh:mm:ss"})
    sheet.write_row(0, 0, ["Date", "Time", "Lat", "Lon", "Altitude (m)", "Callsign"])
    for row, moment in enumerate(LATE.moments(), 1):
        sheet.write_datetime(row, 0, moment.replace(hour=0, minute=0, second=0), day)
        sheet.write_datetime(row, 1, moment.replace(year=1899, month=12, day=31).replace(tzinfo=None), clock)
        sheet.write_row(
            row, 2, [LATE.lat[row - 1], LATE.lon[row - 1], LATE.altitude_ft[row - 1] * 0.3048, "ABC"]
        )
    book.close()
    (track,) = read_log(tmp_path / "a.xlsx")
    np.testing.assert_allclose(track.time_s, LATE.time_s, atol=1e-3)
    np.testing.assert_allclose(track.channels["altitude_ft"], LATE.altitude_ft, atol=0.01)


@pytest.mark.parametrize("damage", ["cut", "flip", "no flight"])
def test_workbooks_that_cannot_be_read(tmp_path: Path, damage: str) -> None:
    data = bytearray(as_xlsx(FLIGHT))
    if damage == "cut":
        data = data[: len(data) // 2]
    elif damage == "flip":
        data[len(data) // 2 : len(data) // 2 + 200] = bytes(200)
    else:
        data = bytearray(as_xlsx(invented_flight(samples=1)))
    (tmp_path / "a.xlsx").write_bytes(bytes(data))
    with pytest.raises(LogError):
        read_log(tmp_path / "a.xlsx")


@pytest.mark.slow
def test_a_sheet_that_claims_to_be_endless(tmp_path: Path) -> None:
    """One cell in the last row of the last column: no reader may lay out what lies between."""
    import xlsxwriter

    book = xlsxwriter.Workbook(tmp_path / "a.xlsx")
    sheet = book.add_worksheet()
    sheet.write_row(0, 0, ["time", "lat", "lon"])
    for row in range(1, 100):
        sheet.write_row(row, 0, [row, FLIGHT.lat[row], FLIGHT.lon[row]])
    sheet.write(1_048_575, 16_383, 1)
    book.close()
    (track,) = read_log(tmp_path / "a.xlsx")
    assert track.samples == 99


# Archives round any of them.


def _tar(data: bytes, mode: str = "w") -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode=mode) as packed:  # type: ignore[call-overload]
        info = tarfile.TarInfo("../../inside.log")
        info.size = len(data)
        packed.addfile(info, io.BytesIO(data))
        link = tarfile.TarInfo("link.gpx")
        link.type, link.linkname = tarfile.SYMTYPE, "/etc/hostname"
        packed.addfile(link)
    return out.getvalue()


PACKERS: dict[str, Callable[[bytes], bytes]] = {
    "bz2": bz2.compress,
    "xz": lambda data: lzma.compress(data, preset=0),
    "tar": _tar,
    "tar.gz": lambda data: gzip.compress(_tar(data)),
    "tar.bz2": lambda data: bz2.compress(_tar(data)),
    "tar.xz": lambda data: lzma.compress(_tar(data), preset=0),
    "two streams": lambda data: bz2.compress(data[:1000]) + bz2.compress(data[1000:]),
}


@pytest.mark.parametrize("packer", list(PACKERS))
@pytest.mark.parametrize("form", ["gpx", "fit", "xlsx"])
def test_formats_inside_archives(tmp_path: Path, packer: str, form: str) -> None:
    data = as_gpx(FLIGHT).encode() if form == "gpx" else WRITERS[form](FLIGHT)
    track = _read(tmp_path, PACKERS[packer](data))
    assert (track.format, track.samples, track.name) == (form, 300, "log")
    assert not (tmp_path.parent.parent / "inside.log").exists()


@pytest.mark.parametrize("packer", ["bz2", "xz"])
def test_bombs_of_other_packers_stop_at_the_limit(
    tmp_path: Path, packer: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(limits, "MAX_BYTES", 2_000_000)
    (tmp_path / "a").write_bytes(PACKERS[packer](bytes(30_000_000)))
    with pytest.raises(LogError, match="more than 2 MB"):
        read_log(tmp_path / "a")


@pytest.mark.parametrize("kind", ["zip", "tar"])
def test_many_large_members_stop_at_the_archives_own_limit(
    tmp_path: Path, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each is small enough; together they are not, and none after the limit is unpacked."""
    monkeypatch.setattr(archive, "MAX_ARCHIVE_BYTES", 3_000_000)
    if kind == "zip":
        with zipfile.ZipFile(tmp_path / "a", "w", zipfile.ZIP_DEFLATED) as packed:
            for number in range(50):
                packed.writestr(f"{number}.csv", bytes(1_000_000))
    else:
        with tarfile.open(tmp_path / "a", "w") as packed_tar:
            for number in range(5):
                info = tarfile.TarInfo(f"{number}.csv")
                info.size = 1_000_000
                packed_tar.addfile(info, io.BytesIO(bytes(1_000_000)))
    with pytest.raises(LogError, match="unpacks to more than 3 MB"):
        read_log(tmp_path / "a")


@pytest.mark.parametrize("packer", ["bz2", "xz", "tar"])
def test_archives_that_are_cut_off(tmp_path: Path, packer: str) -> None:
    text = as_csv(invented_flight(samples=20_000)).encode()
    packed = PACKERS[packer](text)
    (tmp_path / "a").write_bytes(packed[: len(packed) * 2 // 3])
    if packer == "tar":
        with pytest.raises(LogError, match="the tar archive is damaged"):
            read_log(tmp_path / "a")
    else:
        (track,) = read_log(tmp_path / "a")
        assert track.samples > 3_000 and "archive-damaged" in codes(track)


def test_a_zip_of_many_kinds(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as packed:
        for form, write in WRITERS.items():
            packed.writestr(f"log.{form}", write(FLIGHT))
    assert [track.format for track in read_log(tmp_path / "a.zip")] == ["fit", "tcx", "json", "json", "xlsx"]


def test_their_endings_are_found_in_folders(tmp_path: Path) -> None:
    names = ["a.fit", "b.tcx", "c.json", "d.ndjson", "e.xlsx", "f.csv.bz2", "g.tar", "h.txz"]
    for name in names:
        (tmp_path / name).write_text("x")
    assert [path.name for path in find_logs(tmp_path)] == names
