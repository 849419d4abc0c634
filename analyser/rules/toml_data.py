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
from dataclasses import field, fields, is_dataclass
from datetime import date, time
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar, dataclass_transform, get_args, get_type_hints

from analyser.errors import UsageError
from analyser.frozen import dataclass
from analyser.rules.filled import UnfitError
from analyser.rules.filled import filled as fill_fitting

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

    Raises
    ------
    UsageError
        Of the type ``error``: no such file, not text, or not TOML (with the line).
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

    Raises
    ------
    UsageError
        Of the type ``error``, naming every key that is wrong.
    """
    if not known_faults:
        with contextlib.suppress(UnfitError):
            known: Shape = fill_fitting(shape, data)
            return known
    from pydantic import TypeAdapter, ValidationError

    faults = {**(known_faults or {}), **dict.fromkeys(_not_finite(data, ""), "must be a finite number")}
    try:
        # By way of JSON: only there does strict checking take tables and lists for dataclasses and tuples.
        text = json.dumps(data, default=_as_json)
        filled: Shape = TypeAdapter(shape).validate_json(text, strict=True)
    except ValidationError as found:
        for fault in found.errors(include_url=False):
            faults.setdefault(".".join(map(str, fault["loc"])), _in_words(fault, shape))
        raise_all(faults, file=file, error=error, cause=found)
    if faults:
        raise_all(faults, file=file, error=error)
    return filled


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
