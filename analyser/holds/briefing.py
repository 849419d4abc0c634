"""Everything a pilot wants to know about a hold before flying it, worked out once for card and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime

from analyser.earth.atmosphere import cas_to_tas, tas_to_cas
from analyser.earth.variation import Variation, magnetic_variation
from analyser.earth.wind import wind_components
from analyser.errors import UsageError
from analyser.frozen import dataclass
from analyser.holds.definition import Hold
from analyser.holds.entries import EntryName, EntryPlan, Sector, entry_plan, sectors, sectors_allowed
from analyser.holds.exact import ExactCircuit
from analyser.holds.ideal_circuit import ideal_circuit, leg_minutes
from analyser.holds.leaving_plan import LeavePlan, plan_leaving, turn_in_table
from analyser.holds.rules_of_thumb import ThumbComparison, compared_with_thumb
from analyser.rules.regime import Regime, SpeedLimit

#: Forecasts are wrong: the table shows the circuit for winds this much off, knots and degrees.
WIND_SPEED_STEPS_KT = (-10.0, 0.0, 10.0)
WIND_DIRECTION_STEPS_DEG = (-20.0, 0.0, 20.0)


@dataclass(frozen=True)
class Flight:
    """How the aircraft will be flown."""

    altitude_ft: float
    #: By the standard atmosphere with the temperature deviation.
    tas_kt: float
    ias_kt: float
    isa_deviation_c: float
    #: As forecast.
    wind_from_true_deg: float
    wind_speed_kt: float
    #: False where no wind was given and still air is assumed.
    wind_known: bool
    arrival_heading_true_deg: float | None
    category: str | None


@dataclass(frozen=True)
class WindCase:
    """The circuit in another wind."""

    wind_from_true_deg: float
    wind_speed_kt: float
    exact: ExactCircuit


@dataclass(frozen=True)
class Briefing:
    """A hold, worked out for one flight."""

    hold: Hold
    regime: Regime
    flight: Flight
    variation: Variation
    #: True directions.
    exact: ExactCircuit
    #: Length of the leg in still air.
    still_air_s: float
    #: Offset, parallel, direct; headings true.
    sectors: tuple[Sector, Sector, Sector]
    #: Entries right for the arrival heading; empty where it is not known.
    allowed: tuple[EntryName, ...]
    #: Those allowed, or all three where the arrival heading is not known. Empty where no circuit closes.
    entries: tuple[EntryPlan, ...]
    #: Rules of thumb.
    beside: tuple[ThumbComparison, ...]
    #: Row by row of direction, within it by speed.
    winds: tuple[WindCase, ...]
    turn_in: tuple[ExactCircuit, ...]
    leaving: tuple[LeavePlan, ...]
    speed_limit: SpeedLimit
    speed_limit_kias: float

    @property
    def too_slow(self) -> bool:
        """Whether the speed planned is below the least that the regime names, if it does."""
        least = self.regime.least_speed
        return least is not None and self.flight.ias_kt < least.kias - 0.5

    @property
    def too_fast(self) -> bool:
        """Whether the speed planned is above the regime's limit."""
        return self.flight.ias_kt > self.speed_limit_kias + 0.5

    @property
    def exact_end_dme_nm(self) -> float | None:
        """Reading where the exact circuit turns inbound; None without a station or a circuit."""
        leg, exact = self.hold.leg, self.exact
        if leg is None or leg.fix_dme_nm is None or not exact.closes:
            return None
        out_nm = leg.out_nm(exact.outbound_end_along_nm, exact.outbound_end_cross_nm)
        return leg.fix_dme_nm + (out_nm if leg.towards_station else -out_nm)


def flight_of(
    hold: Hold,
    *,
    altitude_ft: float | None = None,
    tas_kt: float | None = None,
    ias_kt: float | None = None,
    isa_deviation_c: float = 0.0,
    wind: tuple[float, float] | None = None,
    arrival_heading_true_deg: float | None = None,
    category: str | None = None,
) -> Flight:
    """Put together how the aircraft will be flown: what is not given comes from the hold file.

    At most one of the speeds is given; the wind is a true direction FROM and a speed.

    Raises UsageError: both speeds given, or a speed or the altitude missing.
    """
    altitude_ft = hold.altitude_ft if altitude_ft is None else altitude_ft
    if altitude_ft is None:
        mend = "give --altitude, or altitude_ft in the hold file"
        raise UsageError("no altitude is given: it decides leg time and speed limit", mend=mend)
    if tas_kt is not None and ias_kt is not None:
        raise UsageError("two airspeeds are given", place="--tas and --ias", mend="give one of them")
    if tas_kt is None and ias_kt is None:
        ias_kt = hold.speed_kias
    if tas_kt is None and ias_kt is None:
        mend = "give --ias or --tas, or speed_kias in the hold file"
        raise UsageError("no airspeed is given", mend=mend)
    if ias_kt is None:
        assert tas_kt is not None
        ias_kt = tas_to_cas(tas_kt, altitude_ft, isa_deviation_c)
    elif tas_kt is None:
        tas_kt = cas_to_tas(ias_kt, altitude_ft, isa_deviation_c)
    assert tas_kt is not None
    wind = wind if wind is not None else hold.reported_wind
    from_deg, speed_kt = wind or (0.0, 0.0)
    return Flight(
        altitude_ft=altitude_ft,
        tas_kt=tas_kt,
        ias_kt=ias_kt,
        isa_deviation_c=isa_deviation_c,
        wind_from_true_deg=from_deg,
        wind_speed_kt=speed_kt,
        wind_known=wind is not None,
        arrival_heading_true_deg=arrival_heading_true_deg,
        category=category or hold.category,
    )


