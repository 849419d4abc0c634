"""Files that are odd in one place: the rest is read, each position keeps its own time, and what is missing is said."""

from __future__ import annotations

import json
import struct
import tarfile
import time
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.read import read_log
from tests.logs_invented import Invented, as_fit, as_igc, invented_flight, nmea_place, sentence
from tests.logs_reading import codes, read_one, read_text

FLIGHT = invented_flight(samples=60)
#: Where nobody of the flight above is.
ELSEWHERE = invented_flight(samples=60, lat=-33.9, lon=-70.5)


def _lies_on(track: object, flight: Invented) -> bool:
    """Tell whether each sample lies where the aircraft was at its time."""
    start_s = (track.start_utc - flight.start).total_seconds()  # type: ignore[attr-defined]
    lat = np.interp(track.time_s + start_s, flight.time_s, flight.lat)  # type: ignore[attr-defined]
    return bool(np.abs(track.lat_deg - lat).max() < 2e-5)  # type: ignore[attr-defined]


def _whens(flight: Invented) -> list[str]:
    return [f"<when>{when}</when>" for when in flight.iso()]


def _coords(flight: Invented) -> list[str]:
    return [
        f"<coord>{lon:.7f} {lat:.7f} 1200</coord>" for lat, lon in zip(flight.lat, flight.lon, strict=True)
    ]


def _kml(body: str) -> str:
    return f"<kml><Document>{body}</Document></kml>"


def _track(inside: str) -> str:
    return f"<Placemark><Track>{inside}</Track></Placemark>"


@pytest.mark.parametrize("leads", ["coord", "when"])
@pytest.mark.parametrize("lost", ["coord", "when", "one of each"])
def test_what_is_missing_among_times_and_places_in_turns_moves_no_other(
    tmp_path: Path, leads: str, lost: str
) -> None:
    whens, coords = _whens(FLIGHT), _coords(FLIGHT)
    if lost != "coord":
        whens[20] = ""
    if lost != "when":
        coords[40] = ""
    pairs = zip(coords, whens, strict=True) if leads == "coord" else zip(whens, coords, strict=True)
    track = read_one(tmp_path, "log.kml", _kml(_track("".join(one + two for one, two in pairs))))
    assert track.samples == (58 if lost == "one of each" else 59)
    assert _lies_on(track, FLIGHT)


def test_places_that_begin_and_end_a_track_may_lack_either_time(tmp_path: Path) -> None:
    coords, whens = _coords(FLIGHT), _whens(FLIGHT)[1:]
    inside = "".join(coord + when for coord, when in zip(coords, [*whens, ""], strict=True))
    with pytest.raises(LogError, match="nothing tells which is missing"):
        read_text(tmp_path, "log.kml", _kml(_track(inside)))


def test_a_track_that_does_not_pair_does_not_stop_the_others(tmp_path: Path) -> None:
    good = "".join(_whens(FLIGHT) + _coords(FLIGHT))
    bad = "".join(_whens(ELSEWHERE) + _coords(ELSEWHERE)[:-5])
    track = read_one(tmp_path, "log.kml", _kml(_track(good) + _track(bad)))
    assert _lies_on(track, FLIGHT)
    (said,) = [notice.message for notice in track.notices if notice.code == "flight-left-out"]
    assert "60 times for 55 positions" in said


def test_the_time_of_a_view_is_no_time_of_the_aircraft(tmp_path: Path) -> None:
    view = "<LookAt><TimeStamp><when>2020-01-01T00:00:00Z</when></TimeStamp></LookAt>"
    points = "".join(
        f"<Placemark>{view}<TimeStamp>{when}</TimeStamp><Point><coordinates>{lon:.7f},{lat:.7f}</coordinates></Point>"
        "</Placemark>"
        for when, lat, lon in zip(_whens(FLIGHT), FLIGHT.lat, FLIGHT.lon, strict=True)
    )
    assert _lies_on(read_one(tmp_path, "log.kml", _kml(points)), FLIGHT)


