"""Grade scales: what a lesson is graded in, as data; and the grade that points propose."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analyser.errors import SettingsError
from analyser.rules.regime import Standing
from analyser.rules.toml_data import RuleTable, load, named, names_in, raise_all

_FOLDER = Path(__file__).parent / "scales"


class Level(RuleTable):
    """One grade of a scale."""

    #: What is written down.
    key: str
    #: What is said.
    label: str
    #: What it means for one item of a hold.
    wording: str = ""
    #: Proposed from this many points of 100 on.
    points_from: float

    @property
    def title(self) -> str:
        """Key and label, or the label alone where the key says the same."""
        return self.label if self.key.casefold() == self.label.casefold() else f"{self.key} {self.label}"


class Scale(RuleTable):
    """A grade scale, lowest level first."""

    key: str
    name: str
    source: str = "given in the file"
    #: How the source is known.
    standing: Standing = "common practice"
    #: Key of the level asked for where the lesson does not say otherwise.
    required: str
    levels: tuple[Level, ...]

    @property
    def asked_points(self) -> float:
        """Points from which the level asked for is proposed."""
        return self.level(self.required).points_from

    def place(self, key: str) -> int:
        """Return where a level stands on the scale, 1 the lowest, by its key or label in any case.

        Raises SettingsError: there is no such level.
        """
        sought = key.strip().casefold()
        for place, level in enumerate(self.levels, start=1):
            if sought in (level.key.casefold(), level.label.casefold()):
                return place
        known = ", ".join(level.title for level in self.levels)
        raise SettingsError(f"'{key}' is no grade of the scale '{self.key}'", mend=f"use one of: {known}")

    def level(self, key: str) -> Level:
        """Return a level by its key or label; raises as :meth:`place`."""
        return self.levels[self.place(key) - 1]

    def propose(self, points: float | None) -> Level | None:
        """Return the level that points of 100 stand for: monotone, the more points the higher.

        None where nothing was judged: no grade is made up from missing data.
        """
        if points is None:
            return None
        reached = [level for level in self.levels if points >= level.points_from]
        return reached[-1] if reached else self.levels[0]

    def propose_place(self, points: float | None) -> tuple[str, int] | None:
        """Return the key and the place of the level that points stand for."""
        level = self.propose(points)
        return None if level is None else (level.key, self.place(level.key))


def scale_names() -> tuple[str, ...]:
    """Name the grade scales that come with the program."""
    return names_in(_FOLDER)


def load_scale(name_or_path: str | Path = "evidence-1-5") -> Scale:
    """Load a grade scale: one of :func:`scale_names`, or a TOML file of one's own with the same keys.

    Raises SettingsError: no such scale or file, or something in it that no grade could be given by.
    """
    path = named(name_or_path, _FOLDER, what="grade scale", option="--scale")
    scale = load(Scale, path)
    raise_all(_impossible(scale), file=str(path), error=SettingsError)
    return scale


def load_scales(names_or_paths: Sequence[str]) -> tuple[Scale, ...]:
    """Load the grade scales that a page is to offer, in the order given; none named: those that come with the program.

    Raises SettingsError: as for :func:`load_scale`, or two of them have the same key: a saved sheet tells its
    scale by it.
    """
    scales: dict[str, Scale] = {}
    for name in names_or_paths or scale_names():
        scale = load_scale(name)
        if scale.key in scales:
            mend = "give each scale a key of its own"
            raise SettingsError(f"two grade scales have the key '{scale.key}'", file=name, mend=mend)
        scales[scale.key] = scale
    return tuple(scales.values())


def _impossible(scale: Scale) -> dict[str, str]:
    faults = {}
    keys = [level.key.casefold() for level in scale.levels]
    starts = [level.points_from for level in scale.levels]
    if len(scale.levels) < 2:
        faults["levels"] = "a scale needs two levels or more"
    elif len(set(keys)) < len(keys) or "" in keys:
        faults["levels"] = "each level needs a key of its own"
    elif starts != sorted(set(starts)) or not 0 <= starts[0] <= starts[-1] <= 100:
        faults["levels"] = "points_from must rise from level to level, within 0 and 100"
    if scale.required.casefold() not in keys:
        faults["required"] = f"is '{scale.required}', which is no level's key"
    return faults
