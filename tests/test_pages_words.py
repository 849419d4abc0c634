"""What the sections of a hold's page say: sides, spreads, order and shares, each against a document written for it."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from analyser.pages import captions
from analyser.pages.circuit_views import (
    Judged,
    circuit_advice,
    circuit_rows,
    folded_together,
    main_cause,
    shown_first,
)
from analyser.pages.figures.strips import Band, Strip
from analyser.pages.opening import opening
from analyser.pages.pictures import waterfall_pictures
from analyser.pages.shown_hold import course_words, disagreement, hold_view, sections
from analyser.pages.subject import hold_series, spans
from analyser.pages.template import environment
from analyser.pages.words import measured
from analyser.rules.graded_items import item_of
from analyser.schema.debrief_file import (
    WrittenArrival,
    WrittenCircuit,
    WrittenEntry,
    WrittenHold,
    WrittenInterception,
    WrittenNumber,
    WrittenScore,
)
from tests.pages_fixture import debriefed, excursion, rendered, typed


@cache
def written() -> WrittenHold:
    return typed(debriefed()[1]).holds[0]


@cache
def shown() -> dict[str, Any]:
    made, plain = debriefed()
    document = typed(plain)
    return hold_view(made.holds[0], document, 1, None)


def results(hold: WrittenHold) -> dict[str, str]:
    """What the headings of a hold's sections say."""
    return {one.key: words(one.result) for one in sections(hold, typed(debriefed()[1]))}


def words(markup: object) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", str(markup))).strip()


def score(value: float, sd: float | None = 1.0) -> WrittenScore:
    return WrittenScore(points=50.0, value=value, target=60.0, tolerance=5.0, verdict="outside", unit="s", sd=sd,
                        deviation=None, reference=None, obtained="logged", rule=None, why=None, note=None)  # fmt: skip


@pytest.mark.parametrize(
    ("off_nm", "said"), [(0.42, "0.42 NM right"), (-0.3, "0.30 NM left"), (0.001, "0.00 NM on it")]
)
def test_the_table_says_the_side_of_a_roll_out(off_nm: float, said: str) -> None:
    one = written().circuits[0]
    assert one.inbound_turn is not None
    off = replace(one, inbound_turn=replace(one.inbound_turn, rollout_cross_track_nm=off_nm))
    ((_, cells),) = circuit_rows([off], None)
    assert words(cells[4].value) == said


def test_a_bank_is_told_without_its_side_and_marked_where_the_file_says_so() -> None:
    one = written().circuits[0]
    assert one.outbound_turn is not None
    left = replace(one.outbound_turn, bank_mean=-17.26, bank_target=25.0, bank_verdict="outside")
    ((_, cells),) = circuit_rows([replace(one, outbound_turn=left)], None)
    assert (words(cells[2].value), words(cells[2].target), cells[2].outside) == ("17.3°", "25.0°", True)


def test_what_lay_outside_is_marked_in_its_own_column() -> None:
    one = written().circuits[0]
    places = {"wind_correction": 1, "track": 7, "altitude": 9, "speed": 10}
    for item, place in places.items():
        scores = {key: replace(value, verdict="within") for key, value in one.scores.items()}
        scores[item] = replace(scores[item], verdict="outside")
        ((_, cells),) = circuit_rows([replace(one, scores=scores)], None)
        assert [n for n, cell in enumerate(cells) if cell.outside and n not in (2, 3)] == [place], item


def test_an_uncertainty_is_two_sigmas() -> None:
    found = Judged(item_of("timing"), score(72.0, sd=1.25))
    assert words(found.uncertainty) == "±2.5 s"
    assert (words(found.tolerance), words(found.target), found.score.outside) == ("±5 s", "60 s", True)
    assert words(Judged(item_of("timing"), score(72.0, sd=None)).uncertainty) == "not known"
    heading = replace(score(72.0, sd=95.0), unit="°")
    assert words(Judged(item_of("wind_correction"), heading).uncertainty) == "not known"
    # Of an angle half a circle to either side says nothing; less does, and of seconds so many do.
    better = Judged(item_of("wind_correction"), replace(heading, sd=4.0))
    assert words(better.uncertainty) == "±8.0°"
    assert words(Judged(item_of("timing"), score(72.0, sd=95.0)).uncertainty) == "±190.0 s"


