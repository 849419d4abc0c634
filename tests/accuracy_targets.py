"""What is asked of each measure, and the table that says whether it is met."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import beta

from tests.accuracy_compare import Errors


@dataclass(frozen=True)
class Target:
    """One measure: its unit and the most that its absolute error's median and 95th percentile may be."""

    measure: str
    unit: str
    median: float | None
    most: float | None


#: For the instrument's set and the flights of the independent flight-dynamics library.
INSTRUMENT = (
    Target("wind, steady hand", "kt", 0.4, 1.0),
    Target("wind, wandering", "kt", 0.8, 2.3),
    Target("wind per circuit", "kt", 1.2, 3.5),
    Target("TAS", "kt", 0.6, 2.0),
    Target("bank, 1–2 s", "°", 0.2, 0.6),
    Target("bank, 5 s", "°", 0.8, 2.0),
    Target("leaving level, 1–2 s", "s", 0.5, 2.0),
    Target("leaving level, 5 s", "s", 1.5, 4.0),
    Target("wings level, 1–2 s", "s", 0.5, 2.0),
    Target("wings level, 5 s", "s", 1.5, 4.0),
    Target("fix passage", "s", 0.3, 1.0),
    Target("outbound heading", "°", 0.8, 2.5),
    Target("timed outbound, inbound", "s", 0.8, 2.5),
    Target("roll-out cross-track", "NM", 0.01, 0.03),
    Target("fix inferred", "NM", 0.05, 0.2),
    Target("course inferred", "°", 1.0, 3.0),
)
#: For the odd set: among it are flights so badly flown that no track could tell which fix and course were meant.
ODD = INSTRUMENT[:-2]
#: For the main set.
MAIN = (
    Target("wind", "kt", 1.0, 3.0),
    Target("bank, 1–2 s", "°", 1.5, None),
    Target("bank, 5 s", "°", 1.5, None),
    Target("leaving level, 1–2 s", "s", 2.0, None),
    Target("leaving level, 5 s", "s", 2.0, None),
    Target("wings level, 1–2 s", "s", 2.0, None),
    Target("wings level, 5 s", "s", 2.0, None),
    Target("fix inferred", "NM", 0.15, None),
    Target("course inferred", "°", 3.0, None),
)
#: Shares of true values within two stated sigma that count as honest. A share of so many values is itself only known
#: to its binomial interval, which is printed beside it: it is missed where no share in that interval is honest. Of
#: fewer than a hundred values it says too little, and is only printed.
HONEST, JUDGED_FROM = (0.92, 0.98), 100
COVERED = ("wind", "wind per circuit", "TAS", "TAS per circuit", "bank")
#: Of untidy receivers these as well; how large the errors are is for the receiver, how well they are known for us.
COVERED_UNTIDY = (*COVERED, "fix", "course")


@dataclass(frozen=True)
class Row:
    """One line of a table."""

    measure: str
    unit: str
    count: int
    median: float
    most: float
    rms: float
    target: str
    met: bool | None


def rows(errors: Errors, targets: Sequence[Target]) -> list[Row]:
    """Work out the lines for the measures that have a target, then for those that have none."""
    found = [_row(errors, target) for target in targets if errors.values.get(target.measure)]
    named = {target.measure for target in targets}
    extra = [Target(name, "", None, None) for name in sorted(errors.values) if name not in named]
    return found + [_row(errors, target) for target in extra]


def _row(errors: Errors, target: Target) -> Row:
    values = np.abs(errors.values[target.measure])
    median, most = float(np.median(values)), float(np.percentile(values, 95))
    met = [median <= target.median] if target.median is not None else []
    met += [most <= target.most] if target.most is not None else []
    asked = " / ".join(f"{x:g}" if x is not None else "–" for x in (target.median, target.most))
    rms = float(np.sqrt(np.mean(values**2)))
    return Row(
        target.measure,
        target.unit,
        values.size,
        median,
        most,
        rms,
        asked if met else "",
        all(met) if met else None,
    )


def print_table(
    errors: Errors,
    targets: Sequence[Target],
    *,
    covered: Sequence[str] = COVERED,
    judged_from: int = JUDGED_FROM,
) -> bool:
    """Print the measures, the shares within two sigma and the counts; return whether everything asked is met."""
    print(f"{'error against truth':28} {'n':>5} {'median':>8} {'95 %':>8} {'rms':>8}  {'asked':>12}")
    lines = rows(errors, targets)
    for row in lines:
        met = {True: "met", False: "MISSED", None: ""}[row.met]
        name = f"{row.measure}, {row.unit}" if row.unit else row.measure
        figures = f"{row.median:8.3f} {row.most:8.3f} {row.rms:8.3f}"
        print(f"{name:28} {row.count:5} {figures}  {row.target:>12}  {met}")
    shares = _print_shares(errors, covered, judged_from)
    return shares & _print_counts(errors) & all(row.met is not False for row in lines)


def share_interval(inside: int, count: int) -> tuple[float, float]:
    """Return the shares that so many values within two sigma of so many speak for, at 95 %.

    References
    ----------
    C. J. Clopper and E. S. Pearson, "The use of confidence or fiducial limits illustrated in the case of the
    binomial", Biometrika 26 (1934) 404–413.
    """
    low = float(beta.ppf(0.025, inside, count - inside + 1)) if inside else 0.0
    high = float(beta.ppf(0.975, inside + 1, count - inside)) if inside < count else 1.0
    return low, high


def is_honest(inside: int, count: int, honest: tuple[float, float] = HONEST) -> bool:
    """Tell whether a share of values within two sigma may be an honest one."""
    low, high = share_interval(inside, count)
    return low <= honest[1] and high >= honest[0]


def said_share(inside: int, count: int) -> str:
    """Write a share of values within two sigma, and the interval it is known to, in per cent."""
    low, high = share_interval(inside, count)
    return f"{100.0 * inside / count:6.1f} % ({100.0 * low:.1f}–{100.0 * high:.1f})"


def _print_shares(errors: Errors, covered: Sequence[str], judged_from: int) -> bool:
    ok = True
    for name in covered:
        if not errors.in_sd.get(name):
            continue
        inside, count = int(np.sum(np.abs(errors.in_sd[name]) <= 2.0)), len(errors.in_sd[name])
        fine = is_honest(inside, count) or count < judged_from
        ok &= fine
        said = "too few to judge" if count < judged_from else "met" if fine else "MISSED"
        print(
            f"{'within two sd: ' + name:32} {count:5}  {said_share(inside, count):24}{'92–98 %':>13}  {said}"
        )
    return ok


def _print_counts(errors: Errors) -> bool:
    wrong = {name: count for name, count in sorted(errors.counts.items()) if count}
    for name, count in wrong.items():
        print(f"{name:42} {count}{'' if _allowed(name) else '   MISSED (asked: 0)'}")
    asked = {name: count for name, count in wrong.items() if not _allowed(name)}
    if not asked:
        print("holds and circuits missed or extra, entries misread: 0   met")
    return not asked


def _allowed(name: str) -> bool:
    return name.startswith("not found")
