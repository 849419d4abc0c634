"""The main job in a page: a track goes in, a debrief comes out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analyser.airspace.describe import excursion_sentence, speed_sentence
from analyser.airspace.hold_airspace import HoldAirspace, hold_airspace
from analyser.airspace.obstacle_file import Obstacle
from analyser.circuits.find import search
from analyser.circuits.flown import FlownHold, HoldFit, PossibleHold, SearchReason
from analyser.earth.variation import magnetic_variation
from analyser.frozen import dataclass
from analyser.grading.entry import with_entry_begun
from analyser.grading.finding import Finding
from analyser.grading.finding_ways import both_hands, held_reversed
from analyser.grading.findings import concluded
from analyser.grading.judge import judge_hold
from analyser.grading.judged import JudgedHold
from analyser.holds.definition import Hold
from analyser.logs.track import Track
from analyser.rules.flight_test_standard import Standard
from analyser.rules.load import rules_in_force
from analyser.rules.regime import Regime
from analyser.rules.scoring import Scoring


@dataclass(frozen=True)
class HoldDebrief:
    """One hold, as flown and as judged; and its holding area, with how the flight kept to it."""

    flown: FlownHold
    judged: JudgedHold
    airspace: HoldAirspace | None = None


@dataclass(frozen=True)
class Debrief:
    """Everything that is said about one flight; its holds in time order.

    ``nearest_miss`` says where no hold was found what came nearest, and why it is none; ``possible`` is what may have
    been a hold, shown and not scored; ``reasons`` tell what was dropped, and why; ``fits`` how each given hold fits the
    flight.
    """

    track: Track
    holds: tuple[HoldDebrief, ...]
    nearest_miss: str | None
    regime: Regime
    standard: Standard
    possible: tuple[PossibleHold, ...] = ()
    reasons: tuple[SearchReason, ...] = ()
    fits: tuple[HoldFit, ...] = ()


def debrief_track(
    track: Track,
    *,
    holds: Sequence[Hold] = (),
    hold: Hold | None = None,
    rules: str = "icao",
    standard: str | None = None,
    obstacles: Sequence[Obstacle] = (),
    high_terrain: bool = False,
    flight_director: bool = False,
    turbulence: bool = False,
    scoring: Scoring | None = None,
) -> Debrief:
    """Debrief one flight.

    ``holds``, or the one ``hold``, are those that may have been flown; what fits none of them is inferred from the
    flight. ``rules`` are ``"icao"`` or ``"faa"``; ``standard`` is the name of a test standard or the path of one's
    own, left out: the regime's usual one. ``obstacles`` are for the minimum holding level, over ``high_terrain`` or
    not. That a flight director was used, or that turbulence was flown in, counts where the rules know it. Raises
    SettingsError: no such rules or standard.
    """
    regime, tolerances = rules_in_force(rules, standard)
    regime = regime.under(flight_director=flight_director, turbulence=turbulence)
    found = search(track, holds if hold is None else (*holds, hold))
    debriefed = []
    for place, one in enumerate(found.holds):
        flown = with_entry_begun(replace(one, hold=_on_log_clock(one.hold, track)), regime)
        judged = judge_hold(
            flown,
            regime,
            tolerances,
            leave_at_s=_leave_at_s(track, flown.hold),
            scoring=scoring,
            variation_deg=hold_variation_deg(track, flown),
        )
        airspace = hold_airspace(
            flown, regime, _shifts(judged), obstacles=obstacles, high_terrain=high_terrain
        )
        turned_round = held_reversed(judged, found.fits)
        if turned_round and judged.entry is not None:
            why = "it was flown to the reciprocal of the file's course"
            judged = replace(judged, entry=replace(judged.entry, verdict="not judged", points=None, note=why))
        others = (*turned_round, *both_hands(found.holds, place))
        judged = held_to_area(judged, airspace, tolerances, others)
        debriefed.append(HoldDebrief(flown, judged, airspace))
    return Debrief(
        track,
        tuple(debriefed),
        found.nearest_miss,
        regime,
        tolerances,
        found.possible,
        found.reasons,
        found.fits,
    )


def _shifts(judged: JudgedHold) -> dict[int, list[tuple[str, float, float]]]:
    """Gather what each cause moved the roll-out by, along and across, circuit by circuit."""
    return {
        one.circuit.number: [
            (cost.cause, cost.along_track_nm, cost.cross_track_nm) for cost in one.budget.costs
        ]
        for one in judged.circuits
        if one.budget is not None
    }


def hold_variation_deg(track: Track, flown: FlownHold) -> float | None:
    """Take the variation, east positive, that the hold was read with, else the model's; None without a date."""
    hold = flown.hold
    if hold.variation_deg is not None:
        return hold.variation_deg
    if track.start_utc is None:
        return None
    inside = flown.motion.altitude_ft[flown.motion.span(flown.start_s, flown.end_s)]
    inside = inside[np.isfinite(inside)]
    altitude_ft = float(np.median(inside)) if inside.size else 0.0
    return magnetic_variation(hold.fix_lat_deg, hold.fix_lon_deg, altitude_ft, track.start_utc).variation_deg


