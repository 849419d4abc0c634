"""What a file leaves open, units and references: settled where the flight itself settles it, else not used.

Each rule asks the data a question with one answer: a ground speed must be the speed over the ground, a vertical
speed the rate of the altitude, a bank what the turns took, a heading in all directions the track but for the
variation. Where two answers remain, the column is left out and the notice says what to add on the command line.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from analyser.earth.angles import wrap180
from analyser.earth.atmosphere import isa_temperature_c, tas_to_cas
from analyser.earth.constants import METRES_PER_FOOT, MPS_PER_KT
from analyser.logs.agreement import (
    climb_ratio,
    fit_bank,
    fit_heading,
    mean_airspeed,
    off_track_deg,
    speed_ratio,
)
from analyser.logs.log_thresholds import MATCH, SETTLING
from analyser.logs.movement import Movement
from analyser.logs.raw import FloatArray, RawFlight
from analyser.logs.text import shown
from analyser.logs.track import Source
from analyser.logs.units import UNITS, Unit

#: The unit that the flight leaves alone, and why.
Settled = tuple[Unit, str]


_CHOICES = {
    "length": ("m", "ft"),
    "speed": ("kt", "km/h", "mph", "m/s"),
    "climb": ("fpm", "m/s"),
    "angle": ("deg", "rad"),
    "temperature": ("C", "F"),
}
#: Ground speed first, since airspeeds follow it; temperature, as all others, last, since it needs the altitude.
_ORDER = ("gs", "speed", "alt", "vs", "bank", "heading", "heading_true", "heading_magnetic", "track")


def settle_units(flight: RawFlight, moved: Movement) -> RawFlight:
    """Give every undecided column its unit, or leave it out; positions and times are clean."""
    later = len(_ORDER)
    for column in sorted(flight.undecided, key=lambda c: _ORDER.index(c.name) if c.name in _ORDER else later):
        values = flight.undecided[column]
        if column.channel in flight.channels:
            continue
        rule = _RULES.get(column.name, _RULES[column.kind])
        name, found = shown(column.column), rule(flight, moved, column.name, values)
        if found is not None:
            unit, why = found
            code, source = "unit-assumed", Source(name, column.channel, unit.name, "assumed", why)
            read = values * unit.factor + unit.offset
            flight = replace(flight, channels={**flight.channels, column.channel: read})
            message = f"Column '{name}' gives no unit; read in {unit.name}: {why}."
        else:
            why = "no unit is given and the flight does not settle it"
            code, source = "unit-unknown", Source(name, "", "", "ignored", why)
            choices = " or ".join(f"--units {column.name}={text}" for text in _CHOICES[column.kind])
            unsettled = "gives no unit and the flight does not settle it, so it was not used"
            message = f"Column '{name}' {unsettled}; say {choices}."
        flight = flight.saying(code, message, sources=(*flight.sources, source))
    return replace(flight, undecided={})


def _the_one(kind: str, why: str, fits: Callable[[Unit], bool]) -> Settled | None:
    """Return the one unit of a kind that fits; None where none or several do."""
    units = [unit for unit in UNITS if unit.kind == kind and fits(unit)]
    return (units[0], why) if len(units) == 1 else None


_FEET, _METRES, _DEGREES, _RADIANS = (
    next(unit for unit in UNITS if unit.name == name) for name in ("ft", "m", "deg", "rad")
)


def _altitude(flight: RawFlight, moved: Movement, name: str, values: FloatArray) -> Settled | None:
    known = values[np.isfinite(values)]
    if known.max() > SETTLING.too_high_m:
        return _FEET, "in metres it would lie above FL650"
    climb = flight.channels.get("vertical_speed_fpm")
    ratio = None if climb is None else climb_ratio(climb, values, flight.time_s)
    if ratio is not None:
        why = "so it climbs as the vertical speed says"
        found = _the_one(
            "length", why, lambda unit: abs(ratio / (60.0 * unit.factor) - 1.0) < SETTLING.climb_near_share
        )
        if found is not None:
            return found
    levels = np.unique(known)
    if levels.size >= SETTLING.encoder_levels and np.all(levels % SETTLING.encoder_ft == 0.0):
        return _FEET, "its steps are the 25 or 100 ft of an encoding altimeter"
    if _steepest(flight, moved, values) * _METRES.factor > SETTLING.too_steep_slope:
        return _FEET, "in metres it would climb more steeply than aircraft do"
    return None


def _steepest(flight: RawFlight, moved: Movement, height: FloatArray) -> float:
    """Return the steepest sustained slope: height units per foot flown, but for a few pieces of the flight."""
    known = np.isfinite(height)
    if not moved.time_s.size or not known.any():
        return 0.0
    grid = np.arange(moved.time_s[0], moved.time_s[-1], MATCH.climb_step_s)
    rise = np.abs(np.diff(np.interp(grid, flight.time_s[known], height[known])))
    speed = np.interp(0.5 * (grid[1:] + grid[:-1]), moved.time_s, moved.speed_kt)
    run_ft = speed * MPS_PER_KT / METRES_PER_FOOT * MATCH.climb_step_s
    flying = speed > SETTLING.slope_kt
    return float(np.percentile((rise / run_ft)[flying], SETTLING.slope_percent)) if flying.any() else 0.0


def _climb(flight: RawFlight, moved: Movement, name: str, values: FloatArray) -> Settled | None:
    height = flight.channels.get("altitude_ft")
    ratio = None if height is None else climb_ratio(values, height * 60.0, flight.time_s)
    why = "so it agrees with the altitude"
    return _the_one(
        "climb", why, lambda unit: abs((ratio or 0.0) * unit.factor - 1.0) < SETTLING.climb_near_share
    )


def _speed(flight: RawFlight, moved: Movement, name: str, values: FloatArray) -> Settled | None:
    """Read a ground speed in the unit in which it is the speed over the ground."""
    ratio, scatter = speed_ratio(values, moved) or (0.0, np.inf)
    if name not in ("gs", "speed") or scatter >= SETTLING.scatter_share:
        return None
    why = "so it agrees with the speed over the ground"
    return _the_one("speed", why, lambda unit: abs(ratio * unit.factor - 1.0) < SETTLING.near_share)


def _airspeed(flight: RawFlight, moved: Movement, name: str, values: FloatArray) -> Settled | None:
    """Read an airspeed in the one unit in which it is what the ground speeds in all directions ask for.

    Knots lie 13 per cent from miles per hour. An indicated airspeed needs the altitude beside it, since at
    10,000 ft it is 14 per cent below the true one.
    """
    expected_kt, height = mean_airspeed(moved), flight.channels.get("altitude_ft")
    here, _ = moved.beside(values)
    if expected_kt is None or not here.size or (name == "ias" and height is None):
        return None
    if name == "ias" and height is not None:
        expected_kt = tas_to_cas(expected_kt, float(np.nanmedian(height)))
    share = float(np.median(here)) / expected_kt
    why = f"so it is about the {expected_kt:.0f} kt that the ground speeds ask for"
    return _the_one("speed", why, lambda unit: abs(share * unit.factor - 1.0) < SETTLING.airspeed_near_share)


def _like_others(flight: RawFlight, moved: Movement, name: str, values: FloatArray) -> Settled | None:
    said = {source.unit for source in flight.sources if source.channel not in ("", "position")}
    others = [unit for unit in (_DEGREES, _RADIANS) if unit.name in said]
    return (others[0], "the table's other angles are") if len(others) == 1 else None


def _direction(flight: RawFlight, moved: Movement, name: str, values: FloatArray) -> Settled | None:
    near = (
        unit
        for unit in (_RADIANS, _DEGREES)
        if off_track_deg(values * unit.factor, moved) < SETTLING.direction_off_deg
    )
    return next(((unit, "so it agrees with the track") for unit in near), None)


def _bank(flight: RawFlight, moved: Movement, name: str, values: FloatArray) -> Settled | None:
    fit = fit_bank(values, flight.time_s, moved)
    if fit is None or not fit.turns or abs(fit.correlation) < SETTLING.bank_correlation:
        return None
    near = (
        unit
        for unit in (_DEGREES, _RADIANS)
        if 1.0 / SETTLING.bank_ratio < abs(fit.slope) * unit.factor < SETTLING.bank_ratio
    )
    return next(((unit, "so it agrees with the turns") for unit in near), None)


def _temperature(flight: RawFlight, moved: Movement, name: str, values: FloatArray) -> Settled | None:
    """Only one reading may lie near the standard atmosphere."""
    height = flight.channels.get("altitude_ft")
    standard = np.nan if height is None else isa_temperature_c(height)
    if not np.isfinite(values - standard).any():
        return None

    def near(unit: Unit) -> bool:
        return (
            abs(float(np.nanmedian(values * unit.factor + unit.offset - standard)))
            < SETTLING.temperature_off_c
        )

    return _the_one("temperature", "only so it lies near the standard atmosphere", near)


#: By what a column is called, else by the kind of its unit.
_RULES: dict[str, Callable[[RawFlight, Movement, str, FloatArray], Settled | None]] = {
    **dict.fromkeys(("ias", "tas"), _airspeed),
    **dict.fromkeys(("pitch", "wind_from"), _like_others),
    "bank": _bank,
    "length": _altitude,
    "climb": _climb,
    "speed": _speed,
    "angle": _direction,
    "temperature": _temperature,
}


#: What a working channel becomes, empty where it is not used, and the notice's code and message, empty for none.
Reference = tuple[str, str, str]


def settle_references(flight: RawFlight, moved: Movement) -> RawFlight:
    """Settle what the file leaves open about headings, speeds and tracks.

    Units are settled before; no working channel is left after.
    """
    for name in (one for one in _REFERENCES if one in flight.channels):
        becomes, code, message = _REFERENCES[name](flight, moved, flight.channels[name])
        channels = dict(flight.channels)
        values = channels.pop(name)
        if becomes:
            channels[becomes] = values
        settled = {
            "channel": becomes,
            "standing": "assumed" if becomes else "ignored",
            "why": "see the notices",
        }
        sources = tuple(replace(one, **settled) if one.channel == name else one for one in flight.sources)
        flight = replace(flight, channels=channels, sources=sources)
        flight = flight.saying(code, message) if code else flight
    return flight


def _magnetic_track(flight: RawFlight, moved: Movement, track: FloatArray) -> Reference:
    return "", "track-magnetic", "The logged track is magnetic; the track is taken from positions."


def _unmarked_speed(flight: RawFlight, moved: Movement, speed: FloatArray) -> Reference:
    if "ground_speed_kt" in flight.channels:
        return "", "", ""
    ratio, scatter = speed_ratio(speed, moved) or (0.0, np.inf)
    if abs(ratio - 1.0) < SETTLING.near_share and scatter < SETTLING.scatter_share:
        message = "The speed column is the speed over the ground: it agrees with the positions."
        return "ground_speed_kt", "speed-assumed", message
    message = (
        "The speed column says neither ground speed nor airspeed and does not agree with the positions; it was not "
        "used. Say --columns ias=… or --columns tas=…."
    )
    return "", "speed-unmarked", message


def _unmarked_airspeed(flight: RawFlight, moved: Movement, airspeed: FloatArray) -> Reference:
    if "ias_kt" in flight.channels:
        return "", "airspeed-unmarked", "The airspeed column was not used: indicated airspeed has its own."
    if "tas_kt" in flight.channels:
        message = "The airspeed column is read as indicated: true airspeed has its own."
        return "ias_kt", "airspeed-assumed", message
    message = "The airspeed column says neither indicated nor true, so it was not used"
    return "", "airspeed-unmarked", f"{message}; say --columns ias=… or --columns tas=…."


def _unmarked_heading(flight: RawFlight, moved: Movement, heading: FloatArray) -> Reference:
    """Put an unmarked heading where it belongs: drift averages out over the circle and leaves the variation."""
    if "heading_true_deg" in flight.channels or "heading_magnetic_deg" in flight.channels:
        message = "A heading that says true or magnetic is there; the unmarked one was not used."
        return "", "heading-unmarked", message
    variation, fit = _variation_at(flight), fit_heading(heading, moved)
    neither = "The heading says neither true nor magnetic"
    if abs(variation) < SETTLING.no_variation_deg:
        message = f"{neither}; the variation is only {variation:+.1f}°."
        return "heading_true_deg", "heading-reference-assumed", message
    if fit is not None and fit.all_round:
        off = {"true": abs(fit.offset_deg), "magnetic": abs(float(wrap180(fit.offset_deg + variation)))}
        name, other = sorted(off, key=off.__getitem__)
        if off[name] < SETTLING.reference_off_deg and off[other] > off[name] + SETTLING.variation_share * abs(
            variation
        ):
            message = (
                f"{neither}; read as {name}: over all directions it differs from the track by "
                f"{fit.offset_deg:+.1f}°, and the variation is {variation:+.1f}°."
            )
            return f"heading_{name}_deg", "heading-reference-assumed", message
    message = (
        f"{neither} and the flight does not settle it, so it was not used; say --columns heading_true=… or "
        "--columns heading_magnetic=…."
    )
    return "", "heading-unmarked", message


#: The rule of each working channel.
_REFERENCES: dict[str, Callable[[RawFlight, Movement, FloatArray], Reference]] = {
    "track_magnetic_deg": _magnetic_track,
    "speed_unmarked_kt": _unmarked_speed,
    "airspeed_unmarked_kt": _unmarked_airspeed,
    "heading_unmarked_deg": _unmarked_heading,
}


def _variation_at(flight: RawFlight) -> float:
    """Return the magnetic variation in the middle of the flight, degrees, east positive."""
    from datetime import UTC, datetime

    from analyser.earth.variation import variation_deg

    middle = flight.samples // 2
    when: datetime | float = SETTLING.undated_year
    if flight.dated:
        when = datetime.fromtimestamp(float(flight.time_s[middle]), UTC)
    return variation_deg(float(flight.lat_deg[middle]), float(flight.lon_deg[middle]), 0.0, when)
