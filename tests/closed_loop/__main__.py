"""``python -m tests.closed_loop`` prints what advice is worth: the next circuit as before, by the first, by all."""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np

from analyser.debrief import debrief_track
from tests.closed_loop.draw import practice as draw
from tests.closed_loop.follow import follow
from tests.closed_loop.pilot import as_log, fly_practice, next_miss

#: A hand flies no circuit like another: less than this is no difference, nautical miles.
SAME_NM = 0.02


@dataclass(frozen=True)
class Trial:
    """One pilot's next circuit: miles from where the inbound turn should end; NaN where nothing was advised."""

    index: int
    rules: str
    advised: tuple[str, ...]
    first: int
    before_nm: float
    first_nm: float
    all_nm: float

    @property
    def worse(self) -> bool:
        """Whether the first advice alone made it worse."""
        return self.first_nm > self.before_nm + SAME_NM


def trial(index: int, seed: int = 0) -> Trial:
    """Fly, debrief and fly again; of the two clocks that a pilot may go by, the one that does worse."""
    practice, rules = draw(index, seed)
    aircraft = fly_practice(practice)
    track, hold = as_log(practice, aircraft)
    before = abs(next_miss(practice, aircraft, practice.habits))
    found = debrief_track(track, holds=(hold,), rules=rules)
    plan = found.holds[0].judged.next_time if found.holds else None
    if plan is None:
        return Trial(index, rules, (), 0, before, float("nan"), float("nan"))
    first, every = (
        max(
            abs(next_miss(practice, aircraft, follow(practice, changes, clock)))
            for clock in ("abeam", "wings level")
        )
        for changes in (plan.first, plan.all)
    )
    return Trial(index, rules, tuple(one.name for one in plan.all), len(plan.first), before, first, every)


def main() -> None:
    """Print the table and its sums."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flights", type=int, default=120)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    trials = []
    print(
        "flight  rules  as before  first alone  all together  changes (those of the first before the stroke), NM"
    )
    for index in range(asked.flights):
        one = trial(index, asked.seed)
        trials.append(one)
        names = f"{' + '.join(one.advised[: one.first])} | {' + '.join(one.advised[one.first :])}"
        figures = f"{one.before_nm:9.2f}  {one.first_nm:11.2f}  {one.all_nm:12.2f}"
        print(
            f"{one.index:6d}  {one.rules:5s}  {figures}  {names}{'  worse' if one.worse else ''}", flush=True
        )
    advised = [one for one in trials if one.advised]
    silent = [one.before_nm for one in trials if not one.advised]
    print(
        f"{len(trials)} flights, {len(advised)} advised; the first alone makes {sum(o.worse for o in advised)} worse"
    )
    for words, misses in (
        ("as before", [one.before_nm for one in advised]),
        ("the first alone", [one.first_nm for one in advised]),
        ("all together", [one.all_nm for one in advised]),
        ("where nothing was advised, as before", silent or [0.0]),
    ):
        q = np.quantile(misses, (0.5, 0.95, 1.0))
        print(f"{words}: median {q[0]:.3f} NM, 95 % {q[1]:.3f}, worst {q[2]:.3f}")


if __name__ == "__main__":
    main()