def held_to_area(
    judged: JudgedHold, airspace: HoldAirspace, standard: Standard, others: tuple[Finding, ...] = ()
) -> JudgedHold:
    """Add to a judged hold what is found of it in its holding area, and what ``others`` find of it from outside.

    Verdict, points and grade are then as all findings together have it.
    """
    return concluded(judged, (*others, *_area_findings(airspace), *_level_findings(airspace, standard)))


def _area_findings(airspace: HoldAirspace) -> tuple[Finding, ...]:
    """Terrain is cleared only inside the holding area: having surely left it is unsafe, whatever the points."""
    report, found = airspace.report, []
    out = report.sure_excursion or report.likely_excursion
    if out is not None:
        sure = report.sure_excursion is not None
        beyond_nm = out.outside_whole_nm if sure else -out.margin_nm
        found.append(
            Finding(
                "holding area",
                "unsafe" if sure else "improve",
                () if out.phase.circuit is None else (out.phase.circuit,),
                excursion_sentence(report, airspace.cause),
                *(beyond_nm, 0.0, None, report.position_sd_nm, "NM"),
                brief=f"{beyond_nm:.1f} NM outside the holding area in {out.phase.said()}",
            )
        )
    if report.speed.kept is False:
        speed = report.speed
        found.append(
            Finding(
                "area speed",
                "improve",
                (),
                speed_sentence(report),
                *(speed.most_kias, speed.limit_kias, None, None, "kt"),
            )
        )
    return tuple(found)


def _level_findings(airspace: HoldAirspace, standard: Standard) -> tuple[Finding, ...]:
    """Say it where the flight was lower than the obstacles allow: unsafe beyond what altitude keeping is allowed."""
    level, lowest_ft = airspace.level, airspace.report.level.lowest_ft
    if level is None or level.level_ft is None or lowest_ft is None or lowest_ft >= level.level_ft:
        return ()
    below_ft, tolerance_ft = level.level_ft - lowest_ft, standard.altitude.tolerance_ft
    return (
        Finding(
            "minimum level",
            "unsafe" if below_ft > tolerance_ft else "improve",
            (),
            f"By the log's altitude you were as low as {lowest_ft:,.0f} ft, {below_ft:,.0f} ft below the minimum "
            f"holding level of {level.level_ft:,.0f} ft over the obstacles given.",
            *(lowest_ft, level.level_ft, tolerance_ft, None, "ft"),
            advice=f"Hold at {level.level_ft:,.0f} ft or above, and never below the published level.",
            brief=f"{below_ft:,.0f} ft below the minimum holding level",
        ),
    )


def _on_log_clock(hold: Hold, track: Track) -> Hold:
    """Put the instants of cleared levels on the log's clock; one that no clock can place clears nothing."""
    if not any(change.from_utc is not None for change in hold.levels):
        return hold
    placed = []
    for change in hold.levels:
        if change.from_utc is None:
            placed.append(change)
        elif track.start_utc is not None:
            placed.append(replace(change, from_s=(change.from_utc - track.start_utc).total_seconds()))
    return replace(hold, levels=tuple(placed))


def _leave_at_s(track: Track, hold: Hold) -> float | None:
    """Return the time to leave the fix on the log's own clock; None where either is unknown."""
    if hold.leave_fix_at is None or track.start_utc is None:
        return None
    return (hold.leave_fix_at - track.start_utc).total_seconds()
