"""The figures of the holding template, line by line, as a designer's calculation sheet has them.

The names of the points are the sheet's: **a** the fix, **b** and **c** the earliest and the latest start of
the outbound turn, **d** … **g** after 45° … 180° of the turn from c, **h**, **o**, **p** after 180°, 225° and
270° from b, **i1** … **i4** the ends of the outbound leg (early and late, on either side of the heading),
**j**, **k** and **l**, **m** after 45° … 135° of the inbound turn, **n3** and **n4** where it ends.
``wind_*`` is how far the wind, from any side, may have carried the aircraft by then: the template lets the
full design wind blow from the fix onwards without any correction by the pilot.

References
----------
ICAO Doc 8168 Vol II, holding template, formulas quoted; airspeed, turn, radius and wind as on its
base-turn sheet, Table I-4-3-App C-1 (published).
"""

from __future__ import annotations

from analyser.airspace.allowances import load_airspace_rules
from analyser.earth.atmosphere import doc8168_tas_kt
from analyser.frozen import dataclass
from analyser.rules.load import load_regime


@dataclass(frozen=True)
class TemplateFigures:
    """One calculation sheet; distances in nautical miles, times in seconds."""

    #: What it was computed for.
    ias_kt: float
    altitude_ft: float
    isa_deviation_c: float
    #: V, R, r and w.
    tas_kt: float
    turn_rate_dps: float
    radius_nm: float
    wind_kt: float
    #: t: the still-air time; for a distance leg, what its length takes in still air.
    outbound_s: float
    #: Limiting length of a distance leg.
    distance_nm: float | None
    #: Of flight from g to i1 and to i2.
    early_s: float
    late_s: float
    #: Seconds of wind of i2 beyond i1.
    late_wind_s: float
    bank_late_s: float
    turn_late_s: float
    spread_deg: float

    @property
    def tas_nm_s(self) -> float:
        """True airspeed v, nautical miles per second."""
        return self.tas_kt / 3600.0

    @property
    def wind_nm_s(self) -> float:
        """Wind w', nautical miles per second."""
        return self.wind_kt / 3600.0

    @property
    def wind_45_nm(self) -> float:
        """E45: the wind's effect during 45° of turn."""
        return 45.0 * self.wind_nm_s / self.turn_rate_dps

    @property
    def along_nm(self) -> dict[str, float]:
        """Distances between points: ab, ac, gi1 (= gi3) and gi2 (= gi4)."""
        v = self.tas_nm_s
        return {
            "ab": self.bank_late_s * v,
            "ac": self.turn_late_s * v,
            "gi1": self.early_s * v,
            "gi2": self.late_s * v,
        }

    @property
    def wind_nm(self) -> dict[str, float]:
        """How far the wind may have carried the aircraft by each point, from any side."""
        w, e = self.wind_nm_s, self.wind_45_nm
        b, c = self.bank_late_s * w, self.turn_late_s * w
        i1 = (self.turn_late_s + self.early_s) * w + 4.0 * e
        i2 = i1 + self.late_wind_s * w
        turned = {point: c + number * e for number, point in enumerate("defg", 1)}
        early = {point: b + number * e for number, point in enumerate("hop", 4)}
        inbound = {"j": i2 + e, "k": i2 + 2.0 * e, "l": i2 + 2.0 * e, "m": i2 + 3.0 * e}
        ends = {"n3": i1 + 4.0 * e, "n4": i2 + 4.0 * e}
        legs = {"i1": i1, "i2": i2, "i3": i1, "i4": i2}
        return {"b": b, "c": c} | turned | early | legs | inbound | ends


def template_figures(
    *,
    ias_kt: float,
    altitude_ft: float,
    minutes: float | None = None,
    distance_nm: float | None = None,
    isa_deviation_c: float | None = None,
    wind_kt: float | None = None,
) -> TemplateFigures:
    """Compute the sheet for a leg's still-air time or length; the designers' temperature and wind when left out.

    Raises ValueError: neither or both of the leg's limits given, or a value that is not above zero.
    """
    limit = minutes if distance_nm is None else distance_nm
    if limit is None or (minutes is None) == (distance_nm is None):
        raise ValueError("give minutes or distance_nm, exactly one of them")
    if min(ias_kt, limit) <= 0.0 or (wind_kt is not None and wind_kt < 0.0):
        raise ValueError("speed and leg must be above zero, and the wind not below")
    icao, rules = load_regime("icao"), load_airspace_rules()
    design, allowed = icao.design_wind, rules.template
    assert design is not None
    deviation_c = design.isa_deviation_c if isa_deviation_c is None else isa_deviation_c
    if wind_kt is None:
        wind_kt = design.base_kt + design.per_1000_ft_kt * max(altitude_ft, 0.0) / 1000.0
    tas_kt = doc8168_tas_kt(ias_kt, altitude_ft, deviation_c)
    # 509.26 and 62.83 are g·tan 25° and 20 π in the designers' units; at most rate one.
    rate_dps = min(icao.turns.rate_dps, 509.26 / tas_kt)
    outbound_s = 60.0 * minutes if minutes is not None else 3600.0 * limit / tas_kt
    if minutes is not None:
        early_s, late_s = outbound_s + allowed.outbound_early_s, outbound_s + allowed.outbound_late_s
        late_wind_s = allowed.outbound_late_wind_s
    else:
        # From g, which lies beyond the fix by the latest turn, to the limit abeam and the turn after it.
        early_s = outbound_s + allowed.turn_late_s
        late_s, late_wind_s = early_s + rules.distance_leg.late_s, rules.distance_leg.late_s
    return TemplateFigures(
        ias_kt=ias_kt,
        altitude_ft=altitude_ft,
        isa_deviation_c=deviation_c,
        tas_kt=tas_kt,
        turn_rate_dps=rate_dps,
        radius_nm=tas_kt / (62.83 * rate_dps),
        wind_kt=wind_kt,
        outbound_s=outbound_s,
        distance_nm=distance_nm,
        early_s=max(early_s, 0.0),
        late_s=late_s,
        late_wind_s=late_wind_s,
        bank_late_s=allowed.bank_late_s,
        turn_late_s=allowed.turn_late_s,
        spread_deg=allowed.spread_deg,
    )
