"""The figures of one exact circuit."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.holds.circuit_path import CircuitParts, CircuitPath, lay_path
from analyser.holds.turn_path import TurnPath


@dataclass(frozen=True)
class ExactCircuit:
    """One lap, fix to fix, in a steady wind.

    Where ``exists`` is False the target cannot be met; the figures are then those of the shortest circuit
    that closes at all, which is what can be flown, and ``why_not`` says so. Where ``closes`` is False too,
    nothing can be flown and every figure is NaN.

    Along is measured from the fix, positive in the inbound direction beyond it; cross is positive right of
    the inbound course as flown inbound. Headings are in the reference of the inbound course and wind given.

    Attributes
    ----------
    exists, closes : bool
    why_not : str
        Empty where the circuit exists.
    inbound_course_deg, side, tas_kt, wind_along_kt, wind_cross_kt, turn_rate_dps, bank_deg, roll_s
        What it was computed from; wind TOWARDS, along and across the inbound course.
    inbound_heading_deg, outbound_heading_deg : float
        [0, 360).
    inbound_drift_correction_deg : float
        Inbound heading minus course, positive right.
    outbound_correction_deg : float
        Outbound heading minus the reciprocal of the course, positive right.
    outbound_track_deg : float
    inbound_ground_speed_kt, outbound_ground_speed_kt : float
    inbound_time_s, inbound_distance_nm : float
        From wings level on the course to the fix.
    outbound_time_s : float
        From wings level to the start of the inbound turn.
    abeam_after_s : float or None
        After leaving the fix; None if the inbound turn comes first.
    outbound_timed_s : float
        By the rules' clock: from abeam the fix, or wings level where abeam is not met, to the start of the
        inbound turn.
    drift_multiple : float or None
        Outbound correction over inbound correction; None without a crosswind.
    first_turn_deg, second_turn_deg, first_turn_s, second_turn_s, total_s : float
        Outbound turn, inbound turn, whole circuit.
    outbound_end_along_nm, outbound_end_cross_nm : float
        Where the inbound turn starts.
    gate_bearing_deg : float
        Angle between the inbound course and the bearing of the fix from there, positive on the usual side.
    rollout_along_nm, rollout_cross_nm : float
        Where the inbound turn ends.
    """

    exists: bool
    closes: bool
    why_not: str
    inbound_course_deg: float
    side: int
    tas_kt: float
    wind_along_kt: float
    wind_cross_kt: float
    turn_rate_dps: float
    bank_deg: float
    roll_s: float
    inbound_heading_deg: float
    inbound_drift_correction_deg: float
    inbound_ground_speed_kt: float
    inbound_time_s: float
    inbound_distance_nm: float
    outbound_heading_deg: float
    outbound_correction_deg: float
    outbound_track_deg: float
    outbound_ground_speed_kt: float
    outbound_time_s: float
    abeam_after_s: float | None
    outbound_timed_s: float
    drift_multiple: float | None
    first_turn_deg: float
    second_turn_deg: float
    first_turn_s: float
    second_turn_s: float
    total_s: float
    outbound_end_along_nm: float
    outbound_end_cross_nm: float
    gate_bearing_deg: float
    rollout_along_nm: float
    rollout_cross_nm: float

    @property
    def level_time_s(self) -> float | None:
        """The outbound time from wings level, where it is another one than by the rules' clock, to the second."""
        same = self.abeam_after_s is None or round(self.outbound_timed_s) == round(self.outbound_time_s)
        return None if same or not self.closes else self.outbound_time_s

    def path(self, step_s: float = 1.0) -> CircuitPath:
        """Lay the circuit out as points.

        Parameters
        ----------
        step_s : float
            Seconds between points; the corners between phases are always among them.

        Returns
        -------
        CircuitPath
        """
        parts = CircuitParts(
            self.inbound_course_deg,
            self.side,
            self.tas_kt,
            self.wind_along_kt,
            self.wind_cross_kt,
            self.inbound_drift_correction_deg,
            self.turn(1),
            self.outbound_time_s,
            self.turn(2),
            self.inbound_time_s,
        )
        return lay_path(parts, step_s)

    def turn(self, number: int) -> TurnPath:
        """Return the outbound (1) or inbound (2) turn."""
        angle_deg = self.first_turn_deg if number == 1 else self.second_turn_deg
        return TurnPath(angle_deg, self.turn_rate_dps, self.roll_s)
