"""Which given hold fits which stretch of a flight, and what is said of one that fits none."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from analyser.circuits.fix_passages import (
    Passage,
    arrivals_over,
    inbound_passages,
    is_circle,
    nearest_way_back_nm,
)
from analyser.circuits.flown import FitCode, FlownHold, HoldFit, PossibleHold, SearchReason, part_words
from analyser.circuits.frame import HoldView, apart_nm, distance_from_fix_nm, hold_view, plane_nm
from analyser.circuits.given_hold import GivenReading, begun_after, may_begin_within, read_given
from analyser.circuits.racetrack import is_chorded
from analyser.circuits.thresholds import GIVEN
from analyser.earth.angles import whole_direction, wrap180, wrap360
from analyser.holds.definition import Hold
from analyser.logs.text import clock_text
from analyser.logs.track import FloatArray, Track, runs
from analyser.motion.survey import Survey, survey_flight


def stays_at(
    track: Track, hold: Hold, *, course_sd_deg: float = 0.0, given: bool = True
) -> list[GivenReading]:
    """Read every stay at one given hold, or at an inferred one whose course is known to a sigma, in time order.

    There is none where the flight never came near the fix, or flew the course the other way.
    """
    return [
        reading
        for view in _views(track, hold)
        for reading in read_given(replace(view, course_sd_deg=course_sd_deg, given=given))
        if not _is_reversed(reading) and not _goes_to_ground(track, reading)
    ]


def _views(track: Track, hold: Hold) -> list[HoldView]:
    if not track.samples or distance_from_fix_nm(track, hold).min() > GIVEN.near_nm:
        return []
    views = [
        hold_view(track, survey, hold, scale_s=_scale_s(survey, track))
        for survey in survey_flight(track, longest_hole_s=GIVEN.longest_hole_s)
    ]
    return [view for view in views if view is not None]


def _scale_s(survey: Survey, track: Track) -> float:
    """Return the smoothing that a direction over the ground asks for, seconds."""
    if is_chorded(survey):
        return GIVEN.chord_scale_s
    return max(GIVEN.fine_scale_s, GIVEN.scale_share * track.interval_s)


def _is_reversed(reading: GivenReading) -> bool:
    """Tell whether the same stay fits the reciprocal course better: then the file's course is not what was flown."""
    # An arrival passes the fix whatever the course; what an entry ends with is a passage of the hold.
    misses = [passage.miss_nm for passage in reading.passages[0 if reading.entry else 1 :]]
    if not misses or reading.usual_miss_nm < GIVEN.reversed_miss_nm:
        return False
    if min(misses) < GIVEN.reversed_alike * max(misses):
        return False
    return any(
        len(other.laps) >= max(len(reading.laps), GIVEN.reversed_laps)
        and other.usual_miss_nm < min(GIVEN.reversed_share * reading.usual_miss_nm, GIVEN.reversed_met_nm)
        and all(_is_flown_to(other.view, passage.index) for passage in other.passages[1:])
        and _shortest_leg_s(other) >= GIVEN.reversed_legs_share * _shortest_leg_s(reading)
        for other in read_given(_reversed(reading.view))
        if other.start_s < reading.end_s and reading.start_s < other.end_s
    )


def _shortest_leg_s(reading: GivenReading) -> float:
    """Return how long the laps' outbound or inbound legs usually are, whichever are shorter."""
    legs = np.array([lap.legs for lap in reading.laps])
    # A turn that leads past the fix leaves no leg to it.
    return float(np.median(np.maximum(legs[:, :, 1] - legs[:, :, 0], 0), axis=0).min())


def _is_flown_to(view: HoldView, passed: int) -> bool:
    """Tell whether the fix was passed on a leg that led to it, and not in a turn or soon after one."""
    way = slice(max(passed - GIVEN.reversed_leg_s, 0), passed)
    return abs(view.turned_deg(way.start, way.stop)) < GIVEN.reversed_leg_deg


def _reversed(view: HoldView) -> HoldView:
    course = wrap360(view.hold.inbound_course_true_deg + 180.0)
    return replace(
        view,
        hold=replace(view.hold, inbound_course_true_deg=course),
        along_nm=-view.along_nm,
        cross_nm=-view.cross_nm,
        off_deg=np.asarray(wrap180(view.off_deg + 180.0)),
        air_off_deg=np.asarray(wrap180(view.air_off_deg + 180.0)),
        drift_share=(-view.drift_share[0], -view.drift_share[1]),
    )


