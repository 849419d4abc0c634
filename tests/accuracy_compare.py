"""What the program said of a flight, held against what was truly flown."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from analyser.circuits.find import find_holds
from analyser.circuits.flown import Circuit, FlownHold, Turn
from analyser.logs.track import Track
from tests.flights.as_track import to_hold
from tests.flights.flight import EARTH
from tests.flights.truth import TrueCircuit, TrueHold, TrueTurn

#: Circuits belong together if they begin within this of each other, seconds; turns likewise.
SAME_CIRCUIT_S, SAME_TURN_S = 45.0, 40.0
#: A bank with so large a sigma, degrees, is the program's word that it does not know it: nothing to be honest about.
NO_BANK_SD_DEG = 15.0


@dataclass
class Errors:
    """Errors by measure (found less true), and counts of what was missed, extra or misread."""

    values: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    in_sd: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    counts: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    remarks: list[str] = field(default_factory=list)

    def add(self, measure: str, error: float | None) -> None:
        """Keep one error; None and NaN are counted as not found."""
        if error is None or not np.isfinite(error):
            self.counts[f"not found: {measure}"] += 1
        else:
            self.values[measure].append(float(error))

    def add_in_sd(self, measure: str, error: float, sd: float) -> None:
        """Keep one error in units of its stated sigma."""
        self.in_sd[measure].append(float(error / sd) if sd > 0 else np.inf)

    def merge(self, other: Errors) -> None:
        """Take over another flight's errors."""
        for name, found in other.values.items():
            self.values[name].extend(found)
        for name, found in other.in_sd.items():
            self.in_sd[name].extend(found)
        for name, count in other.counts.items():
            self.counts[name] += count
        self.remarks.extend(other.remarks)


def fold(angle_deg: float) -> float:
    """Fold an angle into [−180, 180)."""
    return (angle_deg + 180.0) % 360.0 - 180.0


def compare(
    track: Track, truths: tuple[TrueHold, ...], *, offset_s: float, sampling: str, steady: bool
) -> Errors:
    """Run the program on a track twice, with the hold given and without, and compare.

    Parameters
    ----------
    truths : tuple of TrueHold
        Their times count from the flight's start.
    offset_s : float
        Time of the track's first sample from the flight's start.
    sampling : str
        Name of the group of sampling intervals, for the measures that are judged by it.
    steady : bool
        Flown with a steady hand in smooth air.
    """
    errors = Errors()
    _compare_holds(errors, find_holds(track), truths, offset_s, sampling, steady, given=False)
    for truth in truths:
        mine = [h for h in find_holds(track, to_hold(truth)) if h.given]
        _compare_holds(errors, mine, (truth,), offset_s, sampling, steady, given=True)
    return errors


def compare_place(errors: Errors, track: Track, truth: TrueHold, *, offset_s: float) -> None:
    """Compare the fix and the course that are found without being given."""
    mine = found_of(truth, find_holds(track), offset_s)
    if mine is None:
        errors.counts["not found: hold of a pilot by how he meets the course"] += 1
    else:
        _place(errors, mine, truth)


def _compare_holds(
    errors: Errors,
    found: list[FlownHold],
    truths: tuple[TrueHold, ...],
    offset_s: float,
    sampling: str,
    steady: bool,
    *,
    given: bool,
) -> None:
    how = "given" if given else "inferred"
    left = list(found)
    for truth in truths:
        mine = found_of(truth, left, offset_s)
        if mine is None:
            errors.counts[f"holds missed ({how})"] += 1
            errors.remarks.append(f"hold missed ({how})")
            continue
        left.remove(mine)
        _compare_hold(errors, mine, truth, offset_s, sampling, steady, given=given)
    if left:
        errors.counts[f"holds extra ({how})"] += len(left)
        errors.remarks.append(f"{len(left)} holds extra ({how}) at {[round(h.start_s) for h in left]}")


def found_of(truth: TrueHold, found: Iterable[FlownHold], offset_s: float) -> FlownHold | None:
    """Return the hold that shares most time with a true one; None where none shares a minute."""

    def shared_s(one: FlownHold) -> float:
        return min(one.end_s + offset_s, truth.end_s) - max(one.start_s + offset_s, truth.fix_s)

    return max((one for one in found if shared_s(one) >= 60.0), key=shared_s, default=None)


