"""Tables as people in other places write them: other languages, long words for units, clocks that say their zone."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from analyser.logs.meaning import meaning_of
from analyser.logs.read import read_log
from tests.logs_invented import Invented, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, table

FLIGHT = invented_flight(400)
SOUTH = invented_flight(400, lat=-33.9, lon=-70.7)
#: Over midnight in a zone two hours east of Greenwich, and not in UTC.
LATE = invented_flight(400, start=datetime(2026, 3, 14, 21, 57, tzinfo=UTC))
_SPREADSHEETS = datetime(1899, 12, 30, tzinfo=UTC)


def _read(folder: Path, headers: list[str], *cells: list[str], of: Invented = FLIGHT, before: str = ""):
    lat, lon = positions(of)
    text = before + table([*headers, "lat", "lon", "alt ft"], *cells, lat, lon, numbers(of.altitude_ft))
    return read_one(folder, "a.csv", text)


def _starts(track, of: Invented, *, late_s: float = 0.0) -> None:
    assert track.start_utc is not None
    assert (track.start_utc - of.start).total_seconds() == pytest.approx(late_s, abs=0.02)
    np.testing.assert_allclose(track.time_s, of.time_s, atol=0.02)


@pytest.mark.parametrize(
    ("headers", "channels"),
    [
        (["Klokkeslæt", "Breddegrad", "Længdegrad", "Højde (m)", "Fart over grunden (km/t)"], 2),
        (["Tid", "Bredde", "Længde", "Flyvehøjde (m)", "Hastighed (km/t)"], 2),
        (["Klokkeslett", "Breddegrad", "Lengdegrad", "Høyde (moh)", "Bakkefart (km/t)"], 2),
        (["Tidspunkt", "Bredde", "Lengde", "Høyde over havet m", "Fart over bakken (km/t)"], 2),
        (["Klockslag", "Latitud", "Longitud", "Höjd över havet (m)", "Hastighet över mark (km/tim)"], 2),
        (["Aika", "Leveysaste", "Pituusaste", "Korkeus (m)", "Maanopeus (km/h)"], 2),
        (["Kellonaika", "Leveyspiiri", "Pituuspiiri", "Lentokorkeus m", "Nopeus (km/h)"], 2),
        (["Čas", "Zeměpisná šířka", "Zeměpisná délka", "Nadmořská výška (m)", "Rychlost (km/h)"], 2),
        (["Čas UTC", "Šířka", "Délka", "Výška (m)", "Traťová rychlost (km/h)"], 2),
        (["Czas", "Szerokość", "Długość", "Wysokość nad poziomem morza (m)", "Prędkość (km/h)"], 2),
        (["Tijd", "Breedtegraad", "Lengtegraad", "Hoogte (m)", "Grondsnelheid (km/u)"], 2),
        (["Czas", "Szerokość", "Długość", "Wysokość [m]", "Prędkość [km/h]"], 2),
        (["Tid", "Breddgrad", "Längdgrad", "Höjd (m)", "Hastighet (km/h)"], 2),
        (["Zeit (UTC)", "Breite [°]", "Länge [°]", "Höhe über NN [m]", "Geschw. über Grund [km/h]"], 2),
        (["Time, UTC", "LATDEG", "LONDEG", "ALT_M", "SPEED KMH"], 2),
    ],
)
def test_headers_of_other_languages_and_manners(tmp_path: Path, headers: list[str], channels: int) -> None:
    metres, speed = numbers(FLIGHT.altitude_ft * 0.3048), numbers(FLIGHT.ground_speed_kt * 1.852)
    text = table(headers, FLIGHT.iso(), *positions(FLIGHT), metres, speed, separator=";")
    track = read_one(tmp_path, "a.csv", text)
    assert set(track.channels) == {"altitude_ft", "ground_speed_kt"}
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)
    np.testing.assert_allclose(track.channels["ground_speed_kt"], FLIGHT.ground_speed_kt, atol=0.01)


@pytest.mark.parametrize(
    ("header", "concept", "unit"),
    [
        ("Vertical speed [feet per minute]", "vs", "fpm"),
        ("Climb rate in metres per second", "vs", "m/s"),
        ("Ground speed (nautical miles per hour)", "gs", "kt"),
        ("Indicated airspeed (statute miles per hour)", "ias", "mph"),
        ("TAS, kilometers per hour", "tas", "km/h"),
        ("Ground speed (sm per hour)", "gs", "mph"),
        ("Ground speed (cm per second)", "gs", "cm/s"),
        ("Ground speed (mm per s)", "gs", "mm/s"),
        ("Altitude (hundreds of feet)", "alt", "FL"),
        ("Altitude (x100 ft)", "alt", "FL"),
        ("ALTFT", "alt", "ft"),
        ("GSKT", "gs", "kt"),
        ("ROLLDEG", "bank", "deg"),
        ("V/S [fpm]", "vs", "fpm"),
        ("ASI (kts)", "ias", "kt"),
        ("Ellipsoidal height (m)", "alt", "m"),
        ("Wind direction (T) deg", "wind_from", "deg"),
        ("Time from start (s)", "time", "s"),
        ("Recording time [ms]", "time", "ms"),
    ],
)
def test_units_written_out_or_run_together(header: str, concept: str, unit: str) -> None:
    meaning = meaning_of(header)
    assert meaning is not None and meaning.unit is not None
    assert (meaning.concept.name, meaning.unit.name) == (concept, unit)


@pytest.mark.parametrize("header", ["Roll rate (degrees per second)", "Alt Volts", "Heading bug deg", "AR"])
def test_what_is_named_alike_is_not_taken(header: str) -> None:
    assert meaning_of(header) is None


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("Altitude above sea level (ft)", False),
        ("Höhe über Meeresspiegel (ft)", False),
        ("Flight level", True),
        ("Pressure altitude (ft)", True),
    ],
)
def test_a_height_above_the_sea_is_no_pressure_altitude(tmp_path: Path, header: str, said: bool) -> None:
    feet = FLIGHT.altitude_ft / (100.0 if header == "Flight level" else 1.0)
    text = table(["time", "lat", "lon", header], FLIGHT.iso(), *positions(FLIGHT), numbers(feet))
    messages = [notice.message for notice in read_one(tmp_path, "a.csv", text).notices]
    assert any("1013.25" in message for message in messages) == said


@pytest.mark.parametrize("clock", ["{:%H:%M:%S}+02:00", "{:%H:%M:%S} CEST"])
def test_a_date_beside_a_clock_that_says_its_zone_is_of_that_zone(tmp_path: Path, clock: str) -> None:
    """23:57 local is 21:57 UTC; from midnight local on the date is a day ahead of UTC's."""
    local = [moment + timedelta(hours=2) for moment in LATE.moments()]
    days, clocks = [f"{m:%Y-%m-%d}" for m in local], [clock.format(m) for m in local]
    track = _read(tmp_path, ["Date", "Time"], days, clocks, of=LATE)
    _starts(track, LATE)
    assert "time-zone-assumed" not in codes(track)
    # Begun after midnight local, before it in UTC.
    second = invented_flight(400, start=datetime(2026, 3, 14, 22, 30, tzinfo=UTC))
    local = [moment + timedelta(hours=2) for moment in second.moments()]
    days, clocks = [f"{m:%Y-%m-%d}" for m in local], [clock.format(m) for m in local]
    _starts(_read(tmp_path, ["Date", "Time"], days, clocks, of=second), second)