def _goes_to_ground(track: Track, reading: GivenReading) -> bool:
    """Tell laps of an aerodrome: each goes down to the ground."""
    height, ground_ft = reading.view.survey.altitude_ft, ground_ft_of(track)
    laps = [height[lap.start : lap.end + 1] for lap in reading.laps]
    if ground_ft is None or not all(np.isfinite(lap).all() and lap.size for lap in laps):
        return False
    return all(
        float(lap.min()) <= ground_ft + GIVEN.ground_within_ft and float(np.ptp(lap)) >= GIVEN.ground_dip_ft
        for lap in laps
    )


def ground_ft_of(track: Track) -> float | None:
    """Return the height of the ground that a flight began or ended on; None where the log shows neither."""
    height = track.channel("altitude_ft")
    if track.samples < 2 * GIVEN.ground_samples or not np.isfinite(height).any():
        return None
    speed = distance_per_second_kt(track)
    for end in (slice(0, GIVEN.ground_samples), slice(track.samples - GIVEN.ground_samples, track.samples)):
        if float(np.median(speed[end])) < GIVEN.taxi_kt and np.isfinite(height[end]).any():
            return float(np.nanmedian(height[end]))
    return None


def distance_per_second_kt(track: Track) -> FloatArray:
    """Return the speed from sample to sample, knots."""
    north = np.diff(track.lat_deg) * 60.0
    east = wrap180(np.diff(track.lon_deg)) * 60.0 * np.cos(np.radians(track.lat_deg[1:]))
    speed = np.hypot(north, east) / np.maximum(np.diff(track.time_s), 1e-3) * 3600.0
    return np.asarray(np.concatenate([speed[:1], speed]))


def best_stays(readings: list[GivenReading]) -> tuple[list[GivenReading], dict[int, tuple[Hold, ...]]]:
    """Keep for every stretch the given hold for which most speaks, in time order; and by place what fits as well."""
    kept: list[GivenReading] = []
    alike: list[list[Hold]] = []
    left = list(readings)
    while left:
        reading = max(left, key=lambda r: r.evidence)
        left.remove(reading)
        met = [i for i, o in enumerate(kept) if reading.start_s < o.end_s and o.start_s < reading.end_s]
        if not met:
            kept.append(reading)
            alike.append([])
        elif apart_nm(reading.view.hold, kept[met[0]].view.hold) > GIVEN.met_nm:
            # Who holds at one fix after another passes abeam the first on every lap round the second.
            other = kept[met[0]]
            common_s = max(reading.start_s, other.start_s), min(reading.end_s, other.end_s)
            if reading.nearness(*common_s) > other.nearness(*common_s):
                del kept[met[0]], alike[met[0]]
                left += [reading, *_laps_outside(other, reading)]
            else:
                left += _laps_outside(reading, other)
        elif kept[met[0]].evidence - reading.evidence <= GIVEN.alike_evidence:
            alike[met[0]].append(reading.view.hold)
    order = sorted(range(len(kept)), key=lambda i: kept[i].start_s)
    return [kept[i] for i in order], {place: tuple(alike[i]) for place, i in enumerate(order) if alike[i]}


def _laps_outside(reading: GivenReading, other: GivenReading) -> list[GivenReading]:
    """Return the parts of a stay that were over before another one began, and that begin after its end."""
    time_s, passages = reading.view.time_s, reading.passages
    before = sum(float(time_s[p.index]) <= other.start_s for p in passages) - 1
    after = sum(float(time_s[p.left]) < other.end_s for p in passages)
    parts = []
    if before > 0:
        parts.append(
            replace(reading, laps=reading.laps[:before], passages=passages[: before + 1], broken=None)
        )
    if after < len(reading.laps):
        parts.append(
            replace(
                reading,
                arrival=passages[after],
                arrived=True,
                entry=None,
                laps=reading.laps[after:],
                passages=passages[after:],
            )
        )
    return parts


