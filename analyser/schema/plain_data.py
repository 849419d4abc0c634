"""What every part of the debrief file has in common: numbers rounded to what they mean, and the way to JSON and back.

A field's type says its unit and with it how it is rounded; what is not known is None, never NaN.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterable, Mapping
from types import NoneType, UnionType
from typing import Annotated, Any, Self, Union, dataclass_transform, get_args, get_origin

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

#: Decimals of numbers whose unit stands beside them.
DECIMALS = {"s": 2, "°": 2, "NM": 4, "kt": 2, "ft": 1}


def number(value: float | None, decimals: int) -> float | None:
    """Round a number, never to a negative nought; None where it is not known, NaN or infinite."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals) + 0.0


def direction(value: float | None) -> float | None:
    """Round a direction to hundredths of a degree, in [0, 360) also after rounding."""
    rounded = None if value is None else number(wrap360(value), 2)
    return 0.0 if rounded == 360.0 else rounded


def directions(values: Iterable[float]) -> tuple[float, ...]:
    """Round directions that are known."""
    return tuple(one for one in map(direction, values) if one is not None)


def thousandths(values: Iterable[float]) -> tuple[float | None, ...]:
    """Round a line for drawing, to thousandths of a nautical mile (2 m)."""
    return tuple(number(float(one), 3) for one in values)


@dataclass_transform(frozen_default=True, kw_only_default=True)
class FilePart:
    """A part of the debrief file: a frozen dataclass whose fields are the keys, in the order of the file."""

    def __init_subclass__(cls) -> None:
        dataclass(frozen=True, kw_only=True)(cls)

    def __post_init__(self) -> None:
        for name, (decimals, _) in _fields(type(self)).items():
            if decimals is not None:
                value = getattr(self, name)
                self.__dict__[name] = (
                    direction(value) if decimals == _ROUND_THE_COMPASS else number(value, int(decimals))
                )

    @classmethod
    def of(cls, *sources: object, **other: Any) -> Self:
        """Take the fields that objects have by the same name, from the first that has it; the others as given.

        Angles and directions of objects end in ``_deg`` where the file's do not, or say ``_true``.
        """
        for name in _fields(cls):
            for wanted in (name, f"{name.removesuffix('_true')}_deg"):
                source = next((one for one in sources if hasattr(one, wanted)), None)
                if name not in other and source is not None:
                    other[name] = getattr(source, wanted)
        return cls(**other)

    def plain(self) -> dict[str, Any]:
        """Return the part as JSON has it, with all that is in it."""
        return {name: _plain(getattr(self, name)) for name in _fields(type(self))}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Read the part as JSON has it; keys that a later program added are passed over.

        Raises
        ------
        ValueError
            A key is missing that has always been there, or its value is of another kind; the message says where.
        """
        if not isinstance(data, Mapping):
            raise ValueError("not an object")
        given = {}
        for name, (_, read) in _fields(cls).items():
            if name in data:
                try:
                    given[name] = read(data[name])
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


#: How a field's type says it is rounded, and what reads it from JSON; looked up once for each kind of part.
_Fields = dict[str, tuple[int | str | None, Callable[[Any], Any]]]
_FIELDS: dict[type, _Fields] = {}


def _fields(kind: type[FilePart]) -> _Fields:
    if kind not in _FIELDS:
        found: _Fields = {}
        made: Any = kind
        for name, hint in ((one.name, one.type) for one in dataclasses.fields(made)):
            said = (one.__metadata__[0] for one in (hint, *get_args(hint)) if get_origin(one) is Annotated)
            found[name] = next(said, None), _reader(hint)
        _FIELDS[kind] = found
    return _FIELDS[kind]


def _reader(hint: Any) -> Callable[[Any], Any]:
    """Return what takes a value from JSON for a field of a type, or raises ValueError."""
    kind, inner = get_origin(hint), get_args(hint)
    if kind is Annotated:
        return _reader(inner[0])
    if kind is UnionType or kind is Union:
        read = _reader(next(one for one in inner if one is not NoneType))
        return lambda value: None if value is None else read(value)
    if kind is tuple:
        read = _reader(inner[0])
        return lambda value: tuple(read(one) for one in _checked(value, list))
    if kind is Mapping:
        read = _reader(inner[1])
        return lambda value: {key: read(one) for key, one in _checked(value, dict).items()}
    if issubclass(hint, FilePart):
        part: type[FilePart] = hint
        return part.from_json
    return lambda value: _checked(value, (int, float) if hint is float else hint)


def _checked(value: Any, kind: Any) -> Any:
    # To Python, but not in JSON, true is a number.
    if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
        raise ValueError(f"{str(value)[:40]!r} does not belong here")
    return value