def _compare_hold(
    errors: Errors,
    found: FlownHold,
    truth: TrueHold,
    offset_s: float,
    sampling: str,
    steady: bool,
    *,
    given: bool,
) -> None:
    how = "given" if given else "inferred"
    flown = found.entry.flown if found.entry else "none"
    if flown != truth.entry:
        errors.counts[f"entries misread ({how})"] += 1
        errors.remarks.append(f"{truth.entry} entry read as {flown} ({how})")
    if found.hold.turns != truth.turns:
        errors.counts[f"hands misread ({how})"] += 1
        errors.remarks.append(f"hand misread ({how})")
    if given:
        _wind_and_speed(errors, found, truth, steady)
        if found.entry and flown == truth.entry:
            errors.add("fix passage", found.entry.fix_s + offset_s - truth.fix_s)
            errors.add("arrival heading", fold(found.entry.arrival_heading_deg - truth.arrival_heading_deg))
    else:
        _place(errors, found, truth)
    _circuits(errors, found, truth, offset_s, sampling, given=given)


def _wind_and_speed(errors: Errors, found: FlownHold, truth: TrueHold, steady: bool) -> None:
    motion = found.motion
    east = motion.wind_mean_east_kt - truth.wind_kt[0]
    north = motion.wind_mean_north_kt - truth.wind_kt[1]
    errors.add("wind, steady hand" if steady else "wind, wandering", float(np.hypot(east, north)))
    errors.add("wind", float(np.hypot(east, north)))
    errors.add_in_sd("wind", east, motion.wind_mean_sd_kt)
    errors.add_in_sd("wind", north, motion.wind_mean_sd_kt)
    errors.add("TAS", motion.tas_mean_kt - truth.tas_kt)
    errors.add_in_sd("TAS", motion.tas_mean_kt - truth.tas_kt, motion.tas_mean_sd_kt)


def _place(errors: Errors, found: FlownHold, truth: TrueHold) -> None:
    bearing, _, metres = EARTH.inv(
        truth.fix_lon_deg, truth.fix_lat_deg, found.hold.fix_lon_deg, found.hold.fix_lat_deg
    )
    course = fold(found.hold.inbound_course_true_deg - truth.course_deg)
    for share in (np.sin(np.radians(bearing)), np.cos(np.radians(bearing))):
        errors.add_in_sd("fix", float(share) * metres / 1852.0, found.fix_sd_nm or 0.0)
    errors.add_in_sd("course", course, found.course_sd_deg or 0.0)
    errors.add("fix inferred", metres / 1852.0)
    errors.add("course inferred", course)
    if metres > 0.5 * 1852.0 or abs(course) > 8.0:
        errors.remarks.append(f"inferred fix {metres / 1852.0:.2f} NM and course {course:+.1f}° off")


def _circuits(
    errors: Errors, found: FlownHold, truth: TrueHold, offset_s: float, sampling: str, *, given: bool
) -> None:
    how = "given" if given else "inferred"
    left = list(found.circuits)
    for number, true in enumerate(truth.circuits, start=1):
        mine = min(left, key=lambda c: abs(c.start_s + offset_s - true.start_s), default=None)
        if mine is None or abs(mine.start_s + offset_s - true.start_s) > SAME_CIRCUIT_S:
            errors.counts[f"circuits missed ({how})"] += 1
            errors.remarks.append(f"circuit {number} missed ({how})")
            continue
        left.remove(mine)
        if mine.complete != true.complete:
            errors.counts[f"circuits whole or not, misread ({how})"] += 1
            errors.remarks.append(f"circuit {number} whole: {mine.complete}, truly {true.complete} ({how})")
        if given:
            _circuit(errors, found, mine, true, truth, offset_s, sampling, number)
    if left:
        errors.counts[f"circuits extra ({how})"] += len(left)
        errors.remarks.append(f"{len(left)} circuits extra ({how}) at {[round(c.start_s) for c in left]}")


