"""The right circuit in the wind that blew, flown in small steps: nothing of the analyser's arithmetic is used."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tests.flights.air import MPS
from tests.flights.aircraft import GRAVITY
from tests.flights.pilot import fold, rate_one_bank_deg
from tests.flights.rehearsal import rehearse
from tests.flights.truth import TrueCircuit

STEP_S = 0.1
#: The roll that a calm hand makes, degrees of bank per second.
ROLL_DPS = 5.0


@dataclass(frozen=True)
class Right:
    """What a circuit asked for: heading outbound, time on it by either clock, bank, inbound heading and time."""

    outbound_heading_deg: float
    from_wings_s: float
    from_abeam_s: float | None
    bank_deg: float
    inbound_heading_deg: float
    inbound_s: float


def right_circuit(
    circuit: TrueCircuit,
    *,
    course_deg: float,
    side: int,
    rules: str,
    leg_s: float,
    leg_nm: float | None = None,
) -> Right:
    """Find the right circuit for the wind and airspeed of one that was flown.

    Parameters
    ----------
    course_deg, side, rules, leg_s, leg_nm
        The hold, and which leg its rules time.
    """
    tas_kt, wind = circuit.tas_kt, circuit.wind_kt
    bank = rate_one_bank_deg(tas_kt, 25.0 if rules == "icao" else 30.0)
    still_m = tas_kt * MPS * leg_s
    heading, seconds = rehearse(
        course_deg=course_deg, side=side, tas_kt=tas_kt, bank_deg=bank, wind_kt=wind,
        inbound_m=still_m if rules == "icao" else None, inbound_s=leg_s, roll_dps=ROLL_DPS,
    )  # fmt: skip
    toward = math.radians(course_deg)
    across = wind[0] * math.cos(toward) - wind[1] * math.sin(toward)
    along = wind[0] * math.sin(toward) + wind[1] * math.cos(toward)
    lean = math.degrees(math.asin(max(-0.9, min(0.9, across / tas_kt))))
    inbound = (course_deg - lean) % 360.0
    ground_mps = (tas_kt * math.cos(math.radians(lean)) + along) * MPS
    inbound_s = still_m / ground_mps if rules == "icao" else leg_s
    abeam_s, level_s = _turn_out(inbound, heading, side, bank, tas_kt, wind, toward)
    from_abeam = None
    # Abeam after the roll-out, still within the leg, counts as well.
    if abeam_s is None:
        abeam_s = _abeam_after(inbound, heading, side, bank, tas_kt, wind, toward, seconds)
    if abeam_s is not None:
        from_abeam = level_s + seconds - abeam_s
    return Right(heading, seconds, from_abeam, bank, inbound, inbound_s)


def _steps(
    inbound: float,
    heading: float,
    side: int,
    bank: float,
    tas_kt: float,
    wind: tuple[float, float],
    after_s: float,
) -> tuple[list[tuple[float, float, float]], float]:
    """Fly the outbound turn and some of the leg; return time, east and north of each step, and wings level."""
    speed, turn_deg = tas_kt * MPS, (side * fold(heading - inbound)) % 360.0
    full = math.degrees(GRAVITY * math.tan(math.radians(bank)) / speed)
    roll_s = bank / ROLL_DPS
    # Rolled in and out evenly, a turn passes through what full bank would in the time less one roll, about.
    turned = 0.0
    steady_s = 0.0
    rolling = sum(
        math.degrees(GRAVITY * math.tan(math.radians(bank * (k + 0.5) * STEP_S / roll_s)) / speed) * STEP_S
        for k in range(round(roll_s / STEP_S))
    )
    steady_s = max((turn_deg - 2.0 * rolling) / full, 0.0)
    level_s = steady_s + 2.0 * roll_s
    east = north = time_s = 0.0
    rows = []
    now = inbound
    while time_s < level_s + after_s:
        rows.append((time_s, east, north))
        into = time_s + 0.5 * STEP_S
        tilt = bank * max(0.0, min(1.0, into / roll_s, (level_s - into) / roll_s))
        rate = math.degrees(GRAVITY * math.tan(math.radians(tilt)) / speed)
        middle = math.radians(now + side * 0.5 * rate * STEP_S)
        east += (speed * math.sin(middle) + wind[0] * MPS) * STEP_S
        north += (speed * math.cos(middle) + wind[1] * MPS) * STEP_S
        now += side * rate * STEP_S
        turned += rate * STEP_S
        time_s += STEP_S
    return rows, level_s


def _crossed(rows: list[tuple[float, float, float]], toward: float) -> float | None:
    along = [east * math.sin(toward) + north * math.cos(toward) for _, east, north in rows]
    for k in range(len(rows) - 1, 1, -1):
        if along[k - 1] > 0.0 >= along[k]:
            return rows[k][0]
    return None


def _turn_out(
    inbound: float,
    heading: float,
    side: int,
    bank: float,
    tas_kt: float,
    wind: tuple[float, float],
    toward: float,
) -> tuple[float | None, float]:
    rows, level_s = _steps(inbound, heading, side, bank, tas_kt, wind, 0.0)
    return _crossed(rows, toward), level_s


def _abeam_after(
    inbound: float, heading: float, side: int, bank: float, tas_kt: float, wind: tuple[float, float], toward: float,
    leg_s: float,
) -> float | None:  # fmt: skip
    rows, _ = _steps(inbound, heading, side, bank, tas_kt, wind, leg_s)
    return _crossed(rows, toward)
