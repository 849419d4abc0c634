"""The wind fit as a linear problem: what is observed, what is to be known, and what is thought of it beforehand."""

from __future__ import annotations

import numpy as np

from analyser.frozen import dataclass
from analyser.logs.track import FloatArray

#: Prior of a wind shear, knots per axis per 1,000 ft: common practice, two to three.
SHEAR_KT_PER_KFT = 2.5
#: Prior of the mean wind, knots per axis: what weather does (common practice). A good log outweighs it a
#: thousandfold; a bad one should not be believed when it tells of a storm.
WIND_PRIOR_KT = 25.0


@dataclass(frozen=True)
class WindProblem:
    """Everything that stays the same while hyper-parameters are tried."""

    time_s: FloatArray
    east_kt: FloatArray
    north_kt: FloatArray
    factor: FloatArray
    reference_kt: FloatArray
    wind_rows: FloatArray
    knots: int

    def air_direction(self, parameters: FloatArray) -> FloatArray:
        """Return the unit vectors of the air velocity, towards east and north: (n, 2)."""
        k = self.knots
        east = self.east_kt - self.wind_rows @ np.append(parameters[:k], parameters[2 * k])
        north = self.north_kt - self.wind_rows @ np.append(parameters[k : 2 * k], parameters[2 * k + 1])
        unit: FloatArray = np.column_stack([east, north]) / np.maximum(np.hypot(east, north), 1e-6)[:, None]
        return unit

    def linearised(self, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the design of the residual |v − w| − V and the observation it is fitted to."""
        k = self.knots
        east = self.wind_rows @ np.append(parameters[:k], parameters[2 * k])
        north = self.wind_rows @ np.append(parameters[k : 2 * k], parameters[2 * k + 1])
        air_east, air_north = self.east_kt - east, self.north_kt - north
        speed = np.maximum(np.hypot(air_east, air_north), 1e-6)
        unit_east, unit_north = (air_east / speed)[:, None], (air_north / speed)[:, None]
        # d|v − w|/dw = −u; moved to the other side the wind's column is +u and the airspeed's +factor.
        design = np.column_stack(
            [
                unit_east * self.wind_rows[:, :k],
                unit_north * self.wind_rows[:, :k],
                unit_east * self.wind_rows[:, k:],
                unit_north * self.wind_rows[:, k:],
                self.factor,
            ]
        )
        residual = speed - self.reference_kt - self.factor * parameters[-1]
        return design, residual + design @ parameters


def wind_prior(knots: int, change_kt: float) -> FloatArray:
    """Return the precision of the parameters: a random walk of the wind, a mild shear, a free airspeed.

    Parameters
    ----------
    knots : int
    change_kt : float
        Sigma of the wind's change from knot to knot, per axis.

    Returns
    -------
    (2k + 3, 2k + 3) float array
    """
    walk = np.diff(np.eye(knots), axis=0)
    axis = walk.T @ walk / change_kt**2 + np.full((knots, knots), 1.0 / (knots * WIND_PRIOR_KT) ** 2)
    precision = np.zeros((2 * knots + 3, 2 * knots + 3))
    precision[:knots, :knots] = axis
    precision[knots : 2 * knots, knots : 2 * knots] = axis
    precision[2 * knots, 2 * knots] = precision[2 * knots + 1, 2 * knots + 1] = SHEAR_KT_PER_KFT**-2
    precision[-1, -1] = 1e-6
    return precision


def hats(time_s: FloatArray, knots_s: FloatArray) -> FloatArray:
    """Write linear interpolation between knots as a matrix; held beyond the ends.

    Parameters
    ----------
    time_s : (n,) float array
    knots_s : (k,) float array
        Evenly apart.

    Returns
    -------
    (n, k) float array
    """
    if knots_s.size == 1:
        return np.ones((time_s.size, 1))
    place = np.clip((time_s - knots_s[0]) / (knots_s[1] - knots_s[0]), 0.0, knots_s.size - 1.0)
    cell = np.minimum(place.astype(np.int64), knots_s.size - 2)
    rows = np.zeros((time_s.size, knots_s.size))
    index = np.arange(time_s.size)
    rows[index, cell] = 1.0 - (place - cell)
    rows[index, cell + 1] = place - cell
    return rows
