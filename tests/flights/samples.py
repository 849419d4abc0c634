"""Make ``sample_logs/`` anew, byte for byte: ``python -m tests.flights.samples [FOLDER]``.

Every place, aircraft and pilot is invented: the fixes lie in the open ocean and no such holds are published.
"""

from __future__ import annotations

import sys
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
from pygeomag import GeoMag

from tests.flights.air import Air
from tests.flights.aircraft import Hand
from tests.flights.flight import Flight, Seen, make_flight, see
from tests.flights.hold_plan import FlightPlan, Habits, HoldPlan, Incident
from tests.flights.instruments import with_air_data
from tests.flights.other import make_other
from tests.flights.other_moves import aerodrome_circuits, procedure_turn, s_turns, steep_turns
from tests.flights.receiver import Receiver
from tests.flights.receiver_faults import Faults
from tests.flights.write import instant, write_gpx, write_table

NOTE = "Invented flight over an imaginary place, for practice only. Not for navigation."
OCEAN = (46.5, -33.0)
FOLDER = Path(__file__).resolve().parents[2] / "sample_logs"
DAY = date(2026, 5, 4)


def variation_deg(lat: float, lon: float, altitude_ft: float) -> float:
    """Return the magnetic variation on the day of the flights, east positive (WMM2025)."""
    found = GeoMag().calculate(glat=lat, glon=lon, alt=altitude_ft * 0.0003048, time=DAY.year + 0.34)
    return float(found.d)


def first_lesson(folder: Path) -> None:
    """Direct entry, a measuring circuit without correction, then better and better: 1 Hz GPX, hold file."""
    hold = HoldPlan(
        course_deg=263.0, circuits=4, arrival_heading_deg=275.0, arrival_nm=5.0,
        habits=Habits(late_at_fix_s=1.0, timing_error_s=2.0),
        incidents={1: Incident(drift="none"), 2: Incident(drift="single"), 3: Incident(drift="triple")},
    )  # fmt: skip
    plan = FlightPlan(
        seed=101, lat_deg=OCEAN[0], lon_deg=OCEAN[1], tas_kt=104.0, altitude_ft=4000.0,
        air=Air(205.0, 17.0, 4000.0, gust_kt=1.0), hand=Hand(tas_wander_kt=1.0), holds=(hold,),
    )  # fmt: skip
    seen = see(make_flight(plan), Receiver(), 101)
    start = datetime(2026, 5, 4, 9, 12, 7, tzinfo=UTC)
    write_gpx(folder / "first_lesson.gpx", seen, start, NOTE)
    magnetic = (263.0 - variation_deg(*OCEAN, 4000.0)) % 360.0
    _hold_file(
        folder / "first_lesson.toml", "Practice hold, first lesson", OCEAN, magnetic, "right",
        ['reference = "magnetic"', "leg = { minutes = 1.0 }", "altitude_ft = 4000", "speed_kias = 98",
         'category = "A"', 'reported_wind = "210/15"'],
    )  # fmt: skip


def parallel_air_data(folder: Path) -> None:
    """Parallel entry, right hand, with the aircraft's own instruments: a 10 Hz table, hold file."""
    hold = HoldPlan(
        course_deg=40.0, circuits=2, entry="parallel", arrival_heading_deg=252.0, arrival_nm=4.0,
        departure_s=60.0, habits=Habits(drift="triple", clock="inbound"),
    )  # fmt: skip
    place = (44.2, -31.4)
    plan = FlightPlan(
        seed=102, lat_deg=place[0], lon_deg=place[1], tas_kt=118.0, altitude_ft=5000.0,
        air=Air(310.0, 22.0, 5000.0, gust_kt=1.5), hand=Hand(tas_wander_kt=1.5, bank_wander_deg=1.0),
        holds=(hold,),
    )  # fmt: skip
    flight = make_flight(plan)
    seen = see(flight, Receiver(interval_s=0.1, white_m=0.05), 102)
    seen = with_air_data(flight, seen, 102, variation_deg=variation_deg(*place, 5000.0))
    _table_10_hz(folder / "parallel_air_data.csv", seen, datetime(2026, 5, 4, 13, 40, 0, tzinfo=UTC))
    _hold_file(
        folder / "parallel_air_data.toml", "Practice hold, parallel entry", place, 40.0, "right",
        ['reference = "true"', "leg = { minutes = 1.0 }", "altitude_ft = 5000", "speed_kias = 109"],
    )  # fmt: skip


