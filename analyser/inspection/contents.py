"""What a log holds, told before anything is judged."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.earth.angles import wrap180
from analyser.logs.clean import holes_of
from analyser.logs.text import shown
from analyser.logs.track import CHANNELS, Source, Track
from analyser.logs.track_errors import TrackErrors

#: Unit of each channel by the ending of its name.
_UNITS = {"ft": "ft", "kt": "kt", "deg": "°", "c": "°C", "fpm": "ft/min"}
_STANDINGS = ("told", "recognised", "assumed", "ignored")


def inspection_text(track: Track, plan: str = "") -> str:
    """Write what a flight holds for the terminal, with a picture of the track (``plan``) if one is wanted."""
    steps = np.diff(track.time_s)
    parts = [
        f"{shown(track.name)}: {track.format}, {track.samples:,} samples over {_span(track.duration_s)}",
        f"  starts     {_start(track)}",
        f"  interval   {track.interval_s:g} s (median), {steps.min():g} to {steps.max():g} s",
        f"  sampling   {_sampling(track.errors)}",
        f"  holes      {_holes(holes_of(track.time_s))}",
        f"  position   {_position(track)}",
        *_channels(track),
        *_sources(track.sources),
        *[f"  notice     {notice.code}: {shown(notice.message, 400)}" for notice in track.notices],
    ]
    return "\n".join(parts) + (f"\n\n{plan}" if plan else "")


def _span(seconds: float) -> str:
    hours, rest = divmod(round(seconds), 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min {left} s"


def _start(track: Track) -> str:
    return "no date in the log" if track.start_utc is None else f"{track.start_utc:%Y-%m-%d %H:%M:%S} UTC"


def _sampling(errors: TrackErrors) -> str:
    """Say what the rows are worth: true samples, clock, places."""
    said = [
        f"true samples every {errors.effective_s:.0f} s in the turns, other rows are interpolated"
        if errors.interpolated
        else f"its clock slips and stays, so that rows within {errors.effective_s:.0f} s share its error"
        if errors.slips
        else "every row is a sample"
    ]
    if errors.time_jitter_s:
        said.append(f"its times wander by about {errors.time_jitter_s:.1f} s")
    said.append(f"positions scatter by about {max(errors.position_noise_m, 0.1):.1f} m from sample to sample")
    if errors.time_step_s and errors.position_step_m:
        step_m = errors.position_step_m
        said.append(
            f"written to {errors.time_step_s:g} s and {f'{step_m:.2g}' if step_m < 10.0 else f'{step_m:.0f}'} m"
        )
    return "; ".join(said)


def _holes(holes: Sequence[tuple[float, float]]) -> str:
    if not holes:
        return "none"
    listed = ", ".join(f"{start:.0f} to {end:.0f} s" for start, end in holes[:6])
    return f"{len(holes)}: {listed}" + (" …" if len(holes) > 6 else "")


def _position(track: Track) -> str:
    lon = np.unwrap(track.lon_deg, period=360.0)
    ends = wrap180(lon.min()), wrap180(lon.max())
    lats = f"{_degrees(float(track.lat_deg.min()), 'NS')} to {_degrees(float(track.lat_deg.max()), 'NS')}"
    return f"{lats}, {_degrees(float(ends[0]), 'EW')} to {_degrees(float(ends[1]), 'EW')}"


def _degrees(value: float, letters: str) -> str:
    return f"{abs(value):.4f}°{letters[0] if value >= 0 else letters[1]}"


def _channels(track: Track) -> list[str]:
    names = [name for name in CHANNELS if name in track.channels]
    width = max(map(len, names), default=0)
    lines = []
    for name in names:
        known = track.channels[name][np.isfinite(track.channels[name])]
        filled, unit = known.size / track.samples, _UNITS[name.rpartition("_")[2]]
        lines.append(
            f"  channel    {name:{width}}  {known.min():10.1f} to {known.max():10.1f} {unit:6}"
            f" {'every sample' if filled == 1.0 else f'{filled:.0%} of samples'}"
        )
    return lines or ["  channels   position only"]


def _sources(sources: Sequence[Source]) -> list[str]:
    lines = []
    for standing in _STANDINGS:
        for source in sources:
            if source.standing == standing:
                taken = f" as {source.channel}" if source.channel and standing != "ignored" else ""
                unit = f" in {source.unit}" if source.unit and standing != "ignored" else ""
                why = f": {source.why}" if source.why else ""
                lines.append(f"  {standing:10} '{shown(source.column)}'{taken}{unit}{why}")
    return lines
