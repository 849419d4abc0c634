"""A debrief as plain data: the JSON file that programs read, and the page's source.

Seconds named ``*_s`` count from the log's first sample, courses are degrees true in [0, 360), what this log
cannot tell is null. The shape is published in ``analyser/schema/debrief.schema.json``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from analyser.airspace.describe import airspace_document
from analyser.circuits.flown import FlownHold
from analyser.circuits.search_result import HoldFit, PossibleHold, SearchReason
from analyser.earth.wind import wind_from
from analyser.grading.circuit_document import circuit_document, leg_document
from analyser.grading.hold_document import (
    capped_document,
    entry_document,
    excursion_documents,
    finding_document,
    leaving_document,
    lesson_document,
)
from analyser.grading.judged import JudgedHold
from analyser.grading.next_time import NextTime
from analyser.grading.plain import (
    degrees,
    direction,
    feet,
    knots,
    miles,
    number,
    number_document,
    path,
    points,
    seconds,
)
from analyser.logs.track import Notice, Track
from analyser.rules.regime import Regime

if TYPE_CHECKING:
    from analyser.debrief import Debrief, HoldDebrief

#: 2 added the findings; whoever reads 1 reads 2.
SCHEMA = 2
CAUTION = (
    "Training aid: not for navigation, not for obstacle clearance. The AIP, air traffic control, the aircraft's "
    "manual and a qualified instructor decide."
)

#: A turn at three degrees a second is still round with a point every three seconds; a long hold has no more than so
#: many points.
_PATH_STEP_S, _PATH_POINTS = 3.0, 1500
#: Channels of a track → names of channels in the file.
_CHANNELS = {
    "altitude_ft": "altitude",
    "ground_speed_kt": "ground_speed",
    "track_true_deg": "track",
    "heading_true_deg": "heading",
    "heading_magnetic_deg": "heading",
    "bank_deg": "bank",
    "pitch_deg": "pitch",
    "ias_kt": "ias",
    "tas_kt": "tas",
    "wind_from_true_deg": "wind",
    "wind_speed_kt": "wind",
    "outside_air_temperature_c": "temperature",
    "vertical_speed_fpm": "vertical_speed",
}


def document(debrief: Debrief) -> dict[str, Any]:
    """Write a debrief as plain data.

    Parameters
    ----------
    debrief : Debrief

    Returns
    -------
    dict
        Ready for ``json.dumps(…, allow_nan=False)``.
    """
    return {
        "schema": SCHEMA,
        "caution": CAUTION,
        "log": _log(debrief.track),
        "rules": {"key": debrief.regime.key, "document": debrief.regime.document},
        "standard": {
            "key": debrief.standard.key,
            "name": debrief.standard.name,
            "document": debrief.standard.document or None,
        },
        "nearest_miss": debrief.nearest_miss,
        "possible_holds": [_possible_hold(one) for one in debrief.possible],
        "dropped": [_dropped(reason) for reason in debrief.reasons],
        "definition_fit": [_fit(one) for one in debrief.fits],
        "holds": [_hold(one, debrief) for one in debrief.holds],
    }


def _possible_hold(one: PossibleHold) -> dict[str, Any]:
    return {
        "start_s": seconds(one.start_s),
        "end_s": seconds(one.end_s),
        "fix": {"lat": number(one.fix_lat_deg, 6), "lon": number(one.fix_lon_deg, 6)},
        "inbound_course_true": direction(one.inbound_course_true_deg),
        "turns": one.turns,
        "laps": one.laps,
        "speaks_for": list(one.speaks_for),
        "speaks_against": list(one.speaks_against),
        "coarse": one.coarse,
    }


def _dropped(reason: SearchReason) -> dict[str, Any]:
    return {
        "code": reason.code,
        "sentence": reason.sentence,
        "start_s": seconds(reason.start_s),
        "end_s": seconds(reason.end_s),
    }


def _fit(one: HoldFit) -> dict[str, Any]:
    return {
        "file": one.hold.file,
        "name": one.hold.name,
        "code": one.code,
        "sentence": one.sentence,
        "nearest_nm": miles(one.nearest_nm),
        "holds": [place + 1 for place in one.flown],
        "named": True,
    }


def _log(track: Track) -> dict[str, Any]:
    present = [
        name
        for key, name in _CHANNELS.items()
        if key in track.channels and np.isfinite(track.channels[key]).any()
    ]
    many = track.samples > 1
    return {
        "name": track.name,
        "format": track.format,
        "sha256": track.sha256,
        "samples": track.samples,
        "duration_s": seconds(track.duration_s) if track.samples else None,
        "interval_s": number(track.interval_s, 3) if many else None,
        "start_utc": track.start_utc.isoformat().replace("+00:00", "Z") if track.start_utc else None,
        "channels": ["position", *dict.fromkeys(present)],
        "notices": _notices(track.notices),
    }


def _notices(notices: tuple[Notice, ...]) -> list[dict[str, str]]:
    return [{"code": notice.code, "message": notice.message} for notice in notices]


def _hold(one: HoldDebrief, debrief: Debrief) -> dict[str, Any]:
    flown, judged = one.flown, one.judged
    hold, regime = flown.hold, debrief.regime
    variation = judged.variation_deg
    course = hold.inbound_course_true_deg
    return {
        "definition": ("given" if hold.fix_given else "partly given") if flown.given else "inferred",
        "definition_file": (hold.file or None) if flown.given else None,
        "name": hold.name,
        "fix": {
            "lat": number(hold.fix_lat_deg, 6),
            "lon": number(hold.fix_lon_deg, 6),
            "sd_nm": miles(flown.fix_sd_nm),
        },
        "inbound_course_true": direction(course),
        "inbound_course_magnetic": None if variation is None else direction(course - variation),
        "inbound_course_sd": degrees(flown.course_sd_deg),
        "other_end": _other_end(flown),
        "variation": degrees(variation),
        "turns": hold.turns,
        "turns_flown": judged.flown.hold.turns,
        "leg": leg_document(hold, judged.leg_minutes),
        "rules": regime.key,
        "start_s": seconds(flown.start_s),
        "end_s": seconds(flown.end_s),
        "wind": _wind(flown),
        "tas_kt": knots(flown.motion.tas_mean_kt),
        "tas_sd_kt": knots(flown.motion.tas_mean_sd_kt),
        "tas_wander_kt": knots(flown.motion.tas_wander_kt),
        "altitude_ft": feet(judged.altitude_ft),
        "level_ft": feet(
            judged.given.altitude_ft if judged.given.altitude_ft is not None else judged.altitude_ft
        ),
        "entry": entry_document(judged.entry),
        "flown_path": _flown_path(flown),
        "circuits": [
            circuit_document(circuit, hold, regime, judged.scoring, variation_deg=variation)
            for circuit in judged.circuits
        ],
        **_judgement(judged, regime),
        "airspace": _airspace(one, regime),
        "inferred": _inferred(flown),
        "notices": _notices((*flown.notices, *flown.motion.notices)),
    }


def _flown_path(flown: FlownHold) -> dict[str, Any]:
    """Write the flown path from the arrival at the fix to the last passage of it, thinned for drawing."""
    motion = flown.motion
    inside = np.flatnonzero((motion.time_s >= flown.start_s) & (motion.time_s <= flown.end_s))
    since = motion.time_s[inside] - flown.start_s
    step_s = max(_PATH_STEP_S, (flown.end_s - flown.start_s) / _PATH_POINTS)
    first_of_step = np.diff(np.floor(since / step_s), prepend=-1.0) > 0
    first_of_step[-1:] = True
    chosen = inside[first_of_step]
    times = [number(float(one), 1) for one in motion.time_s[chosen]]
    return {"time_s": times, **path(motion.east_nm[chosen], motion.north_nm[chosen])}


def _airspace(one: HoldDebrief, regime: Regime) -> dict[str, Any] | None:
    found = one.airspace
    if found is None:
        return None
    hold = one.flown.hold
    return airspace_document(
        found.report, found.area, hold, rules=regime.key, cause=found.cause, level=found.level
    )


def _advice(plan: NextTime | None, variation_deg: float | None) -> list[dict[str, Any]]:
    if plan is None:
        return []
    return [
        {
            "cause": change.causes[0],
            "causes": list(change.causes),
            "first": change in plan.first,
            "advice": change.advice.said(variation_deg),
            "rule": change.rule or None,
            "fly": number_document(change.advice.fly),
            "flown": number_document(change.advice.flown),
        }
        for change in plan.all
    ]


def _judgement(judged: JudgedHold, regime: Regime) -> dict[str, Any]:
    variation, first, capped = judged.variation_deg, judged.work_on_first, judged.capped
    return {
        "points": points(judged.points),
        "grade": judged.grade.grade if judged.grade else None,
        "grade_word": judged.grade.word if judged.grade else None,
        "ungraded": judged.ungraded or None,
        "capped": None if capped is None else capped_document(capped),
        "findings": [finding_document(one) for one in judged.findings],
        "excursions": excursion_documents(judged),
        "verdict": " ".join(judged.verdict),
        "verdict_parts": {"first": " ".join(judged.said.first), "rest": " ".join(judged.said.rest)},
        "work_on_first": first.advice if first else None,
        "advice": _advice(judged.next_time, variation),
        "learning": [lesson_document(lesson) for lesson in judged.learning],
        "leaving": leaving_document(judged.leaving),
        "scoring": {
            "name": judged.scoring.name,
            "points_by_tolerances": [list(knot) for knot in judged.scoring.points.knots],
            "clock": {"fixes": regime.clock.fixes, "source": regime.clock.source},
            "parts": [
                {
                    "part": part.kind,
                    "circuit": part.circuit,
                    "points": points(part.points),
                    "weight": number(part.weight, 3),
                }
                for part in judged.parts
            ],
        },
    }


def _wind(flown: FlownHold) -> dict[str, Any]:
    motion = flown.motion
    from_true, speed = wind_from(motion.wind_mean_east_kt, motion.wind_mean_north_kt)
    source = {"logged": "air data", "derived": "turns"}
    obtained = motion.obtained.get("wind", "derived")
    return {
        "from_true": direction(from_true),
        "speed_kt": knots(speed),
        "east_kt": knots(motion.wind_mean_east_kt),
        "north_kt": knots(motion.wind_mean_north_kt),
        "sd_kt": knots(motion.wind_mean_sd_kt),
        "source": source.get(obtained, obtained),
    }


def _other_end(flown: FlownHold) -> dict[str, Any] | None:
    """Write where the fix may lie as well, at the other end of the racetrack."""
    other = flown.other_end
    if other is None:
        return None
    return {
        "fix": {"lat": number(other.fix_lat_deg, 6), "lon": number(other.fix_lon_deg, 6)},
        "inbound_course_true": direction(other.inbound_course_true_deg),
        "chance": number(other.chance, 2),
    }


def _inferred(flown: FlownHold) -> dict[str, Any] | None:
    """Write what the flight itself says of the hold, beside what was given."""
    found = flown.inferred
    if found is None:
        return None
    return {
        "fix": {"lat": number(found.fix_lat_deg, 6), "lon": number(found.fix_lon_deg, 6)},
        "inbound_course_true": direction(found.inbound_course_true_deg),
        "turns": found.turns,
        "leg": None
        if found.leg is None
        else {"minutes": number(found.leg.minutes, 3)}
        if found.leg.minutes is not None
        else {"distance_nm": miles(found.leg.distance_nm)},
    }
