"""Which entry a heading at the fix asks for."""

from __future__ import annotations

from typing import Literal

from analyser.earth.angles import wrap180, wrap360
from analyser.frozen import dataclass
from analyser.holds.definition import ArrivalWay, Turns
from analyser.rules.load import load_regime
from analyser.rules.regime import EntryRule

EntryName = Literal["direct", "parallel", "offset"]


@dataclass(frozen=True)
class Sector:
    """One entry sector as a range of headings, clockwise from one to the other.

    Attributes
    ----------
    entry : "direct", "parallel" or "offset"
    from_heading_deg, to_heading_deg : float
        In the reference of the inbound course given, [0, 360).
    """

    entry: EntryName
    from_heading_deg: float
    to_heading_deg: float


def sectors_allowed(
    arrival_heading_deg: float,
    inbound_course_deg: float,
    turns: Turns,
    tolerance_deg: float | None = None,
    rule: EntryRule | None = None,
    way: ArrivalWay | None = None,
) -> tuple[EntryName, ...]:
    """Name the entries that are right for a heading at the fix.

    Parameters
    ----------
    arrival_heading_deg : float
        Heading (not track) on arrival over the fix, degrees.
    inbound_course_deg : float
        Course TO the fix, degrees in the same reference.
    turns : "right" or "left"
    tolerance_deg : float, optional
        Within this of a boundary the neighbour is right too; the rule's zone (5°) where left out.
    rule : EntryRule, optional
        Sector widths; both regimes have the same, so ICAO's where left out.
    way : "reciprocal" or "arc", optional
        The published way to the fix: where it was flown and the rule names entries for it, only those are right.

    Returns
    -------
    tuple of str
        The sector the heading lies in comes first, then the neighbour within the zone, if any.

    References
    ----------
    ICAO Doc 8168 Vol I and FAA AIM 5-3-8 (sectors, ±5°); arithmetic as US Navy P-821, figure 3-8.
    """
    rule = rule or load_regime("icao").entry
    zone = rule.zone_deg if tolerance_deg is None else tolerance_deg
    off = _off_reciprocal_deg(arrival_heading_deg, inbound_course_deg, turns)
    own = _sector(off, rule)
    borders: tuple[tuple[float, tuple[EntryName, EntryName]], ...] = (
        (rule.offset_sector_deg, ("offset", "direct")),
        (0.0, ("offset", "parallel")),
        (-rule.parallel_sector_deg, ("parallel", "direct")),
    )
    allowed = [own]
    for border_deg, neighbours in borders:
        # A hair of slack, so that "exactly 5°" does not depend on the last bit of a subtraction.
        if abs(wrap180(off - border_deg)) <= zone + 1e-9:
            allowed += [one for one in neighbours if one not in allowed]
    named = entries_by_way(arrival_heading_deg, inbound_course_deg, turns, rule, way)
    return tuple(one for one in allowed if one in named) or named[:1] or tuple(allowed)


def entries_by_way(
    arrival_heading_deg: float,
    inbound_course_deg: float,
    turns: Turns,
    rule: EntryRule,
    way: ArrivalWay | None,
) -> tuple[EntryName, ...]:
    """Name the entries that a rule has for a published way to the fix; none where the heading is not that way's."""
    if way is None or rule.arrivals is None:
        return ()
    off = abs(_off_reciprocal_deg(arrival_heading_deg, inbound_course_deg, turns))
    off_way, named = (
        (off, rule.arrivals.reciprocal) if way == "reciprocal" else (off - 90.0, rule.arrivals.arc)
    )
    return named if abs(off_way) <= rule.arrivals.within_deg else ()


def sectors(
    inbound_course_deg: float, turns: Turns, rule: EntryRule | None = None
) -> tuple[Sector, Sector, Sector]:
    """Lay out the three sectors as ranges of heading.

    Parameters
    ----------
    inbound_course_deg : float
    turns : "right" or "left"
    rule : EntryRule, optional

    Returns
    -------
    offset, parallel, direct : Sector
    """
    rule = rule or load_regime("icao").entry
    side = 1 if turns == "right" else -1
    reciprocal = inbound_course_deg + 180.0
    offset_edge = reciprocal - side * rule.offset_sector_deg
    parallel_edge = reciprocal + side * rule.parallel_sector_deg
    ranges: tuple[tuple[EntryName, float, float], ...] = (
        ("offset", offset_edge, reciprocal),
        ("parallel", reciprocal, parallel_edge),
        ("direct", parallel_edge, offset_edge),
    )
    made = [
        Sector(name, wrap360(start if side > 0 else end), wrap360(end if side > 0 else start))
        for name, start, end in ranges
    ]
    return made[0], made[1], made[2]


def _off_reciprocal_deg(heading_deg: float, inbound_course_deg: float, turns: Turns) -> float:
    """How far the heading falls short of the reciprocal, mirrored for a left-hand hold: P-821's d."""
    off = wrap180(inbound_course_deg + 180.0 - heading_deg)
    return off if turns == "right" else wrap180(-off)


def _sector(off_deg: float, rule: EntryRule) -> EntryName:
    if 0.0 <= off_deg <= rule.offset_sector_deg:
        return "offset"
    return "parallel" if -rule.parallel_sector_deg <= off_deg < 0.0 else "direct"