def with_station(hold: Hold, fix_dme_nm: float, *, inbound_towards_station: bool) -> Hold:
    """Let a hold limited by distance be read from a station on its inbound course, from the reading at the fix.

    Raises UsageError: the reading fits no distance leg.
    """
    if hold.leg is None or hold.leg.distance_nm is None:
        mend = "give leg = { distance_nm = … } in the hold file"
        raise UsageError("the hold has no distance leg", place="--fix-dme", mend=mend)
    leg = replace(hold.leg, fix_dme_nm=fix_dme_nm, towards_station=inbound_towards_station)
    if (leg.end_dme_nm or 0.0) <= 0.0:
        raise UsageError("the leg is longer than the fix is away from the station", place="--fix-dme")
    return replace(hold, leg=leg)


def make_briefing(
    hold: Hold,
    regime: Regime,
    flight: Flight,
    *,
    leave_after_s: Sequence[float] = (),
    when: date | float | None = None,
) -> Briefing:
    """Work a hold out for a flight, with times after passing the fix at which it may have to be left.

    The magnetic model is named for ``when`` (a date, or a decimal year), today where left out.
    """
    exact = circuit_in(hold, regime, flight, flight.wind_from_true_deg, flight.wind_speed_kt)
    minutes = leg_minutes(hold, regime, flight.altitude_ft)
    still_air_s = 60.0 * minutes if minutes is not None else _distance_s(hold, flight)
    arrival = flight.arrival_heading_true_deg
    course, turns, rule = hold.inbound_course_true_deg, hold.turns, regime.entry
    allowed = () if arrival is None else sectors_allowed(arrival, course, turns, rule=rule, way=hold.arrival)
    planned: tuple[EntryName, ...] = allowed or ("direct", "offset", "parallel")
    closes, least_s = exact.closes, regime.allowances.least_inbound_s
    return Briefing(
        hold=hold,
        regime=regime,
        flight=flight,
        variation=magnetic_variation(
            hold.fix_lat_deg, hold.fix_lon_deg, flight.altitude_ft, when or datetime.now(UTC)
        ),
        exact=exact,
        still_air_s=still_air_s,
        sectors=sectors(course, turns, rule),
        allowed=allowed,
        entries=tuple(
            entry_plan(
                one, exact, regime, altitude_ft=flight.altitude_ft, leg=hold.leg, arrival_heading_deg=arrival
            )
            for one in (planned if closes else ())
        ),
        beside=compared_with_thumb(exact, still_air_s=still_air_s, allowances=regime.allowances)
        if closes
        else (),
        winds=_winds(hold, regime, flight),
        turn_in=turn_in_table(exact, 20.0, least_inbound_s=least_s) if closes else (),
        leaving=tuple(
            plan_leaving(exact, time_s, least_inbound_s=least_s)
            for time_s in (leave_after_s if closes else ())
        ),
        speed_limit=regime.speed_limit(flight.altitude_ft, flight.category, hold.max_kias),
        speed_limit_kias=regime.speed_limit_kias(flight.altitude_ft, flight.category, hold.max_kias),
    )


def circuit_in(
    hold: Hold, regime: Regime, flight: Flight, from_true_deg: float, speed_kt: float
) -> ExactCircuit:
    """Return the exact circuit of the flight in a wind from a true direction."""
    east_kt, north_kt = wind_components(from_true_deg, speed_kt)
    return ideal_circuit(
        hold,
        regime,
        tas_kt=flight.tas_kt,
        altitude_ft=flight.altitude_ft,
        wind_east_kt=east_kt,
        wind_north_kt=north_kt,
    )


def _distance_s(hold: Hold, flight: Flight) -> float:
    assert hold.leg is not None and hold.leg.distance_nm is not None
    return 3600.0 * hold.leg.distance_nm / flight.tas_kt


def _winds(hold: Hold, regime: Regime, flight: Flight) -> tuple[WindCase, ...]:
    """Vary the forecast wind; a speed cannot fall below calm."""
    cases = []
    for turn_deg in WIND_DIRECTION_STEPS_DEG:
        for more_kt in WIND_SPEED_STEPS_KT:
            from_deg = (flight.wind_from_true_deg + turn_deg) % 360.0
            speed_kt = max(0.0, flight.wind_speed_kt + more_kt)
            cases.append(WindCase(from_deg, speed_kt, circuit_in(hold, regime, flight, from_deg, speed_kt)))
    return tuple(cases)
