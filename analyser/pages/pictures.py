"""All pictures of one hold, each with the sentence that says what it shows; the bands of its time strips."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from markupsafe import Markup

from analyser.circuits.flown import Circuit, FlownHold
from analyser.earth.turning import turn_radius_nm
from analyser.frozen import dataclass
from analyser.pages import captions
from analyser.pages.figures import symbols
from analyser.pages.figures.canvas import Canvas
from analyser.pages.figures.charts import ROW, waterfall, wind_circle
from analyser.pages.figures.sectors import sectors
from analyser.pages.figures.strips import Band, Strip, ribbon, strip_sheet
from analyser.pages.figures.svg import part_id, svg, used
from analyser.pages.figures.views import air, common_canvas, reach, side
from analyser.pages.subject import FloatArray, HoldSeries, Subject
from analyser.rules.load import load_regime

if TYPE_CHECKING:
    from analyser.grading.keeping import LevelPlan
    from analyser.schema.debrief_file import WrittenCircuit, WrittenExcursion, WrittenHold


#: Part of a circuit, from and to, and about what a quantity was to be held there.
Part = tuple[float, float, float]


@dataclass(frozen=True)
class Picture:
    """One picture ready for the page.

    ``finding`` says what it shows: caption and text alternative. The caption stands under ``caption_id`` and names the
    picture, which names itself where that is empty. ``mapping`` is for the script's cursor.
    """

    svg: Markup
    title: str
    finding: Markup | str
    caption_id: str
    mapping: dict[str, float]


def picture(
    canvas: Canvas,
    title: str,
    finding: Markup | str,
    name: str,
    caption_id: str = "",
    *,
    ids: str = "",
    under: Markup | str = "",
    **data: Any,
) -> Picture:
    """Turn a canvas into a picture that its caption names, or that names itself where it has none."""
    said = f"{title}. {finding}" if title else finding
    drawn = svg(canvas, said, name=name, caption=caption_id, ids=ids, under=under, **data)
    return Picture(drawn, title, finding, caption_id, canvas.mapping())


def _named(
    subject: Subject, canvas: Canvas, title: str, finding: Markup | str, name: str, **how: Any
) -> Picture:
    """Make a picture of a hold that has the page's one place for its kind, and its caption there."""
    return picture(canvas, title, finding, name, f"{subject.ids}-{name}", **how)


def hold_pictures(subject: Subject, map_canvas: Canvas) -> dict[str, Any]:
    """Draw everything that the page shows of a hold, by name; None where the log does not give it."""
    strips = hold_strips(subject)
    return {
        "plan": _plan(subject, map_canvas),
        "air": _air(subject),
        "side": _side(subject, strips),
        "strips": _strips(subject, strips),
        "circuits": _circuits(subject, map_canvas),
        "sectors": _sectors(subject),
        "wind": _wind(subject),
    }


def _plan(subject: Subject, canvas: Canvas) -> Picture:
    """Make the plan view a picture; how far to look out for the holding area goes with it."""
    further = {}
    if subject.area is not None:
        further["reach"] = " ".join(f"{edge:.1f}" for edge in reach(canvas, subject.area))
    side = next((exact.side for exact in subject.exact.values()), None)
    holes = bool(subject.series.in_hole.any())
    caption = captions.plan(subject.document, exact_side=side, holes=holes)
    return _named(subject, canvas, "Plan view", caption, "plan", ids=subject.ids, **further)


def _air(subject: Subject) -> Picture:
    """Draw the air-mass view."""
    radii = {}
    for which, exact in subject.exact.items():
        radius = turn_radius_nm(exact.turn_rate_dps, exact.tas_kt)
        radii[which, "outbound_turn"] = radii[which, "inbound_turn"] = radius
    canvas = air(subject.series, subject.spans, radii)
    return _named(subject, canvas, "Air-mass view", captions.air(subject.document), "air")


def _side(subject: Subject, strips: Sequence[Strip]) -> Picture | None:
    """Draw the side view; without heights there is none."""
    if np.isnan(subject.series.altitude_ft).all():
        return None
    bands = next((strip.bands for strip in strips if strip.key == "altitude"), ())
    same = {(band.low, band.high) for band in bands}
    canvas = side(subject.series, subject.spans, same.pop() if len(same) == 1 else None)
    return _named(subject, canvas, "Side view", captions.side(subject.series), "side")


def _strips(subject: Subject, strips: Sequence[Strip]) -> list[tuple[str, Picture]]:
    """Draw the ribbon of phases and every time strip."""
    window, start, seams = subject.window_s, subject.flown.start_s, subject.seams_s
    bar = ribbon(subject.spans, window, start, seams)
    drawn = [
        ("ribbon", _named(subject, bar, "Phases", captions.ribbon(subject.spans, start, seams), "ribbon"))
    ]
    for strip in strips:
        canvas, caption = strip_sheet(strip, subject.spans, window, seams), captions.strip(strip, start)
        named = picture(canvas, strip.title, caption, "strip", f"{subject.ids}-{strip.key}", key=strip.key)
        drawn.append((strip.key, named))
    return drawn


