"""The pictures to take away: a hold's plan, wind, strips and error budget, and a pilot's progress.

They are drawn with matplotlib, which nothing else loads; the same picture gives the same file, byte for byte.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable
from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analyser import CAUTION_IN_SHORT
from analyser.earth.angles import whole_direction
from analyser.errors import UsageError
from analyser.holds.exact import exact_circuit
from analyser.holds.kinematics import to_east_north
from analyser.logbook.marks import ITEMS, title_of
from analyser.schema.debrief_file import (
    WrittenCircuit,
    WrittenCircuitWind,
    WrittenError,
    WrittenHold,
    WrittenScore,
    WrittenShare,
    WrittenWind,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from analyser.logbook.progress import ItemProgress, Progress

FloatArray = NDArray[np.float64]

#: Endings that a picture can be written under.
ENDINGS = ("png", "svg", "pdf")
#: Ink on paper: flown, asked for, wrong, faint. Circuits differ in dashes too, so that nothing hangs on colour.
INK, PENCIL, MARK, RULE, WASH = "#17222b", "#5d666d", "#b01030", "#d5dad6", "#e3e9e2"
CIRCUITS = (
    ("#17498f", "-"),
    ("#a34d00", (0, (6, 2))),
    ("#1c6b3c", (0, (4, 1.5, 1, 1.5))),
    ("#6a2f8f", (0, (2, 1))),
    ("#006a75", (0, (8, 2, 2, 2))),
)
_DOTS_PER_INCH = 200
_STYLE: Any = {
    # Text stays text, and ids are the same in every run.
    "svg.fonttype": "none",
    "svg.hashsalt": "analyser",
    "pdf.fonttype": 42,
    "font.family": "DejaVu Sans",
    "font.size": 9.0,
    "axes.edgecolor": PENCIL,
    "axes.labelcolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": RULE,
    "grid.linewidth": 0.6,
    "text.color": INK,
    "text.parse_math": False,
    "xtick.color": PENCIL,
    "ytick.color": PENCIL,
    "legend.frameon": False,
    "lines.linewidth": 1.4,
}
#: A strip reaches so many tolerances to either side; what lies farther is drawn at its edge.
_MOST_TOLERANCES = 3.0
#: Points farther apart than this say nothing of the velocity between, seconds.
_HOLE_S = 30.0
#: Causes that moved the roll-out by less than this are drawn as one, nautical miles.
_LEAST_NM = 0.01


def _sheet(title: str, subtitle: str, *, wide_in: float = 7.2, high_in: float = 5.4) -> tuple[Figure, Axes]:
    """Begin a picture: a slide's shape, its title, what it shows, and what it is not for.

    Titles are untrusted text, drawn as it stands.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(wide_in, high_in), layout="constrained", facecolor="white")
    axes = figure.add_subplot()
    figure.suptitle(_plain(title), x=0.02, ha="left", fontsize=13)
    axes.set_title(_plain(subtitle), loc="left", fontsize=9, color=PENCIL)
    figure.supxlabel(CAUTION_IN_SHORT, x=0.02, ha="left", fontsize=7, color=PENCIL)
    return figure, axes


def written(draw: Callable[[], Figure], ending: str) -> bytes:
    """Draw a picture and write it under one of :data:`ENDINGS`."""
    import matplotlib

    # The time of making is left out, and so is the name of what made it: it would change with each version.
    nothing: dict[str, dict[str, Any]] = {
        "png": {"Software": None},
        "svg": {"Date": None, "Creator": None},
        "pdf": {"CreationDate": None, "Producer": None, "Creator": None},
    }
    made = BytesIO()
    with matplotlib.rc_context(_STYLE), warnings.catch_warnings():
        # A character that the font lacks is drawn as a box; there is no need of a warning about it.
        warnings.simplefilter("ignore", UserWarning)
        draw().savefig(made, format=ending, dpi=_DOTS_PER_INCH, metadata=nothing[ending])
    return made.getvalue()


def _plain(text: str) -> str:
    """Free text of what is no letter: it comes with a log."""
    return "".join(sign if sign.isprintable() else " " for sign in str(text))


