"""Valid files of every format, cut, flipped, spliced and reordered: a Track that holds its promises, or a message.

``ANALYSER_MUTATIONS`` sets the number of cases per format (2,000 in continuous integration; fewer by default).
"""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import os
import tarfile
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyser.errors import LogError
from analyser.inspection.contents import inspection_text
from analyser.inspection.small_plan import plan_points, plan_svg, plan_text
from analyser.logs.read import read_log
from analyser.logs.track import CHANNELS, Track
from tests.logs_invented import (
    Invented,
    as_csv,
    as_fit,
    as_geojson,
    as_gpx,
    as_igc,
    as_json,
    as_kml,
    as_ndjson,
    as_nmea,
    as_tcx,
    as_xlsx,
    invented_flight,
)

CASES = int(os.environ.get("ANALYSER_MUTATIONS", "60"))
FLIGHT = invented_flight(samples=80, interval_s=5.0, start=datetime(2026, 3, 14, 23, 57, tzinfo=UTC))


def _odd_table(flight: Invented) -> str:
    """A table with a preamble, a units row, decimal commas, local time and columns without units."""
    rows = [
        f"{m:%d.%m.%Y};{m:%I:%M:%S %p};+01:00;{lat:.6f};{lon:.6f};{alt:.0f};{gs:.1f};{hdg:.1f};{bank:.1f};".replace(
            ".", ","
        )
        for m, lat, lon, alt, gs, hdg, bank in zip(
            flight.moments(),
            flight.lat,
            flight.lon,
            flight.altitude_ft,
            flight.ground_speed_kt,
            flight.heading_deg,
            flight.bank_deg,
            strict=True,
        )
    ]
    head = "Recorder 1\n\ndate;local time;utc offset;lat;lon;alt;gs;heading;roll;\ndd.mm.yyyy;hh:mm:ss;;deg;deg;;;;;\n"
    return head + "\n".join(rows) + "\n"


def _zip(flight: Invented) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", as_kml(flight))
        archive.writestr("more.igc", as_igc(flight))
    return packed.getvalue()


def _tar(flight: Invented) -> bytes:
    packed = io.BytesIO()
    with tarfile.open(fileobj=packed, mode="w") as archive:
        for name, data in (("doc.kml", as_kml(flight).encode()), ("more.fit", as_fit(flight))):
            info = tarfile.TarInfo(name)
            info.size = len(data)
            archive.addfile(info, io.BytesIO(data))
    return packed.getvalue()


BASES: dict[str, bytes] = {
    "gpx": as_gpx(FLIGHT).replace("><", ">\n<").encode(),
    "kml": as_kml(FLIGHT).replace("><", ">\n<").encode(),
    "geojson": as_geojson(FLIGHT).replace("], [", "],\n[").encode(),
    "nmea": as_nmea(FLIGHT).encode(),
    "igc": as_igc(FLIGHT).encode(),
    "table": as_csv(FLIGHT).encode(),
    "odd-table": _odd_table(FLIGHT).encode("utf-16"),
    "gzip": gzip.compress(as_gpx(FLIGHT).encode(), mtime=0),
    "zip": _zip(FLIGHT),
    "fit": as_fit(FLIGHT),
    "tcx": as_tcx(FLIGHT).replace("><", ">\n<").encode(),
    "json": as_json(FLIGHT).replace("}, {", "},\n{").encode(),
    "ndjson": as_ndjson(FLIGHT).encode(),
    "xlsx": as_xlsx(FLIGHT),
    "bz2": bz2.compress(as_igc(FLIGHT).encode()),
    "xz": lzma.compress(as_ndjson(FLIGHT).encode()),
    "tar": _tar(FLIGHT),
}

Change = Callable[[bytes], bytes]
_PLACE = st.floats(0.0, 1.0, allow_nan=False)
#: Bytes that mean something to one format or another, and some that mean nothing.
_PIECES = st.one_of(
    st.binary(max_size=12),
    st.sampled_from(
        [b"<", b">", b"&", b'"', b"'", b",", b";", b"\n", b"\r\n", b"\x00", b"-", b"[", b"{", b"]]>", b"<!--"]
    ),
    st.sampled_from(
        [b"NaN", b"1e999", b"-9999", b"99999999999", b"null", b"0,0", b"lat", b"time", b"\xff\xfe"]
    ),
    st.sampled_from([b"<trkseg>", b"<script>alert(1)</script>", b"$GPRMC,", b"B1602", b"I023638FXA3940SIU"]),
    st.sampled_from([b"1970-01-01T00:00:00Z", b"9999-12-31T23:59:59Z", b"\xe2\x80\xae"]),
)