@pytest.mark.parametrize("comma", [",", ", ", " ,"])
@pytest.mark.parametrize("lines", [1, 2])
def test_lines_with_blanks_beside_commas_and_lines_that_share_times(
    tmp_path: Path, comma: str, lines: int
) -> None:
    places = [f"{lon:.7f}{comma}{lat:.7f}" for lat, lon in zip(FLIGHT.lat, FLIGHT.lon, strict=True)]
    size = 60 // lines
    text = "".join(
        f"<LineString><coordinates>{' '.join(places[at : at + size])}</coordinates></LineString>"
        for at in range(0, 60, size)
    )
    track = read_one(tmp_path, "log.kml", _kml(f"<Placemark>{''.join(_whens(FLIGHT))}{text}</Placemark>"))
    assert track.samples == 60
    assert _lies_on(track, FLIGHT)


def _rmc(moment: datetime, lat: float, lon: float) -> str:
    return sentence(f"GPRMC,{moment:%H%M%S}.00,A,{nmea_place(lat, lon)},100.0,90.0,{moment:%d%m%y},,,A")


def _gga(moment: datetime, lat: float, lon: float) -> str:
    return sentence(f"GPGGA,{moment:%H%M%S}.00,{nmea_place(lat, lon)},1,09,0.8,1200.0,M,47.0,M,,")


POINTS = list(zip(FLIGHT.moments(), FLIGHT.lat, FLIGHT.lon, strict=True))


@pytest.mark.parametrize(("behind_s", "every"), [(2, 1), (10_800, 1), (10_800, 5), (-20, 1)])
def test_a_second_receiver_of_the_same_talker_with_another_clock_is_left_out(
    tmp_path: Path, behind_s: int, every: int
) -> None:
    flight = invented_flight(samples=120)
    points = list(zip(flight.moments(), flight.lat, flight.lon, strict=True))
    # The recording pauses for a minute and a half.
    text = "".join(
        _rmc(moment, lat, lon)
        + (_rmc(moment - timedelta(seconds=behind_s), lat + 0.001, lon) if place % every == 0 else "")
        for place, (moment, lat, lon) in enumerate(points)
        if not 20 <= place < 35
    )
    track = read_one(tmp_path, "log.nmea", text)
    assert track.samples in range(100, 106)
    assert _lies_on(track, flight)
    assert "receiver-left-out" in codes(track)


def test_a_clock_that_is_set_back_once_is_no_second_receiver(tmp_path: Path) -> None:
    text = "".join(
        _rmc(moment - timedelta(seconds=100 * (place >= 30)), lat, lon)
        for place, (moment, lat, lon) in enumerate(POINTS)
    )
    track = read_one(tmp_path, "log.nmea", text)
    assert track.samples == 60
    assert "receiver-left-out" not in codes(track)


def test_an_altitude_that_comes_a_second_late_belongs_to_its_own_instant(tmp_path: Path) -> None:
    text = "".join(
        _rmc(*POINTS[place]) + (_gga(*POINTS[place - 1]) if place else "") for place in range(len(POINTS))
    )
    track = read_one(tmp_path, "log.nmea", text)
    assert track.samples == 60
    assert np.isfinite(track.channels["altitude_ft"][:-1]).all()
    assert not {"time-backward", "time-duplicate"} & codes(track)


def test_a_date_told_between_two_places_is_the_date_of_both(tmp_path: Path) -> None:
    text = "".join(
        sentence(f"GPZDA,{moment:%H%M%S}.50,{moment:%d},{moment:%m},{moment:%Y},00,00")
        + _gga(moment, lat, lon)
        for moment, lat, lon in POINTS
    )
    assert read_one(tmp_path, "log.nmea", text).start_utc == FLIGHT.start


def _line(flight: Invented, times: list[str]) -> dict[str, object]:
    places = [[float(lon), float(lat)] for lat, lon in zip(flight.lat, flight.lon, strict=True)]
    line = {"type": "LineString", "coordinates": places}
    return {"type": "Feature", "properties": {"coordTimes": times}, "geometry": line}


def test_a_line_whose_times_do_not_pair_does_not_stop_the_others(tmp_path: Path) -> None:
    features = [_line(FLIGHT, FLIGHT.iso()), _line(ELSEWHERE, ELSEWHERE.iso()[:-4])]
    text = json.dumps({"type": "FeatureCollection", "features": features})
    track = read_one(tmp_path, "log.geojson", text)
    assert _lies_on(track, FLIGHT)
    (said,) = [notice.message for notice in track.notices if notice.code == "flight-left-out"]
    assert "60 positions and 56 times" in said