def _table_10_hz(path: Path, seen: Seen, start: datetime) -> None:
    assert seen.altitude_ft is not None
    header = [
        "UTC", "Latitude (deg)", "Longitude (deg)", "Altitude (ft)", "IAS (kt)", "TAS (kt)",
        "Heading magnetic (deg)", "Bank (deg)", "OAT (C)",
    ]  # fmt: skip
    names = ("ias_kt", "tas_kt", "heading_magnetic_deg", "bank_deg", "outside_air_temperature_c")
    rows = [
        [
            instant(start, float(seen.time_s[i]), places=1),
            f"{seen.lat_deg[i]:.7f}",
            f"{seen.lon_deg[i]:.7f}",
            f"{seen.altitude_ft[i]:.0f}",
            *(f"{seen.others[name][i]:.1f}" for name in names),
        ]
        for i in range(seen.time_s.size)
    ]
    write_table(path, header, rows)


def offset_five_seconds(folder: Path) -> None:
    """Offset entry, left hand, every five seconds or so, positions in a semicolon table; no hold file."""
    hold = HoldPlan(
        course_deg=118.0, side=-1, circuits=3, entry="offset", arrival_heading_deg=325.0, arrival_nm=6.0,
        habits=Habits(drift="exact"),
    )  # fmt: skip
    plan = FlightPlan(
        seed=103, lat_deg=-41.7, lon_deg=-25.3, tas_kt=138.0, altitude_ft=7000.0,
        air=Air(250.0, 24.0, 7000.0, gust_kt=1.0), hand=Hand(tas_wander_kt=1.5), holds=(hold,),
    )  # fmt: skip
    seen = see(make_flight(plan), Receiver(interval_s=5.0, irregular=0.5), 103)
    assert seen.altitude_ft is not None
    rows = [
        [f"{t:.1f}", f"{lat:.6f}", f"{lon:.6f}", f"{feet * 0.3048:.0f}"]
        for t, lat, lon, feet in zip(seen.time_s, seen.lat_deg, seen.lon_deg, seen.altitude_ft, strict=True)
    ]
    write_table(folder / "offset_five_seconds.csv", ["elapsed_s", "lat", "lon", "alt_m"], rows, ";")


def high_level(folder: Path) -> None:
    """Above 14,000 ft: legs of a minute and a half, 25° of bank, right hand, parallel entry; 1 Hz GPX."""
    hold = HoldPlan(
        course_deg=330.0, circuits=3, entry="parallel", arrival_heading_deg=182.0, arrival_nm=8.0,
        leg_s=90.0, habits=Habits(drift="exact", bank_error_deg=0.7),
    )  # fmt: skip
    place = (38.9, -29.2)
    plan = FlightPlan(
        seed=104, lat_deg=place[0], lon_deg=place[1], tas_kt=236.0, altitude_ft=16000.0,
        air=Air(265.0, 33.0, 16000.0, gust_kt=0.8), hand=Hand(tas_wander_kt=1.5, roll_rate_dps=4.0),
        holds=(hold,),
    )  # fmt: skip
    seen = see(make_flight(plan), Receiver(interval_s=1.0), 104)
    write_gpx(folder / "high_level.gpx", seen, datetime(2026, 5, 5, 6, 3, 30, tzinfo=UTC), NOTE)
    _hold_file(
        folder / "high_level.toml", "Practice hold at flight level 160", place, 330.0, "right",
        ['reference = "true"', "altitude_ft = 16000"],
    )  # fmt: skip


