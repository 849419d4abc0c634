"""The pilot's diary, read back into laps."""

from __future__ import annotations

from collections.abc import Sequence

from tests.flights.hold_plan import HoldPlan, Incident
from tests.flights.truth import Lap, Laps

Diary = Sequence[tuple[float, str]]


def laps_of(diary: Diary, number: int, hold: HoldPlan) -> Laps:
    """Gather what the diary says of one hold."""
    own = [
        (time_s, what.removeprefix(f"{number} ")) for time_s, what in diary if what.startswith(f"{number} ")
    ]
    first = {what: time_s for time_s, what in reversed(own)}
    circuits = []
    for circuit in range(1, hold.circuits + 1):
        incident = hold.incidents.get(circuit, Incident())
        begun_s = first[f"circuit {circuit} outbound turn"]
        inbound = first.get(f"circuit {circuit} inbound leg")
        fixes = [t for t, what in own if what in ("fix", "entry fix")]
        circuits.append(
            Lap(
                outbound_turn_s=begun_s,
                outbound_leg_s=first[f"circuit {circuit} outbound leg"],
                inbound_turn_s=first.get(f"circuit {circuit} inbound turn", first["left"]),
                inbound_leg_s=inbound,
                fix_s=min((t for t in fixes if t > inbound), default=None) if inbound is not None else None,
                over_s=max((t for t in fixes if t <= begun_s + 1e-6), default=begun_s),
                disturbed=incident.circle_inbound or incident.circle_outbound,
            )
        )
    return Laps(hold.fix_m, hold.course_deg, hold.side, hold.entry, first["entry fix"], circuits)