def test_an_error_has_its_sign_and_what_it_is_an_error_from_for_a_target() -> None:
    plain = Judged(item_of("timing"), score(72.0, sd=None))
    assert (words(plain.value), words(plain.target)) == ("72 s", "60 s")
    high = replace(score(120.0, sd=None), unit="ft", reference=4000.0, target=0.0)
    found = Judged(item_of("altitude"), high)
    assert words(found.value).startswith("+120 ft") and words(found.target).startswith("4,000 ft")
    assert words(Judged(item_of("altitude"), replace(high, value=None)).value) == "not known"


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (None, "none"),
        (WrittenNumber(value=263.4, unit="°", reference="true"), "260°M 263°T"),
        (WrittenNumber(value=12.4, unit="°", reference=None), "12°"),
        (WrittenNumber(value=0.456, unit="NM", reference=None), "0.46 NM"),
        (WrittenNumber(value=71.6, unit="s", reference=None), "72 s"),
        (WrittenNumber(value=1000.0, unit="ft", reference=None), "1,000 ft 305 m"),
    ],
)
def test_a_number_of_the_file_is_written_with_its_unit_and_a_direction_by_both_norths(
    found: WrittenNumber | None, said: str
) -> None:
    """3.2° east of true: magnetic directions are so much less; a foot is 0.3048 m."""
    assert words(measured(found, 3.2)) == said


def test_advice_comes_in_the_order_of_its_rank() -> None:
    one = written().circuits[0]
    shares = [replace(share, advice=None, rank=None) for share in one.error_budget]
    shares[0] = replace(shares[0], advice="the second", rank=2, fly=None, flown=None)
    shares[1] = replace(shares[1], advice="the first", rank=1, fly=None, flown=None)
    told = replace(one, error_budget=tuple(shares))
    assert [words(said) for said in circuit_advice(told, None)] == ["the first", "the second"]
    assert main_cause(told) == shares[1].cause


def test_the_worst_the_best_and_the_last_circuit_are_opened() -> None:
    one = written().circuits[0]
    points = [70.0, 40.0, None, 95.0, 60.0, 80.0, 81.0]
    circuits = [replace(one, number=number, points=given) for number, given in enumerate(points, 1)]
    assert shown_first(circuits) == {2, 4, 7}
    views = shown()["circuits"]
    assert folded_together(views) == []
    many = [replace(views[0], doc=replace(one, number=number), opened=number == 1) for number in range(1, 8)]
    assert [one.doc.number for one in folded_together(many)] == [2, 3, 4, 5, 6, 7]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"definition": "inferred", "inbound_course_sd": 4.4}, "263°T inbound, course inferred ±9°"),
        ({"definition": "given", "inbound_course_sd": None}, "263°T inbound, as given"),
        ({"definition": "inferred", "inbound_course_sd": 0.2}, "263°T inbound, course inferred ±1°"),
    ],
)
def test_the_course_is_said_with_two_sigmas(changed: dict[str, object], said: str) -> None:
    hold = replace(written(), inbound_course_true=263.0, variation=None, other_end=None, **changed)  # type: ignore[arg-type]
    assert words(course_words(hold)) == said


@pytest.mark.parametrize(
    ("turned_deg", "hand", "said"),
    [
        (8.0, "right", "course 8° further right"),
        (-3.0, "right", "course 3° further left"),
        (0.2, "left", "the same course, turns to the left"),
    ],
)
def test_how_far_the_flight_disagrees_with_the_given_hold(turned_deg: float, hand: str, said: str) -> None:
    hold = written()
    assert hold.inferred is not None and hold.turns == "right"
    fix = replace(hold.inferred.fix, lat=hold.fix.lat + 0.5 / 60.0, lon=hold.fix.lon)
    course = (hold.inbound_course_true + turned_deg) % 360.0
    found = replace(hold.inferred, fix=fix, inbound_course_true=course, turns=hand)
    # Half a minute of latitude is half a nautical mile.
    assert disagreement(replace(hold, inferred=found)) == f"fix 0.50 NM away, {said}"
    assert disagreement(replace(hold, definition="inferred", inferred=found)) is None


