"""Just inside and just outside: what each rule of the readers keeps or leaves out, and what units are worth.

Expected values are definitions (named beside them), geodesics of another library, or the rule's own words.
"""

from __future__ import annotations

import gzip
import tomllib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod

from analyser.errors import LogError
from analyser.logs import units
from analyser.logs.clean import holes_of
from analyser.logs.movement import displacements, offsets, usual_speed_kt
from analyser.logs.text import clock_text, counted, listed
from analyser.logs.time_text import date_seconds
from analyser.logs.times import midnight_s, unroll_days
from analyser.logs.track import CHANNELS, Track
from analyser.logs.units import EPOCHS, unit_of
from tests.logs_invented import Invented, as_gpx, as_igc, as_nmea, invented_flight, sentence
from tests.logs_reading import codes, numbers, positions, read_one, read_text, table

FLIGHT = invented_flight(600)
LONG = invented_flight(1500)
LAT, LON = positions(FLIGHT)


def _with(flight: Invented = FLIGHT, **columns: np.ndarray) -> str:
    lat, lon = positions(flight)
    return table(
        ["time", "lat", "lon", *columns], flight.iso(), lat, lon, *(numbers(v, 3) for v in columns.values())
    )


def _message(track: Track, code: str) -> str:
    (message,) = [notice.message for notice in track.notices if notice.code == code]
    return message


@pytest.mark.parametrize("lat", [-78.0, -33.0, 0.3, 12.0, 48.0, 71.0])
def test_steps_agree_with_geodesics(lat: float) -> None:
    """PROJ's geodesics on the WGS84 ellipsoid: a few parts in a hundred thousand over the metres between samples."""
    draw = np.random.default_rng(5)
    lats, lons = lat + draw.uniform(-5e-3, 5e-3, 60), 20.0 + draw.uniform(-5e-3, 5e-3, 60)
    east, north = displacements(lats, lons)
    azimuth, _, metres = Geod(ellps="WGS84").inv(lons[:-1], lats[:-1], lons[1:], lats[1:])
    np.testing.assert_allclose(np.hypot(east, north), metres, rtol=3e-5)
    # The direction in the middle of the step: half the convergence of the meridians is between.
    away = np.abs((np.degrees(np.arctan2(east, north)) - azimuth + 180.0) % 360.0 - 180.0)
    assert away.max() < 0.01


def test_steps_go_the_short_way_over_the_date_line() -> None:
    east, _ = offsets(np.array([10.0]), np.array([179.999]), np.array([10.0]), np.array([-179.999]))
    assert 200.0 < east[0] < 240.0
    assert usual_speed_kt(np.arange(50.0), np.full(50, 10.0), 20.0 + np.arange(50) * 1e-3) == pytest.approx(
        213, abs=1
    )


#: One of each unit in feet, knots, feet per minute, degrees or seconds, by definition: the international foot is
#: 0.3048 m, the nautical mile 1852 m, the statute mile 1609.344 m.
WORTH = [
    ("length", "m", 3.2808399),
    ("length", "km", 3280.8399),
    ("length", "cm", 0.032808399),
    ("length", "dm", 0.32808399),
    ("length", "mm", 0.0032808399),
    ("length", "kft", 1000.0),
    ("length", "FL", 100.0),
    ("length", "ft", 1.0),
    ("speed", "kt", 1.0),
    ("speed", "m/s", 1.9438445),
    ("speed", "km/h", 0.5399568),
    ("speed", "mph", 0.8689762),
    ("speed", "ft/s", 0.5924838),
    ("speed", "cm/s", 0.019438445),
    ("speed", "mm/s", 0.0019438445),
    ("climb", "fpm", 1.0),
    ("climb", "m/s", 196.850394),
    ("climb", "ft/s", 60.0),
    ("angle", "deg", 1.0),
    ("angle", "rad", 57.2957795),
    ("angle", "arcmin", 1 / 60),
    ("angle", "arcsec", 1 / 3600),
    ("angle", "e7", 1e-7),
    ("angle", "e6", 1e-6),
    ("angle", "gon", 0.9),
    ("angle", "semicircles", 8.381903171539307e-08),
    ("time", "s", 1.0),
    ("time", "ds", 0.1),
    ("time", "cs", 0.01),
    ("time", "100us", 1e-4),
    ("time", "10us", 1e-5),
    ("time", "ms", 1e-3),
    ("time", "us", 1e-6),
    ("time", "ns", 1e-9),
    ("time", "ticks", 1e-7),
    ("time", "min", 60.0),
    ("time", "h", 3600.0),
    ("time", "days", 86_400.0),
]


