"""What the page says and draws of one hold's airspace, from the debrief document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from markupsafe import Markup

from analyser.frozen import dataclass
from analyser.pages.figures.airspace import airspace
from analyser.pages.figures.area import OUTLINES, AreaParts
from analyser.pages.figures.sheet import Sheet
from analyser.pages.figures.svg import part_id, used
from analyser.pages.map_paths import area_parts
from analyser.pages.marks import turnable
from analyser.pages.phases import LegendLine, line_sample
from analyser.pages.pictures import Picture, Subject, picture

if TYPE_CHECKING:
    from analyser.schema.debrief_file import WrittenAirspace


@dataclass(frozen=True)
class AirspaceView:
    """What the template shows: the drawing with its key, and of what share of the time the flight was where."""

    doc: WrittenAirspace
    picture: Picture
    key: list[LegendLine]
    shares: list[tuple[str, str]]


def airspace_view(subject: Subject, map_sheet: Sheet) -> AirspaceView | None:
    """Gather what the template shows; None where the document has no airspace.

    Parameters
    ----------
    map_sheet : Sheet
        The plan view, whose lines the drawing uses.
    """
    parts, found = area_parts(subject.document), subject.document.airspace
    if parts is None or found is None:
        return None
    sheet = airspace(parts, subject.series, subject.spans, subject.document.inbound_course_true)
    numbers = sorted({span.circuit for span in subject.spans if span.circuit or span.phase == "entry"})
    lines = [f"{subject.ids}-airspace", *(part_id(subject.ids, "flown", number) for number in numbers)]
    under = Markup("").join(used(line, map_sheet, sheet) for line in lines)
    finding = turnable(f"{found.said[0]} {found.caution}", subject.variation)
    drawn = picture(sheet, "Holding area", finding, "airspace", f"{subject.ids}-area", under=under)
    return AirspaceView(found, drawn, _key(parts), _shares(found))


def _key(parts: AreaParts) -> list[LegendLine]:
    shown = {name for name, outline in parts.outlines.items() if outline[0].size > 2} | {"buffer"}
    if "fix" not in shown:
        # Round a single point the template is the area itself.
        shown.discard("template")
    return [
        LegendLine(name, words, line_sample(ink, width, dash))
        for name, (ink, width, dash, words) in OUTLINES.items()
        if name in shown
    ]


def _shares(found: WrittenAirspace) -> list[tuple[str, str]]:
    named = (
        ("inside", found.inside_share),
        ("in the buffer", found.buffer_share),
        ("beyond it", found.beyond_share),
    )
    return [(words, f"{100 * share:.1f} %") for words, share in named if share is not None]