def entry(**changed: object) -> WrittenEntry:
    arrival = WrittenArrival(speed_at_fix_kias=None, speed_before_kias=None, limit_kias=230.0, slowed_before_fix_s=None,
                             verdict="within", rule="")  # fmt: skip
    known = written().entry
    assert known is not None
    bare: dict[str, object] = {
        "angle": None, "time": None, "off_side_nm": None, "turn_back": None, "turn_back_right_way": None,
        "interception": None, "arrival": arrival,
    }  # fmt: skip
    return replace(known, **(bare | changed))  # type: ignore[arg-type]


def facts(one: WrittenEntry) -> dict[str, tuple[str, bool]]:
    html = environment().get_template("entry_facts.html").render(entry=one, judged=[])
    found = re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", html)
    return {
        name: (words(value.split('<span class="hide">')[0]), 'class="num out"' in value)
        for name, value in found
    }


def test_the_facts_of_an_entry_have_their_sides_and_verdicts() -> None:
    assert facts(entry()) == {}
    assert facts(entry(turn_back=-205.0, turn_back_right_way=False)) == {"Turn back": ("205° left", True)}
    assert facts(entry(turn_back=205.0, turn_back_right_way=True)) == {"Turn back": ("205° right", False)}
    meeting = WrittenInterception(rollout_cross_track_nm=-0.4, angle=-31.0, met_at_nm=None)
    met = facts(entry(interception=meeting))
    assert met["Rolled out off the course by"] == ("0.40 NM", False)
    assert met["Angle to the course there"] == ("31°", False)
    assert met["Course met before the fix at"] == ("not before the fix", False)
    assert (
        facts(entry(interception=replace(meeting, met_at_nm=1.24)))["Course met before the fix at"][0]
        == "1.2 NM"
    )


def test_the_facts_of_an_arrival_say_when_the_aircraft_was_slow() -> None:
    arrival = entry().arrival
    fast = replace(
        arrival, speed_at_fix_kias=241.0, speed_before_kias=268.0, slowed_before_fix_s=0.0, verdict="outside"
    )
    said = facts(entry(arrival=fast))
    assert said["Speed over the fix"] == ("241 KIAS, limit 230", True)
    assert said["Speed three minutes before"] == ("268 KIAS", False)
    assert said["At holding speed"] == ("not before the fix", False)
    slow = replace(arrival, speed_at_fix_kias=200.0, slowed_before_fix_s=95.0)
    said = facts(entry(arrival=slow))
    assert said["Speed over the fix"][1] is False and said["At holding speed"][0] == "95 s before the fix"


@pytest.mark.parametrize(
    ("margins", "strayed", "said"),
    [
        ((0.62, 0.31), False, "inside the drawn area, 0.31 NM to spare"),
        ((0.62, -0.2), True, "outside the drawn area by 0.20 NM"),
        # Below it stands that it cannot be told: the heading must not have told it.
        ((0.62, -0.2), None, "cannot be told: 0.20 NM outside the drawn area"),
        ((0.62, 0.02), None, "cannot be told: 0.02 NM inside the drawn area"),
        ((), None, "not measured"),
    ],
)
def test_the_heading_of_the_holding_area_says_the_nearest_edge(
    margins: tuple[float, ...], strayed: bool | None, said: str
) -> None:
    area = written().airspace
    assert area is not None
    edges = tuple(replace(area.edges[0], margin_nm=margin) for margin in margins)
    changed = replace(written(), airspace=replace(area, entry=None, circuits=edges, strayed=strayed))
    assert results(changed)["airspace"] == said


def test_the_shares_of_the_holding_area_are_in_hundredths() -> None:
    inside = written().airspace
    assert inside is not None and inside.inside_share is not None
    said = re.search(r"Of the recorded time (.*?)[.] Figures", words(rendered(*debriefed())))
    assert said and said[1].startswith(f"{inside.inside_share * 100.0:.1f} % inside, ")
    assert sum(float(share.split()[0]) for share in said[1].split(", ")) == pytest.approx(100.0, abs=0.2)


def test_the_heading_of_the_wind_has_two_sigmas_and_where_it_comes_from() -> None:
    wind = replace(written().wind, from_true=330.0, speed_kt=14.0, sd_kt=0.65, source="turns")
    assert results(replace(written(), wind=wind, variation=None))["wind"] == "330°T 14 ±1.3 kt, from turns"
    calm = replace(wind, from_true=None, speed_kt=None)
    assert results(replace(written(), wind=calm))["wind"] == "not known from this log"


