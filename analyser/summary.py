"""The debrief in a few plain lines, for the terminal."""

from __future__ import annotations

import textwrap
import unicodedata
from typing import Any

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
    magnetic = hold["inbound_course_magnetic"]
    course = f"{_course(magnetic)}°M" if magnetic is not None else f"{_course(hold['inbound_course_true'])}°T"
    wind = hold["wind"]
    named = f"{plain(hold['name'])}, " if hold["name"] else ""
    origin = "as given" if hold["definition"] == "given" else "inferred from the track"
    said = [
        f"{named}inbound {course}, {hold['turns']}-hand, {origin}; "
        f"wind {_course(wind['from_true'])}°T/{wind['speed_kt']:.0f} kt (±{2 * wind['sd_kt']:.1f}), "
        f"TAS {hold['tas_kt']:.0f} kt"
    ]
    points = hold["points"]
    score = "not judged" if points is None else f"{points:.0f} of 100 points"
    laps = ", ".join(
        f"circuit {c['number']}{'' if c['complete'] else ' (broken off)'} "
        + ("not judged" if c["points"] is None else f"{c['points']:.0f}")
        for c in hold["circuits"]
    )
    said.append(f"{score}: {laps}")
    said += textwrap.wrap(plain(hold["verdict"]), WIDTH)
    return said


def _course(degrees: float) -> str:
    """Write a direction as pilots do: three figures, north as 360."""
    return f"{(round(degrees) - 1) % 360 + 1:03d}"


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