def test_a_local_time_beside_a_date_in_utc_is_not_taken_for_utc(tmp_path: Path) -> None:
    local = [moment + timedelta(hours=2) for moment in FLIGHT.moments()]
    days, clocks = [f"{m:%Y-%m-%d}" for m in FLIGHT.moments()], [f"{m:%H:%M:%S}" for m in local]
    track = _read(tmp_path, ["Date (UTC)", "Local time"], days, clocks)
    _starts(track, FLIGHT, late_s=7200.0)
    assert {"time-zone-assumed", "date-ambiguous"} <= codes(track)


def test_a_spreadsheets_days_are_of_the_clock_on_its_wall(tmp_path: Path) -> None:
    """ISO/IEC 29500 gives serial dates no zone: an offset beside them counts, and without one that is said."""
    local = [moment + timedelta(hours=2) for moment in FLIGHT.moments()]
    days = [f"{(moment - _SPREADSHEETS).total_seconds() / 86_400:.9f}" for moment in local]
    track = _read(tmp_path, ["Time", "UTC offset"], days, ["+02:00"] * 400)
    _starts(track, FLIGHT)
    assert "time-zone-assumed" not in codes(track)
    assert "time-zone-assumed" in codes(_read(tmp_path, ["Time"], days))


@pytest.mark.parametrize("zone", ["UTC+1", "CET", "Europe/Berlin"])
def test_a_zone_may_stand_above_the_header_or_in_a_column(tmp_path: Path, zone: str) -> None:
    local = [moment + timedelta(hours=1) for moment in FLIGHT.moments()]
    written = [f"{moment:%Y-%m-%d %H:%M:%S}" for moment in local]
    above = _read(tmp_path, ["Time"], written, before=f"# Recorder: invented\n# Time zone: {zone}\n")
    beside = _read(tmp_path, ["Time", "Zone"], written, [zone] * 400)
    for track in (above, beside):
        _starts(track, FLIGHT)
        assert "time-zone-assumed" not in codes(track)


