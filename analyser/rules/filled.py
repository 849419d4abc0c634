"""Data that fits its dataclasses, put into them without loading the library that explains what does not fit.

Every debrief reads the rules, and they fit. Loading pydantic and building its checks costs a tenth of a short
debrief, so it is asked only where this module gives up.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from functools import cache
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints


class UnfitError(Exception):
    """The data does not fit, or the shape asks for more than is known here."""


def filled(shape: Any, data: Any) -> Any:
    """Put plain data, as read from TOML, into a shape, as strictly as pydantic's strict mode does with JSON.

    A shape is a dataclass, a plain type, or a Literal, tuple, mapping or optional of them.

    Raises
    ------
    UnfitError
        Anything else: a missing or unknown key, another type, a shape with rules of its own.
    """
    if isinstance(shape, type) and is_dataclass(shape):
        return _dataclass(shape, data)
    if shape is float:
        return float(_fit(data, type(data) in (int, float) and math.isfinite(data)))
    if shape in (int, str, bool):
        return _fit(data, type(data) is shape)
    return _generic(get_origin(shape), get_args(shape), data)


def _generic(origin: Any, inner: tuple[Any, ...], data: Any) -> Any:
    if origin is Literal:
        return _fit(data, any(type(data) is type(one) and data == one for one in inner))
    if origin is tuple:
        return _tuple(inner, data)
    if origin in (dict, Mapping) and inner[0] is str:
        _fit(data, isinstance(data, Mapping))
        return {key: filled(inner[1], value) for key, value in data.items()}
    if origin in (Union, UnionType) and type(None) in inner and len(inner) == 2:
        return filled(next(one for one in inner if one is not type(None)), data)
    raise UnfitError


def _fit(data: Any, fits: bool) -> Any:
    if not fits:
        raise UnfitError
    return data


def _tuple(inner: tuple[Any, ...], data: Any) -> tuple[Any, ...]:
    _fit(data, isinstance(data, list))
    if len(inner) == 2 and inner[1] is Ellipsis:
        return tuple(filled(inner[0], value) for value in data)
    _fit(data, len(inner) == len(data))
    return tuple(filled(one, value) for one, value in zip(inner, data, strict=True))


def _dataclass(shape: type, data: Any) -> Any:
    hints = _hints(shape)
    needed = {one.name for one in fields(shape) if one.default is MISSING and one.default_factory is MISSING}
    _fit(data, isinstance(data, Mapping) and needed <= data.keys() <= hints.keys())
    return shape(**{key: filled(hints[key], value) for key, value in data.items()})


@cache
def _hints(shape: type) -> dict[str, Any]:
    # What a class keeps for itself is no key; what pydantic would be told in a default is not known here.
    known = get_type_hints(shape, include_extras=True)
    if any(type(one.default).__module__.startswith("pydantic") or not one.init for one in fields(shape)):
        raise UnfitError
    return {one.name: known[one.name] for one in fields(shape)}
