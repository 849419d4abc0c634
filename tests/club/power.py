"""What a trend's limits are worth: how often unchanged pilots are told of a change, and planted changes are found.

Classes of the invented term are made anew with other dice: with nothing planted and form that goes in several ways,
and with changes of several sizes planted in twelve of the sixty.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

import numpy as np

from analyser.logbook.progress import learn, progress_of
from analyser.logbook.sessions import Session
from analyser.rules.scales import load_scale
from tests.club import term

DAY = date(2026, 12, 20)
#: Form that comes back to the pilot's level, and form that walks away for good, each step of it in tolerances.
UNCHANGED = {
    "as good one day as the next": term.Form(sd=0.0),
    "no memory": term.Form(stays=0.0),
    "correlation 0.3": term.Form(stays=0.3),
    "correlation 0.6": term.Form(stays=0.6),
    "correlation 0.9": term.Form(stays=0.9),
    "walks, steps of 0.05": term.Form(sd=0.05, walks=True),
    "walks, steps of 0.10": term.Form(sd=0.10, walks=True),
    "walks, steps of 0.20": term.Form(sd=0.20, walks=True),
}
CHANGES_TOLERANCES = (0.6, 1.0, 1.4, 1.8, 2.2)
SESSIONS = (8, 12, 20)
CHANGING = ("no memory", "correlation 0.6")


def told(sessions: Sequence[Session]) -> dict[str, dict[str, str]]:
    """What is said of each pilot's items, better or worse; items of which nothing is said are left out."""
    known, scale = learn(sessions), load_scale()
    found = {}
    for pilot in known.marks:
        progress = progress_of(pilot, sessions, scale=scale, on=DAY, experience=known)
        every = [*progress.items, *([progress.overall] if progress.overall else [])]
        trends = {one.item.key: one.trend.verdict for one in every if one.trend is not None}
        found[pilot] = {key: verdict for key, verdict in trends.items() if verdict != "no trend"}
    return found


def false_words(form: term.Form, seeds: Sequence[int]) -> tuple[int, int]:
    """How many of how many unchanged pilots are told of any change in any item."""
    found = [one for seed in seeds for one in told(term.sessions(seed, planted=0.0, form=form)).values()]
    return sum(bool(one) for one in found), len(found)


def found_changes(
    tolerances: float, count: int, form: term.Form, seeds: Sequence[int]
) -> tuple[int, int, float]:
    """How many of how many planted changes are found in ``count`` sessions, and the median size in points."""
    members = term.members(planted=tolerances, sessions_of_changing=count)
    changed = [one for one in members if one.change]
    class_of = [*changed, *[one for one in members if not one.change][:12]]
    hits, sizes = 0, []
    for seed in seeds:
        sessions = term.sessions(seed, class_of=class_of, form=form)
        said, marks = told(sessions), learn(sessions).marks
        for one in changed:
            assert one.change is not None
            item, verdict = one.change
            hits += said[one.pilot.name].get(item) == verdict
            points = [mark.points for mark in marks[one.pilot.name][item]]
            sizes.append(abs(float(np.mean(points[-3:]) - np.mean(points[:3]))))
    return hits, len(seeds) * len(changed), float(np.median(sizes))


def table(classes: int, first_seed: int = 100) -> Iterator[str]:
    """Lines to be printed as they are worked out; a class takes some ten seconds."""
    seeds = range(first_seed, first_seed + classes)
    yield f"pilots in whom nothing changes, {classes} classes of sixty: how many are told of a change in any item"
    for name, form in UNCHANGED.items():
        wrong, of = false_words(form, seeds)
        yield f"  form: {name:28} {wrong:4} of {of:4} = {100.0 * wrong / of:4.1f} %"
    yield f"a change planted in twelve pilots of twenty-four, {classes} classes: how many are found"
    for name in CHANGING:
        for count in SESSIONS:
            for size in CHANGES_TOLERANCES:
                hits, of, points = found_changes(size, count, UNCHANGED[name], seeds)
                yield (
                    f"  form: {name:16} {count:3} sessions, {size:.1f} tolerances = {points:3.0f} points:"
                    f" {hits:4} of {of:4} = {100.0 * hits / of:3.0f} %"
                )
