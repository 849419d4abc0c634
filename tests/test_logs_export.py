"""Exports read back equal to their own precision, with the phases in them; inspection says what was found."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import gpxpy
import numpy as np
import pytest
from typer.testing import CliRunner

from analyser.circuits.find import search
from analyser.cli import app
from analyser.errors import UsageError
from analyser.exports.track_formats import Phase, Waypoint, export_track, segments
from analyser.inspection.contents import inspection_text
from analyser.inspection.small_plan import plan_points, plan_text
from analyser.logs.read import read_log
from analyser.logs.track import Track
from tests.drawn_flights import drawn, straight, turn
from tests.logs_invented import as_csv, as_gpx, invented_flight
from tests.logs_reading import read_one

FLIGHT = invented_flight(samples=900, interval_s=0.5, start=datetime(2026, 3, 14, 23, 58, tzinfo=UTC))
PHASES = (
    Phase(20.0, 60.0, "circuit 1, outbound turn"),
    Phase(60.0, 120.0, "circuit 1, outbound leg"),
    Phase(120.0, 180.0, "circuit 1, inbound turn"),
    Phase(180.0, 240.0, "circuit 1, inbound leg"),
)
#: A turn is left at one sample and the next begins at another: one sample belongs to no phase.
APART = tuple(Phase(one.start_s + 0.5, one.end_s, one.name) for one in PHASES)


def _track(folder: Path) -> Track:
    return read_one(folder, "flight.csv", as_csv(FLIGHT))


@pytest.mark.parametrize("to", ["gpx", "kml", "geojson", "csv"])
@pytest.mark.parametrize("phases", [(), PHASES, APART], ids=["whole", "phases", "a sample between"])
def test_round_trip(tmp_path: Path, to: str, phases: tuple[Phase, ...]) -> None:
    """Seven decimals of a degree, a hundredth of a metre, a millisecond; a named place is no sample."""
    track = _track(tmp_path)
    places = (Waypoint(48.25, 11.5, "A <fix> & more", "told"),) if phases else ()
    back = read_one(tmp_path, f"out.{to}", export_track(track, to, phases, places))
    assert back.samples == track.samples
    assert back.start_utc == track.start_utc
    np.testing.assert_allclose(back.time_s, track.time_s, atol=5.1e-4)
    np.testing.assert_allclose(back.lat_deg, track.lat_deg, atol=5.1e-8)
    np.testing.assert_allclose(back.lon_deg, track.lon_deg, atol=5.1e-8)
    np.testing.assert_allclose(back.channels["altitude_ft"], track.channels["altitude_ft"], atol=0.0165)
    if to == "csv":
        assert set(back.channels) == set(track.channels)
        for name, values in track.channels.items():
            np.testing.assert_allclose(back.channels[name], values, atol=5.1e-4)


@pytest.mark.parametrize("to", ["gpx", "kml", "geojson", "csv"])
def test_round_trip_across_the_date_line_and_with_gaps_in_the_altitude(tmp_path: Path, to: str) -> None:
    flight = invented_flight(samples=400, lat=-17.0, lon=179.97)
    text = as_csv(flight).splitlines()
    for place in range(100, 140):
        cells = text[place].split(",")
        cells[3] = ""
        text[place] = ",".join(cells)
    track = read_one(tmp_path, "flight.csv", "\n".join(text) + "\n")
    back = read_one(tmp_path, f"out.{to}", export_track(track, to, PHASES))
    assert back.samples == 400
    np.testing.assert_allclose((back.lon_deg - track.lon_deg + 180.0) % 360.0 - 180.0, 0.0, atol=5.1e-8)
    np.testing.assert_array_equal(
        np.isnan(back.channels["altitude_ft"]), np.isnan(track.channels["altitude_ft"])
    )


def test_every_sample_is_in_one_piece(tmp_path: Path) -> None:
    track = _track(tmp_path)
    cut = segments(track, (*PHASES, Phase(50.0, 70.0, "overlapping")))
    assert cut[0].first == 0
    assert cut[-1].last == track.samples
    assert all(one.last == two.first for one, two in pairwise(cut))
    assert [segment.name for segment in cut if segment.name][:2] == [
        "circuit 1, outbound turn",
        "overlapping",
    ]


def test_phases_are_segments_folders_features_and_a_column(tmp_path: Path) -> None:
    track = _track(tmp_path)
    parsed = gpxpy.parse(export_track(track, "gpx", PHASES))
    assert len(parsed.tracks[0].segments) == 6
    assert "circuit 1, inbound leg" in (parsed.tracks[0].description or "")
    kml = ElementTree.fromstring(export_track(track, "kml", PHASES))
    space = {"k": "http://www.opengis.net/kml/2.2"}
    folders = kml.findall(".//k:Folder", space)
    assert [folder.findtext("k:name", "", space) for folder in folders][1:5] == [
        phase.name for phase in PHASES
    ]
    styles = {style.get("id") for style in kml.findall(".//k:Style", space)}
    assert {url.text for url in kml.findall(".//k:styleUrl", space)} <= {f"#{name}" for name in styles}
    features = json.loads(export_track(track, "geojson", PHASES))["features"]
    assert [feature["properties"]["phase"] for feature in features][1:5] == [phase.name for phase in PHASES]
    rows = list(csv.DictReader(io.StringIO(export_track(track, "csv", PHASES))))
    assert rows[100]["phase"] == "circuit 1, outbound turn"
    assert rows[0]["phase"] == ""


def _flown(lon_deg: Sequence[float], altitude_ft: float = 4000.0) -> Track:
    """Return a track of a sample a second at these longitudes."""
    count = len(lon_deg)
    return Track(
        name="evening", format="table", sha256="", time_s=np.arange(float(count)), lat_deg=np.full(count, 10.0),
        lon_deg=np.array(lon_deg), channels={"altitude_ft": np.full(count, altitude_ft)},
        start_utc=datetime(2026, 3, 14, tzinfo=UTC),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("lon_deg", "lines"),
    [
        ((179.8, 179.9, -179.9, -179.8), [[179.8, 179.9], [-179.9, -179.8]]),
        ((-179.8, -179.9, 179.9, 179.8), [[-179.8, -179.9], [179.9, 179.8]]),
        ((-100.0, 75.0, -100.0), [[-100.0, 75.0, -100.0]]),
        ((110.0, -75.0), [[110.0], [-75.0]]),
        ((8.0, 8.1), [[8.0, 8.1]]),
        ((8.0,), [[8.0]]),
    ],
)
def test_a_line_is_cut_at_the_180th_meridian_and_nowhere_else(
    lon_deg: tuple[float, ...], lines: list[list[float]]
) -> None:
    """RFC 7946, 3.1.9; and 3.1.4: a line has two positions or more."""
    features = json.loads(export_track(_flown(lon_deg), "geojson"))["features"]
    found = [feature["geometry"] for feature in features]
    assert [[position[0] for position in one["coordinates"]] for one in found] == lines
    assert [one["type"] for one in found] == [
        "LineString" if len(line) > 1 else "MultiPoint" for line in lines
    ]
    # What belongs to no phase is called as the flight is.
    assert {(one["properties"]["name"], one["properties"]["phase"]) for one in features} == {
        ("evening", None)
    }


@pytest.mark.parametrize(("altitude_ft", "mode"), [(4000.0, "absolute"), (np.nan, "clampToGround")])
def test_each_part_of_a_circuit_has_its_own_colour_and_heights_are_those_above_the_sea(
    altitude_ft: float, mode: str
) -> None:
    """OGC 12-007r2, 9.21: a track without a mode is clamped to the ground, whatever heights it has."""
    phases = tuple(Phase(10.0 * k, 10.0 * k + 5.0, one.name) for k, one in enumerate(PHASES))
    kml = ElementTree.fromstring(export_track(_flown([8.0] * 40, altitude_ft), "kml", phases))
    space = {"k": "http://www.opengis.net/kml/2.2"}
    colour_of = {
        f"#{one.get('id')}": one.findtext(".//k:color", "", space) for one in kml.findall(".//k:Style", space)
    }
    drawn_in = {
        folder.findtext("k:name", "", space): colour_of[folder.findtext(".//k:styleUrl", "", space)]
        for folder in kml.findall(".//k:Folder", space)
    }
    assert list(drawn_in) == [PHASES[0].name, "between", *(one.name for one in PHASES[1:])]
    assert len(set(drawn_in.values())) == 5
    assert {one.text for one in kml.iter("{http://www.opengis.net/kml/2.2}altitudeMode")} == {mode}
    # A segment of GPX has no name: the numbers in the track's description are those of the segments.
    told = gpxpy.parse(export_track(_flown([8.0] * 40), "gpx", phases)).tracks[0].description
    assert told == "Segments: " + "; ".join(f"{2 * k + 1}: {one.name}" for k, one in enumerate(PHASES))


def test_no_number_is_written_finer_than_any_instrument_tells_it(tmp_path: Path) -> None:
    """A centimetre on the ground is 1e-7 degrees; a barometer tells no centimetre, no other instrument a thousandth."""
    rows = csv.DictReader(io.StringIO(export_track(_track(tmp_path), "csv")))
    row = next(rows)
    undated = replace(_track(tmp_path), start_utc=None)
    row |= next(csv.DictReader(io.StringIO(export_track(undated, "csv"))))
    decimals = {name: len(text.partition(".")[2]) for name, text in row.items() if name != "time_utc"}
    assert {decimals.pop("latitude_deg"), decimals.pop("longitude_deg")} == {7}
    assert decimals.pop("phase") == 0 and set(decimals.values()) == {3}
    point = gpxpy.parse(export_track(_track(tmp_path), "gpx")).tracks[0].segments[0].points[1]
    assert point.elevation is not None and round(point.elevation, 2) == point.elevation


@pytest.mark.parametrize("to", ["gpx", "kml", "geojson"])
def test_markup_in_names_is_escaped(tmp_path: Path, to: str) -> None:
    track = replace(_track(tmp_path), name='</name><script>alert("1")</script>&\x01')
    text = export_track(track, to, (Phase(10.0, 50.0, "<b>&"),))
    if to == "geojson":
        json.loads(text)
    else:
        assert "<script" not in text
        ElementTree.fromstring(text)


def test_an_undated_log_goes_to_csv_only(tmp_path: Path) -> None:
    text = as_csv(FLIGHT).splitlines()
    rows = ["elapsed_s" + text[0][len("time_utc") :]]
    rows += [f"{place * 0.5}{row[row.index(',') :]}" for place, row in enumerate(text[1:])]
    track = read_one(tmp_path, "flight.csv", "\n".join(rows) + "\n")
    back = read_one(tmp_path, "out.csv", export_track(track, "csv"))
    np.testing.assert_allclose(back.time_s, track.time_s, atol=5.1e-4)
    with pytest.raises(UsageError, match="no date"):
        export_track(track, "gpx")
    with pytest.raises(UsageError, match="no format"):
        export_track(track, "doc")


def test_inspection_tells_everything(tmp_path: Path) -> None:
    text = as_csv(FLIGHT).replace("bank_deg", "oil temperature").splitlines()
    del text[300:380]
    track = read_one(tmp_path, "flight.csv", "\n".join(text) + "\n")
    said = inspection_text(track, plan_text(plan_points(track)))
    for part in (
        "flight.csv: table, 820 samples over 7 min 30 s",
        "2026-03-14 23:58:00 UTC",
        "0.5 s (median), 0.5 to 40.5 s",
        "1: 149 to 190 s",
        "altitude_ft",
        "recognised 'ias_kt' as ias_kt in kt",
        "ignored    'oil temperature'",
        "hole",
        "NM, north up",
    ):
        assert part in said


def test_inspection_tells_how_much_of_a_channel_there_is_and_where_a_track_crosses_the_date_line() -> None:
    """Half of the samples have an altitude; by hand: from 179.9 degrees east over 0.3 degrees on is 179.8 west."""
    lon = (np.linspace(179.9, 180.2, 100) + 180.0) % 360.0 - 180.0
    altitude = np.where(np.arange(100) % 2 == 0, 4000.0, np.nan)
    track = Track(
        name="dateline.csv", format="table", sha256="", time_s=np.arange(100.0), lat_deg=np.full(100, 10.0),
        lon_deg=lon, channels={"altitude_ft": altitude},
    )  # fmt: skip
    said = inspection_text(track)
    assert "50% of samples" in said and "179.9000°E to 179.8000°W" in said


def test_plans_of_any_shape_fit(tmp_path: Path) -> None:
    for wind in (0.0, 300.0):
        flight = invented_flight(samples=600, wind_east_kt=wind, wind_north_kt=0.0)
        points = plan_points(read_one(tmp_path, "a.csv", as_csv(flight)))
        for braille in (True, False):
            lines = plan_text(points, braille=braille).splitlines()
            assert len(lines) <= 21
            assert max(len(line) for line in lines[:-1]) <= 56
            if not braille:
                assert all(line.isascii() for line in lines)


def test_the_commands(tmp_path: Path) -> None:
    log = tmp_path / "flight.gpx"
    log.write_text(as_gpx(FLIGHT))
    run = CliRunner()
    drawing = tmp_path / "plan.svg"
    said = run.invoke(app, ["inspect", str(log), "--svg", str(drawing)])
    assert said.exit_code == 0, said.output
    assert "900 samples" in said.output
    ElementTree.fromstring(drawing.read_text())
    out = tmp_path / "out.kml"
    said = run.invoke(app, ["export", str(log), "--to", "kml", "--out", str(out)])
    assert said.exit_code == 0, said.output
    assert read_log(out)[0].samples == 900
    again = run.invoke(app, ["export", str(log), "--to", "kml", "--out", str(out)])
    assert isinstance(again.exception, UsageError)
    said = run.invoke(app, ["export", str(log), "--to", "kml", "--out", str(out), "--force"])
    assert said.exit_code == 0, said.output


def test_inspection_says_what_was_dropped_with_its_code(tmp_path: Path) -> None:
    # A lap whose outbound leg swings through 150°: airwork, and no hold.
    swing = [*turn(220.0), *straight(15), *turn(-150.0)]
    track = drawn(
        straight(300), [*turn(180.0), *straight(40), *swing, *straight(40), *turn(-60.0), *straight(200)]
    )
    log = tmp_path / "swinging.csv"
    rows = zip(track.time_s, track.lat_deg, track.lon_deg, track.channels["altitude_ft"], strict=True)
    log.write_text(
        "time_s,lat,lon,altitude_ft\n" + "".join(f"{t},{a:.6f},{o:.6f},{h}\n" for t, a, o, h in rows)
    )
    said = CliRunner().invoke(app, ["inspect", str(log), "--no-plan"]).output
    dropped = search(track).reasons
    assert dropped
    for reason in dropped:
        assert f"{reason.code}: {reason.sentence}" in said
    assert "dropped" not in CliRunner().invoke(app, ["inspect", str(log), "--no-plan", "--no-holds"]).output


def test_a_log_is_never_replaced_by_its_own_export(tmp_path: Path) -> None:
    log = tmp_path / "flight.gpx"
    log.write_text(as_gpx(FLIGHT))
    said = CliRunner().invoke(app, ["export", str(log), "--to", "gpx", "--out", str(log), "--force"])
    assert isinstance(said.exception, UsageError)
    assert log.read_text() == as_gpx(FLIGHT)


def test_the_fix_is_a_place_of_its_own(tmp_path: Path) -> None:
    track = _track(tmp_path)
    places = (Waypoint(48.2500001, -11.5, "A <fix> & more\x00", "inbound 263° true"),)
    (waypoint,) = gpxpy.parse(export_track(track, "gpx", PHASES, places)).waypoints
    assert (waypoint.latitude, waypoint.longitude) == (48.2500001, -11.5)
    assert (waypoint.name, waypoint.description) == ("A <fix> & more\ufffd", "inbound 263° true")
    root = ElementTree.fromstring(export_track(track, "kml", PHASES, places))
    space = "{http://www.opengis.net/kml/2.2}"
    (mark,) = [one for one in root.iter(f"{space}Placemark") if one.find(f"{space}Point") is not None]
    assert mark.findtext(f"{space}name") == "A <fix> & more\ufffd"
    assert mark.findtext(f"{space}Point/{space}coordinates") == "-11.5000000,48.2500001"
    features = json.loads(export_track(track, "geojson", PHASES, places))["features"]
    assert features[-1]["geometry"] == {"type": "Point", "coordinates": [-11.5, 48.2500001]}
    assert features[-1]["properties"]["description"] == "inbound 263° true"
    assert export_track(track, "csv", PHASES, places) == export_track(track, "csv", PHASES)
