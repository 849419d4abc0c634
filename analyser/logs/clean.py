"""From what a file says to Tracks: clocks, positions, flights, channels, in this order."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from analyser.errors import LogError
from analyser.logs.channels import carry_values, hold_against_track, within_range
from analyser.logs.clock_faults import doubtful_date, drop_duplicates, order_clock
from analyser.logs.flight_time import even_out_rate, put_in_lost_time, take_out_pauses
from analyser.logs.flights import apart_at_one_time, joined, parted_by_holes
from analyser.logs.limits import MAX_FLIGHTS, MAX_PIECES
from analyser.logs.log_thresholds import CLEANING, LOOK
from analyser.logs.movement import is_flying_speed, movement, usual_sideways, usual_speed_kt
from analyser.logs.positions import drop_coasted, drop_held, drop_impossible, parted
from analyser.logs.raw import Content, FloatArray, RawFlight
from analyser.logs.settle import settle_references, settle_units
from analyser.logs.text import counted, listed, shown
from analyser.logs.track import CHANNELS, Notice, Seam, Track
from analyser.logs.units import ELAPSED, SECONDS, TICKS

_AGAIN = "record or export it again, with times and positions"


def tracks(flights: Sequence[RawFlight], content: Content, format_name: str, sha256: str) -> list[Track]:
    """Clean the flights of one file; ``sha256`` is that of the file on disk.

    They come in order of time; LogError where nothing is left of any.
    """
    if len(flights) > MAX_PIECES:
        what = f"the file holds more than {MAX_PIECES:,} tracks"
        raise content.refusal(what, f"track {MAX_PIECES + 1}", "split it")
    sound: list[RawFlight] = []
    reasons: dict[str, LogError] = {}
    for number, flight in enumerate(flights, 1):
        try:
            sound.append(order_clock(drop_impossible(carry_values(_scaled(flight)), content.name)))
        except LogError as error:
            reasons[flight.label or f"track {number}"] = error
    if not sound:
        raise next(iter(reasons.values()), content.refusal("the file holds no samples", mend=_AGAIN))
    whole = [part for flight in joined(sound) for part in _parts(flight, content.name)]
    kept = _worth_keeping(whole, sound, content)
    stays = {id(flight) for flight in kept}
    said = [f"'{shown(label, LOOK.label_letters)}' ({error.what})" for label, error in reasons.items()]
    said += [
        f"'{shown(flight.label or 'a stretch', LOOK.label_letters)}' ({counted(flight.samples, 'sample', 'samples')}, "
        f"{'too few' if flight.samples < CLEANING.scrap_samples else 'it never moves'})"
        for flight in whole
        if id(flight) not in stays
    ]
    if said:
        left_out = Notice("flight-left-out", f"Left out: {listed(said)}.")
        content = replace(content, notices=(*content.notices, left_out))
    made = [_track(flight, content, format_name, sha256) for flight in kept]
    return _named(made, [flight.label for flight in kept])


def _parts(flight: RawFlight, file: str) -> list[RawFlight]:
    """Part what was not one flight, and mend each part's clock and places."""
    flights = [drop_duplicates(part) for part in apart_at_one_time(flight)]
    for step in (take_out_pauses, drop_held, drop_coasted, put_in_lost_time, even_out_rate):
        flights = [step(part) for part in flights]
    return [part for one in flights for moved in parted(one, file) for part in parted_by_holes(moved)]


def _worth_keeping(flights: list[RawFlight], before: list[RawFlight], content: Content) -> list[RawFlight]:
    """Drop scraps and flights that never move, where there are others; refuse where there is nothing else.

    ``before`` are the flights before samples of one time were made one.
    """
    moving = [flight for flight in flights if flight.samples >= 2 and _moves(flight)]
    kept = [flight for flight in moving if flight.samples >= CLEANING.scrap_samples] or moving
    if len(kept) > MAX_FLIGHTS:
        raise content.refusal(f"the file holds more than {MAX_FLIGHTS} flights", mend="split it")
    if kept:
        return kept
    most = max(before, key=lambda flight: flight.samples)
    if any(flight.samples >= 2 for flight in flights):
        what, mend = "the position never changes, so there is no flight in it", "was the receiver working?"
        raise content.refusal(what, f"all {max(flight.samples for flight in flights):,} samples", mend)
    if most.samples > 1 and np.ptp(most.time_s) == 0.0:
        what = "all samples carry one and the same time"
        raise content.refusal(what, f"all {most.samples:,} samples", _AGAIN)
    raise content.refusal("only one usable sample is left; a flight needs at least two", mend=_AGAIN)


def _moves(flight: RawFlight) -> bool:
    return bool(np.ptp(flight.lat_deg) > 0.0 or np.ptp(flight.lon_deg) > 0.0)