def _circuit(
    errors: Errors,
    found: FlownHold,
    mine: Circuit,
    true: TrueCircuit,
    truth: TrueHold,
    offset_s: float,
    sampling: str,
    number: int,
) -> None:
    east, north = mine.wind_east_kt - true.wind_kt[0], mine.wind_north_kt - true.wind_kt[1]
    if true.complete:
        errors.add("wind per circuit", float(np.hypot(east, north)))
        errors.add_in_sd("wind per circuit", east, mine.wind_sd_kt)
        errors.add_in_sd("wind per circuit", north, mine.wind_sd_kt)
        errors.add("TAS per circuit", mine.tas_kt - true.tas_kt)
        errors.add_in_sd("TAS per circuit", mine.tas_kt - true.tas_kt, mine.tas_sd_kt)
    errors.add("fix passage", mine.start_s + offset_s - true.start_s)
    if number == len(truth.circuits) and true.complete and mine.complete:
        errors.add("fix passage", mine.end_s + offset_s - true.end_s)
    _turn(
        errors, mine.outbound_turn, true.outbound_turn, offset_s, sampling, f"circuit {number} outbound turn"
    )
    if true.inbound_turn is not None:
        _turn(
            errors, mine.inbound_turn, true.inbound_turn, offset_s, sampling, f"circuit {number} inbound turn"
        )
    if not true.disturbed:
        _legs(errors, mine, true, number)
    if true.rollout_cross_nm is not None and mine.inbound_turn is not None and not true.disturbed:
        rollout = _cross_nm(found, truth, mine.inbound_turn.end_s)
        errors.add("roll-out cross-track", rollout - true.rollout_cross_nm)


def _turn(
    errors: Errors, mine: Turn | None, true: TrueTurn, offset_s: float, sampling: str, where: str
) -> None:
    if mine is None or abs(mine.end_s + offset_s - true.end_s) > SAME_TURN_S:
        errors.counts["turns not found"] += 1
        errors.remarks.append(f"{where} not found")
        return
    bank = mine.bank_mean_deg - true.bank_mean_deg
    errors.add(f"bank, {sampling}", bank)
    if mine.bank_mean_sd_deg < NO_BANK_SD_DEG:
        errors.add_in_sd("bank", bank, mine.bank_mean_sd_deg)
    if true.merged:
        errors.counts["not found: leaving level, as the turn grew out of another"] += 1
    else:
        errors.add(f"leaving level, {sampling}", mine.start_s + offset_s - true.start_s)
    errors.add(f"wings level, {sampling}", mine.end_s + offset_s - true.end_s)
    for what, off, most in (
        ("bank", bank, 2.5),
        ("leaving level", 0.0 if true.merged else mine.start_s + offset_s - true.start_s, 5.0),
        ("wings level", mine.end_s + offset_s - true.end_s, 5.0),
    ):
        if abs(off) > most:
            errors.remarks.append(
                f"{where}: {what} off by {off:+.1f} (truly {true.start_s:.0f}–{true.end_s:.0f} s)"
            )


def _legs(errors: Errors, mine: Circuit, true: TrueCircuit, number: int) -> None:
    if mine.outbound_leg is not None and true.inbound_turn is not None:
        off = fold(mine.outbound_leg.heading_deg - true.outbound_heading_deg)
        errors.add("outbound heading", off)
        if true.timed_outbound_s is not None:
            clock = mine.outbound_leg.start_s if mine.abeam_s is None else mine.abeam_s
            errors.add("timed outbound, inbound", mine.outbound_leg.end_s - clock - true.timed_outbound_s)
        if abs(off) > 4.0:
            errors.remarks.append(f"circuit {number}: outbound heading off by {off:+.1f}")
    if true.inbound_s is not None:
        found = mine.inbound_leg.duration_s if mine.inbound_leg else None
        errors.add("timed outbound, inbound", None if found is None else found - true.inbound_s)


def _cross_nm(found: FlownHold, truth: TrueHold, time_s: float) -> float:
    east, north = found.motion.at("east_nm", time_s), found.motion.at("north_nm", time_s)
    toward = np.radians(truth.course_deg)
    return float(east * np.cos(toward) - north * np.sin(toward))
