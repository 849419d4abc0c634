"""The debrief in a few plain lines, for the terminal."""

from __future__ import annotations

import textwrap
import unicodedata
from typing import Any

from analyser.grading.wording import Number

#: Columns that a paragraph is folded at.
WIDTH = 96


def summary(document: dict[str, Any], page: str) -> str:
    """Say the main things of a debrief.

    Parameters
    ----------
    document : dict
        The debrief document.
    page : str
        Where the page was written.

    Returns
    -------
    str
        Lines without a final newline; text from the log is freed of control characters.
    """
    log = document["log"]
    lines = [f"{plain(log['name'])}: {_holds(document)}"]
    for hold in document["holds"]:
        lines += [f"  {line}" for line in _hold(hold)]
    lines.append(f"  page: {page}")
    return "\n".join(lines)


def _holds(document: dict[str, Any]) -> str:
    count = len(document["holds"])
    if count:
        return f"{count} hold" + ("s" if count > 1 else "")
    return f"no hold found; {plain(document['nearest_miss'] or 'nothing came near one')}"


def _hold(hold: dict[str, Any]) -> list[str]:
    variation, wind = hold["variation"], hold["wind"]
    course = _course(hold["inbound_course_true"], variation)
    if hold["inbound_course_sd"] is not None:
        course += f" (±{2 * hold['inbound_course_sd']:.0f}°)"
    named = f"{plain(hold['name'])}, " if hold["name"] else ""
    origin = "as given" if hold["definition"] == "given" else "inferred from the track"
    said = [
        f"{named}inbound {course}, {hold['turns']}-hand, {origin}; "
        f"wind {_course(wind['from_true'], variation)}/{wind['speed_kt']:.0f} kt (±{2 * wind['sd_kt']:.1f}), "
        f"TAS {hold['tas_kt']:.0f} kt"
    ]
    points = hold["points"]
    score = "not judged" if points is None else f"{points:.0f} of 100 points"
    said.append(f"{score}: {', '.join(_parts(hold))}")
    if hold["capped"] is not None:
        said += textwrap.wrap(plain(hold["capped"]["sentence"]), WIDTH)
    said += textwrap.wrap(plain(hold["verdict"]), WIDTH)
    return said


def _parts(hold: dict[str, Any]) -> list[str]:
    """Say what the score is the weighted mean of, with the weight where it is not 1."""
    broken_off = {circuit["number"] for circuit in hold["circuits"] if not circuit["complete"]}
    said = []
    for part in hold["scoring"]["parts"]:
        words = part["part"] if part["circuit"] is None else f"circuit {part['circuit']}"
        words += " (broken off)" if part["circuit"] in broken_off else ""
        if part["points"] is None:
            said.append(f"{words} not judged")
            continue
        counts = "" if round(part["weight"], 2) == 1.0 else f" ×{part['weight']:.2g}"
        said.append(f"{words} {part['points']:.0f}{counts}")
    return said


def _course(true_deg: float, variation_deg: float | None) -> str:
    """Write a direction as pilots do: three figures, north as 360, magnetic where the variation is known."""
    return Number(true_deg, "°", "true").said(variation_deg)


def plain(text: str) -> str:
    """Free text of control characters, which a terminal would obey.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    return "".join(c if unicodedata.category(c)[0] != "C" else "�" for c in str(text))