def _at(data: bytes, place: float) -> int:
    return int(place * len(data))


def _cut(place: float) -> Change:
    return lambda data: data[: _at(data, place)]


def _drop(one: float, two: float) -> Change:
    return lambda data: data[: _at(data, min(one, two))] + data[_at(data, max(one, two)) :]


def _flip(place: float, value: int) -> Change:
    return lambda data: data[: _at(data, place)] + bytes([value]) + data[_at(data, place) + 1 :]


def _insert(place: float, piece: bytes) -> Change:
    return lambda data: data[: _at(data, place)] + piece + data[_at(data, place) :]


def _splice(one: float, two: float, there: float) -> Change:
    def change(data: bytes) -> bytes:
        first, last = sorted((_at(data, one), _at(data, two)))
        piece = data[first : min(last, first + 4000)]
        return data[: _at(data, there)] + piece + data[_at(data, there) :]

    return change


def _reorder(one: float, two: float) -> Change:
    def change(data: bytes) -> bytes:
        lines = data.splitlines(keepends=True)
        if len(lines) < 2:
            return data
        first, second = int(one * (len(lines) - 1)), int(two * (len(lines) - 1))
        lines[first], lines[second] = lines[second], lines[first]
        return b"".join(lines)

    return change


def _replace_all(old: bytes, new: bytes) -> Change:
    return lambda data: data.replace(old, new)


CHANGES = st.lists(
    st.one_of(
        st.builds(_cut, _PLACE),
        st.builds(_drop, _PLACE, _PLACE),
        st.builds(_flip, _PLACE, st.integers(0, 255)),
        st.builds(_insert, _PLACE, _PIECES),
        st.builds(_splice, _PLACE, _PLACE, _PLACE),
        st.builds(_reorder, _PLACE, _PLACE),
        st.builds(_replace_all, st.sampled_from([b",", b"1", b"T", b".", b"2026", b"lon", b"\n"]), _PIECES),
    ),
    min_size=1,
    max_size=4,
)


def _keeps_its_promises(track: Track) -> None:
    assert track.samples >= 2
    assert track.time_s[0] == 0.0
    assert (np.diff(track.time_s) > 0.0).all()
    assert np.isfinite(track.lat_deg).all() and (np.abs(track.lat_deg) <= 90.0).all()
    assert ((track.lon_deg >= -180.0) & (track.lon_deg < 180.0)).all()
    assert set(track.channels) <= set(CHANNELS)
    for name, values in track.channels.items():
        assert values.shape == track.time_s.shape
        assert np.isfinite(values).any()
        assert not np.isinf(values).any()
        if name in ("track_true_deg", "heading_true_deg", "heading_magnetic_deg", "wind_from_true_deg"):
            known = values[np.isfinite(values)]
            assert ((known >= 0.0) & (known < 360.0)).all()
    points = plan_points(track)
    said = inspection_text(track, plan_text(points))
    assert not any(letter < " " and letter != "\n" for letter in said)
    # A well-formed drawing with a hostile title has no unescaped byte in it.
    ElementTree.fromstring(plan_svg(points, track.name))


@pytest.mark.parametrize("form", list(BASES))
def test_the_bases_are_valid(tmp_path: Path, form: str) -> None:
    (tmp_path / "log").write_bytes(BASES[form])
    for track in read_log(tmp_path / "log"):
        _keeps_its_promises(track)
        assert track.samples == 80


@pytest.mark.parametrize("form", list(BASES))
def test_mutated_files_give_a_track_or_a_message(tmp_path_factory: pytest.TempPathFactory, form: str) -> None:
    path = tmp_path_factory.mktemp("mutated") / "log"

    @settings(
        max_examples=CASES,
        deadline=10_000,
        database=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
    @given(CHANGES)
    def check(changes: list[Change]) -> None:
        data = BASES[form]
        for change in changes:
            data = change(data)[:2_000_000]
        path.write_bytes(data)
        try:
            tracks = read_log(path)
        except LogError as error:
            assert error.what
            assert not any(letter < " " for letter in str(error))
            return
        assert tracks
        for track in tracks:
            _keeps_its_promises(track)

    check()
