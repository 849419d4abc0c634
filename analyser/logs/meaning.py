"""What a table's column means, read from the words of its header.

A header is cut into words, abbreviations are spelled out, a unit among them is set aside, and what remains
must be one of the phrases below, no more and no less: ``Ground Speed [kt]``, ``gnd_spd_kt`` and
``speedOverGround (knots)`` mean the same, while ``selected heading`` means nothing that was measured.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

from analyser.logs.units import Unit, unit_of


@dataclass(frozen=True)
class Concept:
    """Something a column can hold.

    Attributes
    ----------
    name : str
        The short name a person uses with ``--columns``.
    kind : str
        Kind of unit (:class:`analyser.logs.units.Unit`), or ``""``.
    channel : str
        The channel it fills, or ``""`` for time, position and identity.
    phrases : tuple of str
        In order of preference where a table has several.
    """

    name: str
    kind: str
    channel: str
    phrases: tuple[str, ...]


#: "heading_unmarked_deg" and "speed_unmarked_kt" are settled against the track later.
CONCEPTS: tuple[Concept, ...] = (
    Concept("year", "", "", ("year|yyyy|utc year",)),
    Concept("month", "", "", ("month|utc month",)),
    Concept("day", "", "", ("day|utc day|day of month",)),
    Concept("hour", "", "", ("hour|hours|hh|utc hour",)),
    Concept("minute", "", "", ("minute|minutes|utc minute",)),
    Concept("second", "", "", ("second|utc second",)),
    Concept(
        "time",
        "time",
        "",
        (
            "timestamp utc|time stamp utc|datetime utc|date time utc|utc date time|utc datetime|date and time utc",
            "timestamp|time stamp|datetime|date time|date and time|time date|utc timestamp|instant",
            "epoch|unix|unix time|unix timestamp|epoch time|posix time|posix timestamp|epoch timestamp",
            "time utc|utc|utc time|zulu|zulu time|time zulu|gmt|gmt time|utc time of day|time of day utc|time z",
            "time|gps time|time of day|clock|clock time|gmt clock|t|tod",
            "local time|time local|local datetime|local timestamp|local date time",
            "elapsed|elapsed time|time elapsed|time since start|session time|running time|mission time|sim time"
            "|simulation time|relative time|seconds|flight time|run time|time since boot|elapsed seconds|uptime",
        ),
    ),
    Concept(
        "date",
        "",
        "",
        ("date utc|utc date|date zulu|gmt date", "date|calendar date", "local date|date local"),
    ),
    Concept(
        "utc_offset",
        "",
        "",
        ("utc offset|offset utc|offset|gmt offset|time zone|timezone|tz|utc diff|zone offset",),
    ),
    Concept("lat", "angle", "", ("latitude", "latitude north|north latitude")),
    Concept("lon", "angle", "", ("longitude", "longitude east|east longitude")),
    Concept(
        "position", "", "", ("position", "coordinates|coordinate|latitude longitude|location|latlon|latlng")
    ),
    Concept(
        "alt",
        "length",
        "altitude_ft",
        (
            "indicated altitude|baro altitude|altitude baro|altitude indicated|corrected altitude|altitude qnh"
            "|baro corrected altitude|altimeter|qnh altitude|altitude altimeter",
            "altitude|true altitude",
            "altitude msl|msl altitude|altitude amsl|msl|amsl|height msl|height amsl|elevation msl",
            "pressure altitude|altitude pressure|standard altitude|altitude std|altitude standard|qne altitude",
            "flight level|fl",
            "gps altitude|altitude gps|geometric altitude|altitude geometric|geo altitude|altitude geo|gnss altitude"
            "|altitude gnss|altitude wgs84|altitude ellipsoid|ellipsoid altitude|altitude hae|hae|height wgs84"
            "|ellipsoid height|gps height|altitude wgs|gnss height",
            "elevation|height",
        ),
    ),
    Concept(
        "gs",
        "speed",
        "ground_speed_kt",
        (
            "ground speed|groundspeed|gs|speed over ground|sog|speed ground|gps speed|speed gps|gspeed|g speed"
            "|gps ground speed|ground velocity|horizontal speed|kgs",
        ),
    ),
    Concept("speed", "speed", "speed_unmarked_kt", ("speed",)),
    Concept(
        "track",
        "angle",
        "track_true_deg",
        (
            "true track|track true|ground track true|true ground track|course over ground true|track t|true course"
            "|course true|cog true|cog t|course t|course over ground t",
            "track|ground track|track angle|course over ground|cog|track over ground|gps track|tmg|track made good",
            "course|gps course|direction of movement|bearing|ground course|course made good",
        ),
    ),
    Concept(
        "track_magnetic",
        "angle",
        "track_magnetic_deg",
        ("magnetic track|track magnetic|track m|course magnetic|magnetic course|ground track magnetic",),
    ),
    Concept(
        "heading_true",
        "angle",
        "heading_true_deg",
        ("true heading|heading true|heading t|thdg|yaw true|true yaw|azimuth true",),
    ),
    Concept(
        "heading_magnetic",
        "angle",
        "heading_magnetic_deg",
        (
            "magnetic heading|heading magnetic|heading m|mhdg|compass heading|compass|heading compass"
            "|magnetic compass|heading gyro magnetic",
        ),
    ),
    Concept("heading", "angle", "heading_unmarked_deg", ("heading|yaw|psi|azimuth|heading angle|yaw angle",)),
    Concept("bank", "angle", "bank_deg", ("bank|bank angle|angle of bank|roll|roll angle|phi|aob",)),
    Concept("pitch", "angle", "pitch_deg", ("pitch|pitch angle|theta",)),
    Concept(
        "ias",
        "speed",
        "ias_kt",
        (
            "ias|indicated airspeed|indicated air speed|airspeed indicated|air speed indicated|kias|speed indicated"
            "|indicated speed|speed ias|airspeed ias",
            "cas|calibrated airspeed|airspeed calibrated|kcas|calibrated air speed|computed airspeed|speed cas",
        ),
    ),
    Concept(
        "tas",
        "speed",
        "tas_kt",
        ("tas|true airspeed|true air speed|airspeed true|ktas|speed tas|true speed|airspeed tas",),
    ),
    Concept("airspeed", "speed", "airspeed_unmarked_kt", ("airspeed|air speed",)),
    Concept(
        "wind_from",
        "angle",
        "wind_from_true_deg",
        (
            "wind direction|wind from|wind direction true|direction wind|wind true direction|wd|wind from true"
            "|wind from direction",
        ),
    ),
    Concept("wind_speed", "speed", "wind_speed_kt", ("wind speed|wind force|speed wind|wind strength|ws",)),
    Concept(
        "oat",
        "temperature",
        "outside_air_temperature_c",
        (
            "oat|outside air temperature|sat|static air temperature|ambient temperature|outside temperature"
            "|ambient air temperature|static temperature|free air temperature",
            "air temperature|temperature",
        ),
    ),
    Concept(
        "vs",
        "climb",
        "vertical_speed_fpm",
        (
            "vertical speed|vertical rate|vs|rate of climb|climb rate|roc|vsi|vvi|ivsi|vario|v speed|baro rate"
            "|vertical velocity|climb|climb speed|speed vertical|inertial vertical speed|baro vertical rate|vspeed",
        ),
    ),
    Concept(
        "id",
        "",
        "",
        (
            "icao24|icao address|icao|hex|address|mode s",
            "registration|tail number|tail|aircraft id|aircraft ident|callsign|call sign|aircraft|ident|id",
            "flight|flight id|flight number|track id|trip",
        ),
    ),
)

#: Spelled out before the phrases are compared.
_SHORT = {
    "lat": "latitude",
    "latitud": "latitude",
    "lon": "longitude",
    "lng": "longitude",
    "long": "longitude",
    "alt": "altitude",
    "altitud": "altitude",
    "elev": "elevation",
    "ele": "elevation",
    "hdg": "heading",
    "head": "heading",
    "trk": "track",
    "crs": "course",
    "gnd": "ground",
    "grnd": "ground",
    "spd": "speed",
    "vel": "speed",
    "velocity": "speed",
    "vert": "vertical",
    "vrt": "vertical",
    "wnd": "wind",
    "dir": "direction",
    "dr": "direction",
    "drct": "direction",
    "temp": "temperature",
    "mag": "magnetic",
    "magn": "magnetic",
    "pres": "pressure",
    "press": "pressure",
    "ind": "indicated",
    "calib": "calibrated",
    "barometric": "baro",
    "geom": "geometric",
    "lcl": "local",
    "ofst": "offset",
    "reg": "registration",
    "coord": "coordinates",
    "coords": "coordinates",
    "secs": "seconds",
    "sec": "seconds",
    "rel": "relative",
    "acft": "aircraft",
}
#: Words that say where a value was taken and not what it is; left out where the phrase is not found with them.
_FILLERS = frozenset(
    {
        "aircraft",
        "plane",
        "own",
        "ownship",
        "airplane",
        "position",
        "pos",
        "current",
        "value",
        "sensor",
        "nav",
        "gps",
        "gnss",
        "wgs84",
        "decimal",
        "user",
        "computed",
        "filtered",
        "attitude",
        "att",
        "state",
        "data",
        "angle",
        "my",
        "vehicle",
        "raw",
        "the",
        "of",
        "in",
        "a",
        "ac",
        "measured",
        "actual",
        "smoothed",
        "est",
        "estimated",
        "present",
        "wgs",
        "utc",
        "sample",
    }
)
_WORD = re.compile(r"[a-z0-9°º'µ%]+")
_REFERENCED = re.compile(r"(°|º|deg)(t|m)\b")
_CAMEL = (re.compile(r"(?<=[a-z0-9])(?=[A-Z])"), re.compile(r"(?<=[A-Z])(?=[A-Z][a-z])"))


@dataclass(frozen=True)
class Meaning:
    """What a header says.

    Attributes
    ----------
    concept : Concept
    rank : int
        Place of the phrase in the concept's order of preference, 0 first.
    unit : Unit or None
        From the header, None where it does not say.
    words : tuple of str
        The header's words without the unit.
    """

    concept: Concept
    rank: int
    unit: Unit | None
    words: tuple[str, ...]


@lru_cache(maxsize=1)
def _phrases() -> dict[tuple[str, ...], tuple[Concept, int]]:
    found: dict[tuple[str, ...], tuple[Concept, int]] = {}
    for concept in CONCEPTS:
        for rank, line in enumerate(concept.phrases):
            for phrase in line.split("|"):
                found.setdefault(_spelled_out(phrase.split()), (concept, rank))
    return found


def _spelled_out(words: list[str]) -> tuple[str, ...]:
    return tuple(sorted(_SHORT.get(word, word) for word in words))


def words_of(header: str) -> list[str]:
    """Cut a header into lower-case words, at blanks, signs and changes of case.

    Parameters
    ----------
    header : str

    Returns
    -------
    list of str
    """
    text = unicodedata.normalize("NFKC", header[:200]).strip()
    for seam in _CAMEL:
        text = seam.sub(" ", text)
    # °T and degM say two things: the unit, and true or magnetic.
    return _WORD.findall(_REFERENCED.sub(r"\1 \2", text.lower()))


@lru_cache(maxsize=4096)
def meaning_of(header: str) -> Meaning | None:
    """Read a header.

    Parameters
    ----------
    header : str
        As it stands in the table. Untrusted text.

    Returns
    -------
    Meaning or None
        None where it means nothing the program uses.
    """
    if not any(letter.isalpha() for letter in header[:200]):
        return None
    # "GroundSpeed" is cut where the case changes; "baroaltitude" only where known words meet.
    plain = words_of(header.lower())
    for words in (words_of(header), plain, [part for word in plain for part in _parted(word)]):
        for removed in _removals(len(words)):
            rest = [word for place, word in enumerate(words) if place not in removed]
            found = _concept(rest)
            if found is None:
                continue
            unit = _unit([words[place] for place in removed], found[0].kind)
            if removed and unit is None:
                continue
            return Meaning(found[0], found[1], unit or _own_unit(rest), tuple(rest))
    return None


@lru_cache(maxsize=1)
def _vocabulary() -> frozenset[str]:
    words = {word for phrase in _phrases() for word in phrase} | set(_SHORT) | _FILLERS
    return frozenset(word for word in words if len(word) >= 3) | {"gs", "vs"}


def _parted(word: str) -> list[str]:
    """Cut a run of letters into known words; leave it whole where that does not come out even."""
    known = _vocabulary()
    if word in known or not 5 <= len(word) <= 40:
        return [word]
    ways: list[list[str] | None] = [[], *[None] * len(word)]
    for end in range(1, len(word) + 1):
        for start in range(max(0, end - 14), end - 1):
            before = ways[start]
            if before is not None and word[start:end] in known:
                ways[end] = [*before, word[start:end]]
                break
    return ways[-1] or [word]


def _removals(count: int) -> list[tuple[int, ...]]:
    """Return which words may be the unit: none, one, or two that stand side by side; later ones first."""
    if not 0 < count <= 10:
        return []
    singles = [(place,) for place in reversed(range(count))]
    pairs = [(place, place + 1) for place in reversed(range(count - 1))]
    return [(), *singles, *pairs]


def _concept(words: list[str]) -> tuple[Concept, int] | None:
    if not words:
        return None
    known = _phrases()
    whole = known.get(_spelled_out(words))
    if whole is not None:
        return whole
    rest = [word for word in words if word not in _FILLERS]
    return known.get(_spelled_out(rest)) if rest else None


def _unit(words: list[str], kind: str) -> Unit | None:
    for glue in ("/", ""):
        unit = unit_of(glue.join(words), kind) if words else None
        if unit is not None:
            return unit
    return None


def _own_unit(words: list[str]) -> Unit | None:
    """Take the unit that some names carry: knots indicated, hundreds of feet."""
    for word in words:
        if word in ("kias", "ktas", "kcas", "kgs"):
            return unit_of("kt", "speed")
        if word == "fl":
            return unit_of("fl", "length")
        if word in ("seconds", "secs"):
            return unit_of("s", "time")
    if set(words) == {"flight", "level"}:
        return unit_of("fl", "length")
    return None


#: Other names that people use for the same.
_NAMES = {
    "latitude": "lat",
    "longitude": "lon",
    "altitude": "alt",
    "ground_speed": "gs",
    "roll": "bank",
    "vertical_speed": "vs",
    "temperature": "oat",
    "wind_direction": "wind_from",
    "offset": "utc_offset",
    "aircraft": "id",
}


def concept_named(name: str) -> Concept | None:
    """Find a concept by the name a person uses: its short name or its channel's.

    Parameters
    ----------
    name : str

    Returns
    -------
    Concept or None
    """
    wanted = name.strip().lower()
    wanted = {"latitude": "lat", "longitude": "lon", "altitude": "alt", "ground_speed": "gs"}.get(
        wanted, wanted
    )
    for concept in CONCEPTS:
        if wanted in (concept.name, concept.channel):
            return concept
    return None
