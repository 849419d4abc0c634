"""Hold files: what is read, and what is said of a wrong one."""

from datetime import UTC, date, datetime

import pytest

from analyser.errors import HoldFileError
from analyser.holds.holdfile import read_hold

FULL = """
name = "Practice hold north of the field"
fix = { lat = 48.1234, lon = 11.5678 }
inbound_course = 263
reference = "magnetic"
turns = "right"
leg = { minutes = 1.0 }
altitude_ft = 4000
speed_kias = 110
max_kias = 170
category = "A"
reported_wind = "240/22"
leave_fix_at = 2026-03-14T18:32:00Z
"""


def write(tmp_path, text):
    path = tmp_path / "hold.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_every_key(tmp_path):
    hold = read_hold(write(tmp_path, FULL))
    assert (hold.name, hold.turns, hold.side) == ("Practice hold north of the field", "right", 1)
    assert (hold.fix_lat_deg, hold.fix_lon_deg) == (48.1234, 11.5678)
    assert hold.leg.minutes == 1.0
    assert hold.leg.distance_nm is None
    assert (hold.altitude_ft, hold.speed_kias, hold.max_kias, hold.category) == (4000, 110, 170, "A")
    assert hold.reported_wind == (240, 22)
    assert hold.leave_fix_at == datetime(2026, 3, 14, 18, 32, tzinfo=UTC)
    assert hold.inbound_course_true_deg == pytest.approx(263 + hold.variation_deg)


@pytest.mark.parametrize(("fix", "end", "length", "towards"), [(10, 15, 5, True), (28, 20, 8, False)])
def test_a_leg_as_charts_print_it_by_dme(tmp_path, fix, end, length, towards):
    # FAA AIM figures 5-3-5 and 5-3-6.
    text = FULL.replace("minutes = 1.0", f"fix_dme_nm = {fix}, outbound_dme_nm = {end}")
    leg = read_hold(write(tmp_path, text)).leg
    assert (leg.minutes, leg.distance_nm, leg.end_dme_nm, leg.towards_station) == (None, length, end, towards)
    with pytest.raises(HoldFileError, match="together"):
        read_hold(write(tmp_path, text.replace(f"fix_dme_nm = {fix}, ", "")))
    with pytest.raises(HoldFileError, match="other than fix_dme_nm"):
        read_hold(write(tmp_path, text.replace(f"outbound_dme_nm = {end}", f"outbound_dme_nm = {fix}")))


def test_a_limiting_radial_needs_its_station(tmp_path):
    dme = FULL.replace("minutes = 1.0", "fix_dme_nm = 10, outbound_dme_nm = 15") + "limiting_radial = 90\n"
    hold = read_hold(write(tmp_path, dme))
    assert hold.limiting_radial_true_deg == pytest.approx(90 + hold.variation_deg)
    with pytest.raises(HoldFileError, match="for its station"):
        read_hold(write(tmp_path, FULL + "limiting_radial = 90\n"))


def test_helicopters(tmp_path):
    assert read_hold(write(tmp_path, FULL.replace('category = "A"', 'category = "H"'))).category == "H"


def test_magnetic_course_where_the_published_variation_is_known(tmp_path):
    # NOAA/NCEI WMM2025 test value: 2025.5, 6 km, 36° S 137° W: 20.28° east. East is added to magnetic.
    text = 'fix = {lat = -36, lon = -137}\ninbound_course = 350\nreference = "magnetic"\nturns = "left"\n'
    hold = read_hold(write(tmp_path, text + "altitude_ft = 19685\n"), when=2025.5)
    assert hold.inbound_course_true_deg == pytest.approx(10.28, abs=0.006)
    assert hold.variation_deg == pytest.approx(20.28, abs=0.006)
    assert hold.side == -1
    assert hold.leg is None


def test_true_course_is_taken_as_it_is_and_variation_kept_for_showing(tmp_path):
    hold = read_hold(write(tmp_path, FULL.replace('"magnetic"', '"true"')), when=date(2026, 3, 14))
    assert hold.inbound_course_true_deg == 263
    assert 3 < hold.variation_deg < 6


def test_the_date_decides_the_variation(tmp_path):
    path = write(tmp_path, FULL)
    assert read_hold(path, when=2012.0).variation_deg < read_hold(path, when=2026.0).variation_deg - 1


def test_fix_by_bearing_and_distance(tmp_path):
    # Due north by 60 NM from the equator: a minute of latitude there is 1842.9 m (WGS84), so 60.30'.
    text = FULL.replace(
        "{ lat = 48.1234, lon = 11.5678 }", "{ from = {lat=0, lon=20}, bearing=0, distance_nm=60 }"
    )
    hold = read_hold(write(tmp_path, text.replace('"magnetic"', '"true"')))
    assert hold.fix_lat_deg == pytest.approx(60.30 / 60, abs=2e-4)
    assert hold.fix_lon_deg == pytest.approx(20)


