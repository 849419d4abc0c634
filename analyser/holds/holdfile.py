"""Reading a hold file: TOML in the words of a chart, out comes a hold in degrees true."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.earth.angles import wrap360
from analyser.earth.constants import METRES_PER_NM
from analyser.earth.plane import wgs84
from analyser.earth.variation import magnetic_variation
from analyser.errors import HoldFileError
from analyser.frozen import dataclass
from analyser.holds.definition import ClearedLevel, FixBy, Hold, LegLimit
from analyser.holds.holdfile_words import in_plain_keys
from analyser.rules.toml_data import fill, read_toml

if TYPE_CHECKING:
    from analyser.holds.holdfile_shape import FixShape, HoldShape, LegShape


@dataclass(frozen=True)
class HoldFile:
    """What a hold file says, before a flight's date turns its magnetic directions into true ones."""

    #: As the person named it; for messages.
    path: str
    #: Its keys, checked.
    said: HoldShape

    @property
    def fix_given(self) -> bool:
        """Whether it says where the fix is."""
        return self.said.fix is not None

    def hold(self, when: date | float | None = None) -> Hold:
        """Return the hold on a day; today where none is given and ``leave_fix_at`` has none.

        Raises HoldFileError: the file gives no fix.
        """
        if self.said.fix is None:
            raise HoldFileError(
                "is missing",
                file=self.path,
                place="key 'fix'",
                mend="only a debrief can do without, where the fix is inferred from the flight",
            )
        day = self._day(when)
        return self._hold(*_place(self.said.fix, self.said, day), day)

    def hold_at(self, lat_deg: float, lon_deg: float, when: date | float | None = None) -> Hold:
        """Return the hold with a fix that was inferred from a flight, WGS84 degrees."""
        return replace(self._hold(lat_deg, lon_deg, self._day(when)), fix_given=False)

    def _day(self, when: date | float | None) -> date | float:
        return when if when is not None else self.said.leave_fix_at or datetime.now(UTC)

    def _hold(self, lat_deg: float, lon_deg: float, day: date | float) -> Hold:
        from analyser.holds.holdfile_shape import wind_of

        said = self.said
        variation = magnetic_variation(lat_deg, lon_deg, said.altitude_ft or 0.0, day).variation_deg
        to_true_deg = variation if said.reference == "magnetic" else 0.0
        return Hold(
            fix_lat_deg=lat_deg,
            fix_lon_deg=lon_deg,
            inbound_course_true_deg=wrap360(said.inbound_course + to_true_deg),
            turns=said.turns,
            leg=_leg(said.leg) if said.leg else None,
            name=said.name,
            altitude_ft=said.altitude_ft,
            speed_kias=said.speed_kias,
            max_kias=said.max_kias,
            limiting_radial_true_deg=None
            if said.limiting_radial is None
            else wrap360(said.limiting_radial + to_true_deg),
            arrival=said.arrival,
            category=said.category,
            reported_wind=wind_of(said.reported_wind) if said.reported_wind is not None else None,
            leave_fix_at=said.leave_fix_at,
            variation_deg=variation,
            fix_by=_fix_by(said),
            levels=tuple(ClearedLevel(one.ft, one.circuit, one.at) for one in said.levels_ft),
        )


def read_hold_file(path: str | Path) -> HoldFile:
    """Read a hold file, also one that knows less than all.

    Parameters
    ----------
    path : str or Path
        TOML file with the keys of the contract: ``name``, ``fix``, ``inbound_course``, ``reference``, ``turns``,
        ``leg``, ``altitude_ft``, ``speed_kias``, ``max_kias``, ``limiting_radial``, ``arrival``, ``category``,
        ``reported_wind``, ``leave_fix_at``, ``levels_ft``; and ``fix_by``, what tells that the aircraft is over the
        fix. Positions, hands and legs also as a chart prints them. Course and turns alone are enough.

    Raises HoldFileError: the file cannot be read, or some keys are unknown, missing, of the wrong type or
    impossible: every one of them is named.
    """
    return hold_file_from(read_toml(Path(path), error=HoldFileError), file=str(path))


def hold_file_from(data: Mapping[str, Any], *, file: str = "") -> HoldFile:
    """Check the contents of a hold file, as ``tomllib`` reads them.

    Raises HoldFileError: as for :func:`read_hold_file`.
    """
    from analyser.holds.holdfile_shape import HoldShape

    plain, faults = in_plain_keys(data)
    # The checker reads times from text, so quoted times would slip through as the wrong type.
    if isinstance(data.get("leave_fix_at"), str):
        faults["leave_fix_at"] = "must be a time without quotes"
    return HoldFile(file, fill(HoldShape, plain, file=file, error=HoldFileError, known_faults=faults))


def read_hold(path: str | Path, when: date | float | None = None) -> Hold:
    """Read a hold file that says where the fix is; its course comes in degrees true.

    A magnetic course is converted by the variation at the fix, a magnetic bearing by the variation at the place it
    is measured from: on the flight's date, else on the day of ``leave_fix_at``, and failing that today.

    Raises HoldFileError: as for :func:`read_hold_file`, or the file gives no fix.
    """
    return read_hold_file(path).hold(when)


def _leg(said: LegShape) -> LegLimit:
    if said.fix_dme_nm is None or said.outbound_dme_nm is None:
        return LegLimit(said.minutes, said.distance_nm)
    length_nm = said.outbound_dme_nm - said.fix_dme_nm
    return LegLimit(None, abs(length_nm), said.fix_dme_nm, towards_station=length_nm > 0.0)


def _fix_by(shape: HoldShape) -> FixBy | None:
    if shape.fix_by is None:
        return None
    said = shape.fix_by.model_dump()
    return FixBy(crossing_angle_deg=said.pop("crossing_angle"), **said)


def _place(fix: FixShape, hold: HoldShape, day: date | float) -> tuple[float, float]:
    """Find the fix: as given, or along the geodesic from where its bearing is measured."""
    if fix.lat is not None and fix.lon is not None:
        return fix.lat, fix.lon
    assert fix.from_place is not None and fix.bearing is not None and fix.distance_nm is not None
    origin = fix.from_place
    to_true_deg = 0.0
    if (fix.reference or hold.reference) == "magnetic":
        height_ft = hold.altitude_ft or 0.0
        to_true_deg = magnetic_variation(origin.lat, origin.lon, height_ft, day).variation_deg
    lon, lat, _ = wgs84().fwd(
        origin.lon, origin.lat, fix.bearing + to_true_deg, fix.distance_nm * METRES_PER_NM
    )
    return float(lat), float(lon)