@pytest.mark.parametrize(("kind", "spelling", "worth"), WORTH)
def test_what_a_unit_is_worth(kind: str, spelling: str, worth: float) -> None:
    unit = unit_of(spelling, kind)
    assert unit is not None and unit.factor == pytest.approx(worth, rel=1e-7) and unit.offset == 0.0


@pytest.mark.parametrize(
    ("spelling", "freezing", "boiling"), [("C", 0.0, 100.0), ("F", 32.0, 212.0), ("K", 273.15, 373.15)]
)
def test_where_water_freezes_and_boils(spelling: str, freezing: float, boiling: float) -> None:
    unit = unit_of(spelling, "temperature")
    assert unit is not None
    assert freezing * unit.factor + unit.offset == pytest.approx(0.0, abs=1e-9)
    assert boiling * unit.factor + unit.offset == pytest.approx(100.0)


def test_no_unit_is_forgotten() -> None:
    kinds = tomllib.loads((Path(units.__file__).parent / "units.toml").read_text(encoding="utf-8"))
    held = {(kind, unit.name) for kind, spelling, _ in WORTH if (unit := unit_of(spelling, kind)) is not None}
    assert {
        (kind, name)
        for kind, known in kinds.items()
        for name, one in known.items()
        if kind != "temperature" and "is" in one
    } == held


#: What each count says at 2026-03-14T12:00:00Z: whole seconds from its day, from the calendar; Julian days by the US
#: Naval Observatory's 2451545.0 for 2000-01-01T12:00; a spreadsheet's 36526 for 2000-01-01.
_NOON = datetime(2026, 3, 14, 12, tzinfo=UTC)
_SINCE_2000 = (_NOON - datetime(2000, 1, 1, 12, tzinfo=UTC)) / timedelta(days=1)
COUNTS = {
    "unix": (_NOON - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds(),
    "2001": (_NOON - datetime(2001, 1, 1, tzinfo=UTC)).total_seconds(),
    "gps": (_NOON - datetime(1980, 1, 6, tzinfo=UTC)).total_seconds() + 18.0,
    "2000": (_NOON - datetime(2000, 1, 1, tzinfo=UTC)).total_seconds(),
    "fit": (_NOON - datetime(1989, 12, 31, tzinfo=UTC)).total_seconds(),
    "1904": (_NOON - datetime(1904, 1, 1, tzinfo=UTC)).total_seconds(),
    "ntp": (_NOON - datetime(1900, 1, 1, tzinfo=UTC)).total_seconds(),
    "1601": (_NOON - datetime(1601, 1, 1, tzinfo=UTC)).total_seconds() * 1e7,
    "0001": (_NOON - datetime(1, 1, 1, tzinfo=UTC)).total_seconds() * 1e7,
    "jd": 2_451_545.0 + _SINCE_2000,
    "mjd": 51_544.5 + _SINCE_2000,
    "1899": 36_526.5 + _SINCE_2000,
    "1904days": (_NOON - datetime(1904, 1, 1, tzinfo=UTC)) / timedelta(days=1),
}


@pytest.mark.parametrize("name", COUNTS)
def test_what_counts_begin_at(name: str) -> None:
    unit = unit_of(name, "time")
    assert unit is not None and unit in EPOCHS
    assert COUNTS[name] * unit.factor + unit.offset == pytest.approx(_NOON.timestamp(), abs=1e-3)


@pytest.mark.parametrize(
    ("written", "month"),
    [
        *(("14 Jan 2026", 1), ("14. Januar 2026", 1), ("14 enero 2026", 1), ("14 gennaio 2026", 1)),
        *(("14 févr 2026", 2), ("14 mars 2026", 3), ("14 avril 2026", 4), ("14 abril 2026", 4)),
        *(("14 Mai 2026", 5), ("14 maggio 2026", 5), ("14 giugno 2026", 6), ("14 juin 2026", 6)),
        *(("14 juillet 2026", 7), ("14 luglio 2026", 7), ("14 agosto 2026", 8), ("14 août 2026", 8)),
        *(("14 sept 2026", 9), ("14 settembre 2026", 9), ("14 Okt 2026", 10), ("14 ottobre 2026", 10)),
        *(("14 outubro 2026", 10), ("14 nov 2026", 11), ("14 Dez 2026", 12), ("March 14, 2026", 3)),
    ],
)
def test_months_have_names_in_six_languages(written: str, month: int) -> None:
    assert date_seconds(written, "dmy") == datetime(2026, month, 14, tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("03/04/2026", "dmy", (2026, 4, 3)),
        ("03/04/2026", "mdy", (2026, 3, 4)),
        ("26/03/04", "ymd", (2026, 3, 4)),
        ("2026-03-04", "dmy", (2026, 3, 4)),
        ("20260304", "mdy", (2026, 3, 4)),
        ("2026-063", "dmy", (2026, 3, 4)),
        ("04.03.26", "mdy", (2026, 3, 4)),
    ],
)
def test_orders_of_a_date(text: str, order: str, day: tuple[int, int, int]) -> None:
    assert date_seconds(text, order) == datetime(*day, tzinfo=UTC).timestamp()