def test_the_headings_count_what_they_fold_away() -> None:
    counts = [item for circuit in shown()["circuits"] for item in circuit.counted]
    outside, counted = (
        sum(item.score.outside for item in counts),
        sum(item.score.points is not None for item in counts),
    )
    said = results(written())
    assert said["numbers"] == f"{outside} of {counted} judged numbers outside tolerance"
    assert counted > outside > 0
    findings = [one.severity for one in written().findings]
    assert said["findings"].startswith(f"{findings.count(findings[0])} {findings[0]}")


def test_praise_does_not_point_at_a_circuit() -> None:
    """The plan shows the circuit that the first finding speaks of; where that one is good, the whole hold."""
    hold = written()
    first = replace(hold.findings[0], severity="improve", circuits=(3,))
    assert opening(replace(hold, findings=(first,))).circuit == 3
    assert opening(replace(hold, findings=(replace(first, severity="good"),))).circuit is None
    assert opening(replace(hold, findings=())).circuit is None


def test_the_exact_circuit_to_fly_next_stands_at_the_end_of_what_is_shown() -> None:
    last = shown()["steps"][-1]
    ideal = written().circuits[-1].ideal
    numbers = {name: words(value) for name, value in last.numbers}
    assert last.title == "Next time, in the same wind"
    assert ideal.outbound_timed_s is not None and ideal.outbound_time_s is not None and ideal.bank is not None
    assert numbers["Outbound, by the clock"] == f"{ideal.outbound_timed_s:.0f} s"
    differs = round(ideal.outbound_timed_s) != round(ideal.outbound_time_s)
    assert ("From wings level" in numbers) == differs
    assert numbers["Bank"] == f"{ideal.bank:.0f}°"


def with_rollout(circuit: WrittenCircuit, off_nm: float) -> WrittenCircuit:
    assert circuit.inbound_turn is not None
    return replace(circuit, inbound_turn=replace(circuit.inbound_turn, rollout_cross_track_nm=off_nm))


def test_the_plans_caption_names_the_widest_roll_out_to_either_side() -> None:
    hold = written()
    circuits = tuple(
        with_rollout(one, off_nm) for one, off_nm in zip(hold.circuits, (0.2, -0.5, 0.3), strict=True)
    )
    said = words(captions.plan(replace(hold, circuits=circuits)))
    assert said.endswith("Widest roll-out: 0.50 NM left of the course, circuit 2.")


def test_a_plan_says_that_its_exact_circuit_lies_elsewhere_only_where_it_does() -> None:
    for turns, other in (("right", -1), ("left", 1)):
        hold = replace(written(), turns=turns)
        told = {side: "drawn to the" in captions.plan(hold, exact_side=side) for side in (None, 1, -1)}
        assert told == {None: False, other: True, -other: False}


def test_a_plan_without_an_exact_circuit_does_not_say_that_one_is_drawn() -> None:
    hold = written()
    none = tuple(replace(one, ideal=replace(one.ideal, closes=False)) for one in hold.circuits)
    assert "exact circuit" in words(captions.plan(hold))
    assert "exact circuit" not in words(captions.plan(replace(hold, circuits=none)))


def test_the_plan_says_to_which_side_it_draws_the_exact_circuit_of_a_hold_flown_to_the_wrong_hand() -> None:
    hold = written()
    asked = 1 if hold.turns == "right" else -1
    assert "other side" not in words(captions.plan(hold, exact_side=asked))
    said = words(captions.plan(hold, exact_side=-asked))
    flown = {"right": "left", "left": "right"}[hold.turns]
    assert f"drawn to the {flown} as it was flown; the hold lies on the other side" in said


def test_a_hold_too_coarse_to_judge_is_not_headed_by_something_to_improve() -> None:
    hold = written()
    coarse = replace(
        hold.findings[0], kind="not judged", severity="improve", sentence="Too little was judged."
    )
    first = opening(replace(hold, findings=(coarse, *hold.findings))).findings[0]
    assert first.label == "not judged"
    assert opening(hold).findings[0].label == hold.findings[0].severity


def test_the_air_mass_views_caption_names_the_flattest_and_the_steepest_turn() -> None:
    one = written().circuits[0]
    assert one.outbound_turn is not None and one.inbound_turn is not None
    turns = {"outbound_turn": replace(one.outbound_turn, bank_mean=-12.34)}
    banked = replace(one, **turns, inbound_turn=replace(one.inbound_turn, bank_mean=-21.0))  # type: ignore[arg-type]
    said = words(captions.air(replace(written(), circuits=(banked,))))
    assert said.endswith("Flattest turn 12.3° (outbound, circuit 1), steepest 21.0° (inbound, circuit 1).")


