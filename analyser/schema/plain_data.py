"""What every part of the debrief file has in common: numbers rounded to what they mean, and the way to JSON and back.

A field's type says its unit and with it how it is rounded; what is not known is None, never NaN.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterable, Mapping
from types import NoneType, UnionType
from typing import Annotated, Any, NamedTuple, Self, Union, dataclass_transform, get_args, get_origin

from analyser.earth.angles import wrap360
from analyser.frozen import dataclass

#: Marks an angle that is a direction: it stays in [0, 360) also after rounding.
_ROUND_THE_COMPASS = "direction"

Seconds = Annotated[float, 2]
Miles = Annotated[float, 4]
"""Nautical miles, to 20 cm."""
Degrees = Annotated[float, 2]
"""Of a turn, an angle off, a bank: signed, positive to the right."""
Direction = Annotated[float, _ROUND_THE_COMPASS]
"""Degrees true in [0, 360)."""
Knots = Annotated[float, 2]
Feet = Annotated[float, 1]
Points = Annotated[float, 1]
LatLon = Annotated[float, 6]
"""Latitude or longitude, degrees WGS84."""
Whole = Annotated[float, 0]
Tenths = Annotated[float, 1]
Hundredths = Annotated[float, 2]
Thousandths = Annotated[float, 3]
TenThousandths = Annotated[float, 4]
HundredThousandths = Annotated[float, 5]

#: Decimals of numbers whose unit stands beside them, in the field ``unit``; one more for their sigma.
DECIMALS = {"s": 2, "°": 2, "NM": 4, "kt": 2, "ft": 1}
_BY_UNIT, _SIGMA_BY_UNIT = "unit", "unit's sigma"
InUnit = Annotated[float, _BY_UNIT]
SigmaInUnit = Annotated[float, _SIGMA_BY_UNIT]


def number(value: float | None, decimals: int) -> float | None:
    """Round a number, never to a negative nought; None where it is not known, NaN or infinite."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals) + 0.0


def direction(value: float | None) -> float | None:
    """Round a direction to hundredths of a degree, in [0, 360) also after rounding."""
    rounded = None if value is None else number(wrap360(value), 2)
    return 0.0 if rounded == 360.0 else rounded


def thousandths(values: Iterable[float]) -> tuple[float | None, ...]:
    """Round a line for drawing, to thousandths of a nautical mile (2 m)."""
    return tuple(number(float(one), 3) for one in values)


@dataclass_transform(frozen_default=True, kw_only_default=True)
class FilePart:
    """A part of the debrief file: a frozen dataclass whose fields are the keys, in the order of the file."""

    def __init_subclass__(cls) -> None:
        dataclass(frozen=True, kw_only=True)(cls)

    def __post_init__(self) -> None:
        for name, field in _fields(type(self)).items():
            if field.rounded is not None:
                self.__dict__[name] = self._rounded(getattr(self, name), field.rounded)

    def _rounded(self, value: float | None, how: int | str) -> float | None:
        if how == _ROUND_THE_COMPASS:
            return direction(value)
        if isinstance(how, str):
            how = DECIMALS.get(getattr(self, "unit", ""), 2) + (how == _SIGMA_BY_UNIT)
        return number(value, how)

    @classmethod
    def of(cls, *sources: object, **other: Any) -> Self:
        """Take the fields that objects have by the same name, from the first that has it; the others as given.

        Names of objects may also end in their unit, ``_deg`` (there in place of ``_true``, or after it) or ``_dps``.
        What is to be a part is made one, and an empty text that may be null is null.
        """
        made = {}
        for name, field in _fields(cls).items():
            value = other[name] if name in other else _first_of(sources, field.names)
            if value is not _UNKNOWN:
                made[name] = field.taken(value)
        return cls(**made)

    def plain(self) -> dict[str, Any]:
        """Return the part as JSON has it, with all that is in it."""
        return {name: _plain(getattr(self, name)) for name in _fields(type(self))}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Read the part as JSON has it; keys that a later program added are passed over.

        Raises ValueError if a key is missing that has always been there, or its value is of another kind; the message
        says where.
        """
        if not isinstance(data, Mapping):
            raise ValueError("not an object")
        given = {}
        for name, field in _fields(cls).items():
            if name in data:
                try:
                    given[name] = field.read(data[name])
                except ValueError as error:
                    raise ValueError(f"{name}: {error}") from None
            elif not hasattr(cls, name):
                raise ValueError(f"{name} is missing")
        return cls(**given)


def _plain(value: Any) -> Any:
    if isinstance(value, FilePart):
        return value.plain()
    if isinstance(value, (tuple, list)):
        # A line of a thousand points is not looked through for what may be in it.
        return list(value) if value and isinstance(value[0], float) else [_plain(one) for one in value]
    if isinstance(value, Mapping):
        return {key: _plain(one) for key, one in value.items()}
    return value


_UNKNOWN = object()


def _first_of(sources: tuple[object, ...], names: tuple[str, ...]) -> Any:
    """Return the attribute of the first name, else of the next, of the first object that has it."""
    for name in names:
        for source in sources:
            value = getattr(source, name, _UNKNOWN)
            if value is not _UNKNOWN:
                return value
    return _UNKNOWN


class _Field(NamedTuple):
    """What objects call a field, how it is rounded, if at all, read from JSON, and taken from an attribute."""

    names: tuple[str, ...]
    rounded: int | str | None
    read: Callable[[Any], Any]
    taken: Callable[[Any], Any]


_FIELDS: dict[type, dict[str, _Field]] = {}


def _fields(kind: Any) -> dict[str, _Field]:
    """Look up the fields of a kind of part, once for each."""
    if kind not in _FIELDS:
        found = _FIELDS[kind] = {}
        for name, hint in ((one.name, one.type) for one in dataclasses.fields(kind)):
            said = (one.__metadata__[0] for one in (hint, *get_args(hint)) if get_origin(one) is Annotated)
            names = (name, f"{name.removesuffix('_true')}_deg", f"{name}_deg", f"{name}_dps")
            found[name] = _Field(
                names, next(said, None), _converter(hint, from_json=True), _converter(hint, from_json=False)
            )
    return _FIELDS[kind]


def _converter(hint: Any, *, from_json: bool) -> Callable[[Any], Any]:
    """Return what makes a field's value of what JSON has, or raises ValueError; or of an object's attribute."""
    kind, inner = get_origin(hint), get_args(hint)
    if kind is Annotated:
        return _converter(inner[0], from_json=from_json)
    if kind is UnionType or kind is Union:
        known = _converter(next(one for one in inner if one is not NoneType), from_json=from_json)
        unknown = (None,) if from_json else (None, "")
        return lambda value: None if value in unknown else known(value)
    if kind is tuple or kind is Mapping:
        each = _converter(inner[kind is Mapping], from_json=from_json)
        if kind is Mapping:
            return lambda value: {key: each(one) for key, one in _checked(value, Mapping).items()}
        return lambda value: tuple(map(each, _checked(value, list) if from_json else value))
    if issubclass(hint, FilePart):
        part: type[FilePart] = hint
        return part.from_json if from_json else lambda one: one if isinstance(one, part) else part.of(one)
    accepted = (int, float) if hint is float else hint
    return (lambda value: _checked(value, accepted)) if from_json else (lambda value: value)


def _checked(value: Any, kind: Any) -> Any:
    # To Python, but not in JSON, true is a number.
    if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
        raise ValueError(f"{str(value)[:40]!r} does not belong here")
    return value
