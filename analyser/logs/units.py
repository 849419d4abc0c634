"""Units as logs write them, and what they are in the program's own."""

from __future__ import annotations

import math
import re
import unicodedata

from analyser.earth.constants import KT_PER_MPS, METRES_PER_FOOT, METRES_PER_MILE, METRES_PER_NM
from analyser.frozen import dataclass

FEET_PER_METRE = 1.0 / METRES_PER_FOOT
KNOTS_PER_KILOMETRE_PER_HOUR = 1000.0 / METRES_PER_NM
KNOTS_PER_MILE_PER_HOUR = METRES_PER_MILE / METRES_PER_NM
KNOTS_PER_FOOT_PER_SECOND = METRES_PER_FOOT * KT_PER_MPS
FPM_PER_METRE_PER_SECOND = 60.0 * FEET_PER_METRE


@dataclass(frozen=True)
class Unit:
    """One unit: canonical = value · factor + offset; canonical is ft, kt, fpm, degrees, °C, s."""

    #: As shown.
    name: str
    #: ``"length"``, ``"speed"``, ``"climb"``, ``"angle"``, ``"temperature"`` or ``"time"``.
    kind: str
    factor: float
    #: Lower-case, parted by blanks.
    spellings: str
    offset: float = 0.0


UNITS: tuple[Unit, ...] = (
    Unit("ft", "length", 1.0, "ft feet foot fuss fuß pieds pies piedi pes pés ftmsl ftamsl '"),
    Unit("m", "length", FEET_PER_METRE, "m metre metres mètres metros metri meter meters mtr mmsl mamsl"),
    Unit("km", "length", 1000.0 * FEET_PER_METRE, "km kilometres kilometers"),
    Unit("cm", "length", 0.01 * FEET_PER_METRE, "cm centimetres centimeters"),
    Unit("dm", "length", 0.1 * FEET_PER_METRE, "dm decimetres decimeters"),
    Unit("1000 ft", "length", 1000.0, "kft 1000ft x1000ft ft/1000 thousandft thousandsft"),
    Unit("mm", "length", 0.001 * FEET_PER_METRE, "mm millimetres millimeters"),
    Unit(
        "FL",
        "length",
        100.0,
        "fl hft hundredsft 100ft x100ft ×100ft ftx100 hundredfeet hundredsfeet hundredsoffeet 100sft",
    ),
    Unit(
        "kt",
        "speed",
        1.0,
        "kt kts knot knots kn knoten noeuds nudos nodi nos nós kias ktas kcas nm/h nmi/h",
    ),
    Unit("m/s", "speed", KT_PER_MPS, "m/s mps ms ms-1 m/sec ms^-1 m.s-1"),
    Unit("km/h", "speed", KNOTS_PER_KILOMETRE_PER_HOUR, "km/h kmh kph kmph km/hr km/u"),
    Unit("mph", "speed", KNOTS_PER_MILE_PER_HOUR, "mph mi/h miles/h sm/h"),
    Unit("ft/s", "speed", KNOTS_PER_FOOT_PER_SECOND, "ft/s fps ft/sec feet/s"),
    Unit("cm/s", "speed", 0.01 * KT_PER_MPS, "cm/s cmps"),
    Unit("mm/s", "speed", 0.001 * KT_PER_MPS, "mm/s mmps"),
    Unit("fpm", "climb", 1.0, "fpm ft/min ft/mn ftpm feet/min ftmin"),
    Unit("m/s", "climb", FPM_PER_METRE_PER_SECOND, "m/s mps ms ms-1 m/sec ms^-1 m.s-1"),
    Unit("ft/s", "climb", 60.0, "ft/s fps ft/sec feet/s"),
    Unit("deg", "angle", 1.0, "deg degs degree degrees grad degrés degres grados gradi graus ° dd º"),
    Unit("10⁻⁷ deg", "angle", 1e-7, "e7 dege7 1e7 dege-7 1e-7deg deg*1e7"),
    Unit("10⁻⁶ deg", "angle", 1e-6, "e6 dege6 1e6 dege-6 1e-6deg microdeg microdegrees µdeg"),
    Unit("gon", "angle", 0.9, "gon gons gradian gradians grads"),
    Unit("arcmin", "angle", 1.0 / 60.0, "arcmin arcminutes"),
    Unit("arcsec", "angle", 1.0 / 3600.0, "arcsec arcseconds"),
    Unit("semicircles", "angle", 180.0 / 2.0**31, "semicircles semicircle semi"),
    Unit("rad", "angle", 180.0 / math.pi, "rad rads radian radians"),
    Unit("°C", "temperature", 1.0, "c °c degc celsius ºc deg_c"),
    Unit("°F", "temperature", 5.0 / 9.0, "f °f degf fahrenheit ºf", -160.0 / 9.0),
    Unit("K", "temperature", 1.0, "k kelvin °k degk", -273.15),
    Unit("s", "time", 1.0, "s sec secs second seconds sekunden secondes segundos secondi"),
    Unit("ms", "time", 1e-3, "ms msec millis millisecond milliseconds"),
    Unit("µs", "time", 1e-6, "us µs μs usec micros microseconds"),
    Unit("ns", "time", 1e-9, "ns nsec nanos nanoseconds"),
    Unit("min", "time", 60.0, "min mins minute minutes"),
    Unit("h", "time", 3600.0, "h hr hrs hour hours"),
    Unit("days", "time", 86_400.0, "days"),
    Unit("100 ns", "time", 1e-7, "ticks tick 100ns"),
)