def _circuits(subject: Subject, map_canvas: Canvas) -> dict[int, Picture]:
    """Draw every circuit on its own, all on one scale, from the lines of the plan view."""
    drawn, blank = {}, common_canvas(subject, 220.0, 176.0)
    for circuit in subject.document.circuits:
        which, caption = circuit.number, captions.circuit(circuit)
        canvas = Canvas(blank.width, blank.height, blank.window)
        symbols.fix(canvas)
        lines = Markup("").join(
            [*_used(subject, map_canvas, canvas, which), _reflown_lines(subject, map_canvas, canvas, which)]
        )
        drawn[which] = picture(canvas, f"Circuit {which}", caption, "multiple", under=lines)
    return drawn


def step_picture(
    subject: Subject, map_canvas: Canvas, which: Sequence[int], says: str, again: str = ""
) -> Picture:
    """Draw circuits large, for showing: over the exact one, or with one flown again with a fault corrected."""
    canvas = common_canvas(subject, 900.0, 640.0)
    symbols.fix(canvas)
    lines = [line for number in which for line in _used(subject, map_canvas, canvas, number)]
    if again:
        lines.append(used(part_id(subject.ids, "reflown", which[0], again), map_canvas, canvas))
    return picture(canvas, "", says, "step", under=Markup("").join(lines))


def _used(subject: Subject, map_canvas: Canvas, canvas: Canvas, which: int) -> list[Markup]:
    # Of a circuit of which the log shows no part nothing is drawn.
    flown = any(span.circuit == which for span in subject.spans)
    layers = ["ideal"] * (which in subject.exact) + ["flown"] * flown
    return [used(part_id(subject.ids, layer, which), map_canvas, canvas) for layer in layers]


def _reflown_lines(subject: Subject, map_canvas: Canvas, canvas: Canvas, which: int) -> Markup:
    """Lay the re-flown circuits on a picture; each is shown when the reader asks for it."""
    ways = [cause for number, cause in subject.reflown if number == which]
    lines = Markup("").join(
        Markup('<g data-circuit="{}" data-cause="{}">{}</g>').format(
            which, cause, used(part_id(subject.ids, "reflown", which, cause), map_canvas, canvas)
        )
        for cause in ways
    )
    return Markup('<g data-layer="reflown">{}</g>').format(lines)


def _sectors(subject: Subject) -> Picture:
    """Draw the entry sectors with the arrival heading."""
    entry, flown = subject.document.entry, subject.flown
    canvas = sectors(
        flown.hold.inbound_course_true_deg,
        flown.hold.side,
        subject.variation,
        None if entry is None else entry.arrival_heading_true,
        () if entry is None else entry.sectors_allowed,
        load_regime(subject.document.rules).entry,
        heading_sd_deg=flown.entry.arrival_heading_sd_deg if flown.entry is not None else None,
    )
    return _named(subject, canvas, "Entry sectors", captions.entry(subject.document), "sectors")


def _wind(subject: Subject) -> Picture | None:
    """Draw the wind circle; without a wind there is none."""
    wind, tas_kt = subject.document.wind, subject.document.tas_kt
    if wind.east_kt is None or wind.north_kt is None or tas_kt is None:
        return None
    motion = subject.flown.motion
    inside = motion.span(subject.flown.start_s, subject.flown.end_s)
    stride = max(1, round((inside.stop - inside.start) / 240))
    pick = slice(inside.start, inside.stop, stride)
    ground = motion.ground_east_kt[pick], motion.ground_north_kt[pick]
    canvas = wind_circle(ground, wind, tas_kt, subject.document.tas_sd_kt, subject.wind_texts)
    return _named(subject, canvas, "Wind circle", captions.wind(subject.document), "wind")


def waterfall_pictures(circuit: WrittenCircuit) -> list[Picture]:
    """Draw the error budget of one circuit, across the course and in time; along it is told in the table."""
    pictures = []
    for key, title, unit, decimals in (
        ("cross_track_nm", "Across the course at roll-out, right is positive", "NM", 2),
        ("time_s", "Inbound time, long is positive", "s", 1),
    ):
        shares = [
            (captions.cause_words(share.cause), value)
            for share in circuit.error_budget
            if (value := getattr(share, key)) is not None
        ]
        if shares:
            shares.sort(key=lambda share: -abs(share[1]))
            # As it was measured: a sum of rounded shares may end otherwise than the sentence beside it.
            measured = getattr(circuit.error, key, None)
            total = sum(value for _, value in shares) if measured is None else measured
            canvas = waterfall(shares, total, unit, decimals)
            finding = captions.waterfall(shares, total, unit, decimals)
            pictures.append(picture(canvas, title, finding, "waterfall", rows=round(canvas.height / ROW)))
    return pictures