def plan(log: str, hold: WrittenHold, number: int | None = None) -> Figure:
    """Draw the flown circuits over the exact one, north up: all, with the last one's, or one alone with its own.

    Raises UsageError: the file has no flown path, or no such circuit.
    """
    chosen = [_circuit(hold, number)] if number is not None else list(hold.circuits)
    time, east, north = _path(hold)
    figure, axes = _sheet(_title(log, hold), _subtitle(hold))
    inside = time <= chosen[0].start_s if chosen else np.zeros(time.size, dtype=bool)
    if number is None and hold.entry is not None and inside.sum() > 1:
        axes.plot(east[inside], north[inside], color=PENCIL, linestyle=":", label="entry")
    for place, circuit in enumerate(chosen):
        colour, dashes = CIRCUITS[place % len(CIRCUITS)]
        inside = (time >= circuit.start_s) & (time <= circuit.end_s)
        axes.plot(
            east[inside], north[inside], color=colour, linestyle=dashes, label=f"circuit {circuit.number}"
        )
    exact = _exact(hold, chosen[-1]) if chosen else None
    if exact is not None:
        label = f"exact for circuit {chosen[-1].number}"
        axes.plot(*exact, color=PENCIL, linewidth=3.5, alpha=0.35, label=label, zorder=1)
    axes.plot(0.0, 0.0, marker="^", color=INK, markersize=8, linestyle="none", label="fix")
    axes.set(xlabel="NM east of the fix", ylabel="NM north of the fix", aspect="equal")
    axes.set_aspect("equal", adjustable="datalim")
    _wind_arrow(axes, hold)
    axes.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0))
    return figure


def wind(log: str, hold: WrittenHold, number: int | None = None) -> Figure:
    """Draw the ground velocities, and the circle that airspeed and wind make of them.

    Raises UsageError: the file has no flown path, or no such circuit.
    """
    time, east, north = _path(hold)
    found: WrittenWind | WrittenCircuitWind = hold.wind
    tas = hold.tas_kt
    if number is not None:
        circuit = _circuit(hold, number)
        inside = (time >= circuit.start_s) & (time <= circuit.end_s)
        time, east, north = time[inside], east[inside], north[inside]
        found, tas = circuit.wind, circuit.tas_kt
    if tas is None or found.east_kt is None or found.north_kt is None:
        raise UsageError("this debrief has no wind to draw", mend="choose another picture")
    across, up = _velocities(time, east, north)
    figure, axes = _sheet(_title(log, hold), _subtitle(hold), wide_in=6.4, high_in=6.4)
    axes.plot(
        across, up, marker=".", markersize=3, linestyle="none", color=CIRCUITS[0][0], label="over the ground"
    )
    angle = np.linspace(0.0, 2.0 * math.pi, 361)
    centre = found.east_kt, found.north_kt
    circle = centre[0] + tas * np.cos(angle), centre[1] + tas * np.sin(angle)
    axes.plot(*circle, color=PENCIL, label=f"true airspeed {tas:.0f} kt about the wind")
    arrow = {"arrowstyle": "-|>", "color": MARK, "linewidth": 2.0}
    axes.annotate("", xy=centre, xytext=(0.0, 0.0), arrowprops=arrow)
    label = f"wind {_wind_words(found, hold)}"
    axes.plot([], [], color=MARK, linewidth=2.0, label=label)
    axes.axhline(0.0, color=PENCIL, linewidth=0.6)
    axes.axvline(0.0, color=PENCIL, linewidth=0.6)
    axes.set(xlabel="kt towards east", ylabel="kt towards north", aspect="equal")
    figure.legend(loc="outside lower right")
    return figure


def strips(log: str, hold: WrittenHold, number: int | None = None) -> Figure:
    """Draw each item as a strip: how many tolerances each circuit lay from its target.

    Raises UsageError: there is no such circuit.
    """
    chosen = [_circuit(hold, number)] if number is not None else list(hold.circuits)
    figure, axes = _sheet(_title(log, hold), _subtitle(hold))
    axes.axvspan(-1.0, 1.0, color=WASH, zorder=0)
    axes.axvline(0.0, color=PENCIL, linewidth=0.8)
    named = [one.key for one in ITEMS if any(one.key in circuit.scores for circuit in chosen)]
    for row, key in enumerate(named):
        judged = [
            (circuit.number, off, circuit.scores[key].verdict)
            for circuit in chosen
            if key in circuit.scores and (off := _tolerances_off(circuit.scores[key])) is not None
        ]
        _strip(axes, row, judged)
        if not judged:
            axes.annotate("not judged", (0.05, row), va="center", fontsize=8, color=PENCIL)
    axes.set_yticks(range(len(named)), [title_of(key) for key in named])
    axes.invert_yaxis()
    axes.grid(axis="y", visible=False)
    axes.set_xlim(-_MOST_TOLERANCES - 0.6, _MOST_TOLERANCES + 0.6)
    axes.set_xlabel("tolerances from the target; the band is within tolerance, numbers are circuits")
    return figure