def _scaled(flight: RawFlight) -> RawFlight:
    """Settle a bare number's unit of time by how fast the aircraft moved: the choices lie factors of 60 apart."""
    rest = {column: values for column, values in flight.undecided.items() if column.name != "time"}
    if len(rest) == len(flight.undecided):
        return flight
    timed = flight.take(np.isfinite(flight.time_s + flight.lat_deg + flight.lon_deg))
    speed = usual_speed_kt(timed.time_s, timed.lat_deg, timed.lon_deg)
    fits = [unit for unit in (*ELAPSED, *TICKS) if is_flying_speed(speed / unit.factor)]
    # Units that lie a factor of ten apart are apart by a hundred in it.
    sideways = usual_sideways(timed.time_s, timed.lat_deg, timed.lon_deg)
    low, high = CLEANING.sideways_mps2
    turning = [unit for unit in fits if low < sideways / unit.factor**2 < high]
    unit = next(iter(turning), next((unit for unit in fits if unit in ELAPSED), None))
    said, why = "", "so the aircraft moves at a flying speed"
    if unit is None:
        unit, why = SECONDS, "times without a unit are seconds by common practice"
        said = (
            "The times give no unit, and in none does the aircraft move at a flying speed; read in seconds. "
            "Say --units time=s, ms, min, h or days."
        )
    elif unit != SECONDS:
        mend = " If that is wrong, say --units time=0.05s or the like." if unit in TICKS else ""
        said = f"The times give no unit; read in {unit.name}: {why}.{mend}"
    sources = tuple(
        replace(source, unit=unit.name, standing="assumed", why=why) if source.channel == "time" else source
        for source in flight.sources
    )
    scaled = replace(flight, time_s=flight.time_s * unit.factor, undecided=rest, sources=sources)
    return scaled.saying("time-unit-assumed", said) if said else scaled


def _track(flight: RawFlight, content: Content, format_name: str, sha256: str) -> Track:
    start = float(flight.time_s[0])
    # POSIX seconds as floats are good to a quarter of a microsecond: what they add is taken off again.
    clean = replace(flight, time_s=np.round(flight.time_s - start, 6), dated=False)
    moved = movement(clean.time_s, clean.lat_deg, clean.lon_deg)
    settled = replace(settle_units(clean, moved), time_s=flight.time_s, dated=flight.dated)
    settled = replace(settle_references(settled, moved), time_s=clean.time_s)
    checked = hold_against_track(within_range(settled), moved)
    start_utc, said = _start(flight, start)
    notices = [*content.notices, *checked.notices, *said, *_holes(clean.time_s)]
    if "altitude_ft" not in checked.channels:
        message = "There is no usable altitude: altitude and airspeed cannot be judged."
        notices.append(Notice("altitude-missing", message))
    return Track(
        name=content.name,
        format=format_name,
        sha256=sha256,
        time_s=clean.time_s,
        lat_deg=clean.lat_deg,
        lon_deg=clean.lon_deg,
        channels={name: checked.channels[name] for name in CHANNELS if name in checked.channels},
        start_utc=start_utc,
        notices=tuple(dict.fromkeys(notices)),
        # Columns whose channel the cleaner dropped were ignored in the end.
        sources=tuple(
            replace(source, standing="ignored", why="not used: see the notices")
            if source.channel in CHANNELS and source.channel not in checked.channels
            else source
            for source in checked.sources
        ),
        seams=tuple(
            Seam(round(seam.time_s - start, 6), round(seam.removed_s, 3))
            for seam in flight.seams
            if start <= seam.time_s <= float(flight.time_s[-1])
        ),
    )


def _start(flight: RawFlight, start: float) -> tuple[datetime | None, tuple[Notice, ...]]:
    if not flight.dated:
        unread = any(notice.code == "date-ambiguous" for notice in flight.notices)
        what = "No date is taken" if unread else "The log has no date"
        return None, (Notice("date-missing", f"{what}; times count from its first sample."),)
    doubt = doubtful_date(start, time.time())
    if doubt is not None and doubt.code == "date-impossible":
        return None, (doubt,)
    return datetime.fromtimestamp(start, UTC), () if doubt is None else (doubt,)


def _holes(time_s: FloatArray) -> tuple[Notice, ...]:
    """Say where nothing was recorded for long, while flying or not."""
    holes = holes_of(time_s) if time_s.size > 2 else []
    if not holes:
        return ()
    longest = max(end - start for start, end in holes)
    where = listed([f"{start:.0f}–{end:.0f} s" for start, end in holes])
    some = counted(len(holes), "hole", "holes")
    return (Notice("hole", f"{some} in the recording, longest {longest:.0f} s: {where}."),)


def holes_of(time_s: FloatArray) -> list[tuple[float, float]]:
    """List stretches without samples, start and end in seconds: longer than four usual intervals and than 5 s."""
    steps = np.diff(time_s)
    if float(steps.max(initial=0.0)) <= CLEANING.shortest_hole_s:
        return []
    usual_s, most_s = np.percentile(steps, (50, CLEANING.most_steps_percent))
    limit = max(CLEANING.shortest_hole_s, CLEANING.hole_steps * usual_s, CLEANING.hole_most_steps * most_s)
    return [(float(time_s[i]), float(time_s[i + 1])) for i in np.flatnonzero(steps > limit)]


def _named(made: list[Track], labels: list[str]) -> list[Track]:
    """Tell several flights of one file apart by their labels, or by number."""
    if len(made) == 1:
        return made
    names = [label or f"flight {place}" for place, label in enumerate(labels, 1)]
    met = Counter[str]()
    for place, name in enumerate(names):
        met[name] += 1
        told = f"{name}, {met[name]}" if names.count(name) > 1 else name
        made[place] = replace(made[place], name=f"{made[place].name} ({told})")
    return made
