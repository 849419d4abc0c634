"""Who flies in the imaginary club, and what each of them has yet to learn."""

from __future__ import annotations

from dataclasses import dataclass, field

INSTRUCTOR = "Ines Tarrow"


@dataclass(frozen=True)
class Habit:
    """How a pilot flies one item, in tolerances of that item.

    ``bias`` is there from the first week, ``learned`` of it is gone after eight weeks (a share, may be
    negative), ``wander`` is the scatter from circuit to circuit and ``by_wind`` what a wind of a fifth of
    the airspeed adds.
    """

    bias: float = 0.25
    learned: float = 0.0
    wander: float = 0.25
    by_wind: float = 0.2


@dataclass(frozen=True)
class Pilot:
    """An invented pilot."""

    name: str
    weakness: str
    device: str
    habits: dict[str, Habit] = field(default_factory=dict)
    sessions: int = 15
    # Winds of the first and the last week, knots: they grow for one pilot, to see that nobody is blamed.
    wind_kt: tuple[float, float] = (12.0, 12.0)
    wrong_entries: float = 0.05

    def habit(self, item: str) -> Habit:
        return self.habits.get(item, Habit())


PILOTS = (
    Pilot(
        "Alma Brook",
        "wind_correction",
        "club trainer 1",
        {
            "wind_correction": Habit(bias=2.3, learned=0.1, wander=0.3, by_wind=0.4),
            "track": Habit(bias=1.6, learned=0.7, wander=0.3, by_wind=0.2),
        },
    ),
    Pilot(
        "Bruno Falk",
        "altitude",
        "club trainer 2",
        {"altitude": Habit(bias=2.0, wander=0.4, by_wind=0.1), "speed": Habit(bias=0.5)},
        sessions=16,
        wind_kt=(4.0, 26.0),
    ),
    Pilot(
        "Carla Ness",
        "timing",
        "procedure trainer",
        {"timing": Habit(bias=2.4, learned=0.15, wander=0.4, by_wind=0.3), "bank": Habit(bias=0.6)},
        sessions=14,
        wrong_entries=0.3,
    ),
)