def test_years_of_two_digits_and_days_that_are_none() -> None:
    assert midnight_s(79, 1, 1) == datetime(2079, 1, 1, tzinfo=UTC).timestamp()
    assert midnight_s(80, 1, 1) == datetime(1980, 1, 1, tzinfo=UTC).timestamp()
    assert np.isnan(midnight_s(2026, 2, 29)) and np.isnan(date_seconds("31/04/2026", "dmy"))


def test_times_of_day_go_on_over_midnight_and_back() -> None:
    """A sample written late, from before midnight, stays on its day."""
    unrolled = unroll_days(np.array([86_399.0, 1.0, np.nan, 2.0]))
    np.testing.assert_array_equal(unrolled, [86_399.0, 86_401.0, np.nan, 86_402.0])
    unrolled = unroll_days(np.array([10.0, 86_390.0, 20.0]))
    np.testing.assert_array_equal(unrolled, [86_410.0, 86_390.0, 86_420.0])
    np.testing.assert_array_equal(unroll_days(np.array([50_000.0, 20_000.0])), [50_000.0, 20_000.0])


def test_words_for_numbers() -> None:
    assert (counted(1, "row", "rows"), counted(2_000, "row", "rows")) == ("1 row", "2,000 rows")
    assert (clock_text(425.0), clock_text(3750.0), clock_text(-61.0)) == ("7:05", "1:02:30", "-1:01")
    assert listed(list("abcde")) == "a, b, c, d, e"
    assert listed(list("abcdef")) == "a, b, c, d, e and 1 more"


def test_what_is_a_hole() -> None:
    """Longer than 5 s, and than four usual intervals."""
    regular = np.arange(100.0)
    for step, hole in ((5.0, False), (5.1, True)):
        assert bool(holes_of(np.concatenate([regular, 99.0 + step + regular]))) == hole
    slow = np.arange(100.0) * 4.0
    for step, hole in ((15.9, False), (16.1, True)):
        assert bool(holes_of(np.concatenate([slow, 396.0 + step + slow]))) == hole