def test_a_strips_caption_sums_what_lay_outside_and_names_the_worst() -> None:
    time_s, value = np.arange(5.0), np.array([3990.0, 4150.0, np.nan, 3800.0, 4000.0])
    outside = (excursion(11.0, 21.0, 15.0, 150.0), excursion(30.0, 30.2, 30.1, -200.0))
    strip = Strip("altitude", "Altitude", "ft", 0, time_s, value, None, [Band(0.0, 40.0, 3900.0, 4100.0, 4000.0)],
                  outside=outside)  # fmt: skip
    said = words(captions.strip(strip, 10.0))
    assert "outside the band for 11 s" in said and said.endswith("at 0:20.") and "−200" in said
    assert words(captions.strip(replace(strip, outside=()), 10.0)).endswith(
        "inside the band wherever it applies."
    )
    # A speed held within its band may still be beyond the limit: the caption must not praise it.
    fast = replace(strip, outside=(), also="up to 25 kt above the maximum holding speed")
    assert words(captions.strip(fast, 10.0)).endswith(", but up to 25 kt above the maximum holding speed.")
    assert words(captions.strip(replace(fast, outside=outside), 10.0)).endswith("at 0:20; " + fast.also + ".")
    assert words(captions.strip(replace(strip, bands=()), 10.0)).endswith("not judged.")


def test_the_winds_caption_gives_two_sigmas() -> None:
    hold = written()
    known = replace(hold, wind=replace(hold.wind, sd_kt=0.85))
    assert words(captions.wind(known)).endswith("The wind is known to ±1.7 kt along either axis.")
    assert "±" not in words(captions.wind(replace(hold, wind=replace(hold.wind, sd_kt=None))))


def test_the_error_budget_is_drawn_with_the_largest_share_first() -> None:
    one = written().circuits[0]
    sizes = (0.1, -0.6, 0.3)
    shares = tuple(
        replace(share, cross_track_nm=size, time_s=None)
        for share, size in zip(one.error_budget[:3], sizes, strict=True)
    )
    assert one.error is not None
    largest = captions.cause_words(shares[1].cause)
    # What was measured, as it stands elsewhere; else what the shares add up to.
    for error, said in ((replace(one.error, cross_track_nm=-0.21), "−0.21"), (None, "−0.20")):
        (drawn,) = waterfall_pictures(replace(one, error_budget=shares, error=error))
        assert drawn.finding == f"{said} NM in all. Largest share: {largest}, −0.60 NM."


def test_the_strips_begin_half_a_minute_before_the_fix_and_end_soon_after_the_hold() -> None:
    flown = debriefed()[0].holds[0].flown
    first_s, last_s = flown.motion.time_s[[0, -1]]
    end_s = max(circuit.end_s for circuit in flown.circuits)
    window = shown()["replay"]["window"]
    assert flown.entry is not None
    assert window == pytest.approx(
        [max(first_s, flown.entry.fix_s - 30.0), min(last_s, end_s + 15.0)], abs=0.06
    )


def test_the_first_step_names_its_picture_by_the_circuits_drawn() -> None:
    assert 'aria-label="Circuits 1, 2, 3 over the exact one."' in shown()["steps"][0].picture.svg


def test_each_circuit_is_shown_with_its_points_and_what_came_of_it() -> None:
    steps = shown()["steps"]
    for circuit in written().circuits:
        (step,) = [one for one in steps if one.title.startswith(f"Circuit {circuit.number}:")]
        assert circuit.points is not None
        assert step.title == f"Circuit {circuit.number}: {circuit.points:.0f} points"
        assert words(step.says).startswith(words(captions.circuit(circuit)))
        assert words(captions.cause_words(main_cause(circuit) or "")) in words(step.says)


