"""All pictures of one hold, each with the sentence that says what it shows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from markupsafe import Markup

from analyser.earth.turning import turn_radius_nm
from analyser.frozen import dataclass
from analyser.pages import captions
from analyser.pages.bands import hold_strips
from analyser.pages.figures import symbols
from analyser.pages.figures.airspace import reach
from analyser.pages.figures.canvas import Canvas
from analyser.pages.figures.charts import ROW, waterfall, wind_circle
from analyser.pages.figures.sectors import sectors
from analyser.pages.figures.strips import Strip, ribbon, strip_sheet
from analyser.pages.figures.svg import part_id, svg, used
from analyser.pages.figures.views import air, common_window, side
from analyser.pages.subject import Subject
from analyser.rules.load import load_regime

if TYPE_CHECKING:
    from analyser.schema.debrief_file import WrittenCircuit


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
    drawn = svg(canvas, f"{title}. {finding}", name=name, caption=caption_id, ids=ids, under=under, **data)
    return Picture(drawn, title, finding, caption_id, canvas.mapping())


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
    return picture(canvas, "Plan view", caption, "plan", f"{subject.ids}-plan", ids=subject.ids, **further)


def _air(subject: Subject) -> Picture:
    """Draw the air-mass view."""
    radii = {}
    for which, exact in subject.exact.items():
        radius = turn_radius_nm(exact.turn_rate_dps, exact.tas_kt)
        radii[which, "outbound_turn"] = radii[which, "inbound_turn"] = radius
    canvas = air(subject.series, subject.spans, radii)
    return picture(canvas, "Air-mass view", captions.air(subject.document), "air", f"{subject.ids}-air")


def _side(subject: Subject, strips: Sequence[Strip]) -> Picture | None:
    """Draw the side view; without heights there is none."""
    if np.isnan(subject.series.altitude_ft).all():
        return None
    bands = next((strip.bands for strip in strips if strip.key == "altitude"), ())
    same = {(band.low, band.high) for band in bands}
    canvas = side(subject.series, subject.spans, same.pop() if len(same) == 1 else None)
    return picture(canvas, "Side view", captions.side(subject.series), "side", f"{subject.ids}-side")


def _strips(subject: Subject, strips: Sequence[Strip]) -> list[tuple[str, Picture]]:
    """Draw the ribbon of phases and every time strip."""
    window, start, seams = subject.window_s, subject.flown.start_s, subject.seams_s
    bar = ribbon(subject.spans, window, start, seams)
    caption = captions.ribbon(subject.spans, start, seams)
    drawn = [("ribbon", picture(bar, "Phases", caption, "ribbon", f"{subject.ids}-ribbon"))]
    for strip in strips:
        canvas, caption = strip_sheet(strip, subject.spans, window, seams), captions.strip(strip, start)
        named = picture(canvas, strip.title, caption, "strip", f"{subject.ids}-{strip.key}", key=strip.key)
        drawn.append((strip.key, named))
    return drawn


def _circuits(subject: Subject, map_canvas: Canvas) -> dict[int, Picture]:
    """Draw every circuit on its own, all on one scale, from the lines of the plan view."""
    window = common_window(subject.series, subject.spans, subject.exact_paths)
    drawn = {}
    for which in sorted({span.circuit for span in subject.spans if span.circuit}):
        caption = captions.circuit(next(one for one in subject.document.circuits if one.number == which))
        canvas = Canvas(220.0, 176.0, window)
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
    canvas = Canvas(
        900.0, 640.0, common_window(subject.series, subject.spans, subject.exact_paths, 640.0 / 900.0)
    )
    symbols.fix(canvas)
    lines = [line for number in which for line in _used(subject, map_canvas, canvas, number)]
    if again:
        lines.append(used(part_id(subject.ids, "reflown", which[0], again), map_canvas, canvas))
    return picture(canvas, "", says, "step", under=Markup("").join(lines))


def _used(subject: Subject, map_canvas: Canvas, canvas: Canvas, which: int) -> list[Markup]:
    layers = ["ideal"] * (which in subject.exact) + ["flown"]
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
        heading_sd_deg=flown.entry.arrival_heading_sd_deg if flown.entry is not None else None,
        offset_word=load_regime(subject.document.rules).entry.offset_word,
    )
    caption = captions.entry(subject.document)
    return picture(canvas, "Entry sectors", caption, "sectors", f"{subject.ids}-sectors")


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
    caption = captions.wind(subject.document)
    return picture(canvas, "Wind circle", caption, "wind", f"{subject.ids}-wind")


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
