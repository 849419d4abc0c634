"""What every log becomes: one aircraft's samples in the program's own words and units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from datetime import datetime
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass
from analyser.logs.track_errors import TrackErrors, track_errors

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Channel:
    """Something that is measured at every sample."""

    #: What a pilot calls it.
    word: str
    #: What a value can be, in the unit of the channel's name: outside is a recorder's mark for "none" (−999, 65535 …).
    least: float
    most: float


#: The canonical channels. A reader may fill any of them; NaN where a sample has none.
CHANNELS: Mapping[str, Channel] = {
    # What the log calls altitude; its datum is in the notices.
    "altitude_ft": Channel("altitude", -2_000.0, 70_000.0),
    "ground_speed_kt": Channel("ground speed", 0.0, 1_200.0),
    "track_true_deg": Channel("track", -360.0, 720.0),
    "heading_true_deg": Channel("true heading", -360.0, 720.0),
    "heading_magnetic_deg": Channel("magnetic heading", -360.0, 720.0),
    # Positive right wing down.
    "bank_deg": Channel("bank", -180.0, 360.0),
    "pitch_deg": Channel("pitch", -90.0, 90.0),
    "ias_kt": Channel("indicated airspeed", 0.0, 700.0),
    "tas_kt": Channel("true airspeed", 0.0, 1_000.0),
    # Where the wind comes FROM.
    "wind_from_true_deg": Channel("wind direction", -360.0, 720.0),
    "wind_speed_kt": Channel("wind speed", 0.0, 350.0),
    "outside_air_temperature_c": Channel("outside air temperature", -110.0, 70.0),
    "vertical_speed_fpm": Channel("vertical speed", -30_000.0, 30_000.0),
}

#: Channels that count round the circle.
DIRECTIONS = ("track_true_deg", "heading_true_deg", "heading_magnetic_deg", "wind_from_true_deg")
#: What is said of an altitude that a barometer gives.
PRESSURE_DATUM = (
    "pressure altitude on 1013.25 hPa: below the transition level it differs from the indicated altitude"
)


@dataclass(frozen=True)
class Notice:
    """Something odd in a log, said once, in words a pilot understands."""

    #: Stable, lower-case words joined by hyphens, for programs: ``"time-duplicate"``.
    code: str
    #: What was found, where, and what was done about it.
    message: str


@dataclass(frozen=True)
class Seam:
    """An instant at which time was taken out of a log, or put in: nothing across it can be timed."""

    #: Seconds from the log's first sample, as flown.
    time_s: float
    #: How much was taken out there; negative where it was put in.
    removed_s: float


@dataclass(frozen=True)
class Source:
    """What became of one column (or element) of a log."""

    #: Its name in the file. Untrusted text.
    column: str
    #: What it was taken for: ``"time"``, ``"position"``, a key of :data:`CHANNELS`; empty where ignored.
    channel: str
    #: The unit it was read in; empty where it has none.
    unit: str
    #: ``"recognised"`` (the file says it), ``"assumed"`` (decided from the data or by common practice),
    #: ``"told"`` (the person said so) or ``"ignored"``.
    standing: str
    #: Why it was assumed or ignored; empty where it was recognised.
    why: str = ""


@dataclass(frozen=True)
class Track:
    """One aircraft's recorded flight."""

    #: The log file's name (untrusted text: escape it). Several aircraft in one file get a suffix.
    name: str
    #: Name of a format of :data:`analyser.logs.formats.FORMATS`: ``"gpx"``, ``"table"`` …
    format: str
    #: Of the file's bytes as they lie on disk.
    sha256: str
    #: (n,) seconds since the first sample; strictly increasing; the log's clock, never the row number.
    time_s: FloatArray
    #: (n,) WGS84 degrees, finite; longitude in [-180, 180).
    lat_deg: FloatArray
    lon_deg: FloatArray
    #: Keys from :data:`CHANNELS`; NaN where a sample lacks the value. Absent channels have no key.
    channels: Mapping[str, FloatArray] = field(default_factory=dict)
    #: UTC of the first sample (aware), None where the log has no date.
    start_utc: datetime | None = None
    notices: tuple[Notice, ...] = ()
    #: What each column or element of the file became.
    sources: tuple[Source, ...] = ()
    #: Pauses of simulator or recorder, and the ends of accelerated time.
    seams: tuple[Seam, ...] = ()

    @cached_property
    def errors(self) -> TrackErrors:
        """How the track errs: its true samples, its clock, its places."""
        return track_errors(self.time_s, self.lat_deg, self.lon_deg)

    @property
    def samples(self) -> int:
        """Number of samples."""
        return int(self.time_s.size)

    @property
    def duration_s(self) -> float:
        """Seconds from the first sample to the last."""
        return float(self.time_s[-1] - self.time_s[0])

    @property
    def interval_s(self) -> float:
        """Median seconds between neighbouring samples."""
        return float(np.median(np.diff(self.time_s)))

    def take(self, samples: slice | NDArray[np.bool_]) -> Track:
        """Return the track with only some samples, its clock as it was."""
        return replace(
            self,
            time_s=self.time_s[samples],
            lat_deg=self.lat_deg[samples],
            lon_deg=self.lon_deg[samples],
            channels={name: values[samples] for name, values in self.channels.items()},
        )

    def channel(self, name: str) -> FloatArray:
        """Return a channel (:data:`CHANNELS`), all NaN where the log has none."""
        if name not in CHANNELS:
            raise KeyError(name)
        found = self.channels.get(name)
        return np.full(self.samples, np.nan) if found is None else found


def runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the half-open index ranges over which a mask of samples is True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int))).tolist()
    return list(zip(edges[::2], edges[1::2], strict=True))
