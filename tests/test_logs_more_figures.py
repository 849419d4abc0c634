"""More limits of the readers, each from both sides: sizes, headers, columns that a person named, clocks."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from pandas import Series

from analyser.errors import LogError
from analyser.logs.clock_faults import order_clock
from analyser.logs.flight_time import even_out_rate, put_in_lost_time, take_out_pauses
from analyser.logs.limits import MAX_BYTES, MAX_LINE
from analyser.logs.positions import drop_held, parted
from analyser.logs.read import read_log
from analyser.logs.samples import Column
from analyser.logs.text import is_binary, refuse_long_lines, shown, without_accents
from analyser.logs.time_text import by_pattern
from analyser.logs.times import offset_seconds
from analyser.logs.track import Source, Track
from tests.logs_invented import as_fit, as_geojson, as_igc, as_kml, fit_crc, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, read_text, table
from tests.test_logs_clock_borders import flight

FLIGHT = invented_flight(600)
LAT, LON = positions(FLIGHT)
ROWS = [FLIGHT.iso(), LAT, LON]


def source(track: Track, channel: str) -> Source:
    """Return where a channel, or the time, was read from."""
    (found,) = [one for one in track.sources if one.channel == channel and one.standing != "ignored"]
    return found


# Sizes


@pytest.mark.parametrize("newline", ["\n", "\r"])
@pytest.mark.parametrize("line", [1, 2])
def test_a_line_may_be_as_long_as_the_limit_and_no_longer(line: int, newline: str) -> None:
    before, after = newline.join(["short"] * (line - 1)), "more" * 100_000

    def text(letters: int) -> bytes:
        return (before + newline * (line - 1) + "x" * letters + newline + after[:1000] + newline).encode()

    refuse_long_lines(text(MAX_LINE), "log.csv")
    with pytest.raises(LogError, match=f"line {line if newline == chr(10) else 1}.*longer than {MAX_LINE:,}"):
        refuse_long_lines(text(MAX_LINE + 1), "log.csv")


def test_a_file_larger_than_any_log_is_refused_before_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.truncate(MAX_BYTES + 1)

    def no_reading(self: Path, *words: object) -> None:
        raise AssertionError(f"{self} was opened: {words}")

    monkeypatch.setattr(Path, "open", no_reading)
    with pytest.raises(LogError, match="400"):
        read_log(path)


@pytest.mark.parametrize(("zeros", "strange", "binary"), [(0, 2, False), (0, 3, True), (50, 0, False)])
def test_a_few_control_bytes_make_no_binary(zeros: int, strange: int, binary: bool) -> None:
    assert is_binary(b"time,lat,lon\n" * 20 + b"\0" * zeros + b"\x01" * strange) == binary


def test_text_is_shown_on_one_line_and_no_longer_than_is_asked() -> None:
    assert shown("a\tb\n  c\x07d", 60) == "a b c d"
    assert shown("x" * 20, 20) == "x" * 20 and shown("x" * 21, 20) == "x" * 19 + "…"
    assert without_accents("Höhe Łódź straße œuvre") == "Hohe Lodz strasse oeuvre"


# Headers and columns


def test_the_longitude_a_person_names_counts_though_the_latitude_is_another_sensors(tmp_path: Path) -> None:
    off = numbers(FLIGHT.lon + 0.01, 7)
    text = table(["time", "gps lat", "gps lon", "ins lat", "ins lon"], *ROWS, LAT, off)
    assert read_one(tmp_path, "a.csv", text).lon_deg == pytest.approx(FLIGHT.lon, abs=1e-6)
    told = read_one(tmp_path, "b.csv", text, columns={"lon": "ins lon"})
    assert told.lon_deg == pytest.approx(FLIGHT.lon + 0.01, abs=1e-6)
    assert told.lat_deg == pytest.approx(FLIGHT.lat, abs=1e-6)


def test_a_column_that_a_person_names_keeps_the_unit_of_its_header_where_it_is_of_that_kind(
    tmp_path: Path,
) -> None:
    metres = numbers(FLIGHT.altitude_ft * 0.3048, 2)
    for header, unit in (("gps height (m)", "m"), ("altitude (km)", "km")):
        values = metres if unit == "m" else numbers(FLIGHT.altitude_ft * 0.3048e-3, 5)
        text = table(["time", "lat", "lon", header], *ROWS, values)
        track = read_one(tmp_path, "a.csv", text, columns={"alt": header})
        assert track.channels["altitude_ft"] == pytest.approx(FLIGHT.altitude_ft, abs=0.05)
        assert (source(track, "altitude_ft").unit, source(track, "altitude_ft").standing) == (unit, "told")


def test_where_time_and_place_were_read_from_is_told(tmp_path: Path) -> None:
    track = read_one(tmp_path, "a.csv", table(["Zulu time", "lat", "lon"], *ROWS))
    told = {one.channel: one.column for one in track.sources}
    assert told["time"] == "Zulu time" and told["position"] in ("lat", "lon")
    day, clock = zip(*(one.rstrip("Z").split("T") for one in FLIGHT.iso()), strict=True)
    both = read_one(tmp_path, "b.csv", table(["UTC date", "UTC time", "lat", "lon"], day, clock, LAT, LON))
    assert {"UTC date", "UTC time", "lat", "lon"} == {one.column for one in both.sources}
    assert both.start_utc == FLIGHT.start


# Clocks, recordings


@pytest.mark.parametrize(("intervals", "lasts_s"), [(1.7, 1.0), (2.4, 2.4), (5.0, 5.0)])
def test_where_a_clock_was_set_back_an_interval_is_put_or_what_the_way_took(
    intervals: float, lasts_s: float
) -> None:
    """A step of up to two intervals' way may be one that was long; what is longer took its time."""
    steps = np.full(200, 60.0, dtype=complex)
    steps[120] *= intervals
    time_s = np.arange(201.0)
    time_s[121:] -= 600.0
    mended = order_clock(flight(time_s, steps))
    assert [notice.code for notice in mended.notices] == ["time-set-back"]
    assert mended.steps_s[120] == pytest.approx(lasts_s, rel=0.01)
    assert (len(mended.seams) == 1) == (lasts_s > 2.0)
    # The end of a log is taken for right.
    assert mended.time_s[-1] == pytest.approx(time_s[-1])


