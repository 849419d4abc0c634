"""What a time strip shows: a quantity, the bands it should have stayed in, and where it did not. Data only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Band:
    """Between which values a quantity should have stayed, and when.

    Attributes
    ----------
    start_s, end_s : float
    low, high, target : float
    narrows_to : float
        What part of the band's width is left at its end; 1 for an even band.
    """

    start_s: float
    end_s: float
    low: float
    high: float
    target: float
    narrows_to: float = 1.0

    def edges(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the lowest and the highest value allowed at each instant."""
        share = (time_s - self.start_s) / max(self.end_s - self.start_s, 1e-9)
        wide = 1.0 + share * (self.narrows_to - 1.0)
        return self.target + (self.low - self.target) * wide, self.target + (self.high - self.target) * wide


@dataclass(frozen=True)
class Outside:
    """One stretch of time out of tolerance."""

    start_s: float
    end_s: float
    worst_s: float
    worst: float
    beyond: float


@dataclass(frozen=True)
class Strip:
    """One quantity over time.

    Attributes
    ----------
    key : str
        Its name in the page's data: ``"altitude"``.
    title, unit : str
    decimals : int
        Of the numbers written beside the line.
    time_s, value : (n,) float array
    sd : (n,) float array or None
        One sigma; drawn as a wash two sigmas to either side.
    bands : sequence of Band
    metres : bool
        True for heights, which are also lettered in metres.
    outside : sequence of Outside
        The stretches out of tolerance, as the debrief file has them.
    """

    key: str
    title: str
    unit: str
    decimals: int
    time_s: FloatArray
    value: FloatArray
    sd: FloatArray | None = None
    bands: Sequence[Band] = field(default_factory=tuple)
    metres: bool = False
    outside: Sequence[Outside] = ()
