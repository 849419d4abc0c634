"""Which part of the hold was being flown at an instant."""

from __future__ import annotations

from analyser.circuits.flown import FlownHold
from analyser.frozen import dataclass

PHASES = ("outbound turn", "outbound leg", "inbound turn", "inbound leg")


@dataclass(frozen=True)
class HoldPhase:
    """A part of the hold.

    Attributes
    ----------
    name : str
        ``"entry"``, one of :data:`PHASES`, or ``"hold"`` where the circuit was not cut there.
    circuit : int or None
        Number of the circuit; None in the entry.
    """

    name: str
    circuit: int | None

    def said(self) -> str:
        """Name the phase in words.

        Returns
        -------
        str
            Such as ``"the inbound turn of circuit 2"``.
        """
        return "the entry" if self.circuit is None else f"the {self.name} of circuit {self.circuit}"


def phase_at(flown: FlownHold, time_s: float) -> HoldPhase:
    """Name the part of the hold flown at an instant.

    Parameters
    ----------
    time_s : float
        Within the hold.
    """
    circuit = next((one for one in reversed(flown.circuits) if one.start_s <= time_s), None)
    if circuit is None:
        return HoldPhase("entry", None)
    parts = (circuit.outbound_turn, circuit.outbound_leg, circuit.inbound_turn, circuit.inbound_leg)
    # Between the fix and wings leaving level the outbound turn is late: it counts as its part.
    named = [(name, part) for name, part in zip(PHASES, parts, strict=True) if part is not None]
    name = next((name for name, part in named if time_s <= part.end_s), named[-1][0] if named else "hold")
    return HoldPhase(name, circuit.number)
