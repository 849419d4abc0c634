"""Just inside and just outside, of what files leave open: units, forms of positions and times; and of archives."""

from __future__ import annotations

import bz2
import gzip
import io
import json
import lzma
import tarfile
import zipfile
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs import archive, limits
from analyser.logs.agreement import fit_bank, fit_heading, mean_airspeed, speed_ratio
from analyser.logs.json_stream import is_by_line
from analyser.logs.movement import movement
from analyser.logs.number_text import angle
from analyser.logs.read import find_logs, read_log
from analyser.logs.track import Track
from tests.logs_invented import as_csv, as_geojson, as_gpx, as_json, as_kml, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, read_text, table

FLIGHT = invented_flight(960)
LAT, LON = positions(FLIGHT)
MOVED = movement(FLIGHT.time_s, FLIGHT.lat, FLIGHT.lon)


def _with(**columns: np.ndarray) -> str:
    cells = [numbers(values, 4) for values in columns.values()]
    return table(["time", "lat", "lon", *columns], FLIGHT.iso(), LAT, LON, *cells)


def _unit(track: Track, column: str) -> str:
    (unit,) = [source.unit for source in track.sources if source.column == column]
    return unit


@pytest.mark.parametrize(
    ("written", "unit", "celsius"),
    [(-10.0, "°C", -10.0), (53.6, "°F", 12.0), (285.15, "K", 12.0), (12.0, "", 0.0), (-60.0, "", 0.0)],
)
def test_a_temperature_near_the_standard_atmosphere(
    tmp_path: Path, written: float, unit: str, celsius: float
) -> None:
    """ICAO: 15 °C at sea level and 1.98 °C less each 1,000 ft, so 7.1 °C at 4,000 ft; within 25 °C of that one fits."""
    track = read_one(tmp_path, "a.csv", _with(altitude_ft=FLIGHT.altitude_ft, oat=np.full(960, written)))
    assert _unit(track, "oat") == unit
    if unit:
        assert track.channels["outside_air_temperature_c"][0] == pytest.approx(celsius, abs=0.01)
    else:
        assert "outside_air_temperature_c" not in track.channels and "unit-unknown" in codes(track)


@pytest.mark.parametrize(
    ("unit", "each_kt"), [("kt", 1.0), ("km/h", 1.852), ("mph", 1.150779), ("m/s", 0.514444)]
)
@pytest.mark.parametrize("name", ["tas", "ias"])
def test_an_airspeed_is_what_all_directions_ask_for(
    tmp_path: Path, name: str, unit: str, each_kt: float
) -> None:
    """110 kt of true airspeed at 4,000 ft are 104 kt of calibrated: density is 0.888 of that at sea level (ICAO)."""
    true = 110.0 if name == "tas" else 110.0 * np.sqrt(0.8881)
    track = read_one(
        tmp_path, "a.csv", _with(altitude_ft=FLIGHT.altitude_ft, **{name: np.full(960, true * each_kt)})
    )
    assert _unit(track, name) == unit
    np.testing.assert_allclose(track.channels[f"{name}_kt"], true, rtol=1e-4)


def test_an_indicated_airspeed_without_altitude_is_asked_for(tmp_path: Path) -> None:
    track = read_one(tmp_path, "a.csv", _with(ias=np.full(960, 104.0)))
    assert "ias_kt" not in track.channels and "unit-unknown" in codes(track)


@pytest.mark.parametrize(("feet", "read"), [(19_900.0, False), (20_100.0, True)])
def test_altitudes_too_high_for_metres(tmp_path: Path, feet: float, read: bool) -> None:
    height = feet - 4040.0 + FLIGHT.altitude_ft
    track = read_one(tmp_path, "a.csv", _with(alt=height))
    assert ("altitude_ft" in track.channels) == read
    if read:
        np.testing.assert_allclose(track.channels["altitude_ft"], height, atol=0.01)


@pytest.mark.parametrize(("slope", "read"), [(0.05, False), (0.1, True)])
def test_altitudes_too_steep_for_metres(tmp_path: Path, slope: float, read: bool) -> None:
    """15° are a slope of 0.27: 0.1 in feet, read in metres, would be 0.33."""
    climbed = np.cumsum(np.concatenate([[0.0], FLIGHT.ground_speed_kt[:-1]])) * 1.6878 * slope
    track = read_one(tmp_path, "a.csv", _with(alt=np.where(climbed < 9_000.0, climbed, 9_000.0) + 0.3))
    assert ("altitude_ft" in track.channels) == read


