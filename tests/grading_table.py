"""How much of the error a planted fault is charged with: ``python -m tests.grading_table`` prints the table.

Holds flown by the tests' own point mass, one fault at a time, in five holds of different hand, wind and speed. The
figure is the share's part along the measured roll-out error: 100 % where the budget blames the fault for all of it.
"""

from __future__ import annotations

import math
from dataclasses import replace

from tests.test_grading_budget import FAULTS, PLANS, budget_of, cost


def charged_percent(name: str, cause: str) -> tuple[float, float]:
    """Return the percentage charged to the planted fault, and by how much the shares miss the error (NM)."""
    budget = budget_of(replace(PLANS[name], faults=(FAULTS[cause],)))
    share, error = cost(budget, cause), math.hypot(budget.cross_track_nm, budget.along_track_nm)
    along = share.cross_track_nm * budget.cross_track_nm + share.along_track_nm * budget.along_track_nm
    missed = [
        abs(sum(getattr(one, key) for one in budget.costs) - getattr(budget, key))
        for key in ("cross_track_nm", "along_track_nm", "end_cross_track_nm", "end_along_track_nm")
    ]
    return 100.0 * along / error**2, max(missed)


def main() -> None:
    """Print one line per fault: what it is charged with in each hold, and the largest gap of the sums."""
    print(f"{'planted fault':22s}" + "".join(f"{name.split(',')[1].strip():>24s}" for name in PLANS))
    worst = 0.0
    for cause in FAULTS:
        figures = [charged_percent(name, cause) for name in PLANS]
        worst = max(worst, *(missed for _, missed in figures))
        print(f"{cause:22s}" + "".join(f"{percent:22.0f} %" for percent, _ in figures))
    print(f"largest difference between the sum of shares and the measured error: {worst:.4f} NM")


if __name__ == "__main__":
    main()