def test_holes_are_counted_and_the_first_five_named(tmp_path: Path) -> None:
    gone = {row for start in range(50, 590, 90) for row in range(start, start + 12)}
    head, *rows = _with().splitlines()
    track = read_one(tmp_path, "a.csv", "\n".join([head, *(r for n, r in enumerate(rows) if n not in gone)]))
    message = _message(track, "hole")
    assert message.startswith("6 holes in the recording, longest 13 s: 49–62 s, 139–152 s")
    assert message.endswith("and 1 more.")


@pytest.mark.parametrize(("gap_s", "flights"), [(1790, 1), (1810, 2)])
def test_half_an_hour_parts_flights(tmp_path: Path, gap_s: int, flights: int) -> None:
    moments = [m + timedelta(seconds=gap_s * (n >= 300)) for n, m in enumerate(FLIGHT.moments())]
    # Elsewhere afterwards: nothing was paused.
    lat = numbers(FLIGHT.lat + 0.3 * (np.arange(600) >= 300), 7)
    text = table(["time", "lat", "lon"], [m.isoformat() for m in moments], lat, LON)
    assert len(read_text(tmp_path, "a.csv", text)) == flights


@pytest.mark.parametrize(
    ("name", "inside", "outside"),
    [
        ("altitude_ft", (-1_990.0, 69_900.0), (-2_010.0, 70_100.0)),
        ("ias_kt", (0.0, 695.0), (-1.0, 705.0)),
        ("tas_kt", (0.0, 995.0), (-1.0, 1_005.0)),
        ("ground_speed_kt", (0.0, 1_195.0), (-1.0, 1_205.0)),
        ("wind_speed_kt", (0.0, 345.0), (-1.0, 355.0)),
        ("oat_c", (-109.0, 69.0), (-111.0, 71.0)),
        ("vertical_speed_fpm", (-29_900.0, 29_900.0), (-30_100.0, 30_100.0)),
        ("pitch_deg", (-89.0, 89.0), (-91.0, 91.0)),
    ],
)
def test_values_that_no_aircraft_has(
    tmp_path: Path, name: str, inside: tuple[float, float], outside: tuple[float, float]
) -> None:
    usual = {"altitude_ft": FLIGHT.altitude_ft, "ground_speed_kt": FLIGHT.ground_speed_kt}.get(name)
    usual = np.full(600, 100.0 if name.endswith("_kt") else 5.0) if usual is None else usual
    for few, said in ((inside, False), (outside, True)):
        values = usual.copy()
        values[[100, 200]] = few
        track = read_one(tmp_path, "a.csv", _with(**{name: values}))
        assert ("value-impossible" in codes(track)) == said
        if said:
            assert _message(track, "value-impossible").startswith("2 values")


def test_bank_and_directions_are_folded(tmp_path: Path) -> None:
    left = invented_flight(600)
    bank = np.where(left.bank_deg > 1.0, left.bank_deg, 350.0)
    track = read_one(tmp_path, "a.csv", _with(bank_deg=bank, heading_true_deg=left.heading_deg - 360.0))
    assert track.channels["bank_deg"].min() == pytest.approx(-10.0)
    assert (
        track.channels["heading_true_deg"].min() >= 0.0 and track.channels["heading_true_deg"].max() < 360.0
    )


@pytest.mark.parametrize(
    ("name", "kept", "dropped"),
    [
        ("ground_speed_kt", (0.93, 1.07), (0.91, 1.09)),
        ("ias_kt", (0.48, 1.55), (0.42, 1.7)),
        ("tas_kt", (0.68, 1.55), (0.6, 1.7)),
    ],
)
def test_speeds_at_odds_with_the_track(
    tmp_path: Path, name: str, kept: tuple[float, float], dropped: tuple[float, float]
) -> None:
    for share in (*kept, *dropped):
        track = read_one(tmp_path, "a.csv", _with(**{name: FLIGHT.ground_speed_kt * share}))
        assert (name in track.channels) == (share in kept), share
        assert ("channel-disagrees" in codes(track)) == (share in dropped)


