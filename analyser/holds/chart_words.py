"""What a chart or a clearance prints, read as people type it: positions, directions, hands, legs, levels.

Each function takes text and returns numbers, or raises ``ValueError`` with what it should look like, worded to follow
"must be".
"""

from __future__ import annotations

import re
from typing import Any, Literal

from analyser.holds.definition import Turns

Reference = Literal["magnetic", "true"]

POSITION_LOOKS = "a latitude and a longitude such as N46°30.0' W033°00.0', 46 30.0N 033 00.0W or 46.5, -33.0"
DIRECTION_LOOKS = "degrees from 0 to 360, with M for magnetic or T for true: 274M"
HAND_LOOKS = "R for right or L for left"
LEG_LOOKS = "a time or a length such as 1 min, 1.5 min, 90 s or 4 NM"
LEVEL_LOOKS = "feet or a flight level such as 4000 ft or FL160"
DISTANCE_LOOKS = "nautical miles such as 8 NM"
SPEED_LOOKS = "knots such as 98 kt"

_NUMBER = r"\d+(?:\.\d+)?"
_HANDS: dict[str, Turns] = {"r": "right", "right": "right", "l": "left", "left": "left"}
_REFERENCES: dict[str, Reference] = {
    "m": "magnetic",
    "mag": "magnetic",
    "magnetic": "magnetic",
    "t": "true",
    "true": "true",
}
_DIRECTION = re.compile(rf"(?P<degrees>{_NUMBER})\s*(?:°|º|deg)?\s*(?P<reference>[a-z]*)", re.IGNORECASE)
_FROM_PLACE = re.compile(
    rf"(?P<bearing>{_NUMBER})\s*°?\s*(?P<reference>m|mag|magnetic|t|true)?\s*[/,\s]\s*"
    rf"(?P<distance>{_NUMBER})\s*nm\b(?:\s*from\b)?",
    re.IGNORECASE,
)
_TIME_LEG = re.compile(
    rf"(?:(?P<min>{_NUMBER})\s*(?:min|mins|minute|minutes))?\s*(?:(?P<s>{_NUMBER})\s*(?:s|sec|seconds))?",
    re.IGNORECASE,
)
_LENGTH = re.compile(rf"(?P<nm>{_NUMBER})\s*(?:nm|nmi|nautical miles?)", re.IGNORECASE)
_LEVEL = re.compile(
    r"(?:FL\s*(?P<hundreds>\d{2,3})|(?P<feet>-?\d{1,5}(?:\.\d+)?)\s*(?:ft|feet))", re.IGNORECASE
)
_SPEED = re.compile(rf"(?P<kt>{_NUMBER})\s*(?:kt|kts|kias|knots)", re.IGNORECASE)
#: Degree, minute and second signs as charts, keyboards and word processors write them.
_SIGNS = re.compile("[°º˚'′’‘\"″”“]|deg", re.IGNORECASE)
_PARTS = re.compile(rf"[+-]?{_NUMBER}|[A-Z]+")
#: Figures of a latitude and a longitude written without spaces, degrees and minutes or with seconds too.
_FIGURES = {"NS": {4: "DDMM", 6: "DDMMSS"}, "EW": {5: "DDDMM", 7: "DDDMMSS"}}


def spot(text: str) -> dict[str, Any]:
    """Read a place, as a hold file's key ``fix`` says it: ``N46°30.0' W033°00.0'``, or ``274M 8 NM from …`` there."""
    away = _FROM_PLACE.search(text)
    if away is None:
        lat_deg, lon_deg = position(text)
        return {"lat": lat_deg, "lon": lon_deg}
    rest = f"{text[: away.start()]} {text[away.end() :]}"
    lat_deg, lon_deg = position(re.sub(r"\bfrom\b", " ", rest, flags=re.IGNORECASE))
    bearing = _within(float(away["bearing"]), 360.0, DIRECTION_LOOKS)
    said = {
        "from": {"lat": lat_deg, "lon": lon_deg},
        "bearing": bearing,
        "distance_nm": float(away["distance"]),
    }
    return {**said, "reference": _REFERENCES[away["reference"].lower()]} if away["reference"] else said


def position(text: str) -> tuple[float, float]:
    """Read a latitude and a longitude, WGS84 degrees, north and east positive.

    Degrees alone, degrees and minutes, or with seconds; hemisphere letters before or after, in either order; or two
    decimal numbers with signs, latitude first.
    """
    parts = _parts(text)
    letters = [part for part in parts if part.isalpha()]
    if not letters and len(parts) == 2:
        return _signed(parts[0], 90.0, POSITION_LOOKS), _signed(parts[1], 180.0, POSITION_LOOKS)
    if len(letters) != 2 or any(letter not in ("N", "S", "E", "W") for letter in letters):
        raise ValueError(POSITION_LOOKS)
    # The letter stands before both or after both.
    second = parts.index(letters[1], 1) if parts[0] == letters[0] else parts.index(letters[0]) + 1
    found = dict(_angle(part) for part in (parts[:second], parts[second:]))
    if set(found) != {"NS", "EW"}:
        raise ValueError(POSITION_LOOKS)
    return found["NS"], found["EW"]


def latitude(text: str) -> float:
    """Read a latitude, degrees, north positive."""
    return _one(text, "NS", 90.0, "a latitude such as N46°30.0' or 46 30.0N")


def longitude(text: str) -> float:
    """Read a longitude, degrees, east positive."""
    return _one(text, "EW", 180.0, "a longitude such as W033°00.0' or 033 00.0W")


