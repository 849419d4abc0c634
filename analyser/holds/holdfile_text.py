"""Writing a hold file: the keys a person would write, each with a remark where it has one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

#: Keys in the order of a chart's box.
_ORDER = (
    "name",
    "fix",
    "inbound_course",
    "reference",
    "turns",
    "leg",
    "altitude_ft",
    "speed_kias",
    "reported_wind",
)


def hold_file_text(
    data: Mapping[str, Any], *, remarks: Mapping[str, str] | None = None, heading: Sequence[str] = ()
) -> str:
    """Write a hold file.

    Parameters
    ----------
    data : mapping
        Its keys; tables are written on one line.
    remarks : mapping of str to str, optional
        Key to what is said beside it.
    heading : sequence of str
        Lines that are said first.

    Returns
    -------
    str
        TOML.
    """
    lines = [f"# {_on_one_line(line)}" for line in heading]
    for key in sorted(data, key=lambda key: _ORDER.index(key) if key in _ORDER else len(_ORDER)):
        remark = (remarks or {}).get(key)
        lines.append(f"{key} = {_value(data[key])}" + (f"  # {_on_one_line(remark)}" if remark else ""))
    return "\n".join(lines) + "\n"


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{key} = {_value(inner)}' for key, inner in value.items())} }}"
    if isinstance(value, str):
        return toml_text(value)
    # Seven figures after the point are a centimetre of latitude.
    return f"{round(value, 7):.7f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def toml_text(text: str) -> str:
    """Write a TOML basic string: the text may have come with a log and hold anything."""
    safe = text.encode("utf-8", "replace").decode("utf-8")
    escaped = "".join(
        f"\\u{ord(sign):04x}"
        if ord(sign) < 0x20 or ord(sign) == 0x7F
        else {'"': '\\"', "\\": "\\\\"}.get(sign, sign)
        for sign in safe
    )
    return f'"{escaped}"'


def _on_one_line(text: str) -> str:
    safe = text.encode("utf-8", "replace").decode("utf-8")
    return "".join(sign if sign.isprintable() else " " for sign in safe)