@pytest.mark.parametrize(("off_deg", "kept"), [(5.0, True), (7.5, False)])
def test_a_track_that_is_off(tmp_path: Path, off_deg: float, kept: bool) -> None:
    track = read_one(tmp_path, "a.csv", _with(track_true_deg=(FLIGHT.track_deg + off_deg) % 360.0))
    assert ("track_true_deg" in track.channels) == kept


@pytest.mark.parametrize(
    ("name", "lag", "kept"), [("heading_true_deg", 2, True), ("heading_true_deg", 5, False)]
)
def test_headings_that_run_behind(tmp_path: Path, name: str, lag: int, kept: bool) -> None:
    late = np.concatenate([np.full(lag, LONG.heading_deg[0]), LONG.heading_deg[:-lag]])
    track = read_one(tmp_path, "a.csv", _with(LONG, **{name: late}))
    assert (name in track.channels) == kept
    assert ("channel-lagging" in codes(track)) != kept


@pytest.mark.parametrize(("lag", "kept"), [(2, True), (6, False)])
def test_banks_that_run_behind(tmp_path: Path, lag: int, kept: bool) -> None:
    late = np.concatenate([np.zeros(lag), LONG.bank_deg[:-lag]])
    track = read_one(tmp_path, "a.csv", _with(LONG, bank_deg=late))
    assert ("bank_deg" in track.channels) == kept
    if not kept:
        assert _message(track, "channel-lagging").startswith(
            ("The logged bank runs 5 s", "The logged bank runs 6 s")
        )


@pytest.mark.parametrize(
    ("scale", "kept"), [(0.5, True), (2.0, True), (0.3, False), (2.5, False), (-1.0, True)]
)
def test_banks_of_another_size(tmp_path: Path, scale: float, kept: bool) -> None:
    track = read_one(tmp_path, "a.csv", _with(LONG, bank_deg=LONG.bank_deg * scale))
    assert ("bank_deg" in track.channels) == kept
    assert ("bank-sign" in codes(track)) == (scale < 0.0)
    if scale < 0.0:
        np.testing.assert_allclose(track.channels["bank_deg"], LONG.bank_deg, atol=0.01)


@pytest.mark.parametrize(("feet", "spike"), [(350.0, False), (900.0, True)])
def test_altitudes_that_jump_away_and_back(tmp_path: Path, feet: float, spike: bool) -> None:
    altitude = FLIGHT.altitude_ft.copy()
    altitude[300:303] += feet
    track = read_one(tmp_path, "a.csv", _with(altitude_ft=altitude))
    assert ("altitude-spike" in codes(track)) == spike
    assert np.isnan(track.channels["altitude_ft"]).sum() == (3 if spike else 0)


def test_a_second_airspeed_that_says_less(tmp_path: Path) -> None:
    both = {"airspeed_kt": FLIGHT.ias_kt + 3.0}
    track = read_one(tmp_path, "a.csv", _with(ias_kt=FLIGHT.ias_kt, **both))
    np.testing.assert_allclose(track.channels["ias_kt"], FLIGHT.ias_kt, atol=0.01)
    assert _message(track, "airspeed-unmarked") == (
        "The airspeed column was not used: indicated airspeed has its own."
    )
    track = read_one(tmp_path, "a.csv", _with(tas_kt=np.full(600, 110.0), **both))
    np.testing.assert_allclose(track.channels["ias_kt"], FLIGHT.ias_kt + 3.0, atol=0.01)
    assert "airspeed-assumed" in codes(track)
    track = read_one(tmp_path, "a.csv", _with(**both))
    assert "ias_kt" not in track.channels and "say --columns ias=" in _message(track, "airspeed-unmarked")


def test_the_fuller_of_two_like_columns_counts(tmp_path: Path) -> None:
    sparse = FLIGHT.altitude_ft.copy()
    sparse[::2] = np.nan
    head = "time,lat,lon,altitude [ft],altitude (ft)"
    rows = zip(FLIGHT.iso(), LAT, LON, numbers(sparse, 1), numbers(FLIGHT.altitude_ft, 1), strict=True)
    track = read_one(tmp_path, "a.csv", "\n".join([head, *map(",".join, rows)]))
    assert np.isfinite(track.channels["altitude_ft"]).all()
    assert [s.why for s in track.sources if s.standing == "ignored"] == ["'altitude (ft)' was used instead"]


