"""The debrief in a few plain lines, for the terminal."""

from __future__ import annotations

import shutil
import textwrap
import unicodedata

from analyser.grading.wording import Number, count
from analyser.schema.debrief_file import WrittenDebrief, WrittenFinding, WrittenHold, WrittenWind

#: Columns that a paragraph is folded at where there is no terminal, and the most that are read with ease.
WIDTH = 96
#: So many findings are said beside the first; all of them stand on the page.
_BESIDE = 2
#: A line that begins so is a path, and stays whole.
_PATH = "  page: "


def summary(document: WrittenDebrief, page: str) -> str:
    """Say the main things of a debrief, and where its ``page`` was written.

    The lines, without a final newline, are not folded; text from the log is freed of control characters.
    """
    log = document.log
    lines = [f"{plain(log.name)}: {_holds(document)}"]
    for hold in document.holds:
        lines += [f"  {line}" for line in _hold(hold)]
    lines.append(f"{_PATH}{page}")
    return "\n".join(lines)


def folded(text: str) -> str:
    """Fold the lines of a summary at the terminal's width, each as far in as it began."""
    width = min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns)
    lines: list[str] = []
    for line in text.split("\n"):
        inset = " " * (len(line) - len(line.lstrip(" ")))
        folding = textwrap.TextWrapper(
            width, subsequent_indent=inset or "  ", break_long_words=False, break_on_hyphens=False
        )
        lines += [line] if line.startswith(_PATH) else folding.wrap(line)
    return "\n".join(lines)


def _holds(document: WrittenDebrief) -> str:
    if document.holds:
        return f"{len(document.holds)} hold" + ("s" if len(document.holds) > 1 else "")
    return f"no hold found; {plain(document.nearest_miss or 'nothing came near one')}"


def _hold(hold: WrittenHold) -> list[str]:
    variation, tas_kt = hold.variation, hold.tas_kt
    # The letter that stands for the reference is explained where it is met first.
    reference = "true" if variation is None else "magnetic"
    course = f"{_course(hold.inbound_course_true, variation)} ({reference})"
    named = f"{plain(hold.name)}, " if hold.name else ""
    said = [
        f"{named}inbound {course}, {hold.turns}-hand, {_origin(hold)}; wind {_wind(hold.wind, variation)}, "
        f"true airspeed {'not known' if tas_kt is None else f'{tas_kt:.0f} kt'}"
    ]
    points = hold.points
    score = "not judged" if points is None else f"{points:.0f} of 100 points"
    said.append(f"{score}: {', '.join(_parts(hold))}")
    if hold.capped is not None:
        said.append(plain(hold.capped.sentence))
    if hold.ungraded:
        said.append(plain(hold.ungraded))
    first = foremost(hold)
    said += [plain(one.sentence) for one in first] or [plain(hold.verdict)]
    work = hold.work_on_first or ""
    if work:
        said.append(f"work on first: {plain(work)}")
    more = sum(one not in first and one.sentence not in work for one in hold.findings)
    if more:
        said.append(f"and {count(more, 'more finding')} on the page")
    return said


def foremost(hold: WrittenHold) -> list[WrittenFinding]:
    """Choose the findings that are said first: the worst, and the next two that the advice does not say already."""
    work = hold.work_on_first or ""
    beside = [one for one in hold.findings[1:] if one.sentence not in work]
    return [*hold.findings[:1], *beside[:_BESIDE]]


def _wind(wind: WrittenWind, variation: float | None) -> str:
    if wind.from_true is None or wind.speed_kt is None:
        return "not known"
    known = "" if wind.sd_kt is None else f" (±{2 * wind.sd_kt:.1f})"
    return f"{_course(wind.from_true, variation)}/{wind.speed_kt:.0f} kt{known}"


def _origin(hold: WrittenHold) -> str:
    """Say where the definition of the hold comes from."""
    file = plain(hold.definition_file or "")
    if hold.definition == "inferred":
        if hold.other_end is not None:
            return "inferred from the track, which end is the fix in doubt"
        sd = hold.inbound_course_sd
        return "inferred from the track" + ("" if sd is None else f", course ±{2 * sd:.0f}°")
    given = f"as given in {file}" if file else "as given"
    return given if hold.definition == "given" else f"{given}, its fix inferred from the track"


def _parts(hold: WrittenHold) -> list[str]:
    """Say what the score is the weighted mean of, with the weight where it is not 1."""
    broken_off = {circuit.number for circuit in hold.circuits if not circuit.complete}
    said = []
    for part in hold.scoring.parts:
        words = part.part if part.circuit is None else f"circuit {part.circuit}"
        words += " (broken off)" if part.circuit in broken_off else ""
        if part.points is None:
            said.append(f"{words} not judged")
            continue
        said.append(f"{words} {part.points:.0f}{part.weight_words}")
    return said


def _course(true_deg: float, variation_deg: float | None) -> str:
    """Write a direction as pilots do: three figures, north as 360, magnetic where the variation is known."""
    return Number(true_deg, "°", "true").said(variation_deg)


def plain(text: str) -> str:
    """Free text of control characters, which a terminal would obey."""
    return "".join(c if unicodedata.category(c)[0] != "C" else "�" for c in str(text))
