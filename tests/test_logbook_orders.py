"""What order decides in a logbook (which grade stands, what is last, what comes first) and where limits lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest

from analyser.logbook import trend
from analyser.logbook.book import Logbook
from analyser.logbook.classes import compare, readiness
from analyser.logbook.documents import iso_utc
from analyser.logbook.marks import in_order
from analyser.logbook.progress import learn, progress_of
from analyser.logbook.sessions import Grade, Session
from analyser.logbook.trend import (
    UNKNOWN_COST,
    Fits,
    Series,
    WindCost,
    beside_others,
    fit_forms,
    forms_met,
    wind_cost,
)
from analyser.rules.scales import load_scale
from tests.club import term
from tests.logbook_documents import document

NOW = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
MODEL = term.sessions(class_of=term.members()[:1])[0]


def given(grader: str | None, level: str, *, item: str = "bank", withdrawn: bool = False) -> Grade:
    taken = NOW if withdrawn else None
    place = int(level)
    return replace(
        MODEL.grades[-1],
        grader=grader,
        level=level,
        place=place,
        item=item,
        given_as="instructor",
        withdrawn=taken,
    )


def standing(instructor: str | None, *grades: Grade) -> list[tuple[str | None, str]]:
    found = replace(MODEL, instructor=instructor, grades=grades).counting_grades()
    return [(one.grader, one.level) for one in found.get((1, "bank", "instructor"), [])]


def test_which_grade_stands() -> None:
    """Of one person's the last; of several the session's own instructor's, else that of whoever graded first."""
    first, second, again = given("Abe", "3"), given("Bo", "4"), given("Abe", "5")
    assert standing(None, first, second, again) == [("Abe", "5"), ("Bo", "4")]
    assert standing("Bo", first, second, again) == [("Bo", "4"), ("Abe", "5")]
    assert standing("Cy", first, second, again) == [("Abe", "5"), ("Bo", "4")]
    # What was withdrawn lets the one before it stand again; whoever has nothing left does not count.
    assert standing(None, first, second, replace(again, withdrawn=NOW)) == [("Abe", "3"), ("Bo", "4")]
    assert standing(None, replace(first, withdrawn=NOW), second) == [("Bo", "4")]
    assert standing("Abe", given(None, "2"), first) == [("Abe", "3"), (None, "2")]
    # Whoever has been erased is not the instructor of a session that names none.
    assert standing(None, first, given(None, "2")) == [("Abe", "3"), (None, "2")]


def test_the_last_session_is_the_one_recorded_last_also_within_one_second(tmp_path: Path) -> None:
    """And not the one flown last, nor the one whose log's hash comes last."""
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        keys = [
            book.record(document(mark), pilot="Ada Vane", flown=NOW - timedelta(days=mark)).session
            for mark in range(4)
        ]
        assert book.session("last").key == keys[-1]
        assert [one.key for one in book.sessions()] == keys[::-1], "the list goes by the day flown"


