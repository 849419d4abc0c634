"""Files that mean harm, or no flight at all: refused with a message, within limits, and shown without their markup."""

from __future__ import annotations

import contextlib
import gzip
import io
import os
import time
import zipfile
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs import limits
from analyser.logs.read import read_log
from analyser.logs.samples import Samples
from tests import benchmark_reading
from tests.logs_invented import as_csv, as_geojson, as_gpx, as_igc, as_kml, as_nmea, invented_flight
from tests.logs_reading import numbers, read_one, read_text, table

FLIGHT = invented_flight(samples=200)
ENDINGS = [".gpx", ".kml", ".kmz", ".csv", ".txt", ".nmea", ".igc", ".geojson", ".gz", ".zip"]


def _bomb(levels: int = 12) -> str:
    entities = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, levels))
    document_type = f'<!DOCTYPE gpx [<!ENTITY e0 "lol">{entities}]>'
    return f'<?xml version="1.0"?>{document_type}<gpx><trk><name>&e{levels - 1};</name></trk></gpx>'


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_entity_bombs_are_refused_before_they_go_off(tmp_path: Path, encoding: str) -> None:
    start = time.perf_counter()
    with pytest.raises(LogError, match="document type"):
        read_text(tmp_path, "a.gpx", _bomb(), encoding=encoding)
    assert time.perf_counter() - start < 5.0


def test_a_document_type_that_reads_files_is_refused(tmp_path: Path) -> None:
    text = '<?xml version="1.0"?><!DOCTYPE kml [<!ENTITY x SYSTEM "file:///etc/hostname">]><kml><name>&x;</name></kml>'
    with pytest.raises(LogError, match="document type"):
        read_text(tmp_path, "a.kml", text)


def test_a_comment_that_names_a_document_type_is_no_fault(tmp_path: Path) -> None:
    text = as_gpx(FLIGHT).replace("<gpx", "<!-- <!DOCTYPE x> --><gpx", 1)
    assert read_one(tmp_path, "a.gpx", text).samples == 200


@pytest.mark.slow
def test_long_logs_are_read_in_pieces(tmp_path: Path) -> None:
    """The peak of memory stays below twelve times the columns of numbers, whatever the format."""
    for what, path in benchmark_reading.large_logs(tmp_path, 150_000):
        assert benchmark_reading.memory_ratio(path) < benchmark_reading.MEMORY_BOUND, what


@pytest.mark.slow
@pytest.mark.parametrize("packer", ["gzip", "zip"])
def test_two_gigabytes_of_zeros(tmp_path: Path, packer: str) -> None:
    """The packed file is small; the reader stops at its limit."""
    path = tmp_path / f"a.{packer}"
    if packer == "gzip":
        # A gzip file may hold several streams: sixteen of 128 MB are packed as fast as one.
        path.write_bytes(gzip.compress(bytes(1 << 27), compresslevel=1) * 16)
    else:
        with (
            zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
            archive.open("a.csv", "w", force_zip64=True) as member,
        ):
            for _ in range(128):
                member.write(bytes(1 << 24))
    assert path.stat().st_size < 20_000_000
    with pytest.raises(LogError, match="more than 400 MB"):
        read_log(path)


def test_a_zip_that_lies_about_its_size(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "MAX_BYTES", 1_000_000)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.csv", bytes(5_000_000))
    data = packed.getvalue().replace((5_000_000).to_bytes(4, "little"), (500).to_bytes(4, "little"))
    (tmp_path / "a.zip").write_bytes(data)
    with pytest.raises(LogError, match=r"more than 1 MB|damaged|binary"):
        read_log(tmp_path / "a.zip")


def test_archives_inside_archives_come_to_an_end(tmp_path: Path) -> None:
    data = as_csv(FLIGHT).encode()
    for _ in range(limits.MAX_WRAPPERS):
        data = gzip.compress(data)
    (tmp_path / "a.gz").write_bytes(data)
    assert read_log(tmp_path / "a.gz")[0].samples == 200
    (tmp_path / "b.gz").write_bytes(gzip.compress(data))
    with pytest.raises(LogError, match="packed inside one another"):
        read_log(tmp_path / "b.gz")