@pytest.mark.parametrize(
    ("factor", "unit"), [(1.0, "fpm"), (0.00508, "m/s"), (1.0 / 60.0, "ft/s"), (0.4, "")]
)
def test_a_climb_is_the_rate_of_the_altitude(tmp_path: Path, factor: float, unit: str) -> None:
    rate = np.gradient(FLIGHT.altitude_ft, FLIGHT.time_s) * 60.0
    track = read_one(tmp_path, "a.csv", _with(altitude_ft=FLIGHT.altitude_ft, vs=rate * factor))
    assert _unit(track, "vs") == unit
    assert ("vertical_speed_fpm" in track.channels) == bool(unit)


@pytest.mark.parametrize("factor", [1.0, np.pi / 180.0])
def test_angles_follow_the_flight_or_one_another(tmp_path: Path, factor: float) -> None:
    columns = {"bank": FLIGHT.bank_deg, "heading_true": FLIGHT.heading_deg, "pitch": np.full(960, 3.0)}
    track = read_one(tmp_path, "a.csv", _with(**{name: values * factor for name, values in columns.items()}))
    np.testing.assert_allclose(track.channels["bank_deg"], FLIGHT.bank_deg, atol=0.01)
    np.testing.assert_allclose(track.channels["heading_true_deg"], FLIGHT.heading_deg, atol=0.01)
    np.testing.assert_allclose(track.channels["pitch_deg"], 3.0, atol=0.01)


def test_how_channels_agree_with_the_track() -> None:
    """The invented flight: 110 kt through the air, a wind of 17 kt from 242° true, all round and in turns."""
    ratio = speed_ratio(FLIGHT.ground_speed_kt * 1.852, MOVED)
    assert ratio is not None and ratio[0] == pytest.approx(1.852, rel=5e-3) and ratio[1] < 0.02
    assert mean_airspeed(MOVED) == pytest.approx(110.0, abs=1.5)
    heading = fit_heading((FLIGHT.heading_deg + 3.0) % 360.0, MOVED)
    assert heading is not None and heading.all_round
    assert heading.offset_deg == pytest.approx(3.0, abs=0.3)
    assert heading.drift_deg == pytest.approx(np.degrees(np.arcsin(17.0 / 110.0)), abs=0.5)
    assert heading.lag_s == pytest.approx(0.0, abs=0.6)
    late = np.concatenate([np.full(4, FLIGHT.heading_deg[0]), FLIGHT.heading_deg[:-4]])
    lagging = fit_heading(late, MOVED)
    assert lagging is not None and lagging.lag_s == pytest.approx(heading.lag_s + 4.0, abs=0.3)
    bank = fit_bank(FLIGHT.bank_deg * 0.5, FLIGHT.time_s, MOVED)
    assert bank is not None and bank.turns
    assert bank.correlation > 0.85 and bank.slope == pytest.approx(0.5, abs=0.06)
    few = np.where(np.arange(960) < 20, FLIGHT.heading_deg, np.nan)
    assert fit_heading(few, MOVED) is None and fit_bank(few, FLIGHT.time_s, MOVED) is None


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        *(("48.5", 48.5), ("-48,5", -48.5), ("48.5 S", -48.5), ("N48 30.0", 48.5), ("48°30'00\"N", 48.5)),
        *(("-11:34:12", -11.57), ("011°34'12\"W", -11.57), ("483015.2N", 48.504222), ("0113412W", -11.57)),
        *(("48 30 15 north", 48.504167), ("W 011 34.2", -11.57), ("48°59'60.0\"", 49.0), ("O 11,5", 11.5)),
    ],
)
def test_angles_as_they_are_written(text: str, degrees: float) -> None:
    assert angle(text) == pytest.approx(degrees, abs=1e-6)


@pytest.mark.parametrize("text", ["48°60.1'", "48°30'61\"", "48.5°30'", "abc", "", "48°30'12\"X"])
def test_what_is_no_angle(text: str) -> None:
    assert np.isnan(angle(text))


