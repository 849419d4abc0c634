"""From a TOML file to a frozen dataclass, reporting every mistake at once with its key.

The dataclasses are the schema: an unknown key, a wrong type or a missing value is an error. Checking runs
in strict mode, so that ``"60"`` is not taken for 60.
"""

from __future__ import annotations

import contextlib
import difflib
import json
import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, field, fields, is_dataclass
from datetime import date, time
from functools import cache
from pathlib import Path
from types import UnionType
from typing import (
    TYPE_CHECKING,
    Any,
    ClassVar,
    Literal,
    TypeVar,
    Union,
    dataclass_transform,
    get_args,
    get_origin,
    get_type_hints,
)

from analyser.errors import SettingsError, UsageError
from analyser.frozen import dataclass

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

Shape = TypeVar("Shape")


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(field,))
class RuleTable:
    """A table of a rule file: a frozen dataclass whose fields are the keys, which are checked without mercy."""

    __pydantic_config__: ClassVar = {"extra": "forbid", "strict": True}

    def __init_subclass__(cls) -> None:
        dataclass(frozen=True, kw_only=True)(cls)


def read_toml(path: Path, *, error: type[UsageError]) -> dict[str, Any]:
    """Read a TOML file.

    Raises UsageError: of the type ``error``: no such file, not text, or not TOML (with the line).
    """
    try:
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as fault:
        what = fault.strerror or "cannot be read"
        raise error(what.lower(), file=str(path), mend="check the name and the path") from fault
    except UnicodeDecodeError as fault:
        raise error("is not UTF-8 text", file=str(path), mend="save it as UTF-8") from fault
    except tomllib.TOMLDecodeError as fault:
        raise error(f"is not TOML: {fault}", file=str(path), mend="see https://toml.io") from fault


def fill(
    shape: type[Shape],
    data: Mapping[str, Any],
    *,
    file: str,
    error: type[UsageError],
    known_faults: Mapping[str, str] | None = None,
) -> Shape:
    """Check data as read from TOML and put it into a :class:`RuleTable`, or a pydantic model as strict.

    ``known_faults`` is, by key, what was found wrong before; it is reported with the rest.

    Raises UsageError: of the type ``error``, naming every key that is wrong.
    """
    # What fits needs no library that explains what does not: loading it costs a tenth of a short debrief.
    if not known_faults:
        with contextlib.suppress(UnfitError):
            known: Shape = filled(shape, data)
            return known
    from pydantic import TypeAdapter, ValidationError

    faults = {**(known_faults or {}), **dict.fromkeys(_not_finite(data, ""), "must be a finite number")}
    try:
        # By way of JSON: only there does strict checking take tables and lists for dataclasses and tuples.
        text = json.dumps(data, default=_as_json)
        checked: Shape = TypeAdapter(shape).validate_json(text, strict=True)
    except ValidationError as found:
        for fault in found.errors(include_url=False):
            faults.setdefault(".".join(map(str, fault["loc"])), _in_words(fault, shape))
        raise_all(faults, file=file, error=error, cause=found)
    if faults:
        raise_all(faults, file=file, error=error)
    return checked


def load(shape: type[Shape], path: Path) -> Shape:
    """Read a file of rules; every mistake in it is named in one SettingsError."""
    return fill(shape, read_toml(path, error=SettingsError), file=str(path), error=SettingsError)


def names_in(folder: Path) -> tuple[str, ...]:
    """Name the files of a folder that comes with the program."""
    return tuple(sorted(path.stem for path in folder.glob("*.toml")))


def named(name_or_path: str | Path, folder: Path, *, what: str, option: str) -> Path:
    """Return the file of one that comes with the program, by its name in a folder, or one's own TOML file.

    Raises SettingsError: it is neither.
    """
    path, names = Path(name_or_path), names_in(folder)
    if str(name_or_path) in names:
        return folder / f"{name_or_path}.toml"
    if path.suffix != ".toml":
        mend = "use " + ", ".join(names) + ", or the path of a .toml file"
        raise SettingsError(f"no {what} is called '{name_or_path}'", place=option, mend=mend)
    return path


def raise_all(
    faults: Mapping[str, str], *, file: str, error: type[UsageError], cause: Exception | None = None
) -> None:
    """Raise one error, chained to ``cause``, that lists every mistake with its key; none where there is none."""
    if not faults:
        return
    (first, said), *more = faults.items()
    others = "".join(f"; key '{key}': {what}" for key, what in more)
    raise error(said + others, file=file, place=f"key '{first}'") from cause


def _as_json(value: object) -> str:
    if isinstance(value, (date, time)):
        return value.isoformat()
    raise TypeError(type(value).__name__)


def _not_finite(value: object, key: str) -> Iterator[str]:
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _not_finite(inner, f"{key}.{name}" if key else str(name))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from _not_finite(inner, f"{key}.{place}")
    elif isinstance(value, float) and not math.isfinite(value):
        yield key


def _in_words(fault: ErrorDetails, shape: type[Any]) -> str:
    if fault["type"] in ("unexpected_keyword_argument", "extra_forbidden"):
        near = difflib.get_close_matches(str(fault["loc"][-1]), _names(shape), n=1)
        return "no such key" + (f", did you mean '{near[0]}'?" if near else "")
    if fault["type"] == "missing":
        return "is missing"
    said = fault["msg"].removeprefix("Input should be ").removeprefix("Value error, ")
    return f"must be {said}, not {fault['input']!r:.80}"


def _names(shape: object) -> list[str]:
    """List the keys of a table and of those within it, for "did you mean"."""
    if hasattr(shape, "model_fields"):
        keys = [field.alias or name for name, field in shape.model_fields.items()]
        hints = [field.annotation for field in shape.model_fields.values()]
    elif isinstance(shape, type) and is_dataclass(shape):
        keys = [one.name for one in fields(shape)]
        hints = list(get_type_hints(shape).values())
    else:
        keys, hints = [], list(get_args(shape))
    return keys + [name for hint in hints for name in _names(hint)]


class UnfitError(Exception):
    """The data does not fit, or the shape asks for more than is known here."""


def filled(shape: Any, data: Any) -> Any:
    """Put plain data, as read from TOML, into a shape, as strictly as pydantic's strict mode does with JSON.

    A shape is a dataclass, a plain type, or a Literal, tuple, mapping or optional of them.

    Raises UnfitError: anything else: a missing or unknown key, another type, a shape with rules of its own.
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