def _strip(axes: Axes, row: int, judged: list[tuple[int, float, str]]) -> None:
    """Draw how many tolerances each circuit, by its number, lay off, and whether that is said to be outside."""
    for place, (circuit, off, verdict) in enumerate(judged):
        # Circuits stand one below the other, so that their numbers can be read.
        down = row + 0.6 * (place / max(1, len(judged) - 1) - 0.5 if len(judged) > 1 else 0.0)
        at = max(-_MOST_TOLERANCES, min(_MOST_TOLERANCES, off))
        colour = MARK if verdict == "outside" else CIRCUITS[0][0]
        axes.plot([0.0, at], [down, down], color=colour, linewidth=1.0)
        beyond = "" if at == off else f" ({off:+.0f})".replace("-", "−")
        axes.annotate(
            f"{circuit}{beyond}",
            (at, down),
            xytext=(5 if at >= 0 else -5, 0),
            textcoords="offset points",
            ha="left" if at >= 0 else "right",
            va="center",
            fontsize=7,
            color=colour,
        )
        axes.plot(at, down, marker="o", markersize=4, color=colour)


def budget(log: str, hold: WrittenHold, number: int | None = None) -> Figure:
    """Draw what moved a circuit's roll-out, cause by cause: of the one chosen, or of that which lay farthest off.

    Raises UsageError: there is no such circuit, or none with a budget.
    """
    chosen = hold.circuits if number is None else (_circuit(hold, number),)
    told = [(one, one.error) for one in chosen if one.error_budget and one.error is not None]
    if not told:
        which = "this hold" if number is None else f"circuit {number}"
        raise UsageError(f"there is no error budget of {which}", mend="choose another with --circuit")
    circuit, error = max(told, key=lambda one: math.hypot(*_moved(one[1])))
    shares = sorted(circuit.error_budget, key=lambda share: -math.hypot(*_moved(share)))
    large = [share for share in shares if math.hypot(*_moved(share)) >= _LEAST_NM]
    moves = [(share.cause.replace("_", " "), _moved(share)) for share in large]
    rest = [_moved(share) for share in shares[len(large) :]]
    if rest:
        moves.append(("the rest", (sum(move[0] for move in rest), sum(move[1] for move in rest))))
    moves.append(("all together", _moved(error)))
    figure, axes = _sheet(
        _title(log, hold), f"Circuit {circuit.number}: what moved the roll-out from the exact one"
    )
    rows = np.arange(len(moves), dtype=float)
    for offset, place, colour, label in (
        (-0.2, 0, CIRCUITS[0][0], "across the course, right positive"),
        (0.2, 1, CIRCUITS[1][0], "along the course, inbound positive"),
    ):
        moved = [move[place] for _, move in moves]
        axes.barh(rows + offset, moved, height=0.36, color=colour, label=label)
    axes.axhline(len(moves) - 1.5, color=PENCIL, linewidth=0.8)
    axes.axvline(0.0, color=PENCIL, linewidth=0.8)
    axes.set_yticks(rows, [name for name, _ in moves])
    axes.invert_yaxis()
    axes.grid(axis="y", visible=False)
    axes.set_xlabel("NM")
    figure.legend(loc="outside lower right")
    return figure