def test_positions_in_radians(tmp_path: Path) -> None:
    cells = [numbers(np.radians(v), 9) for v in (FLIGHT.lat, FLIGHT.lon)]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], FLIGHT.iso(), *cells))
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)
    slow = invented_flight(300, lat=0.5, lon=1.0)
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], slow.iso(), *positions(slow)))
    np.testing.assert_allclose(track.lat_deg, slow.lat, atol=1e-6)


@pytest.mark.parametrize(("per_minute", "spread"), [(60, True), (7, True), (4, False)])
def test_rows_of_whole_minutes(tmp_path: Path, per_minute: int, spread: bool) -> None:
    flight = invented_flight(20 * per_minute, interval_s=60.0 / per_minute)
    written = [moment.strftime("%Y-%m-%d %H:%M") for moment in flight.moments()]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], written, *positions(flight)))
    assert ("time-coarse" in codes(track)) == (spread or per_minute > 2)
    assert (track.samples == flight.time_s.size) == spread
    if spread:
        np.testing.assert_allclose(track.time_s, flight.time_s, atol=0.01)


@pytest.mark.parametrize(("week", "cycles"), [(2409, 0), (361, 2)])
def test_weeks_of_gps_time(tmp_path: Path, week: int, cycles: int) -> None:
    """2026-03-14 is a Saturday, day 6 of week 2409 (IS-GPS-200: week 0 began on 1980-01-06); 2409 − 2 · 1024 is 361."""
    seconds = 6 * 86_400.0 + 43_200.0 + 18.0 + FLIGHT.time_s
    text = table(["gps week", "tow", "lat", "lon"], [week] * 960, numbers(seconds, 1), LAT, LON)
    track = read_one(tmp_path, "a.csv", text)
    assert track.start_utc == FLIGHT.start
    assert ("time-epoch-assumed" in codes(track)) == bool(cycles)
    text = table(["gps week", "tow", "lat", "lon"], [week] * 960, numbers(seconds * 1e3, 0), LAT, LON)
    assert read_one(tmp_path, "b.csv", text).start_utc == FLIGHT.start


