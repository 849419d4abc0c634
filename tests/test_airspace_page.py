"""The holding area on the debrief page: said first when left, drawn as a layer, with its cautions everywhere."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from analyser.airspace.excursion import Edge, HoldPhase
from analyser.airspace.obstacle_file import Obstacle
from analyser.debrief import Debrief, debrief_track, held_to_area
from analyser.document import document
from tests.pages_browser import Watched, opened
from tests.pages_fixture import HOLD, debriefed, rendered, track


@pytest.fixture(scope="module")
def page() -> str:
    return rendered(*debriefed())


def _text(html: str) -> str:
    bare = re.sub(r"<(style|script)[^>]*>.*?</\1>", " ", html, flags=re.S)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", bare))


def _section(html: str) -> str:
    found = re.search(
        r'<details class="fold airspace".*?(?=<details class="fold|<div class="leaf)', html, flags=re.S
    )
    assert found is not None
    return found.group(0)


def test_the_section_carries_the_cautions_and_what_it_was_drawn_for(page: str) -> None:
    section = _text(_section(page))
    for words in (
        "not obstacle clearance",
        "not for planning or navigation",
        "the AIP decide",
        "errs to the smaller",
    ):
        assert words in section
    assert "ISA+15" in section
    assert "wind from any side" in section
    assert section.count("inside") >= 3
    assert "FAA" not in section


def test_every_drawing_of_the_area_has_the_caution_in_it(page: str) -> None:
    for name in ("plan", "airspace"):
        drawing = re.search(rf'<svg class="fig fig-{name}".*?</svg>', page, flags=re.S)
        assert drawing is not None
        # In two lines: in one it would not fit on a telephone.
        lines = re.findall(r'<text class="l-mark"[^>]*>([^<]*)</text>', drawing.group(0))
        assert "training illustration: not obstacle clearance, not for planning or navigation" in " ".join(
            lines
        )
    assert '<g data-layer="airspace"><g id="h1-airspace">' in page
    assert '<use href="#h1-airspace"' in _section(page)


def _strayed(debrief: Debrief) -> Debrief:
    """The same flight, as if it had gone three miles out on circuit 2."""
    (hold,) = debrief.holds
    assert hold.airspace is not None
    edge = Edge(-3.04, 700.0, -2.0, -8.0, 47.1, 8.0, HoldPhase("inbound turn", 2), 2, 2.04)
    margins = tuple(edge if one.phase.circuit == 2 else one for one in hold.airspace.report.circuits)
    report = replace(
        hold.airspace.report,
        deepest=edge,
        circuits=margins,
        inside_share=0.9,
        buffer_share=0.1,
        beyond_share=0.0,
    )
    airspace = replace(hold.airspace, report=report, cause="the outbound heading")
    judged = held_to_area(hold.judged, airspace, debrief.standard)
    return replace(debrief, holds=(replace(hold, judged=judged, airspace=airspace),))


def test_straying_stands_first_in_the_verdict() -> None:
    strayed = _strayed(debriefed()[0])
    written = document(strayed)
    first = "You left the holding area: 2.0 NM outside it in the inbound turn of circuit 2"
    assert written["holds"][0]["verdict"].startswith(first)
    html = rendered(strayed, written)
    verdict = re.search(r'<p class="verdict"[^>]*>(.*?)</p>', html, flags=re.S)
    assert verdict is not None
    assert verdict.group(1).startswith(first)
    section = _section(html)
    assert '<span class="num out">3.04 NM outside</span>' in section
    assert "What took the flight furthest out: the outbound heading." in section
    assert 'data-layer="deepest"' in section


def test_whoever_left_the_area_gets_the_lowest_grade_whatever_the_points() -> None:
    strayed = _strayed(debriefed()[0])
    (hold,), standard = strayed.holds, strayed.standard
    assert hold.airspace is not None
    scoring = hold.judged.scoring
    best = replace(hold.judged, points=100.0, capped=None)
    left = held_to_area(best, hold.airspace, standard)
    assert left.grade == scoring.grade.steps[-1]
    assert left.points == 59.0 and left.capped is not None
    assert left.capped.sentence == (
        "capped at 59: 2.0 NM outside the holding area in the inbound turn of circuit 2 (100 without)"
    )
    (stayed,) = debriefed()[0].holds
    assert stayed.airspace is not None
    assert held_to_area(best, stayed.airspace, standard).grade == stayed.judged.grade
    unsure = replace(hold.airspace, report=replace(hold.airspace.report, position_sd_nm=3.0))
    assert unsure.report.strayed is None
    assert held_to_area(best, unsure, standard).grade == stayed.judged.grade, "what is not sure caps no grade"


def test_an_faa_debrief_says_that_the_area_is_not_the_faas() -> None:
    made = debrief_track(track(), hold=HOLD, rules="faa")
    assert "this is not the FAA&#39;s area" in _section(rendered(made))


def test_obstacles_reach_the_page_and_their_names_stay_words() -> None:
    """On paper: 3,190 ft + 984 ft = 4,174 ft, so 4,200 ft; the flight was lower than that."""
    mast = Obstacle("<script>mast</script>", HOLD.fix_lat_deg, HOLD.fix_lon_deg + 0.02, 3190.0, "line 2")
    made = debrief_track(track(), hold=HOLD, obstacles=[mast])
    written = document(made)
    level = written["holds"][0]["airspace"]["minimum_level"]
    assert level["level_ft"] == 4200.0
    assert level["flown_below"] is True
    html = rendered(made, written)
    feet = re.sub(r'<span class="when-m">[^<]*</span>', "", html)
    assert "3,190 ft + 984 ft = 4,174 ft, rounded up to 4,200 ft" in re.sub(r"<[^>]+>", "", feet)
    assert "<script>mast" not in html
    assert "below it" in _section(html)


def test_a_document_without_airspace_still_makes_a_page() -> None:
    debrief, written = debriefed()
    written["holds"][0]["airspace"] = None
    html = rendered(debrief, written)
    assert "data-area-toggle" not in html.split("<script>")[0]
    assert '<details class="fold airspace"' not in html


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, page: str, chromium: Any) -> Iterator[Watched]:
    file = tmp_path_factory.mktemp("page") / "page.html"
    file.write_text(page, encoding="utf-8")
    with opened(chromium, file, viewport={"width": 1280, "height": 900}) as watched:
        yield watched


def _box(watched: Watched) -> list[float]:
    said: Any = watched.page.evaluate("document.querySelector('.fig-plan').getAttribute('viewBox')")
    return [float(edge) for edge in said.split()]


@pytest.mark.browser
def test_the_layer_is_off_until_asked_for_and_then_the_plan_looks_further_out(desk: Watched) -> None:
    layer = desk.page.locator('.fig-plan [data-layer="airspace"] path').first
    caution = desk.page.locator(".area-caution").first
    before = _box(desk)
    assert not layer.is_visible()
    assert not caution.is_visible()
    box = desk.page.locator("[data-area-toggle]").first
    box.check()
    assert layer.is_visible()
    assert caution.is_visible()
    wide = _box(desk)
    assert wide[2] > 1.3 * before[2]
    assert wide[2] / wide[3] == pytest.approx(before[2] / before[3], rel=0.01)
    desk.page.locator('[data-zoom="in"]').first.click()
    assert _box(desk)[2] == pytest.approx(wide[2] / 1.5, rel=0.01)
    desk.page.locator('[data-zoom="fit"]').first.click()
    assert _box(desk) == pytest.approx(wide, abs=0.02)
    box.uncheck()
    assert not layer.is_visible()
    assert _box(desk)[2] == pytest.approx(before[2])
    assert desk.complaints == []


def test_the_page_file_is_not_swollen(page: str, tmp_path: Path) -> None:
    section = len(_section(page))
    assert section < 60_000, section