def strong_wind(folder: Path) -> None:
    """Thirty-six knots of wind, and a pilot who corrects on no outbound leg; left hand, direct; 2 s GPX."""
    hold = HoldPlan(
        course_deg=85.0, side=-1, circuits=3, arrival_heading_deg=105.0,
        habits=Habits(drift="none", timing_error_s=7.0, bank_error_deg=3.0, late_at_fix_s=4.0),
    )  # fmt: skip
    plan = FlightPlan(
        seed=105, lat_deg=45.1, lon_deg=-36.8, tas_kt=97.0, altitude_ft=3000.0,
        air=Air(20.0, 36.0, 3000.0, gust_kt=2.5),
        hand=Hand(tas_wander_kt=3.0, bank_wander_deg=2.0, heading_wander_deg=2.0, altitude_wander_ft=60.0),
        holds=(hold,),
    )  # fmt: skip
    seen = see(make_flight(plan), Receiver(interval_s=2.0), 105)
    write_gpx(folder / "strong_wind.gpx", seen, datetime(2026, 5, 6, 15, 21, 0, tzinfo=UTC), NOTE)
    # Flown like this, the track alone does not tell what course was meant.
    _hold_file(
        folder / "strong_wind.toml", "Practice hold in a strong wind", (45.1, -36.8), 85.0, "left",
        ['reference = "true"', "leg = { minutes = 1.0 }", "altitude_ft = 3000", "speed_kias = 93"],
    )  # fmt: skip


def down_the_stack(folder: Path) -> None:
    """A quick aircraft a thousand feet lower each circuit, through wind that changes: 2 s tab table."""
    hold = HoldPlan(
        course_deg=205.0, circuits=4, arrival_heading_deg=222.0, arrival_nm=8.0, descend_ft=1000.0,
        habits=Habits(drift="exact", bank_error_deg=0.7),
    )  # fmt: skip
    plan = FlightPlan(
        seed=106, lat_deg=43.0, lon_deg=-38.5, tas_kt=228.0, altitude_ft=12000.0,
        air=Air(275.0, 36.0, 12000.0, shear_kt_per_kft=(2.2, -1.2), gust_kt=0.8),
        hand=Hand(tas_wander_kt=1.5, roll_rate_dps=4.0), holds=(hold,),
    )  # fmt: skip
    seen = see(make_flight(plan), Receiver(interval_s=2.0), 106)
    assert seen.altitude_ft is not None
    start = datetime(2026, 5, 7, 23, 48, 0, tzinfo=UTC)
    rows = []
    for t, lat, lon, feet in zip(seen.time_s, seen.lat_deg, seen.lon_deg, seen.altitude_ft, strict=True):
        day, clock = instant(start, float(t))[:-1].split("T")
        rows.append([day, clock, f"{lat:.6f}", f"{lon:.6f}", f"{feet:.0f}"])
    write_table(
        folder / "down_the_stack.tsv",
        ["Date", "Time UTC", "Latitude", "Longitude", "Altitude (ft)"],
        rows,
        "\t",
    )


def two_holds(folder: Path) -> None:
    """Two holds at two fixes, the first left and offset, the second right and direct; 1 Hz GPX."""
    first = HoldPlan(
        course_deg=310.0, side=-1, circuits=2, entry="offset", arrival_heading_deg=150.0,
        departure_turn_deg=-30.0, departure_s=60.0, habits=Habits(drift="triple"),
    )  # fmt: skip
    second = HoldPlan(
        course_deg=70.0, side=1, circuits=2, arrival_heading_deg=40.0, arrival_nm=5.0,
        fix_m=(23000.0, 17000.0), habits=Habits(drift="exact"),
    )  # fmt: skip
    plan = FlightPlan(
        seed=107, lat_deg=42.4, lon_deg=-28.6, tas_kt=126.0, altitude_ft=6000.0,
        air=Air(180.0, 14.0, 6000.0, gust_kt=1.0), hand=Hand(tas_wander_kt=1.2), holds=(first, second),
    )  # fmt: skip
    seen = see(make_flight(plan), Receiver(), 107)
    write_gpx(folder / "two_holds.gpx", seen, datetime(2026, 5, 8, 10, 30, 0, tzinfo=UTC), NOTE)