def test_two_samples_in_the_wrong_order(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon"], FLIGHT.iso()[1::-1], LAT[1::-1], LON[1::-1])
    track = read_one(tmp_path, "a.csv", text)
    assert track.samples == 2 and track.duration_s == pytest.approx(1.0)
    assert track.lat_deg[0] == pytest.approx(FLIGHT.lat[0], abs=1e-6)


def test_clock_digits_without_a_date_have_none(tmp_path: Path) -> None:
    digits = [f"{moment:%H%M%S}" for moment in FLIGHT.moments()]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], digits, LAT, LON))
    assert track.start_utc is None and track.duration_s == pytest.approx(599.0)
    whole = [f"{moment:%Y%m%d%H%M%S}" for moment in FLIGHT.moments()]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], whole, LAT, LON))
    assert track.start_utc == FLIGHT.start


def test_a_gzip_that_holds_nothing_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.csv.gz"
    path.write_bytes(gzip.compress(_with().encode())[:10] + b"\xff" * 40)
    with pytest.raises(LogError, match=r"a.csv.gz: the gzip file is damaged \(copy it again\)"):
        read_text_bytes(path)


def read_text_bytes(path: Path) -> list[Track]:
    from analyser.logs.read import read_log

    return read_log(path)


def test_times_without_a_zone_are_counted(tmp_path: Path) -> None:
    text = as_gpx(FLIGHT)
    some = text.replace("Z</time>", "</time>", 3)
    assert _message(read_one(tmp_path, "a.gpx", some), "time-zone-assumed").startswith(
        "3 of 600 times carry no"
    )
    every = text.replace("Z</time>", "</time>")
    assert _message(read_one(tmp_path, "a.gpx", every), "time-zone-assumed").startswith("The times carry no")


@pytest.mark.parametrize(("charset", "declared"), [("iso-8859-1", True), ("cp1252", False), ("utf-8", True)])
def test_names_in_any_charset(tmp_path: Path, charset: str, declared: bool) -> None:
    from analyser.logs.read import read_log

    two = "".join(
        as_gpx(invented_flight(60, lat=lat), name=name).partition("<trk>")[1]
        + as_gpx(invented_flight(60, lat=lat), name=name).partition("<trk>")[2].partition("</gpx>")[0]
        for lat, name in ((48.0, "Übung"), (40.0, "Häuser"))
    )
    head = f'<?xml version="1.0" encoding="{charset}"?>' if declared else '<?xml version="1.0"?>'
    path = tmp_path / "a.gpx"
    path.write_bytes(f"{head}<gpx>{two}</gpx>".encode(charset))
    assert sorted(track.name for track in read_log(path)) == ["a.gpx (Häuser)", "a.gpx (Übung)"]


#: Codes of an IGC file's extensions with what they give, and what is written: speeds in km/h, 1.852 to the knot.
EXTENSIONS = {
    "GSP": ("ground_speed_kt", FLIGHT.ground_speed_kt * 1.852, 1.0 / 1.852),
    "TRT": ("track_true_deg", FLIGHT.track_deg, 1.0),
    "HDT": ("heading_true_deg", FLIGHT.heading_deg, 1.0),
    "HDM": ("heading_magnetic_deg", FLIGHT.heading_deg, 1.0),
    "IAS": ("ias_kt", FLIGHT.ias_kt * 1.852, 1.0 / 1.852),
    "TAS": ("tas_kt", np.full(600, 204.0), 1.0 / 1.852),
    "OAT": ("outside_air_temperature_c", np.full(600, 12.0), 1.0),
    "WDI": ("wind_from_true_deg", np.full(600, 240.0), 1.0),
    "WVE": ("wind_speed_kt", np.full(600, 30.0), 1.0 / 1.852),
}


