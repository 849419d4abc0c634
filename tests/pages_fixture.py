# ruff: noqa: E501 - invented numbers read best as a table
"""Invented flights for the page's tests: a point mass on a flat map, with its debrief made up beside it.

Nothing here is a measurement: the numbers only have to look like a hold, so that pages can be laid out
and tested without the rest of the program.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np

from analyser.circuits.flown import Circuit, Entry, FlownHold, Leg, Turn
from analyser.earth.plane import LocalPlane
from analyser.earth.wind import wind_components, wind_from
from analyser.holds.definition import Hold, LegLimit
from analyser.motion.motion import Motion

STEP_S = 1.0
INBOUND = 263.0
TAS = 108.0


@dataclass
class Pilot:
    """Where the point mass is and what it has left behind."""

    wind: tuple[float, float]
    east: float
    north: float
    heading: float
    time: float = 0.0

    def __post_init__(self) -> None:
        self.rows: list[tuple[float, float, float, float, float]] = []

    def step(self, bank: float) -> None:
        rate = math.degrees(9.80665 * math.tan(math.radians(bank)) / (TAS * 0.514444))
        self.rows.append((self.time, self.east, self.north, self.heading % 360.0, bank))
        self.heading += rate * STEP_S
        h = math.radians(self.heading)
        self.east += (TAS * math.sin(h) + self.wind[0]) * STEP_S / 3600.0
        self.north += (TAS * math.cos(h) + self.wind[1]) * STEP_S / 3600.0
        self.time += STEP_S

    def straight(self, seconds: float) -> tuple[float, float]:
        start = self.time
        while self.time - start < seconds:
            self.step(0.6 * math.sin(self.time / 7.0))
        return start, self.time

    def turn(self, to: float, bank: float, side: int) -> tuple[float, float]:
        start = self.time
        left = ((to - self.heading) * side) % 360.0
        goal = self.heading + side * left
        while (goal - self.heading) * side > 0.5:
            rolled = min(1.0, (self.time - start + 1.0) / 4.0)
            ending = min(1.0, max(0.25, (goal - self.heading) * side / 12.0))
            self.step(side * bank * min(rolled, ending) * (1.0 + 0.05 * math.sin(self.time / 3.0)))
        return start, self.time

    def cross_along(self) -> tuple[float, float]:
        c = math.radians(INBOUND)
        along = self.east * math.sin(c) + self.north * math.cos(c)
        cross = self.east * math.cos(c) - self.north * math.sin(c)
        return cross, along

    def home(self) -> tuple[float, float]:
        start = self.time
        while self.cross_along()[1] < 0.0 and self.time - start < 300.0:
            cross, _ = self.cross_along()
            drift = math.degrees(
                math.asin(
                    (
                        self.wind[0] * math.cos(math.radians(INBOUND))
                        - self.wind[1] * math.sin(math.radians(INBOUND))
                    )
                    / TAS
                )
            )
            want = INBOUND - drift - max(-20.0, min(20.0, cross * 90.0))
            error = (want - self.heading + 180.0) % 360.0 - 180.0
            self.step(max(-15.0, min(15.0, error * 1.5)))
        return start, self.time


def _turn(span: tuple[float, float], bank: float, side: int) -> Turn:
    return Turn(
        *span,
        0.6,
        0.6,
        side * 180.0,
        side * bank,
        0.3,
        side * (bank + 3.0),
        1.4,
        side * 3.0,
        span[0] + 4,
        span[1] - 4,
    )


def flown_hold(
    *,
    wind_from_true: float = 325.0,
    wind_kt: float = 19.0,
    turns: str = "right",
    circuits: int = 3,
    start_s: float = 0.0,
) -> FlownHold:
    """Fly an invented hold: direct entry, heading corrections too small at first and better later."""
    side = 1 if turns == "right" else -1
    wind = wind_components(wind_from_true, wind_kt)
    pilot = Pilot(wind, 3.2, 1.1, 252.0, start_s)
    pilot.straight(20)
    while pilot.cross_along()[1] < 0.0:
        aim = math.degrees(math.atan2(-pilot.east, -pilot.north))
        error = (aim + 4 - pilot.heading + 180.0) % 360.0 - 180.0
        pilot.step(max(-15.0, min(15.0, error)))
    fix_s = pilot.time
    flown = []
    begin = fix_s
    for number in range(1, circuits + 1):
        offset = (8.0, 16.0, 24.0, 27.0, 25.0, 26.0, 24.0, 25.0)[number - 1]
        seconds = (60.0, 52.0, 55.0, 57.0, 56.0, 58.0, 57.0, 56.0)[number - 1]
        pilot.straight(3)
        out = pilot.turn(
            INBOUND - 180.0 + (offset if wind_from_true < 353 and wind_from_true > 173 else -offset) * -1,
            17.5,
            side,
        )
        out_leg = pilot.straight(seconds)
        inb = pilot.turn(INBOUND + 6, 19.0 if number != 1 else 14.5, side)
        home = pilot.home()
        flown.append(
            Circuit(
                number, begin, home[1], True, _turn(out, 17.5, side),
                Leg(*out_leg, (INBOUND - 180 - offset) % 360, 1.2, (INBOUND - 180) % 360), out_leg[0] + 3,
                _turn(inb, 19.0 if number != 1 else 14.5, side), Leg(*home, INBOUND + 8, 1.0, INBOUND),
                wind[0] + 0.4 * number, wind[1], 0.7, TAS, 0.8,
            )
        )  # fmt: skip
        begin = home[1]
    pilot.straight(40)
    rows = np.array(pilot.rows)
    n = len(rows)
    t = rows[:, 0]
    full = np.full
    h = np.radians(rows[:, 3])
    tas = TAS + 2.5 * np.sin(t / 40.0)
    motion = Motion(
        LocalPlane(47.0, 8.0), t, rows[:, 1], rows[:, 2], 4000 + 60 * np.sin(t / 50) + 70 * np.exp(-(((t - 330) / 25) ** 2)),
        tas * np.sin(h) + wind[0], tas * np.cos(h) + wind[1], full(n, wind[0]), full(n, wind[1]), full(n, 0.8),
        tas, full(n, 1.0), rows[:, 3], full(n, 1.0), np.gradient(np.unwrap(rows[:, 3], period=360), t), rows[:, 4], full(n, 0.8),
        tas - 6.0, full(n, 1.5), np.zeros(n, bool), wind[0], wind[1], 0.7, TAS, 0.6, 1.8,
        {"bank": "derived", "heading": "derived", "tas": "derived", "ias": "derived", "wind": "derived"},
    )  # fmt: skip
    hold = Hold(
        47.0, 8.0, INBOUND, "right" if side > 0 else "left", LegLimit(minutes=1.0), "Invented practice hold"
    )
    entry = Entry(fix_s, fix_s, 252.0, 1.5, "direct", None, ())
    return FlownHold(hold, False, hold, 0.05, 1.1, motion, entry, tuple(flown), fix_s, begin)


def _score(
    points: float | None, value: float | None, target: float | None, tolerance: float | None, verdict: str
) -> dict[str, Any]:
    return {"points": points, "value": value, "target": target, "tolerance": tolerance, "verdict": verdict, "sd": 1.2, "how": "derived", "rule": "an invented rule"}


def _circuit(flown: Circuit) -> dict[str, Any]:
    assert flown.outbound_turn and flown.inbound_turn and flown.outbound_leg and flown.inbound_leg
    k = flown.number
    return {
        "number": k, "start_s": flown.start_s, "end_s": flown.end_s, "complete": True,
        "outbound_turn": {"start_s": flown.outbound_turn.start_s, "end_s": flown.outbound_turn.end_s, "bank_mean": 17.5, "bank_max": 20.4, "rate_mean": 3.0},
        "outbound_leg": {"start_s": flown.outbound_leg.start_s, "end_s": flown.outbound_leg.end_s, "abeam_s": flown.abeam_s,
                         "timed_s": flown.outbound_leg.duration_s - 3, "heading_true": flown.outbound_leg.heading_deg, "track_true": 83.0,
                         "ideal_heading_true": 57.4, "ideal_timed_s": 55.2},
        "inbound_turn": {"start_s": flown.inbound_turn.start_s, "end_s": flown.inbound_turn.end_s, "bank_mean": flown.inbound_turn.bank_mean_deg,
                         "bank_max": 22.5, "rate_mean": 3.1, "rollout_cross_track_nm": 0.31 / k},
        "inbound_leg": {"start_s": flown.inbound_leg.start_s, "end_s": flown.inbound_leg.end_s, "duration_s": flown.inbound_leg.duration_s,
                        "ideal_duration_s": 60.0, "cross_track_rms_nm": 0.12 / k, "cross_track_max_nm": 0.31 / k, "heading_true": 270.4},
        "fix_miss_nm": 0.04, "altitude_error_max_ft": 130.0 if k == 2 else -64.0, "speed_error_max_kt": -4.2,
        "wind": {"east_kt": flown.wind_east_kt, "north_kt": flown.wind_north_kt, "sd_kt": 0.7},
        "error_budget": [
            {"cause": "outbound_heading", "cross_track_nm": 0.24 / k, "along_track_nm": 0.02, "time_s": 0.4, "advice": "Steer 054° outbound, not 075°: the wind needs 26° of correction."},
            {"cause": "inbound_turn_bank", "cross_track_nm": 0.09 / k, "along_track_nm": -0.06, "time_s": -1.9, "advice": "Hold 18° of bank in the inbound turn, not 14°."},
            {"cause": "outbound_time", "cross_track_nm": 0.0, "along_track_nm": 0.12, "time_s": 4.3, "advice": "Turn in 4 s earlier."},
            {"cause": "fix_crossing", "cross_track_nm": -0.02, "along_track_nm": 0.01, "time_s": 0.2, "advice": None},
        ],
        "scores": {
            "timing": _score(82.0, 61.4, 55.2, 10.0, "within"),
            "bank": _score(74.0 + k, 17.9, 17.8, 5.0, "within"),
            "wind_correction": _score(30.0 + 20 * k, 8.0 * k, 25.6, 5.0, "outside"),
            "track": _score(66.0, 4.4, 0.0, 5.0, "within"),
            "altitude": _score(54.0 if k == 2 else 90.0, 130.0 if k == 2 else 64.0, 0.0, 100.0, "outside" if k == 2 else "within") | {"unit": "ft", "reference": 4000.0},
            "speed": _score(None, None, None, 10.0, "not judged") if k == 3 else _score(91.0, -4.2, 0.0, 10.0, "within") | {"unit": "kt", "reference": 102.0},
        },
        "reflown": [
            {"cause": "outbound_heading", "east_nm": [0.0, 1.0, 2.1, 0.0], "north_nm": [0.0, 1.1, 0.4, 0.0]},
            {"cause": "all", "east_nm": [0.0, 1.0, 2.0, 0.0], "north_nm": [0.0, 1.0, 0.3, 0.0]},
        ],
        "points": 60.0 + 6 * k,
    }  # fmt: skip


def _hold(flown: FlownHold) -> dict[str, Any]:
    m = flown.motion
    assert flown.entry
    return {
        "definition": "inferred", "name": flown.hold.name, "fix": {"lat": 47.0, "lon": 8.0, "sd_nm": 0.05},
        "inbound_course_true": INBOUND, "inbound_course_magnetic": INBOUND - 3.2, "variation": 3.2,
        "turns": flown.hold.turns, "leg": {"minutes": 1.0}, "rules": "icao", "start_s": flown.start_s, "end_s": flown.end_s,
        "wind": {"from_true": wind_from(m.wind_mean_east_kt, m.wind_mean_north_kt)[0], "speed_kt": float(np.hypot(m.wind_mean_east_kt, m.wind_mean_north_kt)),
                 "east_kt": m.wind_mean_east_kt, "north_kt": m.wind_mean_north_kt, "sd_kt": 0.7, "source": "turns"},
        "tas_kt": TAS, "tas_sd_kt": 0.6, "altitude_ft": 4000.0,
        "entry": {"fix_s": flown.entry.fix_s, "arrival_heading_true": 252.0, "sectors_allowed": ["direct"], "flown": "direct", "verdict": "correct"},
        "circuits": [_circuit(c) for c in flown.circuits], "points": 72.0, "grade": "3 adequate",
    }  # fmt: skip


def debrief_of(*flown: FlownHold, name: str = "invented_evening.gpx") -> tuple[Any, dict[str, Any]]:
    """Return something shaped like a Debrief, and its document."""
    from datetime import UTC, datetime

    track = SimpleNamespace(name=name, start_utc=datetime(2026, 3, 14, 17, 5, tzinfo=UTC))
    holds = tuple(SimpleNamespace(flown=one, judged=None) for one in flown)
    miss = None if flown else "one turn of 180° at 17:20:10, with no second one within 5 minutes"
    debrief = SimpleNamespace(track=track, holds=holds, nearest_miss=miss, regime="icao", standard="standard")
    document = {
        "schema": 1,
        "log": {"name": name, "format": "gpx", "sha256": "ab" * 32, "samples": 1200, "duration_s": 1200.0, "interval_s": 1.0,
                "start_utc": "2026-03-14T17:05:00Z", "channels": ["position", "altitude"],
                "notices": [{"code": "altitude-datum", "message": "Altitude is height above the ellipsoid or sea level: the file does not say which."}]},
        "holds": [_hold(one) for one in flown],
    }  # fmt: skip
    return debrief, document