def fit_of(
    track: Track, hold: Hold, holds: tuple[FlownHold, ...], alike: dict[int, tuple[Hold, ...]]
) -> HoldFit:
    """Say how a given hold fits the flight.

    ``alike`` says, by place in the holds that were found, which given ones fit as well as the one that was taken.
    """
    if not track.samples:
        return HoldFit(hold, "no-position", "The log has no usable positions.")
    away = distance_from_fix_nm(track, hold)
    nearest = int(np.argmin(away))
    nearest_nm, nearest_s = float(away[nearest]), float(track.time_s[nearest])
    flown = tuple(i for i, h in enumerate(holds) if h.given and h.hold == hold)
    taken = next((holds[i].hold.name or "another given hold" for i, o in alike.items() if hold in o), None)
    if flown:
        code, said = _flown_by(holds[flown[0]])
    elif taken is not None:
        code, said = "flown-alike", f"This hold fits as well as {taken}, which was taken."
    elif nearest_nm > GIVEN.near_nm:
        code, said = _never_near(track, hold, f"nearest {_miles(nearest_nm)}, at {clock_text(nearest_s)}")
    else:
        where = f"The flight passed this fix {nearest_nm:.1f} NM away, at {clock_text(nearest_s)}"
        code, said = _passed(track, hold, holds, where)
    return HoldFit(hold, code, said, flown, nearest_nm, nearest_s)


def _flown_by(flown: FlownHold) -> tuple[FitCode, str]:
    if doubt := _course_in_doubt(flown):
        return "flown-course", doubt
    if doubt := _fix_in_doubt(flown):
        return "flown-fix", doubt
    if not any(one.complete for one in flown.circuits):
        return "flown", f"The flight began to hold at this fix: {part_words(flown.circuits[-1])}."
    return "flown", "The flight held at this fix."


def _course_in_doubt(flown: FlownHold) -> str:
    """Say where the laps surely fit another course than the file's; empty where they do not, or are too few."""
    found, sd = flown.inferred, flown.inferred_sd
    if found is None or sd is None or sum(one.complete for one in flown.circuits) < GIVEN.doubt_laps:
        return ""
    off_deg = float(wrap180(found.inbound_course_true_deg - flown.hold.inbound_course_true_deg))
    if abs(off_deg) <= GIVEN.doubt_course_deg + GIVEN.doubt_sigmas * sd[1]:
        return ""
    if min(np.sign(off_deg) * _beside_deg(flown)) < GIVEN.doubt_beside_share * abs(off_deg):
        # Who weaves about the file's course flies along another for a while, and comes to the fix on no other line.
        return ""
    way = "right" if off_deg > 0.0 else "left"
    known_deg = max(2.0 * sd[1], 1.0)
    return (
        "The flight held at this fix, but by themselves its circuits fit an inbound course "
        f"{abs(off_deg):.0f}° further {way} (±{known_deg:.0f}°): check the course in the file, and whether it is "
        "magnetic or true."
    )


def _beside_deg(flown: FlownHold) -> FloatArray:
    """Return on which line each whole lap came to the fix: how far right its bearing lay of the file's course, (n,)."""
    motion, lines = flown.motion, []
    for circuit in flown.circuits:
        if circuit.complete and circuit.inbound_turn is not None:
            begun_s = 0.5 * (circuit.inbound_turn.end_s + circuit.end_s)
            way = motion.span(min(begun_s, circuit.end_s - GIVEN.doubt_way_s), circuit.end_s - 1.0)
            bearing = np.degrees(np.arctan2(-motion.east_nm[way], -motion.north_nm[way]))
            seen = wrap180(bearing - flown.hold.inbound_course_true_deg)[
                np.hypot(motion.east_nm[way], motion.north_nm[way]) > GIVEN.doubt_near_nm
            ]
            lines.append(float(np.median(seen)) if seen.size else 0.0)
    return np.array(lines)


def _fix_in_doubt(flown: FlownHold) -> str:
    """Say where laps and arrival alike surely fit another fix than the file's; empty where they do not."""
    entry, sd = flown.entry, flown.inferred_sd
    if flown.inferred is None or sd is None or entry is None:
        return ""
    east, north = plane_nm(flown.hold, flown.inferred)
    apart = float(np.hypot(east, north))
    whole = sum(one.complete for one in flown.circuits)
    if whole < GIVEN.doubt_laps or apart <= max(GIVEN.doubt_fix_nm, GIVEN.doubt_sigmas * sd[0]):
        return ""
    way_in = flown.motion.span(entry.fix_s - GIVEN.doubt_arrival_s, entry.fix_s + GIVEN.doubt_arrival_s)
    by_east, by_north = flown.motion.east_nm[way_in], flown.motion.north_nm[way_in]
    missed_nm = [float(np.hypot(by_east - x, by_north - y).min()) for x, y in ((0.0, 0.0), (east, north))]
    if missed_nm[1] > GIVEN.doubt_arrival_share * missed_nm[0]:
        # Who met the file's fix on arrival knew where it was, wherever the laps led.
        return ""
    bearing = whole_direction(float(np.degrees(np.arctan2(east, north))))
    return (
        f"The flight held at this fix, but by themselves its arrival and its circuits fit a fix {apart:.1f} NM "
        f"(±{2.0 * sd[0]:.1f}) away, bearing {bearing:03d}° true from it: check the fix in the file."
    )


