"""Everything the template says about one hold: its sections, their order, and the result that each heading says."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from analyser.frozen import dataclass
from analyser.pages import pictures
from analyser.pages.captions import wind_words
from analyser.pages.circuit_views import (
    COLUMNS,
    CircuitView,
    ScoreCell,
    circuit_rows,
    circuit_views,
    put_together,
)
from analyser.pages.map_paths import exact_circuits, reflown_choices, reflown_paths
from analyser.pages.opening import Opening, opening
from analyser.pages.replay_data import replay
from analyser.pages.section_views import (
    AirspaceView,
    EntryView,
    LeavingView,
    airspace_view,
    course_words,
    disagreement,
    entry_view,
    leaving_view,
    variation_words,
)
from analyser.pages.series import LegendLine, hold_series, legend, line_sample, spans
from analyser.pages.show_steps import Step, show_steps
from analyser.pages.words import clock, heading, missing, number, quantity
from analyser.rules.graded_items import SECTIONS, item_of

if TYPE_CHECKING:
    from analyser.debrief import HoldDebrief
    from analyser.grading.keeping import LevelPlan
    from analyser.pages.figures.canvas import Canvas
    from analyser.schema.debrief_file import (
        WrittenCircuit,
        WrittenHold,
        WrittenLeg,
        WrittenRules,
        WrittenScorePart,
        WrittenStandard,
    )


@dataclass(frozen=True)
class SourceRow:
    """One item: where its target and tolerance come from, and on which circuits; on all where none is named."""

    title: str
    rule: str
    circuits: tuple[int, ...]


@dataclass(frozen=True)
class Section:
    """One folded section.

    Attributes
    ----------
    key : str
        Of its template and of its place in the page.
    result : Markup
        Said beside the title.
    printed : bool
        Whether it is opened on paper.
    """

    key: str
    title: str
    result: Markup
    printed: bool


@dataclass(frozen=True)
class ShownHold:
    """What the template ``hold.html`` shows of one hold.

    Attributes
    ----------
    number : int
        From 1, in order of time.
    rows : list of (WrittenCircuit, list of ScoreCell)
        The table of circuits, under ``columns``.
    parts : list of str
        What the points are the mean of.
    rules, standard : WrittenRules, WrittenStandard
        What it was judged by.
    obtained : mapping
        Quantity to how it was come by.
    replay : dict
        For the script.
    """

    number: int
    doc: WrittenHold
    opening: Opening
    pictures: dict[str, Any]
    legend: list[LegendLine]
    circuits: list[CircuitView]
    rows: list[tuple[WrittenCircuit, list[ScoreCell]]]
    rules: WrittenRules
    standard: WrittenStandard
    variation_words: str
    obtained: Mapping[str, str]
    entry: EntryView | None
    leaving: LeavingView | None
    airspace: AirspaceView | None
    steps: list[Step]
    replay: dict[str, Any]
    columns = COLUMNS
    ideal_sample = line_sample("pencil", 1.3, (2.0, 2.4))

    @property
    def variation(self) -> float | None:
        """Magnetic variation, east positive."""
        return self.doc.variation

    @property
    def course(self) -> Markup:
        """The inbound course and how it is known."""
        return course_words(self.doc)

    @property
    def leg(self) -> Markup:
        """The length of the legs."""
        return leg_words(self.doc.leg)

    @property
    def disagreement(self) -> str | None:
        """How far the flight itself and the given hold disagree."""
        return disagreement(self.doc)

    @property
    def put_together(self) -> list[CircuitView]:
        """The circuits that share one folded line."""
        return put_together(self.circuits)

    @property
    def parts(self) -> list[str]:
        """What the points are the weighted mean of."""
        return [score_part(part) for part in self.doc.scoring.parts if part.points is not None]

    @property
    def thumbs(self) -> WrittenCircuit | None:
        """The last circuit that has rules of thumb for its wind."""
        return next((one for one in reversed(self.doc.circuits) if one.rules_of_thumb), None)

    @property
    def replay_words(self) -> str:
        """What the replay runs over."""
        return f"{clock(self.doc.end_s - self.doc.start_s)} in the hold: air, height, speed, bank and track"

    @property
    def sources(self) -> list[SourceRow]:
        """One row for each item and rule that any circuit was judged by."""
        seen: dict[tuple[str, str], list[int]] = {}
        for circuit in self.doc.circuits:
            for key, score in circuit.all_scores.items():
                if score.rule:
                    seen.setdefault((key, score.rule), []).append(circuit.number)
        every = len(self.doc.circuits)
        return [
            SourceRow(item_of(key).title, rule, () if len(where) == every else tuple(where))
            for (key, rule), where in seen.items()
        ]

    @property
    def sections(self) -> list[Section]:
        """The folded sections that this hold has, with each one's result."""
        told = [(one, _RESULTS[one.key](self)) for one in SECTIONS]
        return [
            Section(
                one.key, one.title, Markup("{}").format(result), one.printed and not self._is_long(one.key)
            )
            for one, result in told
            if result is not None
        ]

    def _is_long(self, key: str) -> bool:
        """Whether a section is too long for two sheets of paper."""
        return {"learning": len(self.doc.learning) > 10, "numbers": len(self.rows) > 20}.get(key, False)