def direction(text: str) -> tuple[float, Reference | None]:
    """Read degrees, and what they are measured from where it is said."""
    found = _DIRECTION.fullmatch(text.strip())
    said = found["reference"].lower() if found else "?"
    if found is None or (said and said not in _REFERENCES):
        raise ValueError(DIRECTION_LOOKS)
    return _within(float(found["degrees"]), 360.0, DIRECTION_LOOKS), _REFERENCES.get(said)


def reference(text: str) -> Reference:
    """Read what directions are measured from: M or T."""
    said = _REFERENCES.get(text.strip().lower())
    if said is None:
        raise ValueError("M for magnetic or T for true")
    return said


def hand(text: str) -> Turns:
    """Read which way the turns go: ``R``, ``left``, ``right-hand``, ``left turns``."""
    words = re.split(r"[\s-]+", text.strip().lower())
    said = _HANDS.get(words[0].removesuffix("h") if len(words[0]) == 2 else words[0])
    if said is None or not set(words[1:]) <= {"hand", "handed", "turn", "turns"}:
        raise ValueError(HAND_LOOKS)
    return said


def leg(text: str) -> dict[str, float]:
    """Read what ends the outbound leg: ``{"minutes": …}`` or ``{"distance_nm": …}``."""
    said = text.strip()
    if length := _LENGTH.fullmatch(said):
        return {"distance_nm": float(length["nm"])}
    timed = _TIME_LEG.fullmatch(said)
    if not said or timed is None:
        raise ValueError(LEG_LOOKS)
    return {"minutes": float(timed["min"] or 0.0) + float(timed["s"] or 0.0) / 60.0}


def level(text: str) -> float:
    """Read an altitude or a flight level, feet."""
    found = _LEVEL.fullmatch(re.sub(r"(?<=\d)[,. ](?=\d{3}\b)", "", text.strip()))
    if found is None:
        raise ValueError(LEVEL_LOOKS)
    return 100.0 * float(found["hundreds"]) if found["hundreds"] else float(found["feet"])


def distance(text: str) -> float:
    """Read nautical miles."""
    found = _LENGTH.fullmatch(text.strip())
    if found is None:
        raise ValueError(DISTANCE_LOOKS)
    return float(found["nm"])


def speed(text: str) -> float:
    """Read knots."""
    found = _SPEED.fullmatch(text.strip())
    if found is None:
        raise ValueError(SPEED_LOOKS)
    return float(found["kt"])


def written(lat_deg: float, lon_deg: float) -> str:
    """Write a position as a chart prints it, to a tenth of a minute.

    Parameters
    ----------
    lat_deg, lon_deg : float
        WGS84 degrees.
    """
    return f"{_written(lat_deg, 'NS', 2)} {_written(lon_deg, 'EW', 3)}"


def _written(degrees: float, letters: str, width: int) -> str:
    tenths = round(abs(degrees) * 600.0)
    return f"{letters[degrees < 0]}{tenths // 600:0{width}d}°{tenths % 600 / 10:04.1f}'"


def _one(text: str, letters: str, most: float, looks: str) -> float:
    parts = _parts(text)
    if len(parts) == 1:
        return _signed(parts[0], most, looks)
    try:
        which, degrees = _angle(parts)
    except ValueError:
        which, degrees = "", 0.0
    if which != letters:
        raise ValueError(looks)
    return degrees


def _parts(text: str) -> list[str]:
    """Cut a position into its numbers and letters; whatever else stands in it makes it none."""
    said = _SIGNS.sub(" ", text).upper().replace("−", "-")
    if re.search("[NSEW]", said):
        # A comma among the figures of a minute is the decimal point of half the world.
        said = re.sub(r"(?<=\d),(?=\d)", ".", said)
    parts: list[str] = _PARTS.findall(said)
    if re.sub(r"[\s,;/]", "", said) != "".join(parts):
        raise ValueError(POSITION_LOOKS)
    return parts


def _angle(parts: list[str]) -> tuple[str, float]:
    """Read one latitude or longitude with its letter: which of the two, and degrees."""
    letters = [part for part in parts if part.isalpha()]
    figures = [part for part in parts if not part.isalpha()]
    if (
        len(letters) != 1
        or (parts[0] != letters[0] and parts[-1] != letters[0])
        or not 1 <= len(figures) <= 3
    ):
        raise ValueError(POSITION_LOOKS)
    which = next((pair for pair in _FIGURES if letters[0] in pair), "")
    if not which or any(not figure[0].isdigit() for figure in figures):
        raise ValueError(POSITION_LOOKS)
    if len(figures) == 1:
        figures = _spaced(figures[0], which)
    # Only the last of degrees, minutes and seconds has decimals.
    whole, minutes, seconds = (*map(float, figures), 0.0, 0.0)[:3]
    most = 90.0 if which == "NS" else 180.0
    degrees = whole + minutes / 60.0 + seconds / 3600.0
    if any("." in figure for figure in figures[:-1]) or max(minutes, seconds) >= 60.0 or degrees > most:
        raise ValueError(POSITION_LOOKS)
    return which, -degrees if letters[0] in "SW" else degrees


def _spaced(figures: str, which: str) -> list[str]:
    """Part figures without spaces, such as 4630 or 0330015, into degrees, minutes and seconds."""
    whole = figures.split(".", maxsplit=1)[0]
    form = _FIGURES[which].get(len(whole))
    if form is None:
        return [figures]
    degrees = form.count("D")
    parts = [figures[:degrees], figures[degrees : degrees + 2], figures[degrees + 2 :]]
    return parts if form.endswith("SS") else [parts[0], parts[1] + parts[2]]


def _signed(figures: str, most: float, looks: str) -> float:
    if figures.isalpha():
        raise ValueError(looks)
    value = float(figures)
    if abs(value) > most:
        raise ValueError(looks)
    return value


def _within(value: float, most: float, looks: str) -> float:
    if value > most:
        raise ValueError(looks)
    return value
