"""What a file leaves open about references: true or magnetic, over the ground or through the air."""

from __future__ import annotations

from dataclasses import replace

from analyser.earth.angles import wrap180
from analyser.logs.agreement import fit_heading, speed_ratio
from analyser.logs.movement import Movement
from analyser.logs.raw import FloatArray, RawFlight
from analyser.logs.track import Notice, Source

#: How near the ratio to the ground speed must come.
_NEAR = 0.04
#: The year whose variation stands in where a log has no date; it changes by a tenth of a degree or two a year.
_YEAR_UNDATED = 2025.0


def settle_references(flight: RawFlight, moved: Movement) -> RawFlight:
    """Settle what the file leaves open about headings, speeds and tracks.

    Units are settled before; no working channel is left after.
    """
    before = set(flight.channels)
    channels, notices = dict(flight.channels), list(flight.notices)
    if "track_magnetic_deg" in channels:
        del channels["track_magnetic_deg"]
        notices.append(
            Notice("track-magnetic", "The logged track is magnetic; the track is taken from positions.")
        )
    speed = channels.pop("speed_unmarked_kt", None)
    if speed is not None and "ground_speed_kt" not in channels:
        notices.append(_unmarked_speed(speed, moved, channels))
    air = channels.pop("airspeed_unmarked_kt", None)
    if air is not None:
        notices.append(_unmarked_airspeed(air, channels))
    heading = channels.pop("heading_unmarked_deg", None)
    if heading is not None:
        notices.append(_unmarked_heading(heading, flight, moved, channels))
    sources = tuple(_followed(source, set(channels) - before) for source in flight.sources)
    return replace(flight, channels=channels, notices=tuple(notices), sources=sources)


#: Where the working channels may end.
_ENDS = {
    "heading_unmarked_deg": ("heading_true_deg", "heading_magnetic_deg"),
    "speed_unmarked_kt": ("ground_speed_kt",),
    "airspeed_unmarked_kt": ("ias_kt",),
    "track_magnetic_deg": (),
}


def _followed(source: Source, new: set[str]) -> Source:
    """Name the channel that a working channel became."""
    if source.channel not in _ENDS:
        return source
    end = next((name for name in _ENDS[source.channel] if name in new), "")
    if not end:
        return replace(source, channel="", standing="ignored", why="see the notices")
    return replace(source, channel=end, standing="assumed", why="see the notices")


def _unmarked_speed(speed: FloatArray, moved: Movement, channels: dict[str, FloatArray]) -> Notice:
    found = speed_ratio(speed, moved)
    if found is not None and abs(found[0] - 1.0) < _NEAR and found[1] < 0.1:
        channels["ground_speed_kt"] = speed
        return Notice(
            "speed-assumed", "The speed column is the speed over the ground: it agrees with the positions."
        )
    return Notice(
        "speed-unmarked",
        "The speed column says neither ground speed nor airspeed and does not agree with the positions; "
        "it was not used. Say --columns ias=… or --columns tas=….",
    )


def _unmarked_airspeed(air: FloatArray, channels: dict[str, FloatArray]) -> Notice:
    if "tas_kt" in channels and "ias_kt" not in channels:
        channels["ias_kt"] = air
        return Notice(
            "airspeed-assumed", "The airspeed column is read as indicated: true airspeed has its own."
        )
    if "ias_kt" in channels:
        return Notice(
            "airspeed-unmarked", "The airspeed column was not used: indicated airspeed has its own."
        )
    return Notice(
        "airspeed-unmarked",
        "The airspeed column says neither indicated nor true, so it was not used; say --columns ias=… or "
        "--columns tas=….",
    )


def _unmarked_heading(
    heading: FloatArray, flight: RawFlight, moved: Movement, channels: dict[str, FloatArray]
) -> Notice:
    """Put an unmarked heading where it belongs: drift averages out over the circle and leaves the variation."""
    if "heading_true_deg" in channels or "heading_magnetic_deg" in channels:
        return Notice(
            "heading-unmarked",
            "A heading that says true or magnetic is there; the unmarked one was not used.",
        )
    variation = variation_at(flight)
    fit = fit_heading(heading, moved)
    if abs(variation) < 1.5:
        channels["heading_true_deg"] = heading
        return Notice(
            "heading-reference-assumed",
            f"The heading says neither true nor magnetic; the variation is only {variation:+.1f}°.",
        )
    if fit is not None and fit.all_round:
        as_true, as_magnetic = abs(fit.offset_deg), abs(float(wrap180(fit.offset_deg + variation)))
        near, name = min((as_true, "true"), (as_magnetic, "magnetic"))
        far = max(as_true, as_magnetic)
        if near < 2.5 and far > near + 0.6 * abs(variation):
            channels[f"heading_{name}_deg"] = heading
            return Notice(
                "heading-reference-assumed",
                f"The heading says neither true nor magnetic; read as {name}: over all directions it differs from "
                f"the track by {fit.offset_deg:+.1f}°, and the variation is {variation:+.1f}°.",
            )
    return Notice(
        "heading-unmarked",
        "The heading says neither true nor magnetic and the flight does not settle it, so it was not used; say "
        "--columns heading_true=… or --columns heading_magnetic=….",
    )


def variation_at(flight: RawFlight) -> float:
    """Return the magnetic variation in the middle of the flight, degrees, east positive."""
    from datetime import UTC, datetime

    from analyser.earth.variation import variation_deg

    middle = flight.samples // 2
    when: datetime | float = _YEAR_UNDATED
    if flight.dated:
        when = datetime.fromtimestamp(float(flight.time_s[middle]), UTC)
    return variation_deg(float(flight.lat_deg[middle]), float(flight.lon_deg[middle]), 0.0, when)