def test_points_whose_time_is_missing_are_counted(tmp_path: Path) -> None:
    features = [
        {
            "type": "Feature",
            "properties": {"time": when if place % 3 else None},
            "geometry": {"type": "Point", "coordinates": [float(lon), float(lat)]},
        }
        for place, (when, lat, lon) in enumerate(zip(FLIGHT.iso(), FLIGHT.lat, FLIGHT.lon, strict=True))
    ]
    track = read_one(tmp_path, "log.geojson", json.dumps({"type": "FeatureCollection", "features": features}))
    assert track.samples == 40
    assert "20 samples" in "".join(one.message for one in track.notices if one.code == "time-missing")


def _gpx_points(flight: Invented, name: str, *, timed: bool = True) -> str:
    return "".join(
        f'<{name} lat="{lat:.7f}" lon="{lon:.7f}">{f"<time>{when}</time>" if timed else ""}</{name}>'
        for when, lat, lon in zip(flight.iso(), flight.lat, flight.lon, strict=True)
    )


def test_a_timed_route_is_read_beside_timed_waypoints_elsewhere(tmp_path: Path) -> None:
    waypoints = _gpx_points(invented_flight(samples=3, lat=-33.9, lon=-70.5), "wpt")
    track = read_one(tmp_path, "log.gpx", f"<gpx>{waypoints}<rte>{_gpx_points(FLIGHT, 'rtept')}</rte></gpx>")
    assert track.samples == 60
    assert _lies_on(track, FLIGHT)


def test_a_timed_route_is_read_beside_a_track_without_times(tmp_path: Path) -> None:
    untimed = f"<trk><trkseg>{_gpx_points(FLIGHT, 'trkpt', timed=False)}</trkseg></trk>"
    track = read_one(tmp_path, "log.gpx", f"<gpx>{untimed}<rte>{_gpx_points(FLIGHT, 'rtept')}</rte></gpx>")
    assert _lies_on(track, FLIGHT)
    assert "waypoints-as-track" in codes(track)


@pytest.mark.parametrize("form", ['<gpx creator="{}">', "<gpx><!--{}-->"])
def test_a_tag_or_comment_without_end_is_refused(tmp_path: Path, form: str) -> None:
    with pytest.raises(LogError, match="a single tag or comment takes more than 4 MB"):
        read_text(tmp_path, "log.gpx", form.format("x" * 5_000_000))


def test_a_fit_recording_whose_size_was_never_written(tmp_path: Path) -> None:
    data = as_fit(FLIGHT)
    (tmp_path / "log.fit").write_bytes(data[:4] + bytes(4) + data[8:])
    (track,) = read_log(tmp_path / "log.fit")
    assert track.samples == 60
    assert "file-cut-off" in codes(track)


@pytest.mark.parametrize("known_from", [0, 10, 60])
def test_fit_times_before_the_recorder_knew_the_day_are_no_dates(tmp_path: Path, known_from: int) -> None:
    data = as_fit(FLIGHT)
    base = round((FLIGHT.start - datetime(1989, 12, 31, tzinfo=UTC)).total_seconds())
    for place in range(known_from):
        data = data.replace(struct.pack("<BI", 1, base + place), struct.pack("<BI", 1, 100 + place))
    (tmp_path / "log.fit").write_bytes(data)
    (track,) = read_log(tmp_path / "log.fit")
    if known_from == 60:
        assert track.start_utc is None
        assert track.samples == 60
    else:
        assert track.samples == 60 - known_from
        assert _lies_on(track, FLIGHT)


def test_igc_records_behind_blanks(tmp_path: Path) -> None:
    text = as_igc(FLIGHT).replace("\nB", "\n  B")
    assert read_one(tmp_path, "log.igc", text).samples == 60


def test_of_many_files_beside_a_log_in_an_archive_the_first_are_named(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "logs.zip", "w") as archive:
        archive.writestr("log.igc", as_igc(FLIGHT))
        for place in range(30):
            archive.writestr(f"note{place}.txt", "hello")
    (track,) = read_log(tmp_path / "logs.zip")
    said = [notice.message for notice in track.notices if notice.code == "member-skipped"]
    assert len(said) == 6
    assert "note4.txt" in said[4]
    assert "25 more files" in said[5]


@pytest.mark.parametrize("broken", [False, True])
def test_rows_of_json_under_a_row_of_names(tmp_path: Path, broken: bool) -> None:
    rows = [list(row) for row in zip(FLIGHT.iso(), FLIGHT.lat.tolist(), FLIGHT.lon.tolist(), strict=True)]
    text = "".join(json.dumps(row) + "\n" for row in (["time", "lat", "lon"], *rows))
    track = read_one(tmp_path, "log.ndjson", text[:-20] if broken else text)
    assert track.samples == (59 if broken else 60)
    assert _lies_on(track, FLIGHT)


