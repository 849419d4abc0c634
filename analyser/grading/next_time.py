"""What to change on the next circuit, chosen by flying it ahead.

Faults make good for one another: who banks too little in both turns and lays off too little drift may roll out on the
course, and is worse off with either put right alone. So the next circuit is flown on paper, from the pilot's own other
habits, with every set of changes; the smallest one that takes most of the error away and makes nothing worse is the
thing to work on first, whichever clock the pilot goes by.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import combinations

from analyser.frozen import dataclass
from analyser.grading.changes import Change, changes_of
from analyser.grading.habits import Habits, largest
from analyser.rules.scoring import AdviceLimits


@dataclass(frozen=True)
class NextTime:
    """What to change on the next circuit.

    Attributes
    ----------
    first : tuple of Change
        To change together, and before all else.
    rest : tuple of Change
        With which nothing is left that a hand can fly; may be empty.
    circuit : int
        Number of the one that it was learned from.
    miss_nm, first_miss_nm : float
        How far from where it should the inbound turn would end: changing nothing, and the first.
    moves_nothing : tuple of str
        Items outside their tolerance that do not show in where the circuit ends: putting them right harms nothing.
    """

    first: tuple[Change, ...]
    rest: tuple[Change, ...]
    circuit: int
    miss_nm: float
    first_miss_nm: float
    moves_nothing: tuple[str, ...] = ()

    @property
    def all(self) -> tuple[Change, ...]:
        """Everything that is advised, the first first."""
        return (*self.first, *self.rest)

    def said(self, variation_deg: float | None = None) -> str:
        """Say what to work on first, with the rule that carries over to other winds.

        Parameters
        ----------
        variation_deg : float or None
            For magnetic directions; true ones where it is not known.
        """
        # One rule is remembered: that of the last change, for they come from speed and bank to heading and time.
        rule = next((change.rule for change in reversed(self.first) if change.rule), "")
        if len(self.first) == 1:
            return f"{self.first[0].advice.said(variation_deg)} {rule}".strip()
        clauses = "; ".join(change.in_few_words(variation_deg) for change in self.first)
        return f"Change together: {clauses}. {rule}".strip()


def next_time(
    habits: Habits, outside: Collection[str], limits: AdviceLimits, unsure: Collection[str] = ()
) -> NextTime | None:
    """Choose what to change on the next circuit.

    Parameters
    ----------
    outside : collection of str
        The graded items that lay outside their tolerance on the latest circuit.
    unsure : collection of str
        Items that the log cannot tell of, so that nothing is advised on them.

    Returns
    -------
    NextTime or None
        None where the next circuit would end well enough, or nothing that the log can tell would mend it.
    """
    trial = _Trial(habits, habits.misses(()), limits, frozenset(outside))
    changes: tuple[Change, ...] = ()
    first = None
    # Where what any hand can fly does not do, smaller differences may.
    for hand in (limits, limits.finer()):
        changes = tuple(change for change in changes_of(habits, hand) if change.item not in unsure)
        if not trial.worth(changes):
            return None
        first = first or trial.smallest(changes)
        if first is not None:
            break
    first = first or trial.best(changes)
    if first is None:
        return None
    everything = trial.enough(changes, first)
    rest = tuple(change for change in everything if change not in first)
    circuit = habits.lap.circuit.number
    # Both banks wrong by as much close the circuit all the same.
    free = () if any(change.item == "bank" for change in changes) or "bank" not in outside else ("bank",)
    return NextTime(first, rest, circuit, trial.before_nm, trial.miss_nm(first), free)


@dataclass(frozen=True)
class _Trial:
    habits: Habits
    before: list[complex]
    limits: AdviceLimits
    outside: frozenset[str]

    @property
    def before_nm(self) -> float:
        return largest(self.before)

    @property
    def small(self) -> bool:
        """Whether the circuit would end well enough as it is flown."""
        return self.before_nm < self.limits.least_nm

    def worth(self, changes: Sequence[Change]) -> bool:
        """Return whether anything is to be changed: faults that make good for one another are faults all the same."""
        needed = any(change.name == "speed" or change.item in self.outside for change in changes)
        return bool(changes) and (needed or not self.small)

    def misses(self, changes: Collection[Change]) -> list[complex]:
        return self.habits.misses([cause for change in changes for cause in change.causes])

    def miss_nm(self, changes: Collection[Change]) -> float:
        return largest(self.misses(changes))

    def _sets(self, changes: Sequence[Change]) -> list[tuple[Change, ...]]:
        """List the sets of changes, the smallest first; a speed that is wrong is put right in all of them."""
        needed = [change for change in changes if change.name == "speed"]
        return [
            chosen
            for size in range(1, len(changes) + 1)
            for chosen in combinations(changes, size)
            if all(one in chosen for one in needed)
        ]

    def smallest(self, changes: Sequence[Change]) -> tuple[Change, ...] | None:
        """Find the smallest set that mends most and harms nothing; one with an item outside tolerance comes first."""
        mend = [chosen for chosen in self._sets(changes) if self._mends(chosen)]
        faulty = self._faulty(mend)
        if self.small and self.outside and not faulty:
            return None
        return min(faulty or mend, key=lambda chosen: (len(chosen), self.miss_nm(chosen)), default=None)

    def _faulty(self, sets: Sequence[tuple[Change, ...]]) -> list[tuple[Change, ...]]:
        """Keep the sets that change what was outside its tolerance: a cause, or else the track that came of it."""
        for items in (self.outside - {"track"}, self.outside):
            found = [chosen for chosen in sets if any(change.item in items for change in chosen)]
            if found:
                return found
        return []

    def best(self, changes: Sequence[Change]) -> tuple[Change, ...] | None:
        """Find what helps most, where much of the error is nobody's decision; None where nothing helps enough."""
        sets = self._sets(changes)
        faulty = self._faulty(sets)
        chosen = min(faulty if self.small and faulty else sets, key=self.miss_nm)
        # What is outside its tolerance is put right in any case, with all that belongs to it.
        helps = self.small or self.miss_nm(chosen) <= self.before_nm - self.limits.least_nm
        return chosen if helps or any(change.name == "speed" for change in changes) else None

    def _mends(self, chosen: Collection[Change]) -> bool:
        """Return whether most of the error goes, if there was one, and neither part of it grows, by any clock."""
        after, limits = self.misses(chosen), self.limits
        # At another speed the clock from abeam may not be there: then the worst that was stands for all.
        before = self.before if len(self.before) == len(after) else [max(self.before, key=abs)] * len(after)
        for now, was in zip(after, before, strict=True):
            left = abs(was) if self.small else limits.most_left * abs(was)
            if abs(now) > max(left, limits.good_enough_nm):
                return False
            grown = max(limits.least_nm, limits.may_grow * abs(was))
            if abs(now.real) > max(abs(was.real), grown) or abs(now.imag) > max(abs(was.imag), grown):
                return False
        return True

    def enough(self, changes: Sequence[Change], first: tuple[Change, ...]) -> tuple[Change, ...]:
        """Add the fewest changes after which no more is to be gained than a hand can fly."""
        others = [change for change in changes if change not in first]
        best = self.miss_nm(changes)
        for size in range(len(others) + 1):
            sets = [(*first, *more) for more in combinations(others, size)]
            chosen = min(sets, key=self.miss_nm)
            if self.miss_nm(chosen) <= max(self.limits.good_enough_nm, 1.1 * best):
                return chosen
        return (*first, *others)