def test_an_archive_of_very_many_files(tmp_path: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for place in range(limits.MAX_MEMBERS + 1):
            archive.writestr(f"{place}.csv", "x")
    (tmp_path / "a.zip").write_bytes(packed.getvalue())
    with pytest.raises(LogError, match="more than 500 files"):
        read_log(tmp_path / "a.zip")


@pytest.mark.parametrize("damage", ["cut", "flip", "empty"])
def test_damaged_archives(tmp_path: Path, damage: str) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.csv", as_csv(FLIGHT))
    data = bytearray(packed.getvalue())
    if damage == "cut":
        data = data[: len(data) // 2]
    elif damage == "flip":
        data[200:260] = bytes(60)
    else:
        data = bytearray(b"PK\x05\x06" + bytes(18))
    (tmp_path / "a.zip").write_bytes(bytes(data))
    with pytest.raises(LogError, match=r"damaged|no log"):
        read_log(tmp_path / "a.zip")


def test_a_cut_gzip_keeps_its_beginning(tmp_path: Path) -> None:
    data = gzip.compress(as_csv(invented_flight(samples=3000)).encode())
    (tmp_path / "a.csv.gz").write_bytes(data[: len(data) * 2 // 3])
    (track,) = read_log(tmp_path / "a.csv.gz")
    assert track.samples > 1000
    assert "archive-damaged" in {notice.code for notice in track.notices}


@pytest.mark.parametrize("ending", [".csv", ".nmea", ".igc"])
def test_lines_of_a_million_characters(tmp_path: Path, ending: str) -> None:
    lines = {".csv": as_csv, ".nmea": as_nmea, ".igc": as_igc}[ending](FLIGHT).splitlines()
    lines.insert(100, "x" * 1_000_000)
    with pytest.raises(LogError, match="longer than"):
        read_text(tmp_path, f"a{ending}", "\n".join(lines))


def test_a_table_of_very_many_columns(tmp_path: Path) -> None:
    header = ",".join(["time,lat,lon", *[f"c{i}" for i in range(limits.MAX_COLUMNS + 10)]])
    with pytest.raises(LogError, match="columns") as refused:
        read_text(tmp_path, "a.csv", f"flown by hand\n{header}\n1,2,3\n")
    assert refused.value.place == "line 2"


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.geojson", '{"type":"FeatureCollection","features":' + "[" * 200_000),
        ("a.geojson", '{"type":"Feature","geometry":' * 20_000),
        ("a.gpx", "<gpx>" + "<a>" * 200_000),
        ("a.kml", "<kml>" + "<Folder>" * 100_000 + "</Folder>" * 100_000 + "</kml>"),
    ],
)
def test_deep_nesting(tmp_path: Path, name: str, text: str) -> None:
    with pytest.raises(LogError):
        read_text(tmp_path, name, text)


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize(
    "start", [b"", b"\x1f\x8b", b"PK\x03\x04", b"<gpx>", b"{", b"$GPRMC,", b"time,lat,lon\n"]
)
def test_binary_noise_under_every_ending(tmp_path: Path, ending: str, start: bytes) -> None:
    noise = os.urandom(5_000)
    (tmp_path / f"a{ending}").write_bytes(start + noise)
    with pytest.raises(LogError):
        read_log(tmp_path / f"a{ending}")


@pytest.mark.parametrize(
    "name",
    [
        "<script>alert(1)</script>",
        '"><img src=x onerror=alert(1)>',
        "a\x1b[31mb\x07",
        "x" * 5_000,
        "\u202egnp.exe",
    ],
)
def test_names_from_logs_are_shown_without_control_characters(tmp_path: Path, name: str) -> None:
    import json
    from xml.sax.saxutils import escape

    from analyser.inspection.contents import inspection_text
    from analyser.inspection.small_plan import plan_points, plan_svg

    far = invented_flight(samples=200, lat=50.0)
    visible = "".join(letter for letter in name if letter >= " ")
    first, second = as_gpx(FLIGHT, name=escape(visible)), as_gpx(far, name="other")
    tracks = read_text(tmp_path, "a.gpx", first.replace("</gpx>", second[second.index("<trk>") :]))
    document = json.loads(as_geojson(FLIGHT))
    document["features"] += json.loads(as_geojson(far))["features"]
    document["features"][0]["properties"]["name"] = name
    tracks += read_text(tmp_path, "b.geojson", json.dumps(document))
    assert len(tracks) == 4
    for track in tracks:
        said = track.name + inspection_text(track)
        assert not any(letter < " " and letter != "\n" for letter in said)
        assert "\u202e" not in said
        assert len(track.name) < 300
        drawn = plan_svg(plan_points(track), track.name)
        assert "<script" not in drawn
        assert "<img" not in drawn


def test_markup_in_headers_stays_text(tmp_path: Path) -> None:
    header, rest = as_csv(FLIGHT).split("\n", 1)
    track = read_one(tmp_path, "a.csv", header + ",<b onclick=x>\x1b[2J\n" + rest.replace("\n", ",7\n"))
    assert all("\x1b" not in source.column for source in track.sources)


def test_a_kml_with_markup_in_its_description(tmp_path: Path) -> None:
    text = as_kml(FLIGHT).replace(
        "<Track>", "<description><![CDATA[<script>x</script>]]></description><Track>"
    )
    assert read_one(tmp_path, "a.kml", text).samples == 200


def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    with pytest.raises(LogError, match=r"(?i)this is a folder"):
        read_log(tmp_path)


@pytest.mark.parametrize("name", ["UF-8", "utf-7", "base64", "idna", "UTF-32", "shift_jis", "x" * 200])
def test_an_unknown_or_odd_character_set_in_the_declaration(tmp_path: Path, name: str) -> None:
    text = as_gpx(FLIGHT).replace('encoding="UTF-8"', f'encoding="{name}"')
    # The text is plain ASCII, so whatever it calls itself, all of it is read.
    assert read_one(tmp_path, "a.gpx", text).samples == 200


@pytest.mark.parametrize(
    ("samples", "spread_deg"),
    [
        *((3_000, 0.01), (3_000, 1.0), (3_000, 60.0), (40_000, 1.0)),
        *(pytest.param(n, deg, marks=pytest.mark.slow) for n in (40_000, 72_000) for deg in (0.01, 60.0)),
        pytest.param(72_000, 1.0, marks=pytest.mark.slow),
    ],
)
def test_positions_that_are_noise_do_not_hang_the_reader(
    tmp_path: Path, samples: int, spread_deg: float
) -> None:
    random = np.random.default_rng(1)
    lat, lon = random.uniform(-spread_deg, spread_deg, (2, samples)) + 10.0
    # The processor's time: other tests run beside this one.
    start = time.process_time()
    with contextlib.suppress(LogError):
        read_text(
            tmp_path,
            "a.csv",
            table(["elapsed s", "lat", "lon"], range(samples), numbers(lat, 6), numbers(lon, 6)),
        )
    assert time.process_time() - start < 10.0


def _wide_words(lines: int) -> str:
    random = np.random.default_rng(2)
    letters = np.array(list("abcdefghijklmnopqrstuvwxyz"))
    words = ["".join(random.choice(letters, 6)) for _ in range(900)]
    return "\n".join("lat,lon," + ",".join(words[i:] + words[:i]) for i in range(lines)) + "\n"


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.gpx", "<!--" * 200_000),
        ("a.gpx", "<" * 500_000),
        ("a.gpx", "<gpx " + 'a="b" ' * 50_000 + ">"),
        ("a.csv", "time,position\n" + f"1,{'9' * 150_000}\n" * 5),
        ("a.csv", _wide_words(60)),
        ("a.csv", "time,lat,lon\n" + f"{'1' * 50_000},2,3\n" * 20),
        ("a.csv", "time,lat,lon\n" + f"{'1:' * 50_000},2,3\n" * 20),
        ("a.csv", "time,lat,lon\n" + f"1,48{' ' * 50}x,3\n" * 3_000),
        (
            "a.csv",
            "".join(f"{'latitude longitude ' * 60}{i}\n" for i in range(150)) + "time,lat,lon\n1,2,3\n",
        ),
        ("a.geojson", '{"type":"Point","coordinates":[' + "9" * 10_000 + ",2]}"),
        ("a.nmea", "$GPRMC," * 20_000 + "\n"),
        ("a.igc", "HFDTE140326\n" + "B" * 100_000 + "\n"),
    ],
)
def test_texts_made_to_take_long(tmp_path: Path, name: str, text: str) -> None:
    start = time.process_time()
    with contextlib.suppress(LogError):
        read_text(tmp_path, name, text)
    assert time.process_time() - start < 5.0


def test_half_a_document_taken_for_a_table_is_refused(tmp_path: Path) -> None:
    """Its first byte lost, a cut GeoJSON looks like a table, with no row as long as its header."""
    path = tmp_path / "log"
    data = as_geojson(invented_flight(80)).replace("], [", "],\n[").encode()
    path.write_bytes(b"\x00" + data[1 : len(data) // 2])
    with pytest.raises(LogError):
        read_log(path)


def test_a_name_of_its_own_in_every_sample_is_no_channel() -> None:
    """Thousands of names with a value each would be columns of nothing; one that comes late and stays is one."""
    samples = Samples()
    for row in range(400):
        samples.add({"time": row, f"note {row}": 1.0} | ({"alt": row} if row > 300 else {}))
    columns = samples.columns()
    assert len(columns) < 60
    np.testing.assert_array_equal(columns["alt"][301:], np.arange(301.0, 400.0))
    assert np.isnan(columns["alt"][:301]).all()
