"""From wanted bank, height and speed to stick, rudder and throttle: plain proportional and integral loops."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Gains:
    """How hard the autopilot pulls; the usual ones do for most aircraft."""

    roll: float = 0.012
    roll_sum: float = 0.05
    pitch: float = 0.035
    pitch_sum: float = 0.02
    pitch_rate: float = 0.03
    slip: float = 0.04
    ball_sum: float = 0.012
    throttle: float = 0.02
    throttle_sum: float = 0.004


@dataclass
class Loop:
    """Proportional and integral control with a limit that also stops the integral."""

    gain: float
    gain_sum: float
    low: float = -1.0
    high: float = 1.0
    total: float = 0.0

    def __call__(self, error: float, step_s: float, extra: float = 0.0) -> float:
        """Return the command for an error now."""
        wanted = self.gain * error + self.total + extra
        held = max(self.low, min(self.high, wanted))
        if wanted == held or (wanted - held) * error < 0.0:
            self.total += self.gain_sum * error * step_s
        return held


@dataclass
class Autopilot:
    """The loops of one aircraft; ``elevator`` and ``throttle`` begin where it was trimmed."""

    gains: Gains
    elevator: float
    throttle: float
    pitch_deg: float
    rudder_sign: float
    roll_rate_dps: float
    aileron_loop: Loop = field(init=False)
    elevator_loop: Loop = field(init=False)
    throttle_loop: Loop = field(init=False)
    climb_loop: Loop = field(init=False)
    rudder_loop: Loop = field(init=False)

    def __post_init__(self) -> None:
        g = self.gains
        self.aileron_loop = Loop(g.roll, g.roll_sum)
        self.elevator_loop = Loop(-g.pitch, -g.pitch_sum, total=self.elevator)
        self.throttle_loop = Loop(g.throttle, g.throttle_sum, 0.0, 1.0, total=self.throttle)
        self.rudder_loop = Loop(0.0, g.ball_sum, -0.6, 0.6)
        self.climb_loop = Loop(0.15, 0.08, -10.0, 15.0, total=self.pitch_deg)

    def aileron(self, bank_off_deg: float, roll_dps: float, step_s: float) -> float:
        """Return the aileron for what is missing of the wanted bank (wanted less actual)."""
        wanted_dps = max(-self.roll_rate_dps, min(self.roll_rate_dps, 1.2 * bank_off_deg))
        return self.aileron_loop(wanted_dps - roll_dps, step_s)

    def stick(self, climb_off_fps: float, pitch_deg: float, pitch_dps: float, step_s: float) -> float:
        """Return the elevator (negative raises the nose) for what is missing of the wanted climb."""
        wanted_deg = self.climb_loop(climb_off_fps, step_s)
        return self.elevator_loop(wanted_deg - pitch_deg, step_s, extra=self.gains.pitch_rate * pitch_dps)

    def rudder(self, ball_deg: float, slip_deg: float, step_s: float) -> float:
        """Return the rudder that centres the ball in time, and takes out a slip at once.

        Positive: the ball lies, the wind comes from the right, and the right foot goes forward.
        """
        return self.rudder_sign * self.rudder_loop(ball_deg, step_s, extra=self.gains.slip * slip_deg)

    def power(self, speed_off_kt: float, step_s: float) -> float:
        """Return the throttle for what is missing of the wanted airspeed."""
        return self.throttle_loop(speed_off_kt, step_s)