def test_what_cost_most_on_a_circuit_is_shown_again_put_right() -> None:
    """Each circuit has its step; after it, where its main fault could be flown right, one with what came of that."""
    document, steps = written(), shown()["steps"]
    titles = iter([one.title for one in steps[1:-1]])
    seen = 0
    for circuit in document.circuits:
        assert next(titles).startswith(f"Circuit {circuit.number}:")
        again = [one for one in circuit.reflown if one.cause == main_cause(circuit)]
        for way in again:
            cause, off_nm = captions.cause_words(way.cause), way.rollout.cross_track_nm
            title = f"Circuit {circuit.number} again, with the {cause} right"
            assert next(titles) == title
            (step,) = [one for one in steps if one.title == title]
            assert off_nm is not None
            said = (
                "on the course"
                if round(off_nm, 2) == 0.0
                else f"{abs(off_nm):.2f} NM {'right' if off_nm > 0 else 'left'}"
            )
            assert said in words(step.says) and f"again with the {cause} right" in step.picture.svg
            seen += 1
    assert next(titles, None) is None and seen >= 2


def test_of_many_circuits_the_first_step_shows_those_that_are_opened() -> None:
    made, plain = debriefed(circuits=8)
    view = hold_view(made.holds[0], typed(plain), 1, None)
    opened = sorted(one.doc.number for one in view["circuits"] if one.opened)
    assert len(opened) < 8
    assert (
        f'aria-label="Circuits {", ".join(map(str, opened))} over the exact one."'
        in view["steps"][0].picture.svg
    )


def test_the_ribbons_caption_says_when_each_circuit_began_since_the_arrival() -> None:
    flown = debriefed()[0].holds[0].flown
    said = words(captions.ribbon(spans(flown), flown.start_s, [flown.start_s + 61.0]))
    for circuit in flown.circuits:
        minutes, seconds = divmod(round(circuit.start_s - flown.start_s), 60)
        assert f"; circuit {circuit.number} from {minutes}:{seconds:02d}" in said
    assert said.count("; circuit") == len(flown.circuits) and "Dotted upright at 1:01:" in said


def test_the_side_views_caption_says_the_lowest_and_the_highest() -> None:
    series = hold_series(debriefed()[0].holds[0].flown)
    heights = np.where(np.arange(series.altitude_ft.size) % 7 == 0, np.nan, 4000.0)
    heights[10:12] = 3870.0, 4210.0
    said = words(captions.side(replace(series, altitude_ft=heights)))
    assert re.search(r"inbound from left to right: 3,870 ft .*to 4,210 ft", said)


@pytest.mark.parametrize(
    ("verdict", "recommended", "said"),
    [
        ("correct", True, "correct"),
        ("correct", False, "not the one recommended"),
        ("incorrect", True, "incorrect"),
    ],
)
def test_the_caption_of_the_sectors_says_what_was_asked_for_and_what_was_flown(
    verdict: str, recommended: bool, said: str
) -> None:
    found = entry(arrival_heading_true=150.0, sectors_allowed=("offset", "direct"), flown="parallel",
                  verdict=verdict, recommended=recommended)  # fmt: skip
    told = words(captions.entry(replace(written(), entry=found, variation=None)))
    assert told == f"Heading 150°T over the fix asks for offset or direct. Flown: parallel, {said}."
    assert "no arrival to judge" in words(captions.entry(replace(written(), entry=None)))


@pytest.mark.parametrize(
    ("points", "said"), [(82.4, "offset, correct, 82 points"), (None, "offset, correct")]
)
def test_the_heading_of_the_entry_says_what_was_flown_and_its_points(points: float | None, said: str) -> None:
    found = entry(flown="offset", verdict="correct", points=points)
    assert results(replace(written(), entry=found))["entry"] == said
    assert results(replace(written(), entry=None))["entry"] == "the log starts inside the hold"


@pytest.mark.parametrize(
    ("minutes", "miles", "said"),
    [(1.5, None, "1.5 min legs"), (None, 4.0, "4 NM legs"), (None, None, "leg not known")],
)
def test_the_heading_of_the_hold_says_course_hand_leg_and_level(
    minutes: float | None, miles: float | None, said: str
) -> None:
    leg = replace(written().leg, minutes=minutes, distance_nm=miles)
    hold = replace(
        written(), leg=leg, inbound_course_true=263.0, variation=None, turns="left", level_ft=4000.0
    )
    told = results(hold)["detail"].replace(" ,", ",")
    assert told.startswith(f"263°T inbound, left-hand, {said}, 4,000 ft")
    assert results(replace(hold, level_ft=None))["detail"].endswith("height not known")