def _zipped(names: list[str], data: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name in names:
            packed.writestr(name, data)
    return out.getvalue()


def _tarred(names: list[str], data: bytes) -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w") as packed:
        for name in names:
            info = tarfile.TarInfo(name)
            info.size = len(data)
            packed.addfile(info, io.BytesIO(data))
    return out.getvalue()


@pytest.mark.parametrize("pack", [_zipped, _tarred])
def test_archives_at_their_limits(tmp_path: Path, pack: object, monkeypatch: pytest.MonkeyPatch) -> None:
    path, data = tmp_path / "a.bin", as_csv(FLIGHT).encode()
    members = ["a.csv", "b.csv", ".hidden/c.csv", "picture.png", "__MACOSX/d.csv"]
    path.write_bytes(pack(members, data))  # type: ignore[operator]
    assert [track.name for track in read_log(path)] == ["a.bin: a.csv", "a.bin: b.csv"]
    monkeypatch.setattr(archive, "MAX_MEMBERS", 2)
    assert len(read_log(path)) == 2
    monkeypatch.setattr(archive, "MAX_MEMBERS", 1)
    with pytest.raises(LogError, match=r"a.bin: the archive holds more than 1 files"):
        read_log(path)
    monkeypatch.setattr(archive, "MAX_MEMBERS", 9)
    monkeypatch.setattr(archive, "MAX_ARCHIVE_BYTES", 2 * len(data))
    assert len(read_log(path)) == 2
    monkeypatch.setattr(archive, "MAX_ARCHIVE_BYTES", 2 * len(data) - 1)
    with pytest.raises(LogError, match="unpacks to more than"):
        read_log(path)
    monkeypatch.undo()
    path.write_bytes(pack(["picture.png"], data))  # type: ignore[operator]
    with pytest.raises(LogError, match=r"a.bin: the archive holds no log"):
        read_log(path)


@pytest.mark.parametrize("pack", [gzip.compress, lambda data: _zipped(["a.csv"], data)])
def test_one_log_may_unpack_to_so_much(tmp_path: Path, pack: object, monkeypatch: pytest.MonkeyPatch) -> None:
    path, data = tmp_path / "a.bin", as_csv(FLIGHT).encode()
    path.write_bytes(pack(data))  # type: ignore[operator]
    monkeypatch.setattr(limits, "MAX_BYTES", len(data))
    assert read_log(path)[0].samples == 960
    monkeypatch.setattr(limits, "MAX_BYTES", len(data) - 1)
    with pytest.raises(LogError, match=r"the unpacked log holds more than"):
        read_log(path)


@pytest.mark.parametrize("pack", [gzip.compress, bz2.compress, lzma.compress])
def test_packed_streams_one_inside_another_and_cut(tmp_path: Path, pack: object) -> None:
    path, data = tmp_path / "a.bin", as_csv(FLIGHT).encode()
    once, half = pack(data), pack(data[: len(data) // 2])  # type: ignore[operator]
    rest = pack(data[len(data) // 2 :])  # type: ignore[operator]
    for written in (once, pack(once), pack(pack(once)), half + rest):  # type: ignore[operator]
        path.write_bytes(written)
        (track,) = read_log(path)
        assert track.samples == 960 and track.name == "a.bin" and "archive-damaged" not in codes(track)
    path.write_bytes(pack(pack(pack(once))))  # type: ignore[operator]
    with pytest.raises(LogError, match="packed inside one another more than 3 times"):
        read_log(path)
    path.write_bytes(half + rest[: len(rest) * 2 // 3])
    (track,) = read_log(path)
    assert track.samples >= 470 and "archive-damaged" in codes(track)


def test_logs_in_folders(tmp_path: Path) -> None:
    for name in ("b.csv", "a.GPX", ".c.csv", "d.md", "e.tar"):
        (tmp_path / name).write_text("x")
    (tmp_path / ".git").mkdir()
    (tmp_path / ".git" / "f.csv").write_text("x")
    assert [path.name for path in find_logs(tmp_path)] == ["a.GPX", "b.csv", "e.tar"]


@pytest.mark.parametrize("write", [as_json, as_geojson, as_gpx, as_kml])
def test_logs_that_break_off_keep_their_beginning(tmp_path: Path, write: object) -> None:
    text = write(FLIGHT)  # type: ignore[operator]
    whole = read_one(tmp_path, "a.log", text)
    track = read_one(tmp_path, "a.log", text[: len(text) * 2 // 3])
    # Where all times stand before the positions a third of the text is more than a third of those.
    assert 300 < track.samples < 700 and "file-cut-off" in codes(track)
    np.testing.assert_array_equal(track.lat_deg, whole.lat_deg[: track.samples])
    np.testing.assert_array_equal(track.time_s, whole.time_s[: track.samples])


def test_objects_round_lists_of_values(tmp_path: Path) -> None:
    columns = {"time": FLIGHT.iso(), "lat": FLIGHT.lat.tolist(), "lon": FLIGHT.lon.tolist()}
    nested = {"recorder": {"made": 1}, "flight": {"name": "x", "data": columns}}
    assert read_one(tmp_path, "a.json", json.dumps(nested)).samples == 960
    rows = [["time", "lat", "lon"], *zip(*columns.values(), strict=True)]
    assert read_one(tmp_path, "a.json", json.dumps({"rows": rows})).samples == 960
    with pytest.raises(
        LogError, match=r"a.json: the lists differ in length.*960 under 'time', 959 under 'lat'"
    ):
        read_one(tmp_path, "a.json", json.dumps({**columns, "lat": columns["lat"][:-1]}))
    lines = [json.dumps(dict(zip(columns, row, strict=True))) for row in zip(*columns.values(), strict=True)]
    lines[100] = lines[100][:20]
    track = read_one(tmp_path, "a.ndjson", "\n".join(lines))
    assert track.samples == 959
    assert [n.message for n in track.notices if n.code == "record-damaged"] == [
        "1 line is broken; it was left out."
    ]


def test_two_aircraft_by_a_column(tmp_path: Path) -> None:
    other = invented_flight(960, lat=48.6)
    rows = [
        f"{when},{lat:.7f},{lon:.7f},{who}"
        for when, *places in zip(
            FLIGHT.iso(),
            zip(FLIGHT.lat, FLIGHT.lon, strict=True),
            zip(other.lat, other.lon, strict=True),
            strict=True,
        )
        for who, (lat, lon) in zip("AB", places, strict=True)
    ]
    tracks = read_text(tmp_path, "a.csv", "\n".join(["time,lat,lon,callsign", *rows]))
    assert [track.name for track in tracks] == ["a.csv (A)", "a.csv (B)"]
    np.testing.assert_allclose(tracks[1].lat_deg, other.lat, atol=1e-6)


def _in_minutes(rows: list[int]) -> str:
    """Write so many rows of each minute, which show no seconds."""
    flight = invented_flight(sum(rows))
    minute = np.repeat(np.arange(len(rows)), rows)
    written = [(FLIGHT.start + timedelta(minutes=int(one))).strftime("%Y-%m-%d %H:%M") for one in minute]
    return table(["time", "lat", "lon"], written, *positions(flight))


@pytest.mark.parametrize(
    ("rows", "spread"),
    [
        ([40, 60, 60, 60, 60, 30], True),
        ([40, 60, 61, 60, 60, 30], True),
        ([40, 60, 62, 60, 60, 30], False),
        ([61, 60, 60, 60, 60, 30], True),
        ([62, 60, 60, 60, 60, 30], False),
        # Rows may be lost: one in twenty.
        ([40, 60, 57, 60, 60, 30], True),
        ([40, 60, 56, 60, 60, 30], False),
        ([4, 6, 5, 6, 6, 3], True),
        ([4, 6, 4, 6, 6, 3], False),
    ],
)
def test_minutes_hold_as_many_rows_but_for_the_first_and_the_last(
    tmp_path: Path, rows: list[int], spread: bool
) -> None:
    (track, *_) = read_text(tmp_path, "a.csv", _in_minutes(rows))
    assert (track.samples == sum(rows)) == spread
    if spread:
        # The log began when the first minute had as many rows left as it has.
        assert track.start_utc == FLIGHT.start + timedelta(minutes=max(1.0 - rows[0] / rows[1], 0.0))


@pytest.mark.parametrize(("different", "seconds"), [(24, False), (26, True)])
def test_sixtieths_of_sixtieths_show_by_their_many_whole_seconds(
    tmp_path: Path, different: int, seconds: bool
) -> None:
    """48.0503 is 48° 05' 03", where no two digits behind the point are ever above 59; else it is decimal."""
    cells = [f"48.{5 + place // 20:02d}{place % different:02d}" for place in range(80)]
    text = table(["time", "lat", "lon"], FLIGHT.iso()[:80], cells, ["11.0000"] * 80)
    track = read_text(tmp_path, "a.csv", text)[0]
    assert track.lat_deg[0] == pytest.approx(48.0 + 5.0 / 60.0 if seconds else 48.05, abs=1e-6)


@pytest.mark.parametrize("number", ["0", "4", "-1"])
def test_columns_are_numbered_from_one_to_the_last(tmp_path: Path, number: str) -> None:
    text = table(["when", "lat", "lon"], FLIGHT.iso(), LAT, LON)
    told = {"time": "1", "lat": "2", "lon": "3"}
    assert read_one(tmp_path, "a.csv", text, columns=told).samples == 960
    with pytest.raises(LogError, match=f"there is no column '{number}'"):
        read_text(tmp_path, "a.csv", text, columns={**told, "time": number})


def test_a_column_that_is_named_keeps_no_other_meaning(tmp_path: Path) -> None:
    """What a header says yields to what a person says of its column."""
    text = table(["time", "lat", "lon", "altitude_ft", "heading"], FLIGHT.iso(), LAT, LON,
                 numbers(FLIGHT.altitude_ft), numbers(FLIGHT.track_deg))  # fmt: skip
    track = read_one(tmp_path, "a.csv", text, columns={"track": "heading"})
    assert {source.channel for source in track.sources if source.column == "heading"} == {"track_true_deg"}


@pytest.mark.parametrize(("lines", "by_line"), [(("[1]", "[2]"), True), (("[1]", "[2"), False)])
def test_the_first_two_lines_tell_rows_of_json_from_a_list_over_lines(
    lines: tuple[str, ...], by_line: bool
) -> None:
    assert is_by_line("\n".join([*lines, "x"])) == by_line


def test_a_table_of_one_row_that_breaks_off_loses_nothing(tmp_path: Path) -> None:
    with pytest.raises(LogError):
        read_text(tmp_path, "a.csv", "time,lat,lon,alt\n2026-03-14T12:00:00Z,48.1,11")