def _miles(distance_nm: float) -> str:
    """Write a distance: in tenths of a mile where a tenth says something."""
    return f"{distance_nm:,.{1 if distance_nm < 100.0 else 0}f} NM"


def _often(times: int) -> str:
    return {1: "once", 2: "twice"}.get(times, f"{times} times")


def _never_near(track: Track, hold: Hold, nearest: str) -> tuple[FitCode, str]:
    said = f"The flight never came near this fix: {nearest}."
    for words, lat, lon in (
        ("longitude (east and west)", 1.0, -1.0),
        ("latitude (north and south)", -1.0, 1.0),
        ("latitude and longitude", -1.0, -1.0),
    ):
        turned = replace(hold, fix_lat_deg=lat * hold.fix_lat_deg, fix_lon_deg=lon * hold.fix_lon_deg)
        if float(distance_from_fix_nm(track, turned).min()) <= GIVEN.near_nm:
            said += f" With the other sign of its {words} it lies on the way flown: mend the file."
            return "sign", said
    return "not-near", said


def is_part_of(track: Track, given: Hold, lap: FlownHold | PossibleHold) -> bool:
    """Tell whether a lap found without the file may as well be parts of two laps of a given hold.

    It leads the other way round between the same turns, and on its way passes the given fix inbound, nearer than its
    own fix lies.
    """
    whole = lap.laps if isinstance(lap, PossibleHold) else sum(one.complete for one in lap.circuits)
    if whole >= GIVEN.other_end_laps or (isinstance(lap, FlownHold) and lap.given):
        return False
    if isinstance(lap, PossibleHold):
        lat, lon, course = lap.fix_lat_deg, lap.fix_lon_deg, lap.inbound_course_true_deg
    else:
        lat, lon, course = lap.hold.fix_lat_deg, lap.hold.fix_lon_deg, lap.hold.inbound_course_true_deg
    if abs(float(wrap180(course - given.inbound_course_true_deg))) < GIVEN.reversed_from_deg:
        return False
    near_nm = apart_nm(replace(given, fix_lat_deg=lat, fix_lon_deg=lon), given)
    return any(
        lap.start_s < float(view.time_s[passage.index]) < lap.end_s and passage.miss_nm < near_nm
        for view in _views(track, given)
        for passage in inbound_passages(view)
    )


def part_reason(given: Hold, start_s: float, end_s: float) -> SearchReason:
    """Say of a lap that it may as well be parts of two laps of a given hold."""
    when = f"between {clock_text(start_s)} and {clock_text(end_s)}"
    said = (
        f"1 lap {when} looks like a racetrack, but on it the fix of {given.name or 'the given hold'} is passed "
        "inbound: it may as well be parts of two laps of that hold"
    )
    return SearchReason("parts-of-given", said, start_s, end_s, given.fix_lat_deg, given.fix_lon_deg)


def _begins_within(track: Track, view: HoldView, passages: list[Passage]) -> str:
    """Say how the log begins where that may be within a lap which ends at the first passage; empty elsewhere."""
    begun = may_begin_within(view, passages[0].index) if passages else None
    if begun is None:
        return ""
    whole = view.time_s[0] <= track.time_s[0] + 1.0
    begins = "the log begins" if whole else "after a long hole the log goes on"
    it = "it" if len(passages) == 1 else "the first"
    if begun == "outbound":
        return f"{begins} on the way out before {it}"
    return f"{begins} {clock_text(float(passages[0].index))} before {it}, perhaps within a lap"


