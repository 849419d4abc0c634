"""What a trend's limits are worth: how often unchanged pilots are told of a change, and planted changes are found.

Classes of the invented term are made anew with other dice: with nothing planted and form that goes in several ways,
and with changes of several sizes planted in twelve of twenty-four. Beside what is found stand two limits. The best
linear test is told everything but the pilot's level: how form goes and how much points scatter, which item may have
changed, which way and how far. What that test cannot see is not in the sessions to be seen. The same test that is not
told how form goes, and so must leave unchanged pilots in peace whichever way it does, sees far less of a few sessions:
form that walks away looks like a change. A test that learns from the sessions how form goes can do better than that
one where there are many, and hardly where there are eight.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from analyser.logbook.progress import learn, progress_of
from analyser.logbook.sessions import Session
from analyser.rules.scales import load_scale
from tests.club import term
from tests.club.people import Habit
from tests.club.session import TAS_KT, TOLERANCE

FloatArray = NDArray[np.float64]

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
    "each item walks, 0.10": term.Form(sd=0.10, walks=True, alone=True),
    "each item walks, 0.20": term.Form(sd=0.20, walks=True, alone=True),
}
CHANGES_TOLERANCES = (0.6, 1.0, 1.4, 1.8, 2.2)
SESSIONS = (8, 12, 20)
CHANGING = ("no memory", "correlation 0.6", "each item walks, 0.10")


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


def term_lines(sessions: Sequence[Session]) -> Iterator[str]:
    """Say which of the changes planted in the term are told of, and how many unchanged pilots are told of one."""
    said, members = told(sessions), term.members()
    planted = [one for one in members if one.change]
    hits = sum(said[one.pilot.name].get(one.change[0]) == one.change[1] for one in planted if one.change)
    wrong = sum(bool(said[one.pilot.name]) for one in members if not one.change)
    yield f"of {len(planted)} planted changes {hits} are told of; of {len(members) - len(planted)} others {wrong} are"


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


#: As many as are drawn for each half of the best test: what it is made from, and what it is tried on.
DRAWN = 2000
#: Of pilots in whom nothing changed one in twenty may be told of something: of six items, two ways each.
FALSE_WORDS = 0.05 / 12.0
#: A usual wind of the term, in fifths of the airspeed.
WIND = 12.0 / TAS_KT / 0.2


#: How form may go as far as who is not told of it knows: but for the widest walks, which would hide everything.
ANY_WAY = [form for form in UNCHANGED.values() if not (form.walks and form.sd > 0.1)]


def best_test(tolerances: float, count: int, form: term.Form, seed: int = 0) -> tuple[float, float]:
    """Return the shares of changes that the best linear test would find: told how form goes, and not told."""
    chance = np.random.default_rng(seed)
    learns = {way: term.learns(way, tolerances) for way in ("better", "worse")}
    found = {way: _best_found(chance, habit, count, form) for way, habit in learns.items()}
    told, not_told = np.mean([found[way] for _, way in term.CHANGES.values()], axis=0)
    return float(told), float(not_told)


def _best_found(
    chance: np.random.Generator, habit: Habit, count: int, form: term.Form
) -> tuple[float, float]:
    usual = Habit()
    changing = habit.bias * (1.0 - habit.learned * np.linspace(0.0, 1.0, count))
    sizes = np.full((len(TOLERANCE), count), usual.bias + usual.by_wind * WIND)
    drawn = []
    for course in (changing, np.full(count, changing.mean())):
        sizes[0] = course + habit.by_wind * WIND
        drawn.append([_drawn(chance, sizes, form) for _ in range(2)])
    (changed, tried_changed), (steady, tried_steady) = drawn
    apart = changed.mean(axis=0) - steady.mean(axis=0)
    scatter = (np.cov(changed.T) + np.cov(steady.T)) / 2.0
    weights = np.linalg.pinv(scatter, rcond=1e-8, hermitian=True) @ apart
    limit = np.quantile(tried_steady @ weights, 1.0 - FALSE_WORDS)
    others = [np.quantile(_drawn(chance, sizes, one) @ weights, 1.0 - FALSE_WORDS) for one in ANY_WAY]
    seen = tried_changed @ weights
    return float(np.mean(seen > limit)), float(np.mean(seen > max(limit, *others)))


def _drawn(chance: np.random.Generator, sizes: FloatArray, form: term.Form) -> FloatArray:
    """Draw session points, less each item's mean: (pilots, items · sessions); ``sizes`` are (items, sessions)."""
    items, count = sizes.shape
    goes = form.sd * chance.normal(size=(DRAWN, items if form.alone else 1, count))
    if form.walks:
        goes = np.cumsum(goes, axis=2)
    else:
        for now in range(1, count):
            goes[:, :, now] *= np.sqrt(1.0 - form.stays**2)
            goes[:, :, now] += form.stays * goes[:, :, now - 1]
    day = term.SCATTER * chance.normal(size=(DRAWN, 1, count))
    off = np.abs(
        (sizes + goes + day)[..., None] + Habit().wander * chance.normal(size=(DRAWN, items, count, 4))
    )
    each = np.maximum(0.0, np.where(off <= 1.0, 100.0 - 40.0 * off, 90.0 - 30.0 * off))
    points = np.median(each, axis=3)
    return np.asarray((points - points.mean(axis=2, keepdims=True)).reshape(DRAWN, -1))


def table(classes: int, only: str = "", first_seed: int = 100) -> Iterator[str]:
    """Lines to be printed as they are worked out, of forms with ``only`` in their name; a class takes some ten seconds.

    The limits are those of :func:`best_test`: at best, and where nobody says how form goes.
    """
    seeds = range(first_seed, first_seed + classes)
    yield f"pilots in whom nothing changes, {classes} classes of sixty: how many are told of a change in any item"
    for name, form in UNCHANGED.items():
        if only not in name:
            continue
        wrong, of = false_words(form, seeds)
        yield f"  form: {name:28} {wrong:4} of {of:4} = {100.0 * wrong / of:4.1f} %"
    yield f"a change planted in twelve of twenty-four, {classes} classes: how many are found, and could be at best"
    for name in [one for one in CHANGING if only in one]:
        for count in SESSIONS:
            for size in CHANGES_TOLERANCES:
                hits, of, points = found_changes(size, count, UNCHANGED[name], seeds)
                best, not_told = best_test(size, count, UNCHANGED[name])
                yield (
                    f"  form: {name:21} {count:3} sessions, {size:.1f} tolerances = {points:3.0f} points:"
                    f" {hits:4} of {of:4} = {100.0 * hits / of:3.0f} %, at best {100.0 * best:3.0f} %,"
                    f" not told how form goes {100.0 * not_told:3.0f} %"
                )