@pytest.mark.parametrize("cut", [True, False])
def test_a_recording_whose_size_was_never_written_is_read_to_its_end(tmp_path: Path, cut: bool) -> None:
    """Bytes 4 to 7 of the header are the size of what follows (FIT protocol, file header)."""
    data = as_fit(FLIGHT)
    assert int.from_bytes(data[4:8], "little") == len(data) - data[0] - 2
    unsized = data[:4] + bytes(4) + data[8 : -2 if cut else None]
    path = tmp_path / "a.fit"
    path.write_bytes(unsized)
    (track,) = read_text(tmp_path, "b.csv", table(["time", "lat", "lon"], *ROWS))
    (found,) = read_log(path)
    assert found.samples == 600
    assert found.lat_deg == pytest.approx(track.lat_deg, abs=1e-6)


def test_a_recording_that_is_a_header_alone_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.fit"
    path.write_bytes(as_fit(FLIGHT)[:4] + bytes(4) + as_fit(FLIGHT)[8:14])
    with pytest.raises(LogError):
        read_log(path)


# Directions


@pytest.mark.parametrize(("eighths", "refused"), [(5, True), (4, False)])
def test_a_mirror_image_shows_where_five_eighths_of_the_circle_were_flown(
    tmp_path: Path, eighths: int, refused: bool
) -> None:
    """Legs of a minute and a half, each 45° right of the one before, from 20° on; latitude and longitude swapped."""
    heading = np.radians(20.0 + 45.0 * np.minimum(np.arange(600.0) // 90.0, eighths - 1.0))
    north, east = (60.0 * np.cumsum(part(heading)) for part in (np.cos, np.sin))
    # On the equator, where degrees are alike.
    lat, lon = 1.0 + north / 110_574.0, 2.0 + east / 111_320.0
    text = table(
        ["time", "lat", "lon", "track"],
        FLIGHT.iso(),
        numbers(lon, 7),
        numbers(lat, 7),
        numbers(np.degrees(heading), 1),
    )
    if refused:
        with pytest.raises(LogError, match="swapped"):
            read_one(tmp_path, "a.csv", text)
    else:
        assert "channel-disagrees" in codes(read_one(tmp_path, "a.csv", text))


@pytest.mark.parametrize(("speed_kt", "refused"), [(970.0, False), (1050.0, True)])
def test_a_flight_faster_than_a_thousand_knots_was_misread(
    tmp_path: Path, speed_kt: float, refused: bool
) -> None:
    """Eastward on the equator; its rounding to seven decimals is a centimetre."""
    lon = np.arange(600.0) * speed_kt * 1852.0 / 3600.0 / 111_319.49
    text = table(["time", "lat", "lon"], FLIGHT.iso(), numbers(np.full(600, 0.5), 7), numbers(lon, 7))
    if refused:
        with pytest.raises(LogError, match="would move at 1,050 kt"):
            read_one(tmp_path, "a.csv", text)
    else:
        assert read_one(tmp_path, "a.csv", text).samples == 600


@pytest.mark.parametrize("north", [1.0, -1.0])
def test_minutes_behind_the_point_show_where_a_degree_is_passed_far_into_the_flight(
    tmp_path: Path, north: float
) -> None:
    """48.5999 is followed by 49.0000: half an hour north of 48°25', or south of 49°25', at two miles a minute."""
    minutes = north * np.arange(400.0) / 6.0 + (25.0 if north > 0.0 else 85.0)
    lat = 48.0 + minutes / 60.0
    written = [
        f"{48 + int(one // 60)}.{int(one % 60.0):02d}{round(one % 1.0 * 100.0) % 100:02d}" for one in minutes
    ]
    times = [f"2026-03-14T12:{int(5 * row // 60):02d}:{5 * row % 60:02d}Z" for row in range(400)]
    text = table(["time", "lat", "lon"], times, written, ["11.3000"] * 400)
    track = read_one(tmp_path, "a.csv", text)
    assert track.lat_deg == pytest.approx(lat[: track.samples], abs=3e-4)
    assert track.lon_deg == pytest.approx(np.full(track.samples, 11.5))


@pytest.mark.parametrize("digits", [1, 2, 3])
def test_an_igc_record_may_say_more_digits_of_its_place_and_time(tmp_path: Path, digits: int) -> None:
    """IGC specification: LAD and LOD are the further digits of the minutes, TDS those of the second (from memory)."""
    more = np.random.default_rng(2).integers(0, 10**digits, (2, 600))
    lines = [line[:35] for line in as_igc(FLIGHT).splitlines()]
    rows = iter(zip(*more, strict=True))
    ends = [35 + digits, 35 + 2 * digits, 36 + 2 * digits]
    extended = f"I0336{ends[0]:02d}LAD{ends[0] + 1:02d}{ends[1]:02d}LOD{ends[2]:02d}{ends[2]:02d}TDS"
    text = [
        line + "".join(f"{one:0{digits}d}" for one in next(rows)) + "5" if line.startswith("B") else line
        for line in lines
        if not line.startswith("I")
    ]
    plain = read_one(
        tmp_path, "a.igc", "\r\n".join(line for line in lines if not line.startswith("I")) + "\r\n"
    )
    found = read_one(tmp_path, "b.igc", "\r\n".join([*text[:2], extended, *text[2:]]) + "\r\n")
    for axis, (fine, coarse) in enumerate(((found.lat_deg, plain.lat_deg), (found.lon_deg, plain.lon_deg))):
        thousandths = (fine - coarse) * 60_000.0
        assert thousandths == pytest.approx(more[axis] / 10.0**digits, abs=1e-4)
    assert plain.start_utc is not None and found.start_utc is not None
    assert (found.start_utc - plain.start_utc).total_seconds() == pytest.approx(0.5)


@pytest.mark.parametrize(("degrees", "side"), [("0", 1.0), ("-0", -1.0)])
def test_minutes_beside_no_degrees_lie_north_and_east_unless_a_sign_says_otherwise(
    tmp_path: Path, degrees: str, side: float
) -> None:
    minutes = 10.0 + 0.03 * np.arange(600.0)
    headers = ["time", "lat deg", "lat min", "lon deg", "lon min"]
    text = table(
        headers, FLIGHT.iso(), [degrees] * 600, numbers(minutes, 4), ["0"] * 600, numbers(minutes, 4)
    )
    track = read_one(tmp_path, "a.csv", text)
    assert track.lat_deg == pytest.approx(side * minutes / 60.0, abs=1e-5)
    assert track.lon_deg == pytest.approx(minutes / 60.0, abs=1e-5)


# What other formats say besides places


@pytest.mark.parametrize(("short", "read"), [(0, True), (1, False)])
def test_a_kml_tracks_arrays_are_read_where_they_have_a_value_for_each_place(
    tmp_path: Path, short: int, read: bool
) -> None:
    """OGC KML 2.3, 16.16 (from memory): SimpleArrayData, each of its values for one place of the track."""
    cells = "".join(f"<value>{one:.1f}</value>" for one in FLIGHT.ias_kt[: 600 - short])
    array = f'<SimpleArrayData name="ias_kt">{cells}</SimpleArrayData>'
    said = f"<ExtendedData><SchemaData>{array}</SchemaData></ExtendedData></Track>"
    track = read_one(tmp_path, "a.kml", as_kml(FLIGHT).replace("</Track>", said))
    assert ("ias_kt" in track.channels) == read
    if read:
        assert track.channels["ias_kt"] == pytest.approx(FLIGHT.ias_kt, abs=0.06)


@pytest.mark.parametrize(("short", "read"), [(0, True), (1, False)])
def test_a_geojson_lines_lists_are_read_where_they_have_a_value_for_each_place(
    tmp_path: Path, short: int, read: bool
) -> None:
    document = json.loads(as_geojson(FLIGHT))
    document["features"][0]["properties"]["ias_kt"] = np.round(FLIGHT.ias_kt, 1).tolist()[: 600 - short]
    track = read_one(tmp_path, "a.geojson", json.dumps(document))
    assert ("ias_kt" in track.channels) == read
    if read:
        assert track.channels["ias_kt"] == pytest.approx(FLIGHT.ias_kt, abs=0.06)


@pytest.mark.parametrize(("header", "read"), [(12, True), (14, True), (13, False), (16, False)])
def test_a_fit_header_has_twelve_bytes_or_fourteen(tmp_path: Path, header: int, read: bool) -> None:
    """FIT protocol: the two bytes of its checksum may be left out."""
    data = as_fit(FLIGHT)
    path = tmp_path / "a.fit"
    path.write_bytes(bytes([header]) + data[1:12] + bytes(max(header - 12, 0)) + data[14:])
    if read:
        (track,) = read_log(path)
        assert track.samples == 600 and track.lat_deg == pytest.approx(FLIGHT.lat, abs=1e-6)
    else:
        with pytest.raises(LogError):
            read_log(path)


def test_json_of_an_object_for_each_value_or_for_each_time_is_read(tmp_path: Path) -> None:
    """Columns with the same names of rows in each, and rows under their times."""
    names = [f"r{row}" for row in range(600)]
    columns = {
        "time": dict(zip(names, FLIGHT.iso(), strict=True)),
        "lat": dict(zip(names, FLIGHT.lat.tolist(), strict=True)),
        "lon": dict(zip(names, FLIGHT.lon.tolist(), strict=True)),
    }
    rows = {
        when: {"lat": lat, "lon": lon}
        for when, lat, lon in zip(FLIGHT.iso(), FLIGHT.lat.tolist(), FLIGHT.lon.tolist(), strict=True)
    }
    numbered = {str(row): {"time": when, **one} for row, (when, one) in enumerate(rows.items())}
    for document in (columns, rows, numbered, {"flight": rows}, {"name": "x", "points": numbered}):
        track = read_one(tmp_path, "a.json", json.dumps(document))
        assert track.samples == 600 and track.start_utc == FLIGHT.start
        assert track.lat_deg == pytest.approx(FLIGHT.lat, abs=1e-6)


@pytest.mark.parametrize("mark", [",", "."])
def test_three_digits_behind_a_mark_are_decimals_of_a_place_or_a_speed_and_thousands_of_a_height(
    tmp_path: Path, mark: str
) -> None:
    """No hold is flown below 100 ft, and nobody flies at 110,000 kt or lives at 48,100 degrees."""
    lat, lon, kt = (
        [cell.replace(".", mark) for cell in numbers(values, 3)]
        for values in (FLIGHT.lat, FLIGHT.lon, FLIGHT.ground_speed_kt / 2.0)
    )
    other = "." if mark == "," else ","
    feet = [f"{one // 1000}{other}{one % 1000:03d}" for one in np.round(FLIGHT.altitude_ft).astype(int)]
    text = table(
        ["time", "lat", "lon", "alt_ft", "wind (kt)"], FLIGHT.iso(), lat, lon, feet, kt, separator=";"
    )
    track = read_one(tmp_path, "a.csv", text)
    for found, true in ((track.lat_deg, FLIGHT.lat), (track.lon_deg, FLIGHT.lon)):
        assert (found.min(), found.max()) == pytest.approx((true.min(), true.max()), abs=2e-3)
    assert np.median(track.channels["altitude_ft"]) == pytest.approx(np.median(FLIGHT.altitude_ft), abs=5.0)


@pytest.mark.parametrize("cut", [6, 12, 18])
def test_a_table_that_breaks_off_in_a_row_says_in_which_line(tmp_path: Path, cut: int) -> None:
    """A header and 600 rows, the last of which lacks its height, or more."""
    text = table(["time", "lat", "lon", "alt_ft"], *ROWS, numbers(FLIGHT.altitude_ft, 0))
    path = tmp_path / "a.csv"
    path.write_text(text[:-cut], encoding="utf-8")
    (track,) = read_log(path)
    assert track.samples == 599
    assert any("cut off at line 601" in notice.message for notice in track.notices)


@pytest.mark.parametrize(("empty", "rows"), [(980, 600), (1020, 300)])
def test_a_sheet_ends_where_a_thousand_rows_are_empty(tmp_path: Path, empty: int, rows: int) -> None:
    import xlsxwriter

    path = tmp_path / "a.xlsx"
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet("flight")
    sheet.write_row(0, 0, ["time", "lat", "lon"])
    for row, cells in enumerate(zip(FLIGHT.iso(), FLIGHT.lat.tolist(), FLIGHT.lon.tolist(), strict=True), 1):
        sheet.write_row(row if row <= 300 else row + empty, 0, cells)
    book.close()
    (track,) = read_log(path)
    assert track.samples == rows


@pytest.mark.parametrize(
    ("clock", "of_day_s"),
    [
        ("23:59:59.9", 86_399.9),
        # A leap second is the sixtieth (ITU-R TF.460); midnight may be the end of a day (ISO 8601:2000).
        ("23:59:60", 86_400.0),
        ("23:59:60.9", 86_400.9),
        ("23:59:61", None),
        ("24:00:00", 86_400.0),
        ("25:00:00", None),
        ("12:59:00", 46_740.0),
        ("12:60:00", None),
        ("12:30:00 am", 1800.0),
        ("1:00:00 am", 3600.0),
        ("11:59:59 a.m.", 43_199.0),
        ("12:30:00 PM", 45_000.0),
        ("1:00:00 pm", 46_800.0),
        ("13:00:00 pm", None),
        ("00:30:00 pm", None),
        ("10:11", 36_660.0),
        ("101112", 36_672.0),
        ("10:11:12,5", 36_672.5),
    ],
)
def test_a_clock_is_read_as_people_write_it_and_what_no_clock_shows_is_none(
    clock: str, of_day_s: float | None
) -> None:
    (found,) = (
        by_pattern([f"2026-03-14 {clock}"], "dmy").time_s - datetime(2026, 3, 14, tzinfo=UTC).timestamp()
    )
    assert np.isnan(found) if of_day_s is None else found == pytest.approx(of_day_s, abs=1e-5)


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("0", 0.0),
        ("2", 2.0),
        ("14", 14.0),
        ("0200", 2.0),
        ("0545", 5.75),
        ("330", 5.5),
        ("-120", -2.0),
        ("19800", 5.5),
    ],
)
def test_an_offset_of_digits_alone_is_in_hours_hours_and_minutes_minutes_or_seconds(
    text: str, hours: float
) -> None:
    """Of a quarter of an hour, and no more than the Line Islands' fourteen hours."""
    found = offset_seconds(Series([text, text], dtype=object), None, np.array([1.77e9, 1.77e9]))
    assert found.tolist() == [hours * 3600.0] * 2


