"""Samples as written numbers: the precision that every export keeps."""

from __future__ import annotations

import math
import re
from datetime import timedelta

from analyser.earth.constants import METRES_PER_FOOT
from analyser.logs.track import Track

#: Characters that XML 1.0 cannot carry at all, escaped or not.
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

#: Decimals of a degree: about a centimetre.
DEGREE_DECIMALS = 7
#: Decimals of a metre.
METRE_DECIMALS = 2


def degrees(value: float) -> str:
    """Write a latitude or longitude."""
    return f"{value:.{DEGREE_DECIMALS}f}"


def metres(track: Track) -> list[str]:
    """Write the altitudes in metres.

    Returns
    -------
    list of str
        Empty strings where there is none.
    """
    values = track.channel("altitude_ft").tolist()
    return ["" if math.isnan(v) else f"{v * METRES_PER_FOOT:.{METRE_DECIMALS}f}" for v in values]


def times(track: Track) -> list[str]:
    """Write the times of a dated track in UTC, to the millisecond.

    Parameters
    ----------
    track : Track
        With a start.
    """
    if track.start_utc is None:
        raise ValueError("an undated track has no times to write")
    start = track.start_utc
    moments = [start + timedelta(milliseconds=round(seconds * 1000.0)) for seconds in track.time_s.tolist()]
    return [moment.isoformat(timespec="milliseconds").replace("+00:00", "Z") for moment in moments]


def plain_text(text: str) -> str:
    """Drop what XML cannot carry; a library that writes XML escapes the rest.

    Parameters
    ----------
    text : str
        Untrusted.
    """
    return _NOT_XML.sub("\ufffd", text)


def xml_text(text: str) -> str:
    """Escape text for XML, and drop what XML cannot carry.

    Parameters
    ----------
    text : str
        Untrusted.
    """
    from xml.sax.saxutils import escape

    return escape(plain_text(text), {'"': "&quot;"})