def test_a_zone_above_the_header_that_says_nothing_changes_nothing(tmp_path: Path) -> None:
    written = [f"{moment:%Y-%m-%d %H:%M:%S}" for moment in FLIGHT.moments()]
    track = _read(tmp_path, ["Time"], written, before="# Time zone: local\n")
    _starts(track, FLIGHT)
    assert "time-zone-assumed" in codes(track)


@pytest.mark.parametrize(
    ("header", "per_s"), [("Time of day (ms)", 1e3), ("UTC (h)", 1 / 3600), ("UTC", 1.0)]
)
def test_counts_within_the_day_beside_a_date(tmp_path: Path, header: str, per_s: float) -> None:
    days = [f"{moment:%Y-%m-%d}" for moment in FLIGHT.moments()]
    of_day = [f"{(43_200.0 + second) * per_s:.8f}" for second in FLIGHT.time_s]
    _starts(_read(tmp_path, ["Date", header], days, of_day), FLIGHT)


def test_seconds_may_stand_beside_a_clock_of_hours_and_minutes(tmp_path: Path) -> None:
    moments = FLIGHT.moments()
    days, minutes = [f"{m:%Y-%m-%d}" for m in moments], [f"{m:%H:%M}" for m in moments]
    for header in ("Time (HH:MM)", "Time"):
        track = _read(tmp_path, ["Date", header, "Seconds"], days, minutes, [f"{m.second}" for m in moments])
        _starts(track, FLIGHT)
        assert not {"time-set-back", "time-coarse", "date-missing"} & codes(track)


@pytest.mark.parametrize("headers", [("Latitude (S)", "Longitude (W)"), ("Lat S", "Lon W"), ("Lat", "Lon")])
def test_a_header_may_name_the_side(tmp_path: Path, headers: tuple[str, str]) -> None:
    signed = headers == ("Lat", "Lon")
    lat, lon = (
        numbers(SOUTH.lat if signed else -SOUTH.lat, 7),
        numbers(SOUTH.lon if signed else -SOUTH.lon, 7),
    )
    text = table(["time", *headers, "alt ft"], SOUTH.iso(), lat, lon, numbers(SOUTH.altitude_ft))
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.lat_deg, SOUTH.lat, atol=1e-6)
    np.testing.assert_allclose(track.lon_deg, SOUTH.lon, atol=1e-6)


def test_degrees_north_and_east_may_stand_in_one_cell(tmp_path: Path) -> None:
    cells = [f"{lat:.7f}°N {lon:.7f}°E" for lat, lon in zip(FLIGHT.lat, FLIGHT.lon, strict=True)]
    feet = numbers(FLIGHT.altitude_ft)
    track = read_one(tmp_path, "a.csv", table(["Zeit", "Koordinaten", "Höhe ft"], FLIGHT.iso(), cells, feet))
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)


def test_a_first_row_without_a_callsign_is_the_same_aircrafts(tmp_path: Path) -> None:
    callsigns = ["" if place % 3 == 0 else "INV01" for place in range(400)]
    track = _read(tmp_path, ["Callsign", "time"], callsigns, FLIGHT.iso())
    assert track.samples == 400
    assert "flight-left-out" not in codes(track)


@pytest.mark.parametrize(
    ("place_mark", "thousands", "decimal"), [(".", ".", ","), (",", ",", "."), (".", "'", ".")]
)
def test_a_number_with_both_marks_tells_which_is_decimal(
    tmp_path: Path, place_mark: str, thousands: str, decimal: str
) -> None:
    """1.219,2 m beside 48.100000 is no metre and a bit: the altitude would be lost, or be 4 ft."""
    lat, lon = ([cell.replace(".", place_mark) for cell in cells] for cells in positions(FLIGHT))
    metres = [f"{feet * 0.3048:,.1f}" for feet in FLIGHT.altitude_ft]
    metres = [cell.replace(",", "\0").replace(".", decimal).replace("\0", thousands) for cell in metres]
    text = table(["time", "lat", "lon", "alt m"], FLIGHT.iso(), lat, lon, metres, separator=";")
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.2)