def _turned_outbound(back_nm: float | None, over: str, within: str) -> str:
    """Say what became of a lap that was begun after the last passage, and how the log begins before the first."""
    if within:
        back = "the log shows no way back to it"
        if back_nm is not None:
            back = f"the flight came back {back_nm:.1f} NM beside it"
        return f"inbound {over}, but {within}, and then {back}: no lap is seen whole."
    if back_nm is None:
        return "and turned outbound, but the log shows no way back to the fix: no lap is seen to its end."
    lost = "the fix was lost, and no lap was flown to it"
    return f"and turned outbound, but came back {back_nm:.1f} NM beside it: {lost}."


def _entry_alone(view: HoldView, passages: list[Passage]) -> str:
    """Say what was flown from the fix where it may have been an entry that no lap followed; empty elsewhere."""
    outbound = np.abs(view.off_deg) >= 180.0 - GIVEN.within_deg
    for arrival in arrivals_over(view, 0, view.time_s.size):
        # Outbound soon after the fix, for no longer than even a leg that was forgotten.
        way = next((one for one in runs(outbound) if one[1] > arrival.index + GIVEN.part_leg_s), None)
        if way is None or way[0] > arrival.index + GIVEN.broken_begun_s:
            continue
        flown_s = way[1] - max(way[0], arrival.index)
        if way[1] == outbound.size or flown_s > GIVEN.asked_leg_s:
            continue
        flew = "flew outbound from it, as an entry does"
        back = next((one for one in passages if one.index > way[1]), None)
        if back is None:
            return f"{flew}, but the log shows no way back to it: no lap is seen."
        passed = clock_text(float(view.time_s[back.index]))
        return f"{flew}, and passed it again inbound at {passed}, but no lap was begun there: an entry, and no more."
    return ""


def _passed(track: Track, hold: Hold, holds: tuple[FlownHold, ...], where: str) -> tuple[FitCode, str]:
    """Say of a hold whose fix was passed, and that was not flown, what was flown there instead."""
    views = _views(track, hold)
    readings = [(view, reading) for view in views for reading in read_given(view)]
    for _, reading in readings:
        if _is_reversed(reading):
            said = f"{where}, and held on the reciprocal of its course: turn the inbound course round."
            return "course-reversed", said
        if _goes_to_ground(track, reading):
            said = f"{where}, in laps that went down to the ground: laps of an aerodrome, no hold."
            return "passed", said
    passages = [(view, inbound_passages(view)) for view in views]
    over = _often(sum(len(found) for _, found in passages))
    circles = sum(is_circle(view, a.index, b.index) for view, found in passages for a, b in pairwise(found))
    begun = next(((view, p) for view, found in passages for p in found[-1:] if begun_after(view, p)), None)
    within = next((said for view, found in passages if (said := _begins_within(track, view, found))), "")
    if circles:
        said = (
            f"{where}, and circled over it {_often(circles)} without an outbound leg: no hold to judge. If one was "
            "meant, the watch starts abeam the fix."
        )
    elif begun is not None:
        said = f"{where}, {_turned_outbound(nearest_way_back_nm(*begun), over, within)}"
    elif within:
        said = f"{where}, inbound {over}, but {within}: no lap is seen from its start."
    elif entry := next((said for view, found in passages if (said := _entry_alone(view, found))), ""):
        said = f"{where}, {entry}"
    else:
        said = f"{where}, inbound {over}, but flew no lap from the fix back to the fix: an overflight or an approach."
    if not holds:
        return "passed", said
    here = min(holds, key=lambda one: apart_nm(one.hold, hold))
    beside_nm = apart_nm(here.hold, hold)
    if beside_nm > GIVEN.met_nm:
        return "elsewhere", f"{where}, but held at another place, {_miles(beside_nm)} from it."
    off_deg = abs(float(wrap180(here.hold.inbound_course_true_deg - hold.inbound_course_true_deg)))
    otherwise = []
    if off_deg > GIVEN.another_course_deg and here.other_end is None:
        flown, filed = (whole_direction(one.inbound_course_true_deg) for one in (here.hold, hold))
        otherwise.append(f"on about {flown:03d}° true inbound, not on the file's {filed:03d}°")
    if here.hold.turns != hold.turns:
        otherwise.append(f"{here.hold.turns}-handed")
    said = f"{where}, and held there, but {' and '.join(otherwise) or 'as another hold is defined'}: check the file."
    return "course-reversed" if off_deg > GIVEN.reversed_from_deg else "elsewhere", said
