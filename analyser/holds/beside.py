"""The rules of thumb beside the exact circuit: by how much each is out in this wind."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.holds import thumb
from analyser.holds.exact import ExactCircuit
from analyser.holds.thumb import Thumb
from analyser.rules.load import load_thumb_rules
from analyser.rules.regime import Allowances


@dataclass(frozen=True)
class Beside:
    """One rule of thumb against the exact figure.

    Attributes
    ----------
    what : str
        What the figure is: ``"bank"``, ``"outbound time"``, ``"inbound correction"``,
        ``"outbound correction"``, ``"gate bearing"``.
    thumb : Thumb
        What the rule says; corrections are positive to the right.
    exact : float
        In the same unit.
    band : float
        How near counts as good.
    """

    what: str
    thumb: Thumb
    exact: float
    band: float

    @property
    def error(self) -> float:
        """Rule of thumb minus exact."""
        return self.thumb.value - self.exact

    @property
    def good(self) -> bool:
        """Whether the rule holds in this wind."""
        return abs(self.error) <= self.band


def rules_beside(exact: ExactCircuit, *, still_air_s: float, allowances: Allowances) -> tuple[Beside, ...]:
    """Set each rule of thumb beside an exact circuit.

    Parameters
    ----------
    exact : ExactCircuit
        One that closes.
    still_air_s : float
        Outbound time that would be flown without wind.
    allowances : Allowances
        The regime's: its timing and heading allowances are the bands.

    Returns
    -------
    tuple of Beside
    """
    rules = load_thumb_rules()
    inbound = exact.inbound_drift_correction_deg
    wind = (exact.wind_along_kt, exact.wind_cross_kt, exact.tas_kt)
    # Wind along the inbound course blows against the outbound leg.
    times = [thumb.outbound_time(still_air_s, exact.wind_along_kt, half=half) for half in (False, True)]
    times.append(feedback_after_one(exact, still_air_s))
    drifts = [thumb.clock_code_drift(*wind), thumb.small_angle_drift(*wind)]
    corrections = [
        thumb.outbound_correction(inbound, rules.double),
        thumb.outbound_correction(inbound, rules.triple),
        thumb.triple_then_single(inbound, exact.outbound_time_s),
    ]
    bank, bearing = thumb.bank_for_rate_one(exact.tas_kt), thumb.gate()
    time_s, heading_deg = allowances.timing_s, allowances.heading_deg
    return (
        Beside("bank", bank, exact.bank_deg, rules.bands.bank_deg),
        *(Beside("outbound time", one, exact.outbound_timed_s, time_s) for one in times),
        *(Beside("inbound correction", one, inbound, heading_deg) for one in drifts),
        *(
            Beside("outbound correction", one, exact.outbound_correction_deg, heading_deg)
            for one in corrections
        ),
        Beside("gate bearing", bearing, exact.gate_bearing_deg, rules.bands.gate_deg),
    )


def feedback_after_one(exact: ExactCircuit, first_outbound_s: float) -> Thumb:
    """Return the outbound time that feedback gives after one measuring circuit.

    The measuring circuit is flown with the exact outbound heading and this outbound time; its inbound leg
    is then longer or shorter by what the outbound leg was, at the two ground speeds.

    Parameters
    ----------
    exact : ExactCircuit
    first_outbound_s : float
        By the clock.

    Returns
    -------
    Thumb
        Seconds by the clock.
    """
    extra_s = first_outbound_s - exact.outbound_timed_s
    extra_nm = exact.outbound_along_kt * extra_s / 3600.0
    measured_s = exact.inbound_time_s - 3600.0 * extra_nm / exact.inbound_ground_speed_kt
    return thumb.next_outbound_time(first_outbound_s, max(0.0, measured_s), exact.inbound_time_s)