def test_magnetic_bearing_is_turned_by_the_variation(tmp_path):
    # NOAA/NCEI WMM2025 test value: 0° N 120° E, 2025.0: −0.16°.
    fix = "{ from = {lat=0, lon=120}, bearing=90.16, distance_nm=30 }"
    text = FULL.replace("{ lat = 48.1234, lon = 11.5678 }", fix).replace(
        "altitude_ft = 4000", "altitude_ft = 0"
    )
    hold = read_hold(write(tmp_path, text), when=2025.0)
    assert hold.fix_lat_deg == pytest.approx(0, abs=5e-5)
    assert hold.fix_lon_deg == pytest.approx(120.4991, abs=1e-3)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "inbound_course = 263",
            "inbound_coarse = 263",
            r"'inbound_coarse': no such key.* 'inbound_course'",
        ),
        (
            "inbound_course = 263",
            "inbound_course = 361",
            r"'inbound_course': must be less.* 360, not 361",
        ),
        ("inbound_course = 263", 'inbound_course = "263"', r"'inbound_course': must be a valid number"),
        ("inbound_course = 263", "inbound_course = true", r"'inbound_course'"),
        ("inbound_course = 263", "inbound_course = nan", r"'inbound_course': must be a finite number"),
        ("lat = 48.1234", "lat = 98.1", r"'fix\.lat': must be less than or equal to 90"),
        ("lat = 48.1234, ", "", r"'fix': must be lat and lon together, or from"),
        ("lon = 11.5678", "lon = 11.5678, bearing = 3", r"'fix': must be lat and lon together, or from"),
        ("lon = 11.5678", "lon = 11.5678, elevation = 3", r"'fix\.elevation': no such key"),
        ('turns = "right"', 'turns = "starboard"', r"'turns': must be 'right' or 'left', not 'starboard'"),
        ('turns = "right"', "", r"'turns': is missing"),
        ('reference = "magnetic"', "", r"'reference': is missing"),
        (
            "minutes = 1.0",
            "minutes = 1.0, distance_nm = 4",
            r"'leg': must be minutes, or distance_nm, or fix_dme_nm and",
        ),
        ("minutes = 1.0", "", r"'leg': must be minutes, or distance_nm, or fix_dme_nm and"),
        ("minutes = 1.0", "minutes = 0", r"'leg\.minutes': must be greater than 0"),
        ('category = "A"', 'category = "Z"', r"'category'"),
        ('"240/22"', '"240 at 22"', r"'reported_wind': must be degrees true and knots"),
        ('"240/22"', '"400/22"', r"'reported_wind': must be a direction of at most 360"),
        ("18:32:00Z", "18:32:00", r"'leave_fix_at': must be a time with its offset"),
        ("2026-03-14T18:32:00Z", "2026-03-14", r"'leave_fix_at'"),
        ("2026-03-14T18:32:00Z", '"2026-03-14T18:32:00Z"', r"'leave_fix_at': must be a time without quotes"),
        ("speed_kias = 110", "speed_kias = -1", r"'speed_kias'"),
    ],
)
def test_mistakes_name_their_key(tmp_path, old, new, said):
    assert old in FULL
    path = write(tmp_path, FULL.replace(old, new))
    with pytest.raises(HoldFileError, match=said) as caught:
        read_hold(path)
    assert str(path) in str(caught.value)
    assert caught.value.exit_status == 2


def test_every_mistake_at_once(tmp_path):
    text = (
        FULL.replace("263", '"west"').replace("lat = 48.1234", "lat = 99").replace("altitude_ft", "altitude")
    )
    with pytest.raises(HoldFileError) as caught:
        read_hold(write(tmp_path, text))
    for key in ("'inbound_course'", "'fix.lat'", "'altitude'"):
        assert key in str(caught.value)


@pytest.mark.parametrize(("content", "said"), [(b"fix = ", "not TOML"), (b"\xff\xfe\x00", "not UTF-8")])
def test_unreadable(tmp_path, content, said):
    path = tmp_path / "hold.toml"
    path.write_bytes(content)
    with pytest.raises(HoldFileError, match=said):
        read_hold(path)


def test_missing_file(tmp_path):
    with pytest.raises(HoldFileError, match="no such file"):
        read_hold(tmp_path / "nowhere.toml")
    with pytest.raises(HoldFileError, match="directory"):
        read_hold(tmp_path)


PLAIN = """
fix = { lat = 48.1234, lon = 11.5678 }
inbound_course = 263
reference = "magnetic"
turns = "right"
"""
LEVELS = """
altitude_ft = 6000
levels_ft = [{ ft = 5000, circuit = 3 }, { ft = 4000, at = 2026-03-14T18:32:00Z }]
"""


def test_cleared_levels_are_read_with_their_circuit_or_time(tmp_path):
    first, second = read_hold(write(tmp_path, PLAIN + LEVELS)).levels
    assert (first.level_ft, first.from_circuit, first.from_utc) == (5000.0, 3, None)
    assert (second.level_ft, second.from_circuit, second.from_utc.isoformat()) == (
        4000.0, None, "2026-03-14T18:32:00+00:00",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("altitude_ft = 6000\nlevels_ft = [{ ft = 5000 }]", "circuit or at"),
        (
            "altitude_ft = 6000\nlevels_ft = [{ ft = 5000, circuit = 2, at = 2026-03-14T18:32:00Z }]",
            "circuit or at",
        ),
        ("altitude_ft = 6000\nlevels_ft = [{ ft = 5000, at = 2026-03-14T18:32:00 }]", "offset from UTC"),
        ("levels_ft = [{ ft = 5000, circuit = 2 }]", "altitude_ft"),
    ],
)
def test_a_cleared_level_without_its_when_is_refused(tmp_path, text, words):
    with pytest.raises(HoldFileError, match=words):
        read_hold(write(tmp_path, PLAIN + text))
