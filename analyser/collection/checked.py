"""What a hold file says, in words and as a small drawing, and what a debrief would hold a flight against."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from analyser.collection.files import HoldFiles, files_of, holds_for, own_folder, read
from analyser.earth.angles import whole_direction
from analyser.earth.atmosphere import cas_to_tas
from analyser.errors import HoldFileError, UsageError
from analyser.frozen import dataclass
from analyser.holds import chart_words
from analyser.holds.ideal_circuit import ideal_circuit
from analyser.holds.kinematics import to_east_north
from analyser.inspection.small_plan import PlanPoints

if TYPE_CHECKING:
    from analyser.holds.definition import Hold
    from analyser.holds.holdfile import HoldFile
    from analyser.logs.read import ReadOptions
    from analyser.logs.track import Track
    from analyser.rules.regime import Regime

#: The drawing's airspeed where the file says none, knots true, and its altitude, feet.
_USUAL_TAS_KT, _USUAL_FT = 110.0, 4000.0
#: Of a flight so much is drawn round the fix, nautical miles.
_ROUND_NM = 15.0


@dataclass(frozen=True)
class Checked:
    """A hold file as it is told; and drawn, where it has a fix: the circuit in still air, and round it the flight."""

    lines: tuple[str, ...]
    drawing: PlanPoints | None


def check(path: Path, rules: str, log: Path | None = None, options: ReadOptions | None = None) -> Checked:
    """Tell a hold file, and whether it fits the flight of a log, which is read with ``options``.

    Raises HoldFileError if the file is wrong. Raises LogError if the log cannot be read.
    """
    from analyser.logs.read import read_log
    from analyser.rules.load import load_regime

    file, regime = read(path), load_regime(rules)
    hold = file.hold() if log is None and file.fix_given else None
    lines = [] if log is not None else [*_told(file, hold), *_judged(file, regime)]
    around: list[Track] = []
    for track in () if log is None else read_log(log, options):
        flown, said = _fit(path, track)
        shown = flown or (file.hold(track.start_utc) if file.fix_given else None)
        lines += [*([""] if lines else []), *_told(file, shown, track.start_utc), *_judged(file, regime)]
        lines.append(f"  {'log':9}  {track.name}: {said}")
        if shown is not None:
            hold, around = shown, [track]
    if hold is None:
        return Checked(tuple(lines), None)
    lines.append(f"  {'drawn':9}  the circuit in still air at {_tas_kt(hold):.0f} kt true airspeed")
    return Checked(tuple(lines), _drawing(hold, regime, around))


def listing(folders: Sequence[Path]) -> Iterator[str]:
    """List hold files, a line each, wrong ones with what is wrong; UsageError where a folder is named that is none."""
    for folder in folders:
        if not folder.is_dir() and folder != own_folder():
            raise UsageError("there is no such folder", file=str(folder), mend="check the path")
        for path in files_of(folder) if folder.is_dir() else ():
            try:
                file = read(path)
            except HoldFileError as fault:
                yield f"{path.name}: cannot be used: {fault}"
                continue
            said = file.said
            fix = _fix_words(file.hold()) if file.fix_given else "fix inferred from the flight"
            course = f"{whole_direction(said.inbound_course):03d}°{said.reference[0].upper()}"
            yield f"{path.name}: {said.name or 'no name'}; {fix}; inbound {course}, {said.turns}-hand; leg {_leg(file)}"


def _told(file: HoldFile, hold: Hold | None, when: datetime | None = None) -> Iterator[str]:
    said = file.said
    yield f"{said.name or 'Hold without a name'} ({file.path})"
    yield f"  {'fix':9}  {_fix_words(hold) if hold is not None else 'inferred from each flight, along the course'}"
    if hold is None:
        yield f"  {'inbound':9}  {whole_direction(said.inbound_course):03d}° {said.reference}"
    else:
        true_deg, variation = hold.inbound_course_true_deg, hold.variation_deg or 0.0
        way = "east" if variation >= 0.0 else "west"
        day = "on the day of the flight" if when is not None else "today"
        yield (
            f"  {'inbound':9}  {whole_direction(true_deg - variation):03d}° magnetic, {whole_direction(true_deg):03d}° "
            f"true (variation {abs(variation):.1f}° {way} {day})"
        )
    yield f"  {'turns':9}  {said.turns}-hand"
    yield f"  {'leg':9}  {_leg(file)}"


def _judged(file: HoldFile, regime: Regime) -> Iterator[str]:
    """Say what a flight is held against, item by item."""
    said = file.said
    clock = "outbound" if regime.clock.fixes == "outbound" else "inbound"
    if said.leg is not None and said.leg.minutes is None:
        timed = "where the outbound leg ends"
    else:
        timed = f"the {clock} time, as {regime.document} asks"
    yield f"  {'judged':9}  entry by the heading over the fix; {timed}; bank; drift correction; tracking inbound"
    kept = "what the flight itself kept, for the file says none"
    level = kept if said.altitude_ft is None else f"{said.altitude_ft:,.0f} ft"
    speed = kept if said.speed_kias is None else f"{said.speed_kias:.0f} kt indicated"
    yield f"  {'altitude':9}  against {level}"
    yield f"  {'speed':9}  against {speed}"
    if said.leave_fix_at is None:
        yield f"  {'leaving':9}  not judged: the file has no leave_fix_at"
    else:
        yield f"  {'leaving':9}  at {said.leave_fix_at:%H:%M:%S} UTC on {said.leave_fix_at:%Y-%m-%d}"


def _fix_words(hold: Hold) -> str:
    return chart_words.written(hold.fix_lat_deg, hold.fix_lon_deg)


def _leg(file: HoldFile) -> str:
    leg = file.said.leg
    if leg is None:
        return "by altitude, from the rules"
    if leg.outbound_dme_nm is not None:
        return f"to {leg.outbound_dme_nm:g} DME (distance measuring equipment), from {leg.fix_dme_nm:g} at the fix"
    return f"{leg.minutes:g} min" if leg.minutes is not None else f"{leg.distance_nm:g} NM"


def _tas_kt(hold: Hold) -> float:
    if hold.speed_kias is None:
        return _USUAL_TAS_KT
    return cas_to_tas(hold.speed_kias, hold.altitude_ft or _USUAL_FT)


def _fit(path: Path, track: Track) -> tuple[Hold | None, str]:
    """Hold a flight against a file; return the hold that was flown by it, if any, and what is said."""
    from analyser.circuits.find import search

    given = holds_for(HoldFiles((path,), frozenset((path,))), track)
    found = search(track, given.holds)
    for fit in found.fits:
        if fit.flown:
            return fit.hold, fit.sentence
    if found.fits:
        return None, f"fits no hold of this flight. {found.fits[0].sentence}"
    return None, "fits no hold of this flight: none is of this hand and about this course."


def _drawing(hold: Hold, regime: Regime, tracks: Sequence[Track]) -> PlanPoints:
    from analyser.earth.plane import LocalPlane

    exact = ideal_circuit(
        hold,
        regime,
        tas_kt=_tas_kt(hold),
        altitude_ft=hold.altitude_ft or _USUAL_FT,
        wind_east_kt=0.0,
        wind_north_kt=0.0,
    )
    path = exact.path(2.0)
    lines = [to_east_north(path.along_nm, path.cross_nm, hold.inbound_course_true_deg)]
    plane = LocalPlane(hold.fix_lat_deg, hold.fix_lon_deg)
    for track in tracks:
        east, north, _ = plane.to_plane(track.lat_deg, track.lon_deg)
        near = np.hypot(east, north) <= _ROUND_NM
        lines.append((east[near], north[near]))
    starts = np.cumsum([0, *(east.size for east, _ in lines)])
    after = np.zeros(starts[-1], dtype=bool)
    after[[start for start in starts[:-1] if start < after.size]] = True
    return PlanPoints(np.concatenate([e for e, _ in lines]), np.concatenate([n for _, n in lines]), after)
