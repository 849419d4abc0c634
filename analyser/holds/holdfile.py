"""Reading a hold file: TOML in the words of a chart, out comes a hold in degrees true."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.earth.angles import wrap360
from analyser.earth.plane import METRES_PER_NM, wgs84
from analyser.earth.variation import magnetic_variation
from analyser.errors import HoldFileError
from analyser.holds.definition import FixBy, Hold, LegLimit
from analyser.rules.toml_data import fill, read_toml

if TYPE_CHECKING:
    from analyser.holds.holdfile_shape import FixShape, HoldShape, LegShape


def read_hold(path: str | Path, when: date | float | None = None) -> Hold:
    """Read a hold file.

    Parameters
    ----------
    path : str or Path
        TOML file with the keys of the contract: ``name``, ``fix``, ``inbound_course``, ``reference``,
        ``turns``, ``leg``, ``altitude_ft``, ``speed_kias``, ``max_kias``, ``category``, ``reported_wind``,
        ``leave_fix_at``; and ``fix_by``, what tells that the aircraft is over the fix.
    when : date, datetime or decimal year, optional
        The flight's date, for the magnetic variation; where left out, the day of ``leave_fix_at``, and
        failing that today.

    Returns
    -------
    Hold
        Course in degrees true. A magnetic course is converted by the variation at the fix, a magnetic
        bearing by the variation at the place it is measured from.

    Raises
    ------
    HoldFileError
        The file cannot be read, or some keys are unknown, missing, of the wrong type or impossible: every
        one of them is named.
    """
    file = Path(path)
    return hold_from(read_toml(file, error=HoldFileError), file=str(path), when=when)


def hold_from(data: Mapping[str, Any], *, file: str = "", when: date | float | None = None) -> Hold:
    """Make a hold from the contents of a hold file.

    Parameters
    ----------
    data : mapping
        As ``tomllib`` reads it.
    file : str
        Name for the messages.
    when : date, datetime or decimal year, optional
        As for :func:`read_hold`.

    Returns
    -------
    Hold

    Raises
    ------
    HoldFileError
        As for :func:`read_hold`.
    """
    from analyser.holds.holdfile_shape import HoldShape, wind_of

    shape = fill(HoldShape, data, file=file, error=HoldFileError)
    _refuse_text_for_time(data, file)
    day = when if when is not None else shape.leave_fix_at or datetime.now(UTC)
    lat_deg, lon_deg = _place(shape.fix, shape, day)
    variation = magnetic_variation(lat_deg, lon_deg, shape.altitude_ft or 0.0, day).variation_deg
    to_true_deg = variation if shape.reference == "magnetic" else 0.0
    return Hold(
        fix_lat_deg=lat_deg,
        fix_lon_deg=lon_deg,
        inbound_course_true_deg=wrap360(shape.inbound_course + to_true_deg),
        turns=shape.turns,
        leg=_leg(shape.leg) if shape.leg else None,
        name=shape.name,
        altitude_ft=shape.altitude_ft,
        speed_kias=shape.speed_kias,
        max_kias=shape.max_kias,
        category=shape.category,
        reported_wind=wind_of(shape.reported_wind) if shape.reported_wind is not None else None,
        leave_fix_at=shape.leave_fix_at,
        variation_deg=variation,
        fix_by=_fix_by(shape),
    )


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
    if hold.reference == "magnetic":
        height_ft = hold.altitude_ft or 0.0
        to_true_deg = magnetic_variation(origin.lat, origin.lon, height_ft, day).variation_deg
    lon, lat, _ = wgs84().fwd(
        origin.lon, origin.lat, fix.bearing + to_true_deg, fix.distance_nm * METRES_PER_NM
    )
    return float(lat), float(lon)


def _refuse_text_for_time(data: Mapping[str, Any], file: str) -> None:
    # The checker reads times from text, so quoted times would slip through as the wrong type.
    if isinstance(data.get("leave_fix_at"), str):
        raise HoldFileError("must be a time without quotes", file=file, place="key 'leave_fix_at'")