def test_sessions_of_one_instant_keep_their_order(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        for mark in range(4):
            book.record(document(mark), pilot="Ada Vane", flown=NOW)
        book.record(document(0), pilot="Ada Vane", flown=NOW, flight=2)
        keys = [one.key for one in book.sessions()]
        assert keys == sorted(keys), "by the log's hash, and then by its flights"


def test_every_instant_is_written_so_that_texts_sort_as_instants_do() -> None:
    east = datetime(2026, 1, 1, 1, 30, tzinfo=UTC).astimezone(tz=None)
    moments = [datetime(5, 1, 2, tzinfo=UTC), datetime(999, 12, 31), datetime(1969, 7, 20), east, NOW]
    written = [iso_utc(one) for one in moments]
    assert written == sorted(written) and {len(one) for one in written} == {20}
    assert written[3] == "2026-01-01T01:30:00Z"
    assert all(datetime.fromisoformat(one).utcoffset() == timedelta(0) for one in written)


def test_items_stand_as_an_instructor_goes_through_a_hold_and_unknown_ones_last() -> None:
    assert in_order(["zeal", "overall", "speed", "timing", "entry", "art", "timing"]) == [
        "entry",
        "timing",
        "speed",
        "art",
        "overall",
        "zeal",
    ]


# Who is ready, who is stuck.


def pilot_with(points: Sequence[float]) -> list[Session]:
    """Sessions a week apart in which every circuit's bank had these points, and all else 90."""
    made = []
    for number, one in enumerate(points):
        plain = document(number)
        plain["log"]["start_utc"] = iso_utc(NOW + timedelta(weeks=number))
        plain["schema"] = 2
        for hold in plain["holds"]:
            hold["findings"] = []
            hold["entry"]["verdict"], hold["entry"]["points"] = "correct", 100.0
            for circuit in hold["circuits"]:
                for key, score in circuit["scores"].items():
                    score |= {"points": one if key == "bank" else 90.0, "verdict": "within"}
        made.append(
            replace(
                MODEL,
                log_sha256=plain["log"]["sha256"],
                flown=NOW + timedelta(weeks=number),
                debrief=replace(MODEL.debrief, document=plain),
                grades=(),
            )
        )
    return made


@pytest.mark.parametrize(
    ("points", "state"),
    [
        ([60.0, 60.0], "too few sessions"),
        ([90.0, 90.0, 90.0], "ready"),
        # At the points asked for is not below them.
        ([70.0, 70.0, 70.0], "ready"),
        ([69.9, 69.9, 69.9], "on the way"),
        ([60.0, 60.0, 60.0, 60.0], "on the way"),
        ([60.0, 60.0, 60.0, 60.0, 60.0], "stuck"),
        # Risen, though not for certain: not stuck.
        ([20.0, 20.0, 22.0, 20.0, 66.0, 64.0, 66.0, 65.0], "on the way"),
    ],
)
def test_who_stands_where(points: list[float], state: str) -> None:
    sessions = pilot_with(points)
    found = progress_of(MODEL.pilot, sessions, scale=load_scale(), on=NOW.date())
    assert readiness(found).state == state
    assert [one.item.key for one in readiness(found).below] == (["bank"] if min(points[-4:]) < 70.0 else [])


def test_exercises_go_from_the_best_to_the_worst_and_what_has_no_points_last() -> None:
    (one,) = pilot_with([80.0])
    made = []
    for place, points in enumerate([40.0, None, 90.0]):
        plain = document(f"exercise {place}")
        plain["holds"][0]["points"] = points
        kept = replace(one.debrief, document=plain)
        made.append(replace(one, log_sha256=f"{place:064x}", pilot=f"Pilot {place}", debrief=kept))
    ((_, flown),) = compare(made, load_scale()).exercises
    assert [each.hold.points for each in flown] == [90.0, 40.0, None]
    assert compare([replace(each, pilot="One") for each in made], load_scale()).exercises == ()


# The trend's own rules.


def series(weeks: Sequence[float], points: Sequence[float], *, noise: float = 4.0) -> Series:
    count = len(weeks)
    return Series(np.array(weeks, float), np.array(points, float), np.full(count, 0.1), np.full(count, noise))


def test_a_trend_is_spoken_of_from_five_sessions_on_two_days() -> None:
    day = 1.0 / 7.0
    assert series([0, 0, 0, 0, day], range(5)).enough
    assert not series([0, 0, 0, 0, 0.99 * day], range(5)).enough
    assert not series([0, 1, 2, 3], range(4)).enough


def form(size: float, stays: float) -> int:
    """Where a form of this size and correlation stands among those that are held possible."""
    (place,) = [
        n for n, one in enumerate(trend._FORMS) if (one.size, one.stays) == (size, stays) and not one.walks
    ]
    return place


@pytest.mark.parametrize(
    ("weeks", "steps"),
    [
        ([0, 1, 2, 3, 4], [1, 1, 1, 1]),
        # However long the usual pause is, it is one step.
        ([0, 3, 6, 9, 12], [1, 1, 1, 1]),
        # Half a step for flying again, half for each usual pause: a long one counts more, the same day half.
        ([0, 1, 2, 3, 8], [1, 1, 1, 3]),
        ([0, 1, 1, 2, 3], [1, 0.5, 1, 1]),
    ],
)
def test_form_moves_with_flying_and_with_time(weeks: list[float], steps: list[float]) -> None:
    fits = fit_forms(series(weeks, [50, 52, 49, 51, 50]), UNKNOWN_COST, reference_share=0.1)
    # Form of variance 2 over noise of variance 1: of what two sessions vary by, two thirds is form.
    expected = np.mean([2.0 / 3.0 * 0.6**step for step in steps])
    assert fits.neighbours[form(2.0, 0.6)] == pytest.approx(expected)
    assert fits.neighbours[0] == 0.0, "steady form has no correlation"


def test_how_common_a_form_is_starts_from_what_is_held_and_follows_what_is_seen() -> None:
    """Each of n pilots surely of one kind, held before as five: (5 · held + n) / (5 + n)."""
    kind = form(2.0, 0.6)
    surely = np.full(len(trend._FORMS), 1e-12)
    surely[kind] = 1.0
    for pilots in (1, 5, 45):
        expected = (5.0 * trend._FORMS[kind].held + pilots) / (5.0 + pilots)
        assert forms_met([surely] * pilots)[kind] == pytest.approx(expected, abs=1e-6)


def test_the_limits_leave_out_what_they_say() -> None:
    """Of one kind of form they are the normal quantiles; of several each side of the mixture has its tail."""
    first, second = NormalDist(2.0, 0.5), NormalDist(-1.0, 2.0)
    middles, sds = (np.array([getattr(one, name) for one in (first, second)]) for name in ("mean", "stdev"))
    fits = Fits(
        weeks=np.arange(5.0),
        beta=np.column_stack([np.zeros(2), middles, np.zeros(2)]),
        covariance=np.array([np.diag([1.0, one**2, 1.0]) for one in sds]),
        likelihoods=np.ones(2),
        neighbours=np.zeros(2),
    )
    alone = fits.slope(np.array([1.0, 0.0]), tail=0.01)
    assert (alone.low, alone.high) == pytest.approx((first.inv_cdf(0.01), first.inv_cdf(0.99)), abs=1e-6)
    share = np.array([0.25, 0.75])
    both = fits.slope(share, tail=0.01)
    assert both.per_week == pytest.approx(0.25 * 2.0 - 0.75)
    for limit, level in ((both.low, 0.01), (both.high, 0.99)):
        assert 0.25 * first.cdf(limit) + 0.75 * second.cdf(limit) == pytest.approx(level, abs=1e-6)


def others(**points: Sequence[float]) -> dict[str, Series]:
    weeks = np.arange(8.0)
    return {key: series(weeks, weeks * 0.0 + np.array(values)) for key, values in points.items()}


FREE = WindCost(0.0, 1.0)


def beside(found: dict[str, Series]) -> Fits | None:
    return beside_others("bank", found, dict.fromkeys(found, FREE), reference_share=0.1)


def test_beside_the_others_the_highest_and_the_lowest_of_them_are_left_out() -> None:
    rises, flat = np.arange(8.0) * 8.0 + 30.0, np.full(8, 60.0)
    with_one = beside(others(bank=flat, timing=flat, track=rises, speed=flat, altitude=flat))
    assert with_one is not None and np.abs(with_one.beta[:, 1]) == pytest.approx(0.0, abs=0.05)
    with_two = beside(others(bank=flat, timing=rises, track=rises, speed=flat, altitude=flat))
    assert with_two is not None and (with_two.beta[:, 1] < -2.0).all()


def test_three_other_items_are_needed_to_look_beside_them() -> None:
    flat = np.full(8, 60.0)
    assert beside(others(bank=flat, timing=flat, track=flat, speed=flat)) is not None
    assert beside(others(bank=flat, timing=flat, track=flat)) is None


def test_what_wind_costs_is_told_by_no_fewer_than_four_sessions_beyond_each_pilots_own_line() -> None:
    weeks, wind = np.arange(6.0), np.array([0.0, 0.3, 0.1, 0.25, 0.05, 0.2])
    six = Series(weeks, 80.0 - 100.0 * wind, wind, np.full(6, 4.0))
    five = Series(*(part[:5] for part in vars(six).values()))
    assert wind_cost([five]) is UNKNOWN_COST
    told = wind_cost([six])
    assert told.per_share < -50.0 and told.sd < UNKNOWN_COST.sd
    assert wind_cost([five, five]).per_share < -50.0


def test_one_wild_session_does_not_say_what_form_is_like() -> None:
    """Beyond three sigma it counts no more: a wreck of 60 points and one of 90 tell the same of form."""
    weeks = np.arange(12.0)
    tame = 90.0 + np.array([1, -1, 2, 0, -2, 1, 0, -1, 2, -1, 1, 0.0])
    told = []
    for wild in (30.0, 0.0):
        points = tame.copy()
        points[5] = wild
        told.append(fit_forms(series(weeks, points), UNKNOWN_COST, reference_share=0.1).likelihoods)
    assert told[0] == pytest.approx(told[1], abs=0.02)


def test_the_reference_wind_is_the_middle_of_what_was_flown() -> None:
    sessions = pilot_with([80.0] * 3)
    shares = []
    for one in sessions:
        hold = one.debrief.document["holds"][0]
        shares.append(hold["wind"]["speed_kt"] / hold["tas_kt"])
    assert learn(sessions).reference_share == pytest.approx(round(float(np.median(shares)), 2))
    for one in sessions:
        one.debrief.document["holds"][0]["wind"] = None  # type: ignore[index]
    nobody = [replace(one, debrief=replace(one.debrief)) for one in sessions]
    assert learn(nobody).reference_share == 0.1
