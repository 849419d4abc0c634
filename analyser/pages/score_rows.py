"""Every judged number with what it was judged by: value, target, tolerance, uncertainty, origin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from markupsafe import Markup

from analyser.frozen import dataclass
from analyser.pages.marks import heading, missing, quantity
from analyser.pages.words import NOT_JUDGED
from analyser.rules.graded_items import item_of


@dataclass(frozen=True)
class Judged:
    """One item of one circuit.

    Attributes
    ----------
    key, title, short, meaning : str
        Short heads a narrow column.
    points : float or None
        0 … 100; None is not judged.
    value, target, tolerance, uncertainty : Markup
        Ready for the page.
    obtained : str
        How the number was come by: logged or derived.
    verdict : str
    outside : bool
        True where the value lies outside the tolerance.
    rule, note : str
        What target and tolerance come from; what else should be known, or why it was not judged.
    """

    key: str
    title: str
    short: str
    meaning: str
    points: float | None
    value: Markup
    target: Markup
    tolerance: Markup
    uncertainty: Markup
    obtained: str
    verdict: str
    outside: bool
    rule: str
    note: str


def judged(key: str, score: Mapping[str, Any]) -> Judged:
    """Read one score of the debrief document.

    Parameters
    ----------
    key : str
        Name of the item.
    score : mapping
        As in the document's ``scores``.
    """
    item = item_of(key)
    unit, decimals = score.get("unit") or item.unit, item.decimals
    verdict = str(score.get("verdict") or NOT_JUDGED)
    tolerance, spread = score.get("tolerance"), score.get("sd")
    return Judged(
        key,
        item.title,
        item.short,
        str(score.get("meaning") or item.meaning),
        score.get("points"),
        _value(score.get("value"), unit, decimals, signed=score.get("reference") is not None),
        _target(score, unit, decimals),
        missing("none set") if tolerance is None else Markup("±") + quantity(tolerance, unit, decimals),
        missing("not known")
        if spread is None
        else Markup("±") + quantity(2 * spread, unit, max(decimals, 1)),
        str(score.get("obtained") or ""),
        verdict,
        verdict == "outside",
        str(score.get("rule") or ""),
        str(score.get("why") or score.get("note") or ""),
    )


def _value(value: float | None, unit: str, decimals: int, *, signed: bool = False) -> Markup:
    return missing("not known") if value is None else quantity(value, unit, decimals, signed=signed)


def _target(score: Mapping[str, Any], unit: str, decimals: int) -> Markup:
    """Where the value is an error from something, the target in words is that something."""
    reference = score.get("reference")
    return _value(score.get("target") if reference is None else reference, unit, decimals)


@dataclass(frozen=True)
class Cell:
    """One cell of the circuits' table: what was flown and what should have been."""

    value: Markup
    target: Markup | None = None
    outside: bool = False


#: Heads of the table of circuits, in the order of :func:`circuit_rows`.
COLUMNS = (
    "Outbound time",
    "Outbound heading",
    "Bank, outbound turn",
    "Bank, inbound turn",
    "Roll-out, off the course",
    "Inbound time",
    "Inbound heading",
    "Off course inbound, typically",
    "Fix missed by",
    "Altitude, worst",
    "Speed, worst",
)


def circuit_rows(
    circuits: list[Mapping[str, Any]], variation: float | None
) -> list[tuple[Mapping[str, Any], list[Cell]]]:
    """Lay out the table of circuits: one row each, its cells under :data:`COLUMNS`.

    Parameters
    ----------
    circuits : list of mapping
        As in the document.
    variation : float or None
        East positive, for magnetic courses.
    """
    return [(c, _circuit_cells(c, variation)) for c in circuits]


def _circuit_cells(c: Mapping[str, Any], variation: float | None) -> list[Cell]:
    return [
        _outbound_time(c),
        _heading(c, "outbound_leg", variation),
        _bank(c, "outbound_turn"),
        _bank(c, "inbound_turn"),
        _side(_get(c, "inbound_turn", "rollout_cross_track_nm")),
        _inbound_time(c),
        _heading(c, "inbound_leg", variation),
        _track(c),
        Cell(quantity(c.get("fix_miss_nm"), "NM", 2)),
        _scored(c, "altitude_error_max_ft", "ft", "altitude"),
        _scored(c, "speed_error_max_kt", "kt", "speed"),
    ]


def _get(circuit: Mapping[str, Any], part: str, name: str) -> Any:
    return (circuit.get(part) or {}).get(name)


def _outbound_time(circuit: Mapping[str, Any]) -> Cell:
    value, target = _get(circuit, "outbound_leg", "timed_s"), _get(circuit, "outbound_leg", "ideal_timed_s")
    cell = _time(value, target, "outbound" in circuit["timed"] and _is_outside(circuit, "timing"))
    level = _get(circuit, "outbound_leg", "ideal_timed_wings_s")
    differs = None not in (target, level) and round(target) != round(level)
    if cell.target is None or not differs or _get(circuit, "outbound_leg", "clock") != "abeam":
        return cell
    # Abeam may lie inside the turn: who starts the clock at wings level needs the other number.
    return replace(
        cell,
        target=Markup('{} <span class="level">({} from wings level)</span>').format(
            cell.target, quantity(level, "s")
        ),
    )


def _inbound_time(circuit: Mapping[str, Any]) -> Cell:
    value, target = (
        _get(circuit, "inbound_leg", "duration_s"),
        _get(circuit, "inbound_leg", "ideal_duration_s"),
    )
    return _time(value, target, circuit["timed"] == "inbound" and _is_outside(circuit, "timing"))


def _time(value: float | None, target: float | None, outside: bool) -> Cell:
    return Cell(quantity(value, "s"), None if target is None else quantity(target, "s"), outside)


def _heading(circuit: Mapping[str, Any], part: str, variation: float | None) -> Cell:
    flown, ideal = _get(circuit, part, "heading_true"), _get(circuit, part, "ideal_heading_true")
    outside = part == "outbound_leg" and _is_outside(circuit, "wind_correction")
    return Cell(heading(flown, variation), None if ideal is None else heading(ideal, variation), outside)


def _track(circuit: Mapping[str, Any]) -> Cell:
    found = quantity(_get(circuit, "inbound_leg", "cross_track_rms_nm"), "NM", 2)
    return Cell(found, None, _is_outside(circuit, "track"))


def _is_outside(circuit: Mapping[str, Any], item: str) -> bool:
    return bool((_get(circuit, "scores", item) or {}).get("verdict") == "outside")


def _bank(circuit: Mapping[str, Any], part: str) -> Cell:
    turn = circuit.get(part) or {}
    flown, target = turn.get("bank_mean"), turn.get("bank_target")
    if flown is None:
        return Cell(missing())
    asked = None if target is None else quantity(target, "°", 1)
    return Cell(quantity(abs(flown), "°", 1), asked, turn.get("bank_verdict") == "outside")


def _side(value: float | None) -> Cell:
    if value is None:
        return Cell(missing())
    words = "on it" if round(abs(value), 2) == 0 else "right" if value > 0 else "left"
    return Cell(Markup("{} {}").format(quantity(abs(value), "NM", 2), words))


def _scored(circuit: Mapping[str, Any], name: str, unit: str, item: str) -> Cell:
    return Cell(quantity(circuit.get(name), unit, 0, signed=True), None, _is_outside(circuit, item))
