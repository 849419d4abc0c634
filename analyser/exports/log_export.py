"""A log exported, with what its holds add to the track: their fixes as places, their parts as phases."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from analyser.circuits.find import search
from analyser.circuits.flown import FlownHold
from analyser.collection.files import HoldFiles, holds_for
from analyser.earth.angles import whole_direction
from analyser.errors import UsageError
from analyser.exports.track_formats import Phase, Waypoint, export_track
from analyser.logs.read import ReadOptions, read_log
from analyser.logs.track import Track
from analyser.whole_files import named_for_each, write_text_whole

_PARTS = ("outbound_turn", "outbound_leg", "inbound_turn", "inbound_leg")
#: The arrival that is named begins no earlier than this before the fix, seconds.
_ARRIVAL_S = 300.0


def export_log(
    log: Path, to: str, out: Path, options: ReadOptions, given: HoldFiles, *, force: bool
) -> Iterator[Path]:
    """Write each flight of a log in the open format ``to``, with the phases of its holds and their fixes.

    Of several flights each has its number in the name of ``out``; each file's path is given out when it is written.
    ``force`` replaces a file that is there, but never the log. Raises AnalyserError if the log cannot be read, the
    format is none, or a file is there or cannot be written.
    """
    tracks = read_log(log, options)
    for track, path in zip(tracks, named_for_each(out, len(tracks)), strict=True):
        if path.exists() and (not force or path.resolve() == log.resolve()):
            mend = "name another, or say --force"
            raise UsageError("the file is there already", file=str(path), place="--out", mend=mend)
        holds = search(track, holds_for(given, track).holds).holds
        write_text_whole(path, export_track(track, to, phases_of(track, holds), places_of(holds)))
        yield path


def phases_of(track: Track, holds: tuple[FlownHold, ...]) -> list[Phase]:
    """Name the parts of each hold: arrival, entry, and the turns and legs of its circuits."""
    phases: list[Phase] = []
    left_s = float(track.time_s[0])
    for number, flown in enumerate(holds, 1):
        before = f"hold {number}, " if len(holds) > 1 else ""
        arrival_s = max(left_s, flown.start_s - _ARRIVAL_S)
        if flown.entry is not None and flown.start_s > arrival_s:
            phases.append(Phase(arrival_s, flown.start_s, f"{before}arrival"))
        if flown.entry is not None and flown.entry.end_s > flown.entry.fix_s:
            phases.append(Phase(flown.entry.fix_s, flown.entry.end_s, f"{before}entry"))
        for circuit in flown.circuits:
            for part in _PARTS:
                stretch = getattr(circuit, part)
                if stretch is not None:
                    name = f"{before}circuit {circuit.number}, {part.replace('_', ' ')}"
                    phases.append(Phase(stretch.start_s, stretch.end_s, name))
        left_s = flown.end_s
    return phases


def places_of(holds: tuple[FlownHold, ...]) -> list[Waypoint]:
    """Name the fix of each hold."""
    places = []
    for number, flown in enumerate(holds, 1):
        hold = flown.hold
        named = hold.name or ("Holding fix" if len(holds) == 1 else f"Holding fix {number}")
        course = f"{whole_direction(hold.inbound_course_true_deg):03d}° true"
        origin = "inferred from the track" if flown.fix_sd_nm is not None else "as given in a hold file"
        told = f"Fix {origin}: inbound course {course}, {hold.turns}-hand. Not for navigation."
        places.append(Waypoint(hold.fix_lat_deg, hold.fix_lon_deg, named, told))
    return places
