"""The sections of a hold: their order, their titles, and the result that each heading says while it is folded."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

from analyser.frozen import dataclass
from analyser.pages.captions import wind_words
from analyser.pages.marks import heading, missing, quantity
from analyser.pages.words import clock, number


@dataclass(frozen=True)
class Section:
    """One folded section.

    Attributes
    ----------
    key : str
        Of its template and of its place in the page.
    title : str
    result : Markup
        Said beside the title.
    printed : bool
        Whether it is opened on paper.
    """

    key: str
    title: str
    result: Markup
    printed: bool


#: Key and title of every section, in the order of the page.
TITLES = {
    "replay": "Replay",
    "circuits": "Circuits",
    "findings": "Findings",
    "numbers": "Numbers",
    "learning": "Learning",
    "leaving": "Leaving on time",
    "entry": "Entry",
    "wind": "Wind",
    "thumbs": "Rules of thumb",
    "airspace": "Holding area",
    "detail": "The hold",
    "grade_sheet": "Grade sheet",
    "sources": "Sources",
}
#: Those that the template places itself; the others are folded one after the other.
_PLACED = ("replay", "circuits")
#: Two sheets of paper have no room for these.
_SCREEN_ONLY = ("findings", "grade_sheet", "sources")
_MOST_LESSONS, _MOST_ROWS = 10, 20


def sections(view: Mapping[str, Any]) -> list[Section]:
    """Choose the folded sections that this hold has, and say each one's result.

    Parameters
    ----------
    view : mapping
        What was gathered for the template.
    """
    made = []
    for key, title in TITLES.items():
        if key in _PLACED:
            continue
        result = _RESULTS[key](view)
        if result is not None:
            made.append(Section(key, title, Markup("{}").format(result), _is_printed(key, view)))
    return made


def _is_printed(key: str, view: Mapping[str, Any]) -> bool:
    too_long = {"learning": len(view["lessons"]) > _MOST_LESSONS, "numbers": len(view["rows"]) > _MOST_ROWS}
    return key not in _SCREEN_ONLY and not too_long.get(key, False)


def _findings(view: Mapping[str, Any]) -> str | None:
    found = view["opening"].findings
    told = [f"{sum(one.severity == severity for one in found)} {severity}" for severity in
            dict.fromkeys(one.severity for one in found)]  # fmt: skip
    return ", ".join(told) if found else None


def _numbers(view: Mapping[str, Any]) -> str:
    outside = sum(item.outside for circuit in view["circuits"] for item in circuit.counted)
    judged = sum(item.points is not None for circuit in view["circuits"] for item in circuit.counted)
    return f"{outside} of {judged} judged numbers outside tolerance" if judged else "nothing was judged"


def _learning(view: Mapping[str, Any]) -> str | None:
    rows = view["lessons"]
    if not rows:
        return None
    good = sum(not row.fault for row in rows)
    return f"{good} of {len(rows)} corrections were right"


def _leaving(view: Mapping[str, Any]) -> str | None:
    return None if view["leaving"] is None else view["leaving"].finding


def _entry(view: Mapping[str, Any]) -> Markup | str:
    found = view["doc"]["entry"]
    if not found:
        return missing("the log starts inside the hold")
    points = found["points"]
    said = f"{found['flown']}, {found['verdict']}"
    return said if points is None else f"{said}, {number(points)} points"


def _wind(view: Mapping[str, Any]) -> Markup:
    wind = view["doc"]["wind"]
    if not wind or wind["from_true"] is None:
        return missing("not known from this log")
    spread = "" if wind["sd_kt"] is None else f" ±{2 * wind['sd_kt']:.1f}"
    said = wind_words(view["doc"])
    # The spread belongs to the speed: before its unit.
    return Markup("{}{}, from {}").format(Markup(said.removesuffix(" kt")), f"{spread} kt", wind["source"])


def _thumbs(view: Mapping[str, Any]) -> str | None:
    if view["thumbs"] is None:
        return None
    rows = view["thumbs"][1]
    return f"{sum(row.good for row in rows)} of {len(rows)} hold in this wind"


def _airspace(view: Mapping[str, Any]) -> str | None:
    if view["airspace"] is None:
        return None
    found = view["airspace"]["doc"]
    margins = [edge["margin_nm"] for edge in (found["entry"], *found["circuits"]) if edge is not None]
    if not margins:
        return "not measured"
    least = min(margins)
    if least >= 0:
        return f"inside the drawn area, {number(least, 2)} NM to spare"
    return f"outside the drawn area by {number(-least, 2)} NM"


def _detail(view: Mapping[str, Any]) -> Markup:
    doc = view["doc"]
    return Markup("{} inbound, {}-hand, {}, {}").format(
        heading(doc["inbound_course_true"], view["variation"]),
        doc["turns"],
        leg_words(doc["leg"]),
        quantity(doc["level_ft"], "ft") if doc["level_ft"] is not None else missing("height not known"),
    )


def leg_words(leg: Mapping[str, Any] | None) -> Markup:
    """Say the length of the legs: ``"1 min legs"``."""
    if leg is None:
        return missing("leg not known")
    if leg.get("minutes") is not None:
        return Markup(f"{leg['minutes']:g} min legs")
    return Markup(f"{leg['distance_nm']:g} NM legs")


def _grade_sheet(view: Mapping[str, Any]) -> str:
    grade = view["doc"]["grade"]
    return "no grade proposed" if grade is None else f"proposed grade {grade}; the instructor's is the grade"


def _sources(view: Mapping[str, Any]) -> str:
    return f"{view['regime_words']}; {view['standard_words']}"


_RESULTS = {
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


def replay_words(doc: Mapping[str, Any]) -> str:
    """Say what the replay runs over."""
    return f"{clock(doc['end_s'] - doc['start_s'])} in the hold: air, height, speed, bank and track"