@pytest.mark.parametrize("every_s", [0.25, 0.5, 2.0, 5.0])
def test_faults_of_a_clock_are_mended_by_its_own_beat(every_s: float) -> None:
    """At 60 m/s; whatever the beat, a time that is wrong lies between its neighbours, and a clock set back beats on."""
    true_s = every_s * np.arange(201.0)
    steps = np.full(200, 60.0 * every_s, dtype=complex)
    for at, beats in (
        (slice(80, 81), 700.0),
        (slice(80, 84), 700.0),
        (slice(80, 81), -1.4),
        (slice(80, 81), 2.5),
    ):
        time_s = true_s.copy()
        time_s[at] += beats * every_s
        mended = order_clock(flight(time_s, steps))
        assert [notice.code for notice in mended.notices] == ["time-spike"]
        assert mended.time_s == pytest.approx(true_s, abs=1e-6)
    set_back = np.where(np.arange(201) >= 120, true_s - 600.0, true_s)
    mended = order_clock(flight(set_back, steps))
    assert [notice.code for notice in mended.notices] == ["time-set-back"] and mended.seams == ()
    assert mended.steps_s == pytest.approx(np.full(200, every_s), rel=1e-3)
    order = np.arange(201)
    order[50:53] = [52, 50, 51]
    late = order_clock(flight(true_s, steps).take(order))
    assert [notice.code for notice in late.notices] == ["time-backward"] and late.time_s == pytest.approx(
        true_s
    )
    leapt = order_clock(flight(true_s + 3600.0 * (np.arange(201) >= 120), steps))
    assert [notice.code for notice in leapt.notices] == ["time-leap"]
    assert leapt.steps_s == pytest.approx(np.full(200, every_s), rel=1e-3)


