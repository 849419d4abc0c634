"""What instructors' grades say of a pilot: which standard was asked for, when it was met, and what is still open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from analyser.errors import SettingsError
from analyser.logbook.items import in_order
from analyser.logbook.marks import by_item
from analyser.logbook.sessions import Grade, Session
from analyser.rules.scales import Scale, load_scale


@dataclass(frozen=True)
class Graded:
    """One item of one hold as it was graded: what stands, what others gave beside it, and the pilot's own."""

    session: Session
    standing: Grade
    beside: tuple[Grade, ...]
    own: Grade | None

    @property
    def differ(self) -> bool:
        """Whether another instructor gave another grade."""
        return any(one.level != self.standing.level for one in self.beside)


@dataclass(frozen=True)
class ItemStandard:
    """One item, or ``"overall"``, against what was asked for.

    ``required`` is the level asked for when it was graded last, in words; of an item never graded, the scale's.
    ``graded`` is in the order flown; since ``met`` every instructor's grade has been at the level asked for, None where
    the last one was not.
    """

    item: str
    required: str
    graded: tuple[Graded, ...]
    met: datetime | None

    @property
    def open(self) -> bool:
        """Whether the standard is not met, or no instructor has graded the item."""
        return self.met is None


def standards(own: Sequence[Session], scale: Scale) -> tuple[ItemStandard, ...]:
    """Hold a pilot's grades against what was asked for, for every item that was judged or graded."""
    found: dict[str, list[Graded]] = {key: [] for key in by_item(own)}
    for session in sorted(own, key=lambda one: one.when):
        counting = session.counting_grades()
        for (hold, key, role), grades in sorted(counting.items()):
            if role == "instructor":
                own_grades = counting.get((hold, key, "pilot"), [None])
                found.setdefault(key, []).append(Graded(session, grades[0], tuple(grades[1:]), own_grades[0]))
    return tuple(_standard(key, found[key], scale) for key in in_order(found))


def _standard(key: str, graded: Sequence[Graded], scale: Scale) -> ItemStandard:
    met: datetime | None = None
    for one in graded:
        met = (met or one.session.when) if meets(one.standing, scale) else None
    required = scale.level(scale.required).title
    if graded:
        last = graded[-1].standing
        required = title_of_level(last.required or scale.required, last.scale, scale)
    return ItemStandard(key, required, tuple(graded), met)


def meets(grade: Grade, scale: Scale) -> bool:
    """Tell whether a grade is at the level that was asked for; on a scale that is not at hand: that very level."""
    known = scale_of(grade.scale, scale)
    required = grade.required or (known.required if known else None)
    if required is None or grade.level == required:
        return True
    return known is not None and grade.place >= known.place(required)


def title_of_level(key: str, scale_key: str, scale: Scale) -> str:
    """Say a level in its scale's words, or by its key where the scale is not at hand."""
    known = scale_of(scale_key, scale)
    try:
        return known.level(key).title if known else key
    except SettingsError:
        return key


def scale_of(key: str, scale: Scale) -> Scale | None:
    """Return the scale of a grade: the one in hand, or one that comes with the program."""
    return scale if scale.key == key else _shipped(key)


@lru_cache(maxsize=16)
def _shipped(key: str) -> Scale | None:
    try:
        return None if key.endswith(".toml") else load_scale(key)
    except SettingsError:
        return None
