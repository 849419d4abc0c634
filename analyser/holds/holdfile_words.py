"""A hold file in a chart's words, turned into the plain keys that the checker knows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from analyser.holds import chart_words

#: Keys with one number each, and how their text is read.
_NUMBERS: dict[str, Callable[[str], float]] = {
    "altitude_ft": chart_words.level,
    "speed_kias": chart_words.speed,
    "max_kias": chart_words.speed,
}
_ANSWERS: dict[str, Callable[[str], Any]] = {
    "turns": chart_words.hand,
    "reference": chart_words.reference,
    "leg": chart_words.leg,
    **_NUMBERS,
}


def in_plain_keys(data: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
    """Replace text by what it says.

    Parameters
    ----------
    data : mapping
        Contents of a hold file, as ``tomllib`` reads it.

    Returns
    -------
    data : dict
        With numbers and plain words; what is no text is left to the checker.
    faults : dict of str to str
        Key to what is wrong with its text.
    """
    words = _Words(dict(data))
    for key, read in _ANSWERS.items():
        words.read(words.data, key, read)
    words.course()
    words.fix()
    return words.data, words.faults


class _Words:
    """One file under way: its data, and what was wrong so far."""

    def __init__(self, data: dict[str, Any]) -> None:
        self.data = data
        self.faults: dict[str, str] = {}

    def read(self, table: dict[str, Any], key: str, read: Callable[[str], Any], above: str = "") -> Any:
        """Read one key of a table, where it holds text; return what it says, None where nothing was read."""
        text = table.get(key)
        if not isinstance(text, str):
            return None
        try:
            table[key] = read(text)
        except ValueError as fault:
            self.faults[above + key] = f"must be {_looks(key, str(fault))}, not {text!r}"
            return None
        return table[key]

    def course(self) -> None:
        """Read the inbound course; the letter beside it says what it is measured from."""
        said = self.read(self.data, "inbound_course", _with_reference)
        if said is None:
            if "inbound_course" in self.faults:
                # The course itself is at fault: with its letter it would have said what it is measured from.
                self.data.setdefault("reference", "true")
            return
        self.data["inbound_course"], reference = said
        given = self.data.setdefault("reference", reference)
        if given != reference:
            self.faults["reference"] = f"says {given}, and the inbound course says {reference}"

    def fix(self) -> None:
        """Read the fix: one text for all of it, or text for its parts."""
        fix = self.data.get("fix")
        if isinstance(fix, str):
            self.read(self.data, "fix", chart_words.spot)
        elif isinstance(fix, Mapping):
            self.data["fix"] = self._fix_parts(dict(fix))

    def _fix_parts(self, fix: dict[str, Any]) -> dict[str, Any]:
        self._place(fix, "fix.")
        self.read(fix, "distance_nm", chart_words.distance, "fix.")
        self.read(fix, "reference", chart_words.reference, "fix.")
        said = self.read(fix, "bearing", _with_reference, "fix.")
        if said is not None:
            fix["bearing"], reference = said
            if fix.setdefault("reference", reference) != reference:
                self.faults["fix.reference"] = f"says {fix['reference']}, and the bearing says {reference}"
        origin = fix.get("from")
        if isinstance(origin, str):
            read = self.read(fix, "from", chart_words.position, "fix.")
            if read is not None:
                fix["from"] = {"lat": read[0], "lon": read[1]}
        elif isinstance(origin, Mapping):
            fix["from"] = self._place(dict(origin), "fix.from.")
        return fix

    def _place(self, table: dict[str, Any], above: str) -> dict[str, Any]:
        self.read(table, "lat", chart_words.latitude, above)
        self.read(table, "lon", chart_words.longitude, above)
        return table


def _with_reference(text: str) -> tuple[float, chart_words.Reference]:
    degrees, reference = chart_words.direction(text)
    if reference is None:
        raise ValueError(f"a valid number, or {chart_words.DIRECTION_LOOKS}")
    return degrees, reference


def _looks(key: str, looks: str) -> str:
    # The file has had these words from the first, and they stay the ones that are named.
    return {"turns": "'right' or 'left'", "reference": "'magnetic' or 'true'"}.get(key, looks)


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
    """Write a hold file: TOML with tables on one line, a heading first, and remarks beside their keys."""
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