@pytest.mark.parametrize("every_s", [0.5, 2.0, 5.0])
def test_faults_of_places_are_left_out_whatever_the_beat(every_s: float) -> None:
    at_s = every_s * np.arange(201.0)
    steps = np.full(200, 60.0 * every_s, dtype=complex)
    aside = steps.copy()
    aside[[99, 100]] += np.array([2000.0j, -2000.0j])
    (spike,) = parted(flight(at_s, aside), "a.csv")
    assert spike.samples == 200 and at_s[100] not in spike.time_s
    near = steps.copy()
    near[[99, 100]] += np.array([40.0j, -40.0j])
    (kept,) = parted(flight(at_s, near), "a.csv")
    assert kept.samples == 201
    # Put elsewhere, a hundred miles away, it is another flight.
    away = steps.copy()
    away[100] += 185_200.0j
    assert [one.samples for one in parted(flight(at_s, away), "a.csv")] == [101, 100]
    # Each place written three times: the first is real.
    held = np.where(np.arange(200) % 3 == 2, 180.0 * every_s, 0.0).astype(complex)
    real_s = drop_held(flight(at_s, held)).time_s[:-1]
    assert real_s == pytest.approx(at_s[::3][: real_s.size]) and real_s.size >= 66
    # Forty rows of one place are a pause.
    stood = np.where((np.arange(200) >= 100) & (np.arange(200) < 140), 0.0, steps)
    paused = take_out_pauses(flight(at_s, stood))
    assert [seam.removed_s for seam in paused.seams] == pytest.approx([40.0 * every_s], abs=1.01 * every_s)