def _velocities(time: FloatArray, east: FloatArray, north: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return ground velocities, knots, from one point to the next but one; none across a hole."""
    step_s = time[2:] - time[:-2]
    near = step_s <= _HOLE_S
    hours = step_s[near] / 3600.0
    return (east[2:] - east[:-2])[near] / hours, (north[2:] - north[:-2])[near] / hours


def _moved(share: WrittenShare | WrittenError) -> tuple[float, float]:
    return share.cross_track_nm, share.along_track_nm


def _tolerances_off(score: WrittenScore) -> float | None:
    """Return how many tolerances an item lay from its target; None where it was not judged."""
    if score.verdict == "not judged" or score.deviation is None or not score.tolerance:
        return None
    return score.deviation / score.tolerance


def _circuit(hold: WrittenHold, number: int) -> WrittenCircuit:
    for circuit in hold.circuits:
        if circuit.number == number:
            return circuit
    known = ", ".join(str(circuit.number) for circuit in hold.circuits)
    raise UsageError(f"there is no circuit {number}", place="--circuit", mend=f"choose one of {known}")


def _path(hold: WrittenHold) -> tuple[FloatArray, FloatArray, FloatArray]:
    path = hold.flown_path
    if path is None or len(path.time_s) < 2:
        mend = "debrief the log again"
        raise UsageError("this debrief file has no flown path: an earlier version wrote it", mend=mend)
    time, east, north = (np.array(one, dtype=float) for one in (path.time_s, path.east_nm, path.north_nm))
    apart = np.append(True, np.diff(time) > 0.0)
    return time[apart], east[apart], north[apart]


def _exact(hold: WrittenHold, circuit: WrittenCircuit) -> tuple[FloatArray, FloatArray] | None:
    """Lay the exact circuit for a circuit's wind out again, from the numbers that the file has of it."""
    ideal, found = circuit.ideal, circuit.wind
    if found.east_kt is None or found.north_kt is None or not ideal.closes:
        return None
    if not circuit.tas_kt or not ideal.rate or not ideal.inbound_distance_nm:
        return None
    exact = exact_circuit(
        inbound_course_deg=hold.inbound_course_true,
        side=1 if (hold.turns_flown or hold.turns) == "right" else -1,
        tas_kt=circuit.tas_kt,
        wind_east_kt=found.east_kt,
        wind_north_kt=found.north_kt,
        turn_rate_dps=ideal.rate,
        roll_s=ideal.roll_s or 0.0,
        inbound_distance_nm=ideal.inbound_distance_nm,
    )
    if not exact.closes:
        return None
    path = exact.path(2.0)
    return to_east_north(path.along_nm, path.cross_nm, hold.inbound_course_true)


def _wind_arrow(axes: Axes, hold: WrittenHold) -> None:
    found = hold.wind
    if found.east_kt is None or found.north_kt is None:
        return
    speed = math.hypot(found.east_kt, found.north_kt)
    axes.annotate(
        f"wind {_wind_words(found, hold)}", (0.01, 0.99), xycoords="axes fraction", va="top", fontsize=8
    )
    if speed < 0.5:
        return
    right, up = 0.055 * found.east_kt / speed, 0.055 * found.north_kt / speed
    axes.annotate(
        "",
        xy=(0.07 + right, 0.86 + up),
        xytext=(0.07 - right, 0.86 - up),
        xycoords="axes fraction",
        textcoords="axes fraction",
        arrowprops={"arrowstyle": "-|>", "color": MARK, "linewidth": 1.6},
    )


def _title(log: str, hold: WrittenHold) -> str:
    return f"{hold.name or 'Hold'} – {log}"


def _subtitle(hold: WrittenHold) -> str:
    points = "not judged" if hold.points is None else f"{hold.points:.0f} of 100 points"
    return f"inbound {_direction(hold.inbound_course_true, hold)}, {hold.turns}-hand; {points}"


def _wind_words(found: WrittenWind | WrittenCircuitWind, hold: WrittenHold) -> str:
    east, north = found.east_kt or 0.0, found.north_kt or 0.0
    from_true = math.degrees(math.atan2(-east, -north)) % 360.0
    known = "" if found.sd_kt is None else f" ± {2.0 * found.sd_kt:.1f}"
    return f"from {_direction(from_true, hold)}, {math.hypot(east, north):.0f}{known} kt"


def _direction(true_deg: float, hold: WrittenHold) -> str:
    variation = hold.variation
    if variation is None:
        return f"{whole_direction(true_deg):03d}° true"
    return f"{whole_direction(true_deg - variation):03d}° magnetic"


_ACROSS = 4


def progress(found: Progress) -> Figure:
    """Draw the points of each item over time, and from where the grade asked for is proposed."""
    count = len(found.sessions)
    told = (
        f"{count} {'session' if count == 1 else 'sessions'}; a dot is the median of a session's circuits, the band "
        f"begins at {found.asked_points:.0f} points, from which the grade asked for is proposed"
    )
    down = max(1, math.ceil(len(found.items) / _ACROSS))
    figure, whole = _sheet(f"Holding progress: {found.pilot}", "", wide_in=9.0, high_in=1.2 + 2.1 * down)
    whole.remove()
    charts = figure.subplots(down, _ACROSS, sharex=True, sharey=True, squeeze=False)
    figure.supylabel("points", fontsize=9)
    figure.supxlabel(
        f"{_plain(told)}.\n{figure.get_supxlabel()}", x=0.02, ha="left", fontsize=7, color=PENCIL
    )
    for place, axes in enumerate(charts.flat):
        if place < len(found.items):
            _chart(axes, found.items[place], found.asked_points)
        else:
            axes.set_axis_off()
    return figure


def _chart(axes: Axes, one: ItemProgress, asked_points: float) -> None:
    days: Any = [mark.when for mark in one.marks]
    axes.axhspan(asked_points, 100.0, color=WASH, zorder=0)
    axes.plot(days, [mark.points for mark in one.marks], color=CIRCUITS[0][0], marker="o", markersize=3.5)
    axes.set_title(_plain(one.item.title), loc="left", fontsize=9)
    axes.set_ylim(-4.0, 104.0)
    axes.tick_params(axis="x", labelrotation=40, labelsize=7)
    axes.tick_params(axis="y", labelsize=7)
