"""Channels that cannot be true: out of range, frozen, lagging, of the wrong sign, at odds with the track.

Positions come first: a channel that disagrees with them is not used, and a notice says so.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.earth.angles import wrap180, wrap360
from analyser.errors import LogError
from analyser.logs.channel_rules import RULES, Verdict
from analyser.logs.movement import Movement
from analyser.logs.raw import FloatArray, RawFlight
from analyser.logs.stuck_channels import without_frozen
from analyser.logs.text import counted
from analyser.logs.track import DIRECTIONS, WORDS, Notice

#: What a value can be; outside it is a recorder's mark for "none" (−999, 65535 …).
RANGES: dict[str, tuple[float, float]] = {
    "altitude_ft": (-2_000.0, 70_000.0),
    "ground_speed_kt": (0.0, 1_200.0),
    "track_true_deg": (-360.0, 720.0),
    "heading_true_deg": (-360.0, 720.0),
    "heading_magnetic_deg": (-360.0, 720.0),
    "bank_deg": (-180.0, 360.0),
    "pitch_deg": (-90.0, 90.0),
    "ias_kt": (0.0, 700.0),
    "tas_kt": (0.0, 1_000.0),
    "wind_from_true_deg": (-360.0, 720.0),
    "wind_speed_kt": (0.0, 350.0),
    "outside_air_temperature_c": (-110.0, 70.0),
    "vertical_speed_fpm": (-30_000.0, 30_000.0),
}


def within_range(flight: RawFlight) -> RawFlight:
    """Replace impossible values by NaN, fold directions, and drop channels without a value."""
    channels: dict[str, FloatArray] = {}
    notices = list(flight.notices)
    for name, values in flight.channels.items():
        low, high = RANGES.get(name, (-np.inf, np.inf))
        clean = values
        if _least(values) < low or _greatest(values) > high:
            outside = ~((values >= low) & (values <= high)) & ~np.isnan(values)
            clean = np.where(outside, np.nan, values)
            message = (
                f"{counted(int(outside.sum()), 'value', 'values')} of {WORDS.get(name, name)} "
                f"{'is impossible and was' if outside.sum() == 1 else 'are impossible and were'} left out."
            )
            notices.append(Notice("value-impossible", message))
        if np.isfinite(clean).any():
            channels[name] = _folded(name, clean)
    return replace(flight, channels=channels, notices=tuple(notices))


def _folded(name: str, values: FloatArray) -> FloatArray:
    least, greatest = _least(values), _greatest(values)
    if name in DIRECTIONS or name == "heading_unmarked_deg":
        return values if least >= 0.0 and greatest < 360.0 else wrap360(values)
    return wrap180(values) if name == "bank_deg" and not (least >= -180.0 and greatest < 180.0) else values


def _least(values: FloatArray) -> float:
    """Return the least of the values that are known; infinity where none is."""
    return float(np.fmin.reduce(values, initial=np.inf))


def _greatest(values: FloatArray) -> float:
    """Return the greatest of the values that are known; minus infinity where none is."""
    return float(np.fmax.reduce(values, initial=-np.inf))


def hold_against_track(flight: RawFlight, moved: Movement) -> RawFlight:
    """Compare each channel with the track; drop, mend or keep it, and say so.

    Units and references are settled and values in range before.
    """
    _refuse_swapped(flight, moved)
    channels, notices = dict(flight.channels), list(flight.notices)
    for name in list(channels):
        values, more = _judged(name, channels[name], flight, moved)
        notices.extend(more)
        if values is None:
            del channels[name]
        else:
            channels[name] = values
    return replace(flight, channels=channels, notices=tuple(notices))


def _refuse_swapped(flight: RawFlight, moved: Movement) -> None:
    """Refuse positions with latitude and longitude swapped: every right turn would be a left one.

    A logged direction is then the mirror image, at the diagonal, of the track by positions, all round the circle.
    """
    for name in DIRECTIONS[:3]:
        if name not in flight.channels:
            continue
        here = flight.channels[name][moved.index]
        use = moved.flying & np.isfinite(here)
        logged, track = here[use], moved.track_deg[use]
        if (np.bincount((track // 45.0).astype(int) % 8, minlength=8) >= 4).sum() < 5:
            continue
        as_read, mirrored = (float(np.median(np.abs(wrap180(d - track)))) for d in (logged, 90.0 - logged))
        if mirrored < 20.0 and as_read > 2.5 * mirrored + 20.0:
            raise LogError(
                f"latitude and longitude are swapped: the logged {WORDS[name]} is the mirror image of the movement",
                place=f"all {flight.samples:,} samples",
                mend="write each in its own place; for a table --columns lat=…,lon=… says which is which",
            )


def _judged(name: str, values: FloatArray, flight: RawFlight, moved: Movement) -> Verdict:
    thawed, frozen = without_frozen(name, values, flight, moved)
    notices = [frozen] if frozen is not None else []
    rule = RULES.get(name)
    if thawed is None or rule is None:
        return thawed, notices
    kept, more = rule(name, thawed, flight, moved)
    return kept, [*notices, *more]