@pytest.mark.parametrize("every_s", [0.5, 2.0, 5.0])
def test_lost_and_faster_time_is_told_whatever_the_beat(every_s: float) -> None:
    """One step of two steps' way lost a beat; eighty of four steps' way each took three more."""
    at_s = every_s * np.arange(241.0)
    steps = np.full(240, 60.0 * every_s, dtype=complex)
    lost, faster = steps.copy(), steps.copy()
    lost[120] *= 2.0
    faster[80:160] *= 4.0
    put_in = put_in_lost_time(flight(at_s, lost))
    assert put_in.time_s[-1] == pytest.approx(241.0 * every_s) and len(put_in.seams) == 1
    even = even_out_rate(flight(at_s, faster))
    assert even.steps_s == pytest.approx(np.where(faster == steps, every_s, 4.0 * every_s))
    assert [seam.time_s for seam in even.seams] == pytest.approx([80.0 * every_s, 400.0 * every_s])
    assert "4 times as fast from sample 81 to sample 161" in even.notices[0].message


# What is read once


def test_the_first_record_of_extensions_counts_and_no_other(tmp_path: Path) -> None:
    lines = as_igc(FLIGHT).splitlines()
    once = read_one(tmp_path, "once.igc", "\r\n".join(lines))
    # A second one would take the airspeed from the columns of the track.
    again = read_one(tmp_path, "again.igc", "\r\n".join([*lines[:3], "I013941TRT4244IAS", *lines[3:]]))
    assert np.array_equal(again.channels["ias_kt"], once.channels["ias_kt"])
    assert np.nanmedian(once.channels["ias_kt"]) == pytest.approx(103.4, abs=1.0)