def hold_view(
    hold: HoldDebrief,
    document: WrittenHold,
    order: int,
    *,
    rules: WrittenRules,
    standard: WrittenStandard,
    start: datetime | None,
) -> ShownHold:
    """Gather what the template shows of one hold.

    Parameters
    ----------
    order : int
        From 1, in order of time.
    start : aware datetime or None
        Of the log.
    """
    flown = hold.flown
    subject = pictures.Subject(
        flown,
        document,
        hold_series(flown),
        spans(flown),
        exact_circuits(hold.judged),
        reflown_paths(document),
        order,
    )
    map_canvas = pictures.plan_canvas(subject)
    shown = _pictures(subject, map_canvas, hold.judged.levels)
    circuits = circuit_views(document, reflown_choices(document))
    first = opening(document)
    return ShownHold(
        order,
        document,
        first,
        shown,
        legend(subject.spans),
        circuits,
        circuit_rows(document.circuits, document.variation),
        rules,
        standard,
        variation_words(document, start),
        flown.motion.obtained,
        entry_view(document.entry),
        leaving_view(document, subject.ids),
        airspace_view(subject, map_canvas),
        show_steps(subject, map_canvas, first, circuits),
        replay(subject, _with_cursor(shown), first.circuit),
    )


def _pictures(subject: pictures.Subject, map_canvas: Canvas, levels: LevelPlan) -> dict[str, Any]:
    strips = pictures.strips_of(subject, levels)
    return {
        "plan": pictures.plan_picture(subject, map_canvas),
        "air": pictures.air_picture(subject),
        "side": pictures.side_picture(subject, strips),
        "strips": pictures.strip_pictures(subject, strips),
        "circuits": pictures.circuit_pictures(subject, map_canvas),
        "sectors": pictures.sector_picture(subject),
        "wind": pictures.wind_picture(subject),
    }


def _with_cursor(shown: dict[str, Any]) -> dict[str, pictures.Picture]:
    moving = {name: shown[name] for name in ("plan", "air", "side") if shown[name] is not None}
    return moving | {f"strip-{key}": picture for key, picture in shown["strips"]}


def score_part(part: WrittenScorePart) -> str:
    """Say a part of the hold's score with what it counts: ``"circuit 1 58 (counts 0.5)"``."""
    name = part.part if part.circuit is None else f"circuit {part.circuit}"
    counts = "" if round(part.weight, 2) == 1.0 else f" (counts {part.weight:.2g})"
    return f"{name} {number(part.points or 0.0)}{counts}"


def _findings(view: ShownHold) -> str | None:
    found = view.opening.findings
    labels = [one.label for one in found]
    return ", ".join(f"{labels.count(label)} {label}" for label in dict.fromkeys(labels)) or None


def _numbers(view: ShownHold) -> str:
    outside = sum(item.outside for circuit in view.circuits for item in circuit.counted)
    judged = sum(item.points is not None for circuit in view.circuits for item in circuit.counted)
    return f"{outside} of {judged} judged numbers outside tolerance" if judged else "nothing was judged"


def _learning(view: ShownHold) -> str | None:
    rows = view.doc.learning
    return f"{sum(row.is_right for row in rows)} of {len(rows)} corrections were right" if rows else None


def _leaving(view: ShownHold) -> str | None:
    return None if view.leaving is None else view.leaving.finding


def _entry(view: ShownHold) -> Markup | str:
    found = view.doc.entry
    if found is None:
        return missing("the log starts inside the hold")
    said = f"{found.flown}, {found.verdict}"
    return said if found.points is None else f"{said}, {number(found.points)} points"


def _wind(view: ShownHold) -> Markup:
    wind = view.doc.wind
    if wind.from_true is None:
        return missing("not known from this log")
    spread = "" if wind.sd_kt is None else f" ±{2 * wind.sd_kt:.1f}"
    said = wind_words(view.doc)
    # The spread belongs to the speed: before its unit.
    return Markup("{}{}, from {}").format(Markup(said.removesuffix(" kt")), f"{spread} kt", wind.source)


def _thumbs(view: ShownHold) -> str | None:
    if view.thumbs is None:
        return None
    rows = view.thumbs.rules_of_thumb
    return f"{sum(row.good for row in rows)} of {len(rows)} hold in this wind"


def _airspace(view: ShownHold) -> str | None:
    if view.airspace is None:
        return None
    margins = [edge.margin_nm for edge in view.airspace.doc.edges]
    if not margins:
        return "not measured"
    least = min(margins)
    if least >= 0:
        return f"inside the drawn area, {number(least, 2)} NM to spare"
    return f"outside the drawn area by {number(-least, 2)} NM"


def _detail(view: ShownHold) -> Markup:
    doc = view.doc
    return Markup("{} inbound, {}-hand, {}, {}").format(
        heading(doc.inbound_course_true, view.variation),
        doc.turns,
        leg_words(doc.leg),
        quantity(doc.level_ft, "ft") if doc.level_ft is not None else missing("height not known"),
    )


def leg_words(leg: WrittenLeg) -> Markup:
    """Say the length of the legs: ``"1 min legs"``."""
    if leg.minutes is not None:
        return Markup(f"{leg.minutes:g} min legs")
    return missing("leg not known") if leg.distance_nm is None else Markup(f"{leg.distance_nm:g} NM legs")


def _grade_sheet(view: ShownHold) -> str:
    grade = view.doc.grade
    return "no grade proposed" if grade is None else f"proposed grade {grade}; the instructor's is the grade"


def _sources(view: ShownHold) -> str:
    return f"{view.rules.document}; {view.standard.name}"


#: What the heading of each section says while it is folded; None where the hold has no such section.
_RESULTS: dict[str, Callable[[ShownHold], Markup | str | None]] = {
    "findings": _findings,
    "numbers": _numbers,
    "learning": _learning,
    "leaving": _leaving,
    "entry": _entry,
    "wind": _wind,
    "thumbs": _thumbs,
    "airspace": _airspace,
    "detail": _detail,
    "grade_sheet": _grade_sheet,
    "sources": _sources,
}
