"""What a format's reader hands over: a flight as the file says it, before anything is cleaned."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import field, replace
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from analyser.errors import LogError
from analyser.frozen import dataclass
from analyser.logs.limits import MAX_PIECES
from analyser.logs.movement import displacements, offsets
from analyser.logs.text import counted
from analyser.logs.track import Notice, Seam, Source

FloatArray = NDArray[np.float64]
Read = TypeVar("Read")


@dataclass(frozen=True)
class ReadOptions:
    """What a person says about a table that the table itself does not say."""

    #: Canonical name (``"time"``, ``"lat"``, ``"alt"``, ``"gs"``, or a channel's own name) to the header text.
    columns: Mapping[str, str] = field(default_factory=dict)
    #: Canonical name or header text to a unit (``"m"``, ``"ft"``, ``"kt"``, ``"km/h"`` …).
    units: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Content:
    """One log's bytes, out of any archive."""

    #: As the person gave it; for a file in an archive, the archive's name and the member's.
    name: str
    data: bytes
    options: ReadOptions = ReadOptions()
    #: What was odd about the archive it came in.
    notices: tuple[Notice, ...] = ()

    def refusal(self, what: str, place: str = "", mend: str = "", broken_at: str = "") -> LogError:
        """Return what to raise where this log cannot be read: it names the file.

        A file that broke off (``broken_at`` says where) before anything could be read is refused for that.
        """
        if broken_at:
            what = "the file is cut off or damaged before its first whole point"
            place, mend = broken_at, "copy it again, or export it again from its source"
        return LogError(what, file=self.name, place=place, mend=mend)


def cut_off(broken_at: str) -> tuple[Notice, ...]:
    """Say where a file is damaged or cut off; nothing for a whole one, which breaks off nowhere."""
    message = f"The file is damaged or cut off at {broken_at}; what stands before that was read."
    return (Notice("file-cut-off", message),) if broken_at else ()


@dataclass(frozen=True)
class Undecided:
    """A column whose meaning is known and whose unit the file does not say."""

    #: The concept's short name, for the mend: ``--units alt=ft``.
    name: str
    #: Kind of unit.
    kind: str
    #: What it fills once its unit is settled.
    channel: str
    #: Header. Untrusted.
    column: str