def test_a_tar_archive_of_the_oldest_kind(tmp_path: Path) -> None:
    info = tarfile.TarInfo("log.igc")
    data = as_igc(FLIGHT).encode()
    info.size = len(data)
    header = bytearray(info.tobuf(tarfile.USTAR_FORMAT))
    # Without the word that later kinds carry; the checksum counts its own eight places as blanks.
    header[257:265] = bytes(8)
    header[148:156] = b" " * 8
    header[148:156] = b"%06o\0 " % sum(header)
    (tmp_path / "log.tar").write_bytes(bytes(header) + data + bytes(-len(data) % 512 + 1024))
    (track,) = read_log(tmp_path / "log.tar")
    assert track.samples == 60


@pytest.mark.parametrize("form", ["%H:%M:%S", "%s"])
def test_times_of_a_line_are_whatever_times_of_a_table_are(tmp_path: Path, form: str) -> None:
    times = [
        f"{moment.timestamp():.0f}" if form == "%s" else moment.strftime(form) for moment in FLIGHT.moments()
    ]
    text = json.dumps({"type": "FeatureCollection", "features": [_line(FLIGHT, times)]})
    track = read_one(tmp_path, "log.geojson", text)
    assert track.samples == 60
    assert track.start_utc == (FLIGHT.start if form == "%s" else None)


def test_very_many_short_lines_are_read_as_one_table(tmp_path: Path) -> None:
    flight = invented_flight(samples=1200)
    places = [[float(lon), float(lat)] for lat, lon in zip(flight.lat, flight.lon, strict=True)]
    times = flight.iso()
    features = [
        {
            "type": "Feature",
            "properties": {"coordTimes": times[at : at + 3], "name": f"leg {at}"},
            "geometry": {"type": "LineString", "coordinates": places[at : at + 3]},
        }
        for at in range(0, 1198, 2)
    ]
    start_s = time.process_time()
    track = read_one(tmp_path, "log.geojson", json.dumps({"type": "FeatureCollection", "features": features}))
    assert track.samples == 1199
    assert _lies_on(track, flight)
    assert time.process_time() - start_s < 10.0


def test_clocks_that_are_noise_come_to_an_end(tmp_path: Path) -> None:
    random = np.random.default_rng(1)
    text = "".join(
        _rmc(FLIGHT.start + timedelta(seconds=float(seconds)), 48.0 + place * 1e-5, 11.5)
        for place, seconds in enumerate(random.integers(0, 3600, 2000))
    )
    start_s = time.process_time()
    try:
        read_text(tmp_path, "log.nmea", text)
    except LogError as error:
        assert error.what
    assert time.process_time() - start_s < 10.0


def test_lines_of_other_days_and_places_keep_their_dates_whatever_is_said_of_numbers(tmp_path: Path) -> None:
    flights = [
        FLIGHT,
        ELSEWHERE,
        invented_flight(samples=60, lat=52.0, start=FLIGHT.start - timedelta(days=300)),
    ]
    text = json.dumps(
        {"type": "FeatureCollection", "features": [_line(flight, flight.iso()) for flight in flights]}
    )
    tracks = read_text(tmp_path, "log.geojson", text, units={"time": "ms"})
    assert [track.start_utc for track in tracks] == [flights[2].start, FLIGHT.start, FLIGHT.start]
    assert all(
        _lies_on(track, flight) for track, flight in zip(tracks, [flights[2], FLIGHT, ELSEWHERE], strict=True)
    )


@pytest.mark.parametrize("cut", ["[", "[[", "[[11", "[[11.5, 48"])
def test_geojson_cut_off_before_its_first_position_is_refused_in_words(tmp_path: Path, cut: str) -> None:
    """The times stand before the positions, of which none is whole: a line without one."""
    times = (
        '{"type": "Feature", "properties": {"coordTimes": ["2026-05-04T10:00:00Z", "2026-05-04T10:00:01Z"]}, '
    )
    path = tmp_path / "cut.geojson"
    path.write_text(times + '"geometry": {"type": "LineString", "coordinates": ' + cut)
    with pytest.raises(LogError):
        read_log(path)
