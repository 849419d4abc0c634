"""A debrief as it is written: the JSON file that programs read, and the page's source.

The parts are types of :mod:`analyser.schema.debrief_file`; what this log cannot tell is None.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from analyser import CAUTION
from analyser.airspace.describe import written_airspace
from analyser.circuits.flown import FlownHold, HoldFit, PossibleHold
from analyser.earth.wind import wind_from
from analyser.grading.hold_document import (
    written_circuit,
    written_entry,
    written_excursions,
    written_finding,
    written_leaving,
    written_leg,
    written_lesson,
    written_number,
)
from analyser.grading.judged import JudgedHold
from analyser.grading.next_time import NextTime
from analyser.logs.track import Notice, Track
from analyser.rules.regime import Regime
from analyser.schema.debrief_file import (
    WrittenAdvice,
    WrittenAirspace,
    WrittenCap,
    WrittenClock,
    WrittenDebrief,
    WrittenFit,
    WrittenFix,
    WrittenFlownPath,
    WrittenHold,
    WrittenInferred,
    WrittenLeg,
    WrittenLog,
    WrittenNotice,
    WrittenOtherEnd,
    WrittenPosition,
    WrittenPossibleHold,
    WrittenReason,
    WrittenRules,
    WrittenScorePart,
    WrittenScoring,
    WrittenStandard,
    WrittenVerdict,
    WrittenWind,
)
from analyser.schema.plain_data import number, thousandths

if TYPE_CHECKING:
    from analyser.debrief import Debrief, HoldDebrief

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
    """Write a debrief as plain data, ready for ``json.dumps(…, allow_nan=False)``."""
    return written_debrief(debrief).plain()


def written_debrief(debrief: Debrief) -> WrittenDebrief:
    """Write a debrief: once, for the file, the page and the terminal."""
    return WrittenDebrief(
        caution=CAUTION,
        log=_log(debrief.track),
        rules=WrittenRules.of(debrief.regime),
        standard=WrittenStandard.of(debrief.standard, document=debrief.standard.document or None),
        nearest_miss=debrief.nearest_miss,
        possible_holds=tuple(_possible_hold(one) for one in debrief.possible),
        dropped=tuple(WrittenReason.of(reason) for reason in debrief.reasons),
        definition_fit=tuple(_fit(one) for one in debrief.fits),
        holds=tuple(_hold(one, debrief) for one in debrief.holds),
    )


def _possible_hold(one: PossibleHold) -> WrittenPossibleHold:
    return WrittenPossibleHold.of(one, fix=_position(one), inbound_course_true=one.inbound_course_true_deg)


def _position(one: Any) -> WrittenPosition:
    return WrittenPosition(lat=one.fix_lat_deg, lon=one.fix_lon_deg)


def _fit(one: HoldFit) -> WrittenFit:
    return WrittenFit.of(
        one,
        file=one.hold.file,
        name=one.hold.name,
        holds=tuple(place + 1 for place in one.flown),
        named=True,
    )


def _log(track: Track) -> WrittenLog:
    present = [
        name
        for key, name in _CHANNELS.items()
        if key in track.channels and np.isfinite(track.channels[key]).any()
    ]
    return WrittenLog.of(
        track,
        duration_s=track.duration_s if track.samples else None,
        interval_s=track.interval_s if track.samples > 1 else None,
        start_utc=track.start_utc.isoformat().replace("+00:00", "Z") if track.start_utc else None,
        channels=("position", *dict.fromkeys(present)),
        notices=_notices(track.notices),
    )


def _notices(notices: tuple[Notice, ...]) -> tuple[WrittenNotice, ...]:
    return tuple(WrittenNotice.of(notice) for notice in notices)


def _hold(one: HoldDebrief, debrief: Debrief) -> WrittenHold:
    flown, judged = one.flown, one.judged
    hold, regime, motion = flown.hold, debrief.regime, flown.motion
    variation, course, capped = judged.variation_deg, hold.inbound_course_true_deg, judged.capped
    given_ft = judged.given.altitude_ft
    return WrittenHold(
        definition=("given" if hold.fix_given else "partly given") if flown.given else "inferred",
        definition_file=(hold.file or None) if flown.given else None,
        name=hold.name,
        fix=WrittenFix(lat=hold.fix_lat_deg, lon=hold.fix_lon_deg, sd_nm=flown.fix_sd_nm),
        inbound_course_true=course,
        inbound_course_magnetic=None if variation is None else course - variation,
        inbound_course_sd=flown.course_sd_deg,
        other_end=_other_end(flown),
        variation=variation,
        turns=hold.turns,
        turns_flown=judged.flown.hold.turns,
        leg=written_leg(hold, judged.leg_minutes),
        rules=regime.key,
        start_s=flown.start_s,
        end_s=flown.end_s,
        wind=_wind(flown),
        tas_kt=motion.tas_mean_kt,
        tas_sd_kt=motion.tas_mean_sd_kt,
        tas_wander_kt=motion.tas_wander_kt,
        altitude_ft=judged.altitude_ft,
        level_ft=given_ft if given_ft is not None else judged.altitude_ft,
        entry=written_entry(judged.entry),
        flown_path=_flown_path(flown),
        circuits=tuple(
            written_circuit(circuit, hold, regime, judged.scoring, variation_deg=variation)
            for circuit in judged.circuits
        ),
        points=judged.points,
        grade=judged.grade.grade if judged.grade else None,
        grade_word=judged.grade.word if judged.grade else None,
        ungraded=judged.ungraded or None,
        capped=None if capped is None else WrittenCap.of(capped),
        findings=tuple(written_finding(one) for one in judged.findings),
        excursions=written_excursions(judged),
        verdict=" ".join(judged.verdict),
        verdict_parts=WrittenVerdict(first=" ".join(judged.said.first), rest=" ".join(judged.said.rest)),
        work_on_first=judged.work_on_first.advice if judged.work_on_first else None,
        advice=_advice(judged.next_time, variation),
        learning=tuple(written_lesson(lesson) for lesson in judged.learning),
        leaving=written_leaving(judged.leaving),
        scoring=_scoring(judged, regime),
        airspace=_airspace(one, regime),
        inferred=_inferred(flown),
        notices=_notices((*flown.notices, *motion.notices)),
    )


def _flown_path(flown: FlownHold) -> WrittenFlownPath:
    """Write the flown path from the arrival at the fix to the last passage of it, thinned for drawing."""
    motion = flown.motion
    inside = np.flatnonzero((motion.time_s >= flown.start_s) & (motion.time_s <= flown.end_s))
    since = motion.time_s[inside] - flown.start_s
    step_s = max(_PATH_STEP_S, (flown.end_s - flown.start_s) / _PATH_POINTS)
    first_of_step = np.diff(np.floor(since / step_s), prepend=-1.0) > 0
    first_of_step[-1:] = True
    chosen = inside[first_of_step]
    return WrittenFlownPath(
        time_s=tuple(number(float(one), 1) for one in motion.time_s[chosen]),
        east_nm=thousandths(motion.east_nm[chosen]),
        north_nm=thousandths(motion.north_nm[chosen]),
    )


def _airspace(one: HoldDebrief, regime: Regime) -> WrittenAirspace | None:
    found = one.airspace
    if found is None:
        return None
    return written_airspace(
        found.report, found.area, one.flown.hold, rules=regime.key, cause=found.cause, level=found.level
    )


def _advice(plan: NextTime | None, variation_deg: float | None) -> tuple[WrittenAdvice, ...]:
    if plan is None:
        return ()
    return tuple(
        WrittenAdvice(
            cause=change.causes[0],
            causes=tuple(change.causes),
            first=change in plan.first,
            advice=change.advice.said(variation_deg),
            rule=change.rule or None,
            fly=written_number(change.advice.fly),
            flown=written_number(change.advice.flown),
        )
        for change in plan.all
    )


def _scoring(judged: JudgedHold, regime: Regime) -> WrittenScoring:
    return WrittenScoring(
        name=judged.scoring.name,
        points_by_tolerances=judged.scoring.points.knots,
        clock=WrittenClock.of(regime.clock),
        parts=tuple(WrittenScorePart.of(part, part=part.kind) for part in judged.parts),
    )


def _wind(flown: FlownHold) -> WrittenWind:
    motion = flown.motion
    from_true, speed = wind_from(motion.wind_mean_east_kt, motion.wind_mean_north_kt)
    source = {"logged": "air data", "derived": "turns"}
    obtained = motion.obtained.get("wind", "derived")
    return WrittenWind(
        from_true=from_true,
        speed_kt=speed,
        east_kt=motion.wind_mean_east_kt,
        north_kt=motion.wind_mean_north_kt,
        sd_kt=motion.wind_mean_sd_kt,
        source=source.get(obtained, obtained),
    )


def _other_end(flown: FlownHold) -> WrittenOtherEnd | None:
    """Write where the fix may lie as well, at the other end of the racetrack."""
    other = flown.other_end
    if other is None:
        return None
    return WrittenOtherEnd.of(other, fix=_position(other), inbound_course_true=other.inbound_course_true_deg)


def _inferred(flown: FlownHold) -> WrittenInferred | None:
    """Write what the flight itself says of the hold, beside what was given."""
    found = flown.inferred
    if found is None:
        return None
    return WrittenInferred(
        fix=_position(found),
        inbound_course_true=found.inbound_course_true_deg,
        turns=found.turns,
        leg=None if found.leg is None else WrittenLeg.of(found.leg),
    )