@dataclass(frozen=True)
class RawFlight:
    """One aircraft's samples as they stand in the file, in the program's units.

    Channels are keys of :data:`analyser.logs.track.CHANNELS`, and working channels that the cleaner settles:
    ``"heading_unmarked_deg"`` (true or magnetic is not said), ``"speed_unmarked_kt"``, ``"airspeed_unmarked_kt"`` and
    ``"track_magnetic_deg"``.
    """

    #: POSIX seconds where ``dated``, seconds of any origin otherwise; NaN where unreadable; any order.
    time_s: FloatArray
    #: NaN where missing, as the longitudes.
    lat_deg: FloatArray
    lon_deg: FloatArray
    dated: bool = True
    channels: Mapping[str, FloatArray] = field(default_factory=dict)
    #: What tells this flight from others in the file. Untrusted.
    label: str = ""
    #: Who flew, where the file says so: flights of different aircraft are never joined.
    aircraft: str = ""
    notices: tuple[Notice, ...] = ()
    #: What became of each column or element.
    sources: tuple[Source, ...] = ()
    #: Columns that the cleaner settles against the track, or leaves out; their values as written.
    undecided: Mapping[Undecided, FloatArray] = field(default_factory=dict)
    #: Where time was taken out or put in, on the clock of ``time_s``.
    seams: tuple[Seam, ...] = ()

    @property
    def samples(self) -> int:
        """Number of samples."""
        return int(self.time_s.size)

    @property
    def timed(self) -> bool:
        """Whether any sample has a time."""
        return bool(np.isfinite(self.time_s).any())

    @cached_property
    def steps_s(self) -> FloatArray:
        """Seconds from each sample to the next."""
        return np.diff(self.time_s)

    @cached_property
    def steps_m(self) -> NDArray[np.complex128]:
        """How far from each sample the next one lies: metres east as real, north as imaginary part."""
        steps = np.empty(self.samples - 1, dtype=complex)
        steps.real, steps.imag = displacements(self.lat_deg, self.lon_deg)
        return steps

    @cached_property
    def moved_m(self) -> FloatArray:
        """How far each sample lies from the next, metres."""
        east, north = self.steps_m.real, self.steps_m.imag
        return np.asarray(np.sqrt(east * east + north * north))

    @cached_property
    def usual_step_s(self) -> float:
        """The median of the steps in time, seconds."""
        return float(np.median(self.steps_s))

    @cached_property
    def speed_mps(self) -> FloatArray:
        """Speed from each sample to the next; times increase."""
        return self.moved_m / self.steps_s

    @cached_property
    def repeats(self) -> NDArray[np.bool_]:
        """Whether each sample but the first stands where the one before it stood."""
        return np.asarray((np.diff(self.lat_deg) == 0.0) & (np.diff(self.lon_deg) == 0.0))

    def apart_m(self, rows: Any, others: Any) -> FloatArray:
        """Return how far some samples lie from others, metres; both as indices, masks or slices."""
        lat, lon = self.lat_deg, self.lon_deg
        return np.asarray(np.hypot(*offsets(lat[rows], lon[rows], lat[others], lon[others])))

    def aside_deg(self, step: int, count: int) -> float:
        """Return how far aside a step leads of the way that so many steps before and after it go; NaN if none does."""
        came, goes = (self.steps_m[part].sum() for part in beside(step, count))
        if min(abs(came), abs(goes)) == 0.0:
            return float("nan")
        ahead = came / abs(came) + goes / abs(goes)
        return float(np.abs(np.degrees(np.angle(self.steps_m[step] * np.conj(ahead)))))

    def with_notices(self, notices: Sequence[Notice]) -> RawFlight:
        """Return the flight with more notices before its own."""
        return replace(self, notices=(*notices, *self.notices)) if notices else self

    def saying(self, code: str, message: str, **changes: Any) -> RawFlight:
        """Return the flight with a notice after its own, and with other fields as given."""
        return replace(self, notices=(*self.notices, Notice(code, message)), **changes)

    def take(self, index: NDArray[np.intp] | NDArray[np.bool_]) -> RawFlight:
        """Return the flight with only some samples, in the given order."""
        return replace(
            self,
            time_s=self.time_s[index],
            lat_deg=self.lat_deg[index],
            lon_deg=self.lon_deg[index],
            channels={name: values[index] for name, values in self.channels.items()},
            undecided={column: values[index] for column, values in self.undecided.items()},
        )


def beside(step: int, count: int) -> tuple[slice, slice]:
    """Return so many steps, where there are, before one and after it."""
    return slice(max(0, step - count), step), slice(step + 1, step + 1 + count)


class Pieces:
    """The flights of a file that holds several: one that cannot be read does not stop the others."""

    def __init__(self) -> None:
        self.flights: list[RawFlight] = []
        #: Lines that have no times.
        self.untimed = 0
        self._refused: list[LogError] = []

    def take(self, read: Callable[[], Iterable[RawFlight]]) -> None:
        """Read some flights; beyond the limit, at which the file is refused, nothing is read."""
        if len(self.flights) <= MAX_PIECES:
            self.flights.extend(self.tried(lambda: list(read())) or ())

    def tried(self, read: Callable[[], Read]) -> Read | None:
        """Read a piece; None where it cannot be read, which is said."""
        try:
            return read()
        except LogError as error:
            self._refused.append(error)
        return None

    def noted(self, notices: Sequence[Notice]) -> list[RawFlight]:
        """Return the flights with what is said of all; why none could be read is raised."""
        if self._refused and not self.flights:
            raise self._refused[0]
        said = [f"A part of the file was left out: {error.what}." for error in self._refused]
        left_out = [Notice("flight-left-out", message) for message in dict.fromkeys(said)]
        if self.untimed:
            lines = counted(self.untimed, "line without times was", "lines without times were")
            left_out.append(Notice("line-untimed", f"{lines} left out: nothing on it can be timed."))
        return [flight.with_notices((*notices, *left_out)) for flight in self.flights]