def test_only_the_time_is_read_in_the_unit_that_was_assumed_for_it(tmp_path: Path) -> None:
    text = table(
        ["Time", "Lat", "Lon", "Alt (ft)"], numbers(FLIGHT.time_s), LAT, LON, numbers(FLIGHT.altitude_ft, 0)
    )
    track = read_one(tmp_path, "a.csv", text)
    assert (source(track, "time").standing, source(track, "time").unit) == ("assumed", "s")
    assert (source(track, "altitude_ft").standing, source(track, "altitude_ft").unit) == ("recognised", "ft")


def test_a_column_is_as_long_as_what_was_put_in_however_many_blocks_that_are() -> None:
    column = Column(missing=3)
    column.extend(list(range(500)))
    for value in range(20_000):
        column.append(value)
    assert len(column) == 20_503 == column.values().size
    assert np.isnan(column.values()[:3]).all() and column.values()[[3, -1]].tolist() == [0.0, 19_999.0]


def test_a_bank_that_stands_still_is_believed_until_the_turn_asks_for_another(tmp_path: Path) -> None:
    bank = FLIGHT.bank_deg + 0.4 * np.sin(FLIGHT.time_s)
    # Stuck through a straight leg, the turn after it and the next leg.
    bank[75:235] = 0.0
    rough = [numbers(one, 5) for one in (FLIGHT.lat, FLIGHT.lon)]
    text = table(["Time", "Lat", "Lon", "Bank (deg)"], ROWS[0], *rough, numbers(bank, 1))
    left = read_one(tmp_path, "a.csv", text).channels["bank_deg"]
    assert np.isfinite(left[75:112]).all() and np.isnan(left[130:230]).all()


def test_a_column_that_a_person_named_counts_however_few_its_values(tmp_path: Path) -> None:
    few = [f"{4500 + row}" if row % 60 == 0 else "" for row in range(600)]
    text = table(
        ["Time", "Lat", "Lon", "Altitude (ft)", "Height (ft)"], *ROWS, numbers(FLIGHT.altitude_ft, 0), few
    )
    plain = read_one(tmp_path, "a.csv", text)
    assert source(plain, "altitude_ft").column == "Altitude (ft)"
    named = read_one(tmp_path, "a.csv", text, columns={"alt": "Height (ft)"})
    assert source(named, "altitude_ft").column == "Height (ft)"


@pytest.mark.parametrize(("header", "read"), [(12, True), (13, False)])
def test_a_fit_file_may_have_the_short_header_of_twelve_bytes(
    tmp_path: Path, header: int, read: bool
) -> None:
    data = as_fit(FLIGHT)
    body = bytes([header]) + data[1:12] + data[14:-2]
    path = tmp_path / "short.fit"
    path.write_bytes(body + fit_crc(body).to_bytes(2, "little"))
    if read:
        (track,) = read_log(path)
        assert track.format == "fit" and track.samples == 600
    else:
        with pytest.raises(LogError):
            read_log(path)
