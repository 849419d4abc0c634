"""How the good pilot finds the outbound heading and time: by flying the circuit in the head, again and again."""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import root

from tests.flights.air import MPS
from tests.flights.aircraft import GRAVITY


def _turn_m(
    heading_deg: float,
    side: int,
    degrees: float,
    bank_deg: float,
    tas_kt: float,
    wind: complex,
    roll_dps: float,
) -> tuple[complex, float]:
    """Return where a turn leads (complex: east + i north) and how long it takes, by stepping through it."""
    speed = tas_kt * MPS
    rate = math.degrees(GRAVITY * math.tan(math.radians(bank_deg)) / speed)
    rolling = bank_deg / roll_dps
    duration = degrees / rate + rolling
    pieces = int(np.ceil(duration / 0.5))
    time = (np.arange(pieces) + 0.5) * duration / pieces
    bank = np.clip(np.minimum(time, duration - time) * roll_dps, 0.0, bank_deg)
    rates = np.tan(np.radians(bank))
    turned = np.cumsum(rates) - 0.5 * rates
    heading = np.radians(heading_deg + side * degrees * turned / rates.sum())
    moved = speed * duration * complex(np.sin(heading).mean(), np.cos(heading).mean()) + wind * duration
    return moved, duration


#: A miss that no circuit has, hectometres.
_NOWHERE = 1e3


def rehearse(
    *,
    course_deg: float,
    side: int,
    tas_kt: float,
    bank_deg: float,
    wind_kt: tuple[float, float],
    inbound_m: float | None,
    inbound_s: float,
    roll_dps: float = 5.0,
) -> tuple[float, float]:
    """Find the outbound heading and the seconds on it, wings level to leaving level, that close the circuit.

    The inbound leg is to be ``inbound_m`` long over the ground, or to last ``inbound_s`` where that is None.
    Where the wind leaves no such circuit, the shortest outbound leg that is still flown is five seconds.
    """
    toward = math.radians(course_deg)
    wind = complex(*wind_kt) * MPS
    along = complex(math.sin(toward), math.cos(toward))
    across_kt = wind_kt[0] * math.cos(toward) - wind_kt[1] * math.sin(toward)
    lean = math.degrees(math.asin(max(-0.9, min(0.9, across_kt / tas_kt))))
    inbound_heading = course_deg - lean
    radians = math.radians(inbound_heading)
    ground = tas_kt * MPS * complex(math.sin(radians), math.cos(radians)) + wind
    length = inbound_m if inbound_m is not None else inbound_s * abs(ground)

    def miss(x: np.ndarray) -> list[float]:
        offset, out_s = float(x[0]), float(x[1])
        if not abs(offset) < 180.0 or not math.isfinite(out_s):
            # The solver gropes where no circuit is: a turn of nothing, or the other way round, leads nowhere.
            return [_NOWHERE, _NOWHERE]
        out = math.radians(inbound_heading + 180.0 + offset)
        first, _ = _turn_m(inbound_heading, side, 180.0 + side * offset, bank_deg, tas_kt, wind, roll_dps)
        leg = (tas_kt * MPS * complex(math.sin(out), math.cos(out)) + wind) * out_s
        last, _ = _turn_m(
            inbound_heading + 180.0 + offset, side, 180.0 - side * offset, bank_deg, tas_kt, wind, roll_dps
        )
        end = first + leg + last + along * length
        return [end.real / 100.0, end.imag / 100.0]

    # The drift of both turns has to be carried back by the outbound leg: the offset starts from "triple".
    found = root(miss, [2.0 * lean + lean, 60.0], method="hybr")
    offset, out_s = float(found.x[0]), float(found.x[1])
    if not found.success or out_s < 5.0 or abs(offset) > 75.0:
        offset, out_s = max(-50.0, min(50.0, 3.0 * lean)), max(5.0, min(np.nan_to_num(out_s), 240.0))
    # Nobody flies to more than a tenth of a degree or second; and rounding hides which library solved it.
    return round((inbound_heading + 180.0 + offset) % 360.0, 1), round(out_s, 1)