@pytest.mark.parametrize("code", EXTENSIONS)
def test_extensions_of_igc_records(tmp_path: Path, code: str) -> None:
    channel, written, factor = EXTENSIONS[code]
    cells = iter(f"{value:03.0f}" for value in np.floor(written))
    lines = [
        line[:35] + next(cells) if line.startswith("B") else line for line in as_igc(FLIGHT).splitlines()
    ]
    text = "\r\n".join("I013638" + code if line.startswith("I") else line for line in lines)
    read = read_one(tmp_path, "a.igc", text).channels[channel]
    np.testing.assert_allclose(read, np.floor(written) * factor, rtol=1e-6, atol=1e-9)


def test_sentences_that_say_more(tmp_path: Path) -> None:
    """NMEA 0183: VTG in km/h where knots are missing, HDG with deviation, GNS with a mode for each constellation."""
    lines: list[str] = []
    for line in as_nmea(FLIGHT).splitlines(keepends=True):
        fields = line[1:].partition("*")[0].split(",")
        if fields[0] == "GPGGA":
            lines.append(sentence(",".join(["GNGNS", *fields[1:6], "AN", *fields[7:10], "47.0,,"])))
        elif fields[0] == "GPRMC":
            lines.append(sentence(",".join([*fields[:7], "", "", *fields[9:]])))
            lines.append(sentence(f"GPVTG,{fields[8]},T,,M,,N,{float(fields[7]) * 1.852:.2f},K,A"))
        else:
            heading = float(fields[1])
            lines.append(sentence(f"HCHDG,{(heading - 3.0) % 360.0:.1f},5.0,E,,"))
            lines.append(sentence(f"HCHDG,{heading:.1f},2.0,W,,"))
    track = read_one(tmp_path, "a.nmea", "".join(lines))
    np.testing.assert_allclose(track.channels["ground_speed_kt"], FLIGHT.ground_speed_kt, atol=0.02)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.05)
    away = (track.channels["heading_magnetic_deg"] - FLIGHT.heading_deg - 2.0 + 180.0) % 360.0 - 180.0
    assert np.abs(away).max() < 0.2
    assert set(track.channels) <= set(CHANNELS)


def test_sentences_without_a_fix_give_no_place(tmp_path: Path) -> None:
    """GLL status V, GGA quality 0, GNS mode N, RMC status V or mode N: the receiver says that there is none."""
    place = "4806.000000,N,01130.000000,E"
    bad = [
        *(f"GPGLL,{place},120000.00,V,N", f"GPGGA,120001.00,{place},0,00,,,M,,M,,"),
        *(f"GNGNS,120002.00,{place},NN,00,,,,,", f"GPRMC,120003.00,V,{place},1.0,2.0,140326,,,N"),
        f"GPRMC,120004.00,A,{place},1.0,2.0,140326,,,N",
    ]
    track = read_one(tmp_path, "a.nmea", "".join(map(sentence, bad)) + as_nmea(FLIGHT))
    assert track.samples == 600
    assert _message(track, "fix-missing") == "Sentences that say that there was no fix: 5."


def test_values_of_rows_without_a_place_are_named(tmp_path: Path) -> None:
    """A recorder that writes each sensor as it speaks: altitude (no unit) and bank between the positions."""
    rows = ["time,lat,lon,alt,bank_deg"]
    for when, lat, lon, alt, bank in zip(
        FLIGHT.iso(),
        LAT,
        LON,
        numbers(FLIGHT.altitude_ft + 20_000.0, 1),
        numbers(FLIGHT.bank_deg, 2),
        strict=True,
    ):
        rows += [f"{when},{lat},{lon},,", f"{when},,,{alt},{bank}"]
    track = read_one(tmp_path, "a.csv", "\n".join(rows))
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft + 20_000.0, atol=0.1)
    np.testing.assert_allclose(track.channels["bank_deg"], FLIGHT.bank_deg, atol=0.01)
    message = _message(track, "values-carried")
    assert message.startswith("600 rows carry values and no position; bank, 'alt' were brought")