def hold_strips(subject: Subject) -> list[Strip]:
    """Return the strips of a hold, those first that are judged; what the log cannot give has none."""
    flown, series, document = subject.flown, subject.series, subject.document
    motion, time, circuits = flown.motion, series.time_s, document.circuits
    sd = {
        name: np.interp(time, motion.time_s, getattr(motion, name)) for name in ("ias_sd_kt", "bank_sd_deg")
    }
    by_number = {one.number: one for one in flown.circuits}
    has_ias = not np.isnan(series.ias_kt).all()
    speed = series.ias_kt if has_ias else series.tas_kt
    over_limit = next((one.brief or "" for one in document.findings if one.kind == "speed limit"), "")
    strips = [
        Strip("altitude", "Altitude", "ft", 0, time, series.altitude_ft, None,
              _bands(circuits, "altitude", lambda one: _level_parts(one, subject.levels, motion.time_s)),
              metres=True, outside=_left(document, "altitude")),
        Strip("speed", "Indicated airspeed" if has_ias else "True airspeed", "kt", 0, time, speed,
              sd["ias_sd_kt"] if has_ias else None, _bands(circuits, "speed", _speed_parts),
              outside=_left(document, "speed"), also=over_limit),
        Strip("bank", "Bank, right wing down is positive", "°", 0, time, series.bank_deg, sd["bank_sd_deg"],
              _bands(circuits, "bank", lambda one: _turn_parts(one, by_number)), outside=_left(document, "bank")),
        Strip("cross", "Off the inbound course, right is positive", "NM", 2, time, series.cross_nm, None,
              _track_bands(flown, series, circuits), outside=_left(document, "track")),
    ]  # fmt: skip
    return [strip for strip in strips if not np.isnan(strip.value).all()]


def _left(document: WrittenHold, item: str) -> list[WrittenExcursion]:
    """Return when a quantity left its tolerance on the circuits that were judged."""
    judged = {one.number for one in document.circuits if one.scores[item].points is not None}
    return [one for one in document.excursions if one.item == item and judged & set(one.circuits)]


def _bands(
    circuits: Sequence[WrittenCircuit],
    item: str,
    parts: Callable[[WrittenCircuit], Iterable[Part]],
) -> list[Band]:
    """Return the bands of an item: on each part of a circuit as far as its tolerance either way.

    A band over a quantity that is known too badly to be judged would mark faults that nobody can see.
    """
    return [
        Band(start_s, end_s, about - tolerance, about + tolerance, about)
        for circuit in circuits
        if (tolerance := circuit.scores[item].tolerance) is not None
        and circuit.scores[item].points is not None
        for start_s, end_s, about in parts(circuit)
    ]


def _speed_parts(circuit: WrittenCircuit) -> Iterable[Part]:
    about = circuit.scores["speed"].reference
    return [] if about is None else [(circuit.start_s, circuit.end_s, about)]


def _level_parts(circuit: WrittenCircuit, levels: LevelPlan, time_s: FloatArray) -> Iterable[Part]:
    """List each level held; there is none while the aircraft was on its way to another."""
    level = levels.reference_ft
    inside = np.flatnonzero((time_s >= circuit.start_s) & (time_s <= circuit.end_s) & np.isfinite(level))
    breaks = np.flatnonzero((np.diff(inside) > 1) | (np.abs(np.diff(level[inside])) > 1.0)) + 1
    runs = [run for run in np.split(inside, breaks) if run.size > 1]
    return [(float(time_s[run[0]]), float(time_s[run[-1]]), float(level[run[0]])) for run in runs]


def _turn_parts(circuit: WrittenCircuit, flown: Mapping[int, Circuit]) -> Iterable[Part]:
    # Rolling in and out is no fault: the band holds for the established part.
    target, one = circuit.scores["bank"].target, flown[circuit.number]
    turns = [
        turn for turn in (one.outbound_turn, one.inbound_turn) if turn is not None and target is not None
    ]
    return [
        (
            turn.established_start_s,
            turn.established_end_s,
            math.copysign(target or 0.0, turn.heading_change_deg),
        )
        for turn in turns
    ]


def _track_bands(flown: FlownHold, series: HoldSeries, circuits: Sequence[WrittenCircuit]) -> list[Band]:
    """Bands for the inbound legs: in miles even, in degrees as seen from the fix narrowing towards it."""
    scores = {circuit.number: circuit.scores["track"] for circuit in circuits}
    bands = []
    for circuit in flown.circuits:
        score, leg = scores[circuit.number], circuit.inbound_leg
        tolerance = score.tolerance
        if tolerance is None or score.points is None or leg is None:
            continue
        if score.unit == "NM":
            bands.append(Band(leg.start_s, leg.end_s, -tolerance, tolerance, 0.0))
        else:
            # Within the last stretch degrees mean nothing; the band ends where it is a fifth as wide as at its start.
            far = max(-float(np.interp(leg.start_s, series.time_s, series.along_nm)), 0.05)
            wide, end_s = far * math.tan(math.radians(tolerance)), leg.end_s - 0.2 * leg.duration_s
            bands.append(Band(leg.start_s, end_s, -wide, wide, 0.0, narrows_to=0.2))
    return bands