def tracking_network(folder: Path) -> None:
    """What a tracking network makes of a hold: clocks that wander, every second row made up between two: 5 s table."""
    hold = HoldPlan(
        course_deg=152.0, circuits=3, arrival_heading_deg=170.0, arrival_nm=9.0, habits=Habits(drift="exact")
    )
    place = (41.6, -31.9)
    plan = FlightPlan(
        seed=109, lat_deg=place[0], lon_deg=place[1], tas_kt=178.0, altitude_ft=8000.0,
        air=Air(230.0, 24.0, 8000.0, gust_kt=1.0), hand=Hand(tas_wander_kt=1.5), holds=(hold,),
    )  # fmt: skip
    faults = Faults(jitter_s=1.0, rows_s=5.0, speed_noise_kt=1.0)
    seen = see(make_flight(plan), Receiver(interval_s=10.0, faults=faults), 109)
    assert seen.altitude_ft is not None
    start = datetime(2026, 5, 10, 11, 2, 0, tzinfo=UTC)
    rows = [
        [
            instant(start, float(seen.time_s[i])),
            f"{seen.lat_deg[i]:.6f}",
            f"{seen.lon_deg[i]:.6f}",
            f"{25.0 * np.round(seen.altitude_ft[i] / 25.0):.0f}",
            f"{seen.others['ground_speed_kt'][i]:.0f}",
            f"{seen.others['track_true_deg'][i]:.0f}",
        ]
        for i in range(seen.time_s.size)
    ]
    header = ["time_utc", "latitude", "longitude", "altitude_ft", "ground_speed_kt", "track_true_deg"]
    write_table(folder / "tracking_network.csv", header, rows)
    _hold_file(
        folder / "tracking_network.toml", "Practice hold as a network saw it", place, 152.0, "right",
        ['reference = "true"', "leg = { minutes = 1.0 }", "altitude_ft = 8000"],
    )  # fmt: skip


def no_hold(folder: Path) -> None:
    """A training flight that holds nowhere: steep turns, S-turns, a procedure turn, circuits; 2 s GPX."""
    flight = make_other(108, (steep_turns, s_turns, procedure_turn, aerodrome_circuits), hours=0.6)
    over_the_ocean = Flight("no hold", (40.3, -34.9), flight.series)
    seen = see(over_the_ocean, Receiver(interval_s=2.0), 108)
    write_gpx(folder / "no_hold.gpx", seen, datetime(2026, 5, 9, 8, 15, 0, tzinfo=UTC), NOTE)


def _hold_file(
    path: Path, name: str, fix: tuple[float, float], course_deg: float, turns: str, more: list[str]
) -> None:
    lines = [
        f"# {NOTE}",
        f'name = "{name}"',
        f"fix = {{ lat = {fix[0]:.5f}, lon = {fix[1]:.5f} }}",
        f"inbound_course = {np.round(course_deg, 1)}",
        f'turns = "{turns}"',
        *more,
    ]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


SAMPLES = (
    first_lesson, parallel_air_data, offset_five_seconds, high_level, strong_wind, down_the_stack, two_holds,
    tracking_network, no_hold,
)  # fmt: skip


def make_samples(folder: Path) -> None:
    """Write every sample into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for sample in SAMPLES:
        sample(folder)


if __name__ == "__main__":
    make_samples(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