@pytest.mark.parametrize("local_dates", [True, False])
def test_an_offset_settles_dates_and_times_of_two_zones(tmp_path: Path, local_dates: bool) -> None:
    """23:30 UTC is 01:30 of the next day two hours east of Greenwich."""
    flight = invented_flight(400, start=datetime(2026, 3, 14, 23, 30, tzinfo=UTC))
    utc = flight.moments()
    local = [moment + timedelta(hours=2) for moment in utc]
    days = [f"{moment:%Y-%m-%d}" for moment in (local if local_dates else utc)]
    clocks = [f"{moment:%H:%M:%S}" for moment in (utc if local_dates else local)]
    headers = ["Local date", "UTC time"] if local_dates else ["Date (UTC)", "Local time"]
    _starts(_read(tmp_path, [*headers, "UTC offset"], days, clocks, ["+02:00"] * 400, of=flight), flight)


def test_headers_may_show_how_minutes_are_written(tmp_path: Path) -> None:
    lat = [f"{int(value)} {value % 1.0 * 60.0:07.4f}'N" for value in FLIGHT.lat]
    lon = [f"{int(value):03d} {value % 1.0 * 60.0:07.4f}'E" for value in FLIGHT.lon]
    headers = ["time", "Latitude (dd mm.mmm)", "Longitude (ddd mm.mmm)"]
    track = read_one(tmp_path, "a.csv", table(headers, FLIGHT.iso(), lat, lon))
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=2e-6)
    degrees, minutes = [f"{int(v)}" for v in FLIGHT.lat], [f"{v % 1.0 * 60.0:.5f}" for v in FLIGHT.lat]
    east, more = [f"{int(v)}" for v in FLIGHT.lon], [f"{v % 1.0 * 60.0:.5f}" for v in FLIGHT.lon]
    headers = ["time", "Lat dd", "Lat mm", "Lon dd", "Lon mm"]
    track = read_one(tmp_path, "a.csv", table(headers, FLIGHT.iso(), degrees, minutes, east, more))
    np.testing.assert_allclose(track.lon_deg, FLIGHT.lon, atol=1e-6)


@pytest.mark.parametrize("written", ["14 mrt 2026", "14 marca 2026", "14 mars 2026", "14. März 2026"])
def test_months_of_other_languages(tmp_path: Path, written: str) -> None:
    clocks = [f"{moment:%H:%M:%S}" for moment in FLIGHT.moments()]
    _starts(_read(tmp_path, ["Date", "UTC"], [written] * 400, clocks), FLIGHT)


@pytest.mark.parametrize(
    ("headers", "sides", "east"),
    [
        (["Tijd", "Breedtegraad", "", "Lengtegraad", ""], ("N", "O"), True),
        (["Tijd", "Breedtegraad", "", "Lengtegraad", ""], ("Z", "W"), False),
        (["Tid", "Breddgrad", "", "Längdgrad", ""], ("N", "Ö"), True),
        (["Tid", "Breddgrad", "", "Längdgrad", ""], ("S", "V"), False),
        (["Heure", "Latitude", "", "Longitude", ""], ("S", "O"), False),
    ],
)
def test_letters_of_other_languages_tell_the_side(
    tmp_path: Path, headers: list[str], sides: tuple[str, str], east: bool
) -> None:
    """Oost and öst are east, ouest is west; zuid is south and väst west."""
    flight = FLIGHT if east else SOUTH
    lat, lon = numbers(np.abs(flight.lat), 7), numbers(np.abs(flight.lon), 7)
    north_south, east_west = ([side] * 400 for side in sides)
    text = table(headers, flight.iso(), lat, north_south, lon, east_west)
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.lat_deg, flight.lat, atol=1e-6)
    np.testing.assert_allclose(track.lon_deg, flight.lon, atol=1e-6)


@pytest.mark.parametrize(
    "form", ["%Y-%m-%d_%H-%M-%S", "%Y-%m-%d %H-%M-%S", "%H:%M:%S %d/%m/%Y", "%H:%M:%S 2026-03-14"]
)
def test_dates_and_clocks_joined_otherwise(tmp_path: Path, form: str) -> None:
    cells = [moment.strftime(form) for moment in FLIGHT.moments()]
    _starts(_read(tmp_path, ["timestamp"], cells), FLIGHT)


