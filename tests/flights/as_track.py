"""The one door to the program under test: what a receiver saw, as its ``Track`` and its ``Hold``."""

from __future__ import annotations

import numpy as np

from analyser.holds.definition import Hold
from analyser.logs.clean import tracks
from analyser.logs.raw import Content, RawFlight
from analyser.logs.track import Track
from tests.flights.flight import Flight, Seen, see
from tests.flights.receiver import Receiver
from tests.flights.truth import TrueHold


def to_track(flight: Flight, receiver: Receiver | None = None, *, seed: int = 0, name: str = "") -> Track:
    """Let a receiver watch a flight, and hand over what it wrote."""
    return seen_track(see(flight, receiver or Receiver(), seed), name or flight.name or "flight")


def seen_track(seen: Seen, name: str) -> Track:
    """Hand over what was seen."""
    channels = dict(seen.others)
    if seen.altitude_ft is not None:
        channels["altitude_ft"] = seen.altitude_ft
    return Track(
        name=name,
        format="table",
        sha256="0" * 64,
        time_s=seen.time_s - seen.time_s[0],
        lat_deg=seen.lat_deg,
        lon_deg=seen.lon_deg,
        channels={key: np.asarray(value, dtype=np.float64) for key, value in channels.items()},
    )


def cleaned_tracks(seen: Seen, name: str) -> list[Track]:
    """Hand over what was seen as a log's reader does, to be cleaned."""
    channels = dict(seen.others)
    if seen.altitude_ft is not None:
        channels["altitude_ft"] = seen.altitude_ft
    flight = RawFlight(
        time_s=seen.time_s.copy(),
        lat_deg=seen.lat_deg.copy(),
        lon_deg=seen.lon_deg.copy(),
        dated=False,
        channels={key: np.array(value, dtype=np.float64) for key, value in channels.items()},
    )
    return tracks([flight], Content(name, b""), "table", "0" * 64)


def to_hold(truth: TrueHold) -> Hold:
    """Give a hold's true definition, as a chart would."""
    return Hold(
        fix_lat_deg=truth.fix_lat_deg,
        fix_lon_deg=truth.fix_lon_deg,
        inbound_course_true_deg=truth.course_deg,
        turns="right" if truth.side > 0 else "left",
    )