_DAY_S = 86_400.0
#: The day that most counts begin at.
POSIX = Unit("s since 1970-01-01", "time", 1.0, "unix posix epoch 1970")
#: Seconds that GPS time is ahead of UTC, since 2017.
_GPS_AHEAD_S = 18.0


def _spelled(epoch: str, unit: str) -> str:
    return epoch if unit == "s" else f"{epoch}{unit} {epoch}{unit.replace('µ', 'u')}"


def _counts(name: str, offset: float, spelling: str) -> tuple[Unit, ...]:
    """Return counts of seconds, milliseconds and microseconds from one day; offset is its POSIX time."""
    return tuple(
        Unit(f"{unit} since {name}", "time", factor, _spelled(spelling, unit), offset)
        for unit, factor in (("s", 1.0), ("ms", 1e-3), ("µs", 1e-6))
    )


#: What counts of time begin at: POSIX seconds = value · factor + offset. The more usual one first.
EPOCHS: tuple[Unit, ...] = (
    POSIX,
    Unit("ms since 1970-01-01", "time", 1e-3, "unixms"),
    Unit("µs since 1970-01-01", "time", 1e-6, "unixus unixµs"),
    Unit("ns since 1970-01-01", "time", 1e-9, "unixns"),
    *_counts("2001-01-01", 978_307_200.0, "2001"),
    *_counts("1980-01-06 (GPS)", 315_964_800.0 - _GPS_AHEAD_S, "gps"),
    *_counts("2000-01-01", 946_684_800.0, "2000"),
    *_counts("1989-12-31 (FIT)", 631_065_600.0, "fit"),
    *_counts("1904-01-01", -2_082_844_800.0, "1904"),
    *_counts("1900-01-01 (NTP)", -2_208_988_800.0, "ntp"),
    Unit("100 ns since 1601-01-01", "time", 1e-7, "1601", -11_644_473_600.0),
    Unit("100 ns since 0001-01-01", "time", 1e-7, "0001", -62_135_596_800.0),
    Unit("days since 1899-12-30", "time", _DAY_S, "1899", -25_569.0 * _DAY_S),
    Unit("days since 1970-01-01", "time", _DAY_S, "1970days unixdays"),
    Unit("days since 1904-01-01", "time", _DAY_S, "1904days", -24_107.0 * _DAY_S),
    Unit("Julian days", "time", _DAY_S, "jd", -2_440_587.5 * _DAY_S),
    Unit("modified Julian days", "time", _DAY_S, "mjd", -40_587.0 * _DAY_S),
    Unit("days since the year 0", "time", _DAY_S, "0000", -719_529.0 * _DAY_S),
)

GPS = next(unit for unit in EPOCHS if "(GPS)" in unit.name)
SECONDS = next(unit for unit in UNITS if unit.name == "s")
#: What a bare number may count from the log's own start, in the order tried: seconds, as most do, first.
ELAPSED = tuple(
    next(unit for unit in UNITS if unit.kind == "time" and unit.name == name)
    for name in ("s", "ms", "min", "h", "µs", "ns", "days", "100 ns")
)

_BY_SPELLING: dict[tuple[str, str], Unit] = {
    (spelling, unit.kind): unit for unit in (*EPOCHS, *UNITS) for spelling in unit.spellings.split()
}
_SHORT = {
    **dict.fromkeys(("kilometres", "kilometers"), "km"),
    **dict.fromkeys(("metres", "meters", "metre", "meter"), "m"),
    **dict.fromkeys(("feet", "foot"), "ft"),
    **dict.fromkeys(("nauticalmiles", "nauticalmile"), "nm"),
    **dict.fromkeys(("statutemiles", "statutemile", "miles", "mile"), "mi"),
    **{"per": "/", "hour": "h", "minute": "min", "second": "s"},
}
_LONG_WORDS = re.compile("|".join(_SHORT))
_SPELLINGS = {spelling for unit in UNITS for spelling in unit.spellings.split()}


def normal(text: str) -> str:
    """Bring a unit's spelling into one form: lower-case, no blanks or brackets."""
    folded = unicodedata.normalize("NFC", text).lower().replace("μ", "µ")
    folded = re.sub(r"[\s\[\](){}<>\"]+", "", folded)
    if "per" in folded:
        # Metres per second, nautical miles per hour.
        folded = _LONG_WORDS.sub(lambda word: _SHORT[word[0]], folded)
    return folded.replace("_", "") if folded not in ("deg_c",) else folded


def unit_of(text: str, kind: str) -> Unit | None:
    """Find a unit of a kind (:class:`Unit`) by its spelling."""
    return _BY_SPELLING.get((normal(text), kind))


def is_unit(text: str) -> bool:
    """Tell whether a word is the spelling of any unit."""
    return normal(text) in _SPELLINGS