def test_halves_of_the_day_in_spanish(tmp_path: Path) -> None:
    """The Spanish academy's orthography writes ``a. m.`` and ``p. m.`` with a blank between the letters."""
    noon = invented_flight(400, start=datetime(2026, 3, 14, 11, 57, tzinfo=UTC))
    halves = {0: "a. m.", 1: "p. m."}
    cells = [f"{moment:%d/%m/%Y %I:%M:%S} {halves[moment.hour // 12]}" for moment in noon.moments()]
    _starts(_read(tmp_path, ["Fecha y hora"], cells, of=noon), noon)


@pytest.mark.parametrize("cut", [12, 26])
def test_a_row_cut_off_inside_a_number_is_left_out(tmp_path: Path, cut: int) -> None:
    """Of 11.518432 the letters 11.5 are a position 1.4 km away."""
    text = table(
        ["time", "lat", "lon", "alt ft"], FLIGHT.iso(), *positions(FLIGHT), numbers(FLIGHT.altitude_ft)
    )
    track = read_one(tmp_path, "a.csv", text[:-cut])
    assert track.samples == FLIGHT.time_s.size - 1
    assert codes(track) == {"file-cut-off"}
    assert codes(read_one(tmp_path, "b.csv", text.rstrip())) == set()


@pytest.mark.parametrize("marked", [(100, 300), (100, 101), (100,), (50, 60, 300, 301)])
@pytest.mark.parametrize("place", [1, 4])
def test_stray_quotation_marks_swallow_no_rows(tmp_path: Path, marked: tuple[int, ...], place: int) -> None:
    """Between two that stand alone at the beginning of cells everything would be one cell; true notes stay notes."""
    notes = ['"high' if row in marked else "" for row in range(400)]
    columns = [FLIGHT.iso(), *positions(FLIGHT), numbers(FLIGHT.altitude_ft)]
    headers = ["time", "lat", "lon", "alt ft"]
    columns.insert(place, notes)
    headers.insert(place, "note")
    track = read_one(tmp_path, "a.csv", table(headers, *columns))
    _starts(track, FLIGHT)
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)
    columns[place] = ['"over\ntwo lines, or three"' if row in marked else "" for row in range(400)]
    _starts(read_one(tmp_path, "b.csv", table(headers, *columns)), FLIGHT)


def test_lines_of_blanks_in_a_table_set_out_with_blanks(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon"], FLIGHT.iso(), *positions(FLIGHT), separator="  ")
    rows = text.split("\n")
    _starts(read_one(tmp_path, "a.txt", "\n".join([*rows[:3], "   ", *rows[3:]])), FLIGHT)


@pytest.mark.parametrize("split", [True, False])
def test_days_of_a_spreadsheet_above_a_line_of_words(tmp_path: Path, split: bool) -> None:
    """One cell that is none leaves the other cells the numbers that they are."""
    days = [(moment - _SPREADSHEETS).total_seconds() / 86_400.0 for moment in FLIGHT.moments()]
    cells = [[str(int(day)) for day in days], [f"{day % 1.0:.8f}" for day in days]]
    headers = ["Date", "Time"] if split else ["Date"]
    text = table(
        [*headers, "lat", "lon"], *(cells if split else [numbers(np.array(days), 8)]), *positions(FLIGHT)
    )
    _starts(read_one(tmp_path, "a.csv", text + "End of the log\n"), FLIGHT)


def test_damaged_bytes_make_no_other_character_set(tmp_path: Path) -> None:
    metres = numbers(FLIGHT.altitude_ft * 0.3048)
    text = table(["Zeit", "Breitengrad", "Längengrad", "Höhe (m)"], FLIGHT.iso(), *positions(FLIGHT), metres)
    (tmp_path / "a.csv").write_bytes(text.encode() + b"\xff\xfe\xfd\n")
    (track,) = read_log(tmp_path / "a.csv")
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)
    latin = read_one(tmp_path, "b.csv", text, encoding="cp1252")
    np.testing.assert_allclose(latin.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)


def test_one_time_that_is_cut_off_costs_no_other_its_date(tmp_path: Path) -> None:
    days = numbers(np.array([(m - _SPREADSHEETS).total_seconds() / 86_400.0 for m in FLIGHT.moments()]), 8)
    days[200] = days[200][:3]
    _starts(_read(tmp_path, ["Date"], days), FLIGHT)
