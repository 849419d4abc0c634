"""Drawings over time: they do not depend on when the log began, and what stands at their scale is where it says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyser.pages.figures.canvas import Canvas
from analyser.pages.figures.charts import leaving
from analyser.pages.figures.strips import Band, Strip, ribbon, strip_sheet
from analyser.pages.subject import Span
from analyser.pages.words import nice_step
from tests.pages_fixture import excursion

#: A hold of two circuits within the first thousand seconds of a log.
SPANS = [
    Span("entry", 0, 20.0, 200.0, 20.0),
    *(
        Span(phase, number, start + begin, start + end, start + begin)
        for number, start in ((1, 200.0), (2, 560.0))
        for phase, begin, end in (
            ("outbound_turn", 0.0, 70.0),
            ("outbound_leg", 70.0, 150.0),
            ("inbound_turn", 150.0, 220.0),
            ("inbound_leg", 220.0, 360.0),
        )
    ),
]


def later(spans: list[Span], by_s: float) -> list[Span]:
    return [
        Span(one.phase, one.circuit, one.start_s + by_s, one.end_s + by_s, one.clock_s + by_s)
        for one in spans
    ]


def strip_of(begun_s: float) -> Strip:
    """A speed that leaves its band twice, is not known for a while, and has a sigma."""
    time_s = np.arange(0.0, 1000.0)
    value = 100.0 + 2.0 * np.sin(time_s / 50.0)
    value[300:320] += 15.0
    value[700:740] -= 18.0
    value[325:335] = np.nan
    bands = [Band(220.0 + begun_s, 500.0 + begun_s, 95.0, 105.0, 100.0, 0.5)]
    outside = [excursion(begun_s + start, begun_s + end, begun_s + worst, off)
               for start, end, worst, off in ((300.0, 319.0, 310.0, 15.0), (700.0, 739.0, 720.0, -18.0))]  # fmt: skip
    return Strip("speed", "Speed", "kt", 0, time_s + begun_s, value, np.full(1000, 1.0), bands,
                 outside=[replace(one, reference=100.0) for one in outside])  # fmt: skip


def same(one: Canvas, other: Canvas) -> bool:
    """Whether two drawings look the same: each line, each area, each word."""
    assert [(s.layer, len(s.pieces), s.edge, s.fill) for s in one.strokes] == [
        (s.layer, len(s.pieces), s.edge, s.fill) for s in other.strokes
    ]
    for first, second in zip(one.strokes, other.strokes, strict=True):
        for piece, beside in zip(first.pieces, second.pieces, strict=True):
            assert piece == pytest.approx(beside, abs=1e-6), first.layer
    for letter, word in zip(one.letters, other.letters, strict=True):
        assert (letter.text, letter.kind, letter.anchor) == (word.text, word.kind, word.anchor)
        assert (letter.x, letter.y) == pytest.approx((word.x, word.y), abs=1e-6), letter.text
    return True


@pytest.mark.parametrize("window_s", [(0.0, 999.0), (290.0, 760.0), (100.0, 330.0)])
def test_a_strip_looks_the_same_whenever_the_log_began(window_s: tuple[float, float]) -> None:
    drawn = [
        strip_sheet(
            strip_of(begun), later(SPANS, begun), (window_s[0] + begun, window_s[1] + begun), [begun + 400.0]
        )
        for begun in (0.0, 7200.0)
    ]
    assert same(*drawn)
    told = {letter.text for letter in drawn[0].letters if letter.text[0] in "▲▼"}
    assert told and len(drawn[0].strokes) > 8


@pytest.mark.parametrize("length_s", [980.0, 3000.0, 3900.0, 8000.0])
def test_a_ribbon_counts_from_the_arrival_and_looks_the_same_whenever_the_log_began(length_s: float) -> None:
    early, late = (
        ribbon(later(SPANS, begun), (begun, begun + length_s), begun + 20.0, [begun + 400.0])
        for begun in (0.0, 5400.0)
    )
    assert same(early, late)
    ticks = [letter for letter in early.letters if letter.kind.startswith("tick")]
    for letter in ticks:
        hours, minutes, seconds = ([0, *map(int, letter.text.split(":"))])[-3:]
        assert letter.x == pytest.approx(float(early.x(20.0 + 3600 * hours + 60 * minutes + seconds)))
    # Each that has room for its signs to either edge of the strip, on a phone, too: hours need half as much again.
    marks = [float(s.pieces[0][0, 0]) / early.width for s in early.strokes if s.layer == "axis"]
    hour = 20.0 + 3600.0
    clear = [
        share
        for share in marks
        if (edge := 0.08 if share * length_s > hour - 1.0 else 0.055) < share < 1.0 - edge
    ]
    assert [letter.x / early.width for letter in ticks] == pytest.approx(clear)
    assert len(clear) < len(marks)
    # The one at the arrival and each third after it are told on a phone, too.
    assert all(
        (letter.kind == "tick") == (number % 3 == first_of(ticks)) for number, letter in enumerate(ticks)
    )


def first_of(ticks: list) -> int:  # type: ignore[type-arg]
    """The place, of three, of the ticks that are told everywhere: counted from the arrival, at 0:00."""
    whole = [number for number, letter in enumerate(ticks) if letter.kind == "tick"]
    return whole[0] % 3


@pytest.mark.parametrize(("decimals", "unit"), [(0, 1.0), (0, 0.05), (2, 0.01)])
def test_figures_stand_at_the_round_values_of_a_strip_that_are_clear_of_its_edges(
    decimals: int, unit: float
) -> None:
    """Whatever the range: as many lines as fit of four steps at most, a figure at each that is not near an edge."""
    seen = 0
    for top in range(104, 150, 3):
        value = unit * np.linspace(100.0, float(top), 50)
        strip = Strip("cross", "Off", "NM", decimals, np.arange(50.0), value)
        canvas = strip_sheet(strip, [], (0.0, 49.0))
        low, high = canvas.window[2:]
        lines = [s.pieces[0] for s in canvas.strokes if s.layer == "axis"]
        assert all(line[:, 0] == pytest.approx([0.0, canvas.width]) for line in lines)
        at = [low + (1.0 - float(line[0, 1]) / canvas.height) * (high - low) for line in lines]
        finer = {1: 0.5, 2: 0.5, 5: 0.4}
        step = float(at[1] - at[0])
        first = int(f"{step:.0e}"[0])
        assert np.diff(at) == pytest.approx(step) and step == pytest.approx(float(f"{step:.0e}"))
        assert (high - low) / step <= 4.0 < (high - low) / (finer[first] * step)
        clear = [one for one in at if 0.06 < (one - low) / (high - low) < 0.94]
        # Whole where the steps are; else as fine as the strip, or a tenth.
        digits = 0 if step > 0.999 else max(decimals, 1)
        assert [one.text for one in canvas.letters] == [f"{one:.{digits}f}" for one in clear]
        for letter, figure in zip(canvas.letters, clear, strict=True):
            assert (letter.x, letter.anchor) == (pytest.approx(-4.0), "end")
            assert letter.y - 3.5 == pytest.approx(canvas.height - float(canvas.y(figure)))
        seen += len(at) - len(clear)
    assert seen > 3


def test_phases_stand_on_a_ribbon_from_their_begin_to_their_end_and_turns_are_shaded() -> None:
    canvas = ribbon(SPANS, (0.0, 1000.0), 200.0, [400.0])
    drawn = [s for s in canvas.strokes if s.layer == "flown"]
    assert [s.data["phase"] for s in drawn] == ["en", *(["ot", "ol", "it", "il"] * 2)]
    for stroke, span in zip(drawn, SPANS, strict=True):
        assert stroke.pieces[0][:, 0] == pytest.approx([span.start_s * 0.9, span.end_s * 0.9])
    # All on one line, between the minutes at the foot and the circuits' numbers in the head.
    heights = {float(y) for stroke in drawn for y in stroke.pieces[0][:, 1]}
    assert len(heights) == 1
    numbers = [one.y for one in canvas.letters if one.kind == "strong"]
    ticks = [s.pieces[0][:, 1].min() for s in canvas.strokes if s.layer == "axis"]
    assert max(numbers) + 5.0 < min(heights) < min(ticks) - 5.0
    shades = [s.pieces[0] for s in canvas.strokes if s.layer == "phases" and s.closed]
    turns = [span for span in SPANS if span.phase.endswith("turn")]
    for one, span in zip(shades, turns, strict=True):
        assert (one[:, 0].min(), one[:, 0].max()) == pytest.approx((span.start_s * 0.9, span.end_s * 0.9))
    assert all(np.ptp(one[:, 1]) == pytest.approx(46.0) for one in shades)
    begun = [float(s.pieces[0][0, 0]) for s in canvas.strokes if s.layer == "phases" and not s.closed]
    assert begun == pytest.approx([200.0 * 0.9, 560.0 * 0.9])
    (seam,) = [s.pieces[0] for s in canvas.strokes if s.layer == "seams"]
    assert seam[:, 0] == pytest.approx([360.0, 360.0]) and np.ptp(seam[:, 1]) == pytest.approx(46.0)


def test_what_lay_outside_is_drawn_over_the_line_for_as_long_as_it_lasted() -> None:
    canvas = strip_sheet(strip_of(0.0), [], (0.0, 900.0))
    heavy = [s.pieces[0] for s in canvas.strokes if s.layer == "outside" and not s.closed]
    assert [(float(one[:, 0].min()), float(one[:, 0].max())) for one in heavy] == [
        (300.0, 319.0),
        (700.0, 739.0),
    ]
    for one, off in zip(heavy, (15.0, -18.0), strict=True):
        at = 100.0 + 2.0 * np.sin(one[:, 0] / 50.0) + off
        assert one[:, 1] == pytest.approx(canvas.height - canvas.y(at), abs=0.5)


@pytest.mark.parametrize(("off_nm", "said"), [(0.31, "▲ +0.31 NM"), (-0.28, "▼ −0.28 NM")])
def test_a_part_of_a_mile_too_far_right_is_above_and_left_below(off_nm: float, said: str) -> None:
    spot = replace(excursion(480.0, 520.0, 500.0, off_nm), reference=0.0)
    strip = Strip("cross", "Off", "NM", 2, np.arange(1001.0), np.full(1001, 0.0), outside=[spot])
    canvas = strip_sheet(strip, [], (0.0, 1000.0))
    assert [letter.text for letter in canvas.letters if letter.text[0] in "▲▼"] == [said]


def test_an_excursion_of_one_sample_is_a_bar_that_can_be_seen() -> None:
    strip = replace(strip_of(0.0), outside=[excursion(310.0, 310.0, 310.0, 15.0)])
    canvas = strip_sheet(strip, [], (0.0, 900.0))
    (bar,) = [s.pieces[0] for s in canvas.strokes if s.layer == "outside" and s.closed]
    # A second is one unit there.
    assert np.ptp(bar[:, 0]) == pytest.approx(1.0) and bar[:, 0].min() == pytest.approx(310.0)


def test_the_worst_is_written_clear_of_what_is_known_of_the_line_beside_it() -> None:
    """The figures of a worst at 310 s stand above the higher peak beside it, as far as they reach, and no farther."""
    for peak_s, beside in ((360.0, True), (410.0, True), (434.0, False)):
        time_s = np.arange(0.0, 1000.0)
        value = np.full(1000, 100.0)
        value[300:320] = 115.0
        value[int(peak_s) : int(peak_s) + 3] = 130.0
        value[330:340] = np.nan
        spot = replace(excursion(300.0, 319.0, 310.0, 15.0), reference=100.0)
        canvas = strip_sheet(
            Strip("speed", "Speed", "kt", 0, time_s, value, outside=[spot]), [], (0.0, 1000.0)
        )
        (told,) = [letter for letter in canvas.letters if letter.text.startswith("▲")]
        foot = canvas.height - float(canvas.y(130.0 if beside else 115.0))
        assert told.y == pytest.approx(foot - 5.0), peak_s
        # What stands below, as much lower as the letters are high.
        under = replace(spot, worst=-15.0, reference=130.0)
        canvas = strip_sheet(
            Strip("speed", "Speed", "kt", 0, time_s, value, outside=[under]), [], (0.0, 1000.0)
        )
        (told,) = [letter for letter in canvas.letters if letter.text.startswith("▼")]
        assert told.y == pytest.approx(canvas.height - float(canvas.y(100.0)) + 14.0)


@pytest.mark.parametrize(
    ("place", "anchor"), [(0.10, "start"), (0.12, "middle"), (0.88, "middle"), (0.90, "end")]
)
def test_figures_near_an_edge_are_written_away_from_it(place: float, anchor: str) -> None:
    at_s = 5000.0 + 1000.0 * place
    spot = replace(excursion(at_s - 5.0, at_s + 5.0, at_s, 15.0), reference=100.0)
    strip = Strip("speed", "Speed", "kt", 0, np.arange(5000.0, 6001.0), np.full(1001, 100.0), outside=[spot])
    canvas = strip_sheet(strip, [], (5000.0, 6000.0))
    (told,) = [letter for letter in canvas.letters if letter.text.startswith("▲")]
    assert (told.anchor, told.x) == (anchor, pytest.approx(place * canvas.width))


def test_figures_that_would_meet_are_left_out_but_for_those_of_the_farthest() -> None:
    """Two that are told are a quarter of the width apart."""
    found = {60.0: 11.0, 320.0: 12.0, 450.0: 19.0, 575.0: 13.0, 690.0: 14.0, 940.0: 15.0}
    spots = [replace(excursion(at, at + 4.0, at + 2.0, off), reference=100.0) for at, off in found.items()]
    canvas = strip_sheet(
        Strip("speed", "Speed", "kt", 0, np.arange(1001.0), np.full(1001, 100.0), outside=spots),
        [],
        (0.0, 1000.0),
    )
    told = [letter.text for letter in canvas.letters if letter.text.startswith("▲")]
    assert told == ["▲ +19 kt", "▲ +15 kt", "▲ +11 kt"]


def test_the_figures_of_the_chart_of_leaving_stand_clear_of_its_corners_and_words() -> None:
    """At each round value, along both axes, but where the words of the corners stand."""
    left_out = 0
    for first in range(60, 110, 3):
        canvas = leaving([float(first), 160.0], [170.0, first + 200.0], None, None)
        left, right, low, high = canvas.window
        lines = [s.pieces[0] for s in canvas.strokes if s.layer == "axis"]
        axes = (("middle", (left, right), True, 0.95), ("start", (low, high), False, 0.9))
        for anchor, over, upright, most in axes:
            along = [
                (line[0, 0] / canvas.width if upright else 1.0 - line[0, 1] / canvas.height)
                for line in lines
                if (np.ptp(line[:, 0]) < 1e-6) == upright
            ]
            ticks = [one for one in canvas.letters if one.kind == "tick" and one.anchor == anchor]
            clear = [one for one in along if 0.12 < one < most]
            told = [60.0 * int(one.text.split(":")[0]) + float(one.text.split(":")[1]) for one in ticks]
            assert told == pytest.approx([over[0] + one * (over[1] - over[0]) for one in clear])
            for one, share in zip(ticks, clear, strict=True):
                foot = (
                    (share * canvas.width, canvas.height - 4.0)
                    if upright
                    else (3.0, (1.0 - share) * canvas.height - 2.0)
                )
                assert (one.x, one.y) == pytest.approx(foot)
            left_out += len(along) - len(clear)
        words = {one.text: (one.x, one.y, one.anchor) for one in canvas.letters if one.kind == "note"}
        assert words == {
            "turn in after the fix": (
                pytest.approx(canvas.width - 4.0),
                pytest.approx(canvas.height - 17.0),
                "end",
            ),
            "back over the fix after": (pytest.approx(4.0), pytest.approx(13.0), "start"),
        }
    assert left_out > 10


@pytest.mark.parametrize("most", [3, 4, 5, 8])
def test_a_round_step_is_the_least_of_which_so_many_fill_a_length(most: int) -> None:
    """1, 2 or 5 times a power of ten."""
    rounds = np.array([first * 10.0**power for power in range(-5, 6) for first in (1.0, 2.0, 5.0)])
    for length in [*np.geomspace(0.011, 4900.0, 150), *(most * rounds[6:-6])]:
        step = nice_step(float(length), most)
        fits = rounds[length / rounds <= most * (1.0 + 1e-6)]
        assert step == pytest.approx(fits.min()), length
