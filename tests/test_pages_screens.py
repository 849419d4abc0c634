"""The debrief page on its screens: heights, the first screen, lettering, the keyboard, showing, the replay's pace."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.example_page import LOG, page_of
from tests.pages_browser import Watched, opened
from tests.pages_drawn import PAGES, drawn_page
from tests.pages_fixture import debriefed, rendered

pytestmark = [pytest.mark.browser, pytest.mark.slow]

#: Widths, heights and how high a page may be as it comes.
SCREENS = {"desk": (1280, 800, 3600), "tablet": (768, 1024, 5500), "phone": (390, 844, 7500)}


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A lesson, an hour of fourteen circuits, the same too coarse to judge, and a flight with three holds."""
    folder = tmp_path_factory.mktemp("pages")
    coarse = debriefed(circuits=14)
    for circuit in coarse[1]["holds"][0]["circuits"]:
        circuit["points"] = None
    made = {
        "lesson": page_of(LOG, LOG.with_suffix(".toml")),
        "hour": rendered(*debriefed(circuits=14)),
        "coarse": rendered(*coarse),
        "three holds": rendered(*debriefed(holds=3, given=False)),
    }
    for name, html in made.items():
        (folder / f"{name}.html").write_text(html, encoding="utf-8")
    return {name: folder / f"{name}.html" for name in made}


def view(screen: str) -> dict[str, Any]:
    wide, high, _ = SCREENS[screen]
    return {"viewport": {"width": wide, "height": high}}


@pytest.mark.parametrize("name", ["lesson", "hour", "coarse", "three holds"])
@pytest.mark.parametrize("screen", SCREENS)
def test_the_page_is_short_however_long_the_flight(
    chromium: Any, pages: dict[str, Path], name: str, screen: str
) -> None:
    wide, _, most = SCREENS[screen]
    with opened(chromium, pages[name], **view(screen)) as watched:
        assert watched.page.evaluate("document.documentElement.scrollHeight") <= most
        assert watched.page.evaluate("document.documentElement.scrollWidth") <= wide
        assert watched.complaints == []


def test_the_first_sample_is_light(pages: dict[str, Path]) -> None:
    assert pages["lesson"].stat().st_size <= 350_000


@pytest.mark.parametrize("name", ["lesson", "hour", "three holds"])
def test_the_first_screen_says_what_why_how_much_and_what_to_do(
    chromium: Any, pages: dict[str, Path], name: str
) -> None:
    with opened(chromium, pages[name], **view("desk")) as watched:
        opening = watched.page.locator("details.whole[open], main").last
        parts = [".verdict", '[data-fig="plan"]', ".points", ".index"]
        # Where every fault was put right on the way, there is nothing to work on first.
        parts += [".first"] * opening.locator(".first").count()
        assert len(parts) == 5 or name == "hour"
        for part in parts:
            box = opening.locator(part).first.bounding_box()
            assert box is not None and box["y"] >= 0, part
            assert box["y"] + box["height"] <= 800, part
        # The plan shows the circuit that the first finding speaks of, over the exact one, and no other.
        chosen = opening.locator('[data-choose="circuit"]').first.input_value()
        assert f"circuit {chosen} " in opening.locator(".verdict").first.inner_text()
        shown = opening.locator('[data-fig="plan"] [data-layer="flown"] > g').evaluate_all(
            "(all) => all.filter((one) => one.getBoundingClientRect().width).map((one) => one.dataset.circuit)"
        )
        assert set(shown) == {chosen}


def test_of_many_circuits_the_worst_the_best_and_the_last_stand_open(
    chromium: Any, pages: dict[str, Path]
) -> None:
    _, document = debriefed(circuits=14)
    circuits = document["holds"][0]["circuits"]
    by_points = sorted(circuits, key=lambda one: one["points"])
    expected = {by_points[0]["number"], by_points[-1]["number"], circuits[-1]["number"]}
    with opened(chromium, pages["hour"], **view("desk")) as watched:
        found = watched.page.locator("details.lap[open]").evaluate_all("(all) => all.map((one) => one.id)")
        assert {int(one.rsplit("-", 1)[1]) for one in found} == expected
        rest = watched.page.locator(".rest")
        assert f"The other {len(circuits) - len(expected)} circuits" in rest.inner_text()
        assert watched.page.locator(".rest .lap").count() == len(circuits) - len(expected)


def test_every_folded_heading_says_its_result(chromium: Any, pages: dict[str, Path]) -> None:
    with opened(chromium, pages["lesson"], **view("desk")) as watched:
        told = {
            fold.locator("h2, h3").first.inner_text(): fold.locator(".result").first.inner_text()
            for fold in watched.page.locator("details.fold").all()
        }
        assert set(told) >= {
            "Replay",
            "Numbers",
            "Entry",
            "Wind",
            "Holding area",
            "The hold",
            "Sources",
            "The data",
        }
        assert all(len(words) > 5 for words in told.values()), told
        assert "°M" in told["Wind"] and "±" in told["Wind"] and "from turns" in told["Wind"]
        assert "NM to spare" in told["Holding area"]


@pytest.mark.parametrize("screen", ["desk", "phone"])
def test_the_index_stays_in_reach_and_opens_what_it_names(
    chromium: Any, pages: dict[str, Path], screen: str
) -> None:
    with opened(chromium, pages["lesson"], **view(screen)) as watched:
        watched.page.evaluate("window.scrollTo(0, document.body.scrollHeight / 2)")
        index = watched.page.locator(".index")
        box = index.bounding_box()
        assert box is not None and 0 <= box["y"] < 60
        wind = watched.page.locator("#hold-1-wind")
        assert wind.get_attribute("open") is None
        index.get_by_role("link", name="Wind").click()
        watched.page.wait_for_timeout(100)
        assert wind.get_attribute("open") is not None
        top = wind.bounding_box()
        assert top is not None and -5 <= top["y"] <= SCREENS[screen][1]


#: Pairs of lettering that meet, lettering outside its drawing, and lettering on the flown line, of all drawings shown.
MEETINGS = """() => {
  const found = [];
  const apart = (a, b, c, d) => b <= c + 1 || d <= a + 1;
  const clear = (a, b) => apart(a.left, a.right, b.left, b.right) || apart(a.top, a.bottom, b.top, b.bottom);
  for (const fig of document.querySelectorAll('main svg.fig')) {
    if (!fig.checkVisibility({visibilityProperty: true})) continue;
    const name = `${fig.dataset.fig} ${fig.dataset.key || ''}`;
    const frame = fig.getBoundingClientRect();
    const page = document.documentElement.clientWidth;
    const texts = [...fig.querySelectorAll('text')].filter((one) => one.getBoundingClientRect().width);
    const boxes = texts.map((one) => {
      const {left, right, top, bottom, height} = one.getBoundingClientRect();
      // A line of text is less high than its box.
      return {left, right, top: top + 0.18 * height, bottom: bottom - 0.18 * height, text: one.textContent};
    });
    // The figures of a scale hang beside their strip.
    const hangs = getComputedStyle(fig).overflow === 'visible';
    const [left, right] = hangs ? [0, Math.min(frame.right + 2, page)] : [frame.left - 1, frame.right + 1];
    boxes.forEach((box, i) => {
      const cut = box.left < left || box.right > right || box.top < frame.top - 3 || box.bottom > frame.bottom + 3;
      if (cut) found.push(`${name}: "${box.text}" is cut`);
      for (const other of boxes.slice(i + 1)) {
        if (!clear(box, other)) found.push(`${name}: "${box.text}" meets "${other.text}"`);
      }
    });
    for (const line of fig.querySelectorAll('[data-layer="flown"] path, [data-layer="value"] path[fill="none"]')) {
      if (!line.checkVisibility() || !line.getBoundingClientRect().width) continue;
      const to = line.getScreenCTM(), length = line.getTotalLength();
      for (let at = 0; at <= length; at += 4) {
        const {x, y} = line.getPointAtLength(at).matrixTransform(to);
        const within = (box) => x > box.left + 1 && x < box.right - 1 && y > box.top + 1 && y < box.bottom - 1;
        const on = boxes.find(within);
        if (on) { found.push(`${name}: "${on.text}" lies on the line`); break; }
      }
    }
  }
  return [...new Set(found)];
}"""


def lettering(watched: Watched) -> list[str]:
    watched.page.evaluate("for (const fold of document.querySelectorAll('main details')) fold.open = true")
    for select in watched.page.locator('[data-choose="circuit"]').all():
        select.select_option("")
    found: list[str] = watched.page.evaluate(MEETINGS)
    return found


@pytest.mark.parametrize("screen", SCREENS)
def test_no_lettering_meets_another_or_the_line(chromium: Any, pages: dict[str, Path], screen: str) -> None:
    for file in pages.values():
        with opened(chromium, file, **view(screen)) as watched:
            assert lettering(watched) == [], file.stem


def test_no_lettering_meets_another_on_thirty_invented_flights(chromium: Any, tmp_path: Path) -> None:
    found = {}
    for index in range(PAGES):
        file = tmp_path / f"{index}.html"
        file.write_text(drawn_page(index), encoding="utf-8")
        for screen in ("desk", "phone"):
            with opened(chromium, file, **view(screen)) as watched:
                found[index, screen] = lettering(watched)
    assert {where: what for where, what in found.items() if what} == {}


#: What has the focus, and whether all of it can be seen: not outside the window, and nothing over it.
FOCUSED = """() => {
  const e = document.activeElement, style = getComputedStyle(e), box = e.getBoundingClientRect();
  if (e === document.body) return null;
  const seen = [0.5, 0.1, 0.9].filter((share) => {
    const top = document.elementFromPoint(box.left + share * box.width, box.top + box.height / 2);
    return top && (e === top || e.contains(top) || top.contains(e));
  });
  return {what: `${e.tagName} ${e.className} ${e.textContent.trim().slice(0, 30)}`, seen: seen.length,
    outline: style.outlineStyle === 'none' ? 0 : parseFloat(style.outlineWidth)};
}"""


@pytest.mark.parametrize(("wide", "high"), [(1280, 800), (390, 844), (640, 400)])
def test_from_top_to_bottom_by_keyboard_nothing_hides_the_focus(
    chromium: Any, pages: dict[str, Path], wide: int, high: int
) -> None:
    """640 × 400 is a window of 1280 × 800 at 200 %. The replay is opened, so that its bar is there to hide things."""
    with opened(chromium, pages["lesson"], viewport={"width": wide, "height": high}) as watched:
        watched.page.evaluate("document.querySelector('.lines').open = true")
        stops = []
        for _ in range(150):
            watched.page.keyboard.press("Tab")
            found = watched.page.evaluate(FOCUSED)
            if found is None:
                break
            stops.append(found["what"])
            assert found["outline"] >= 2, found
            assert found["seen"] >= 1, (found, len(stops))
        else:
            pytest.fail("the keyboard never came to the end of the page")
        for words in ("Skip to", "Show it", "Sources", "The data"):
            assert any(words in stop for stop in stops), words


def test_show_it_steps_through_the_debrief(chromium: Any, pages: dict[str, Path]) -> None:
    _, high, _ = SCREENS["desk"]
    with opened(chromium, pages["lesson"], **view("desk")) as watched:
        page = watched.page
        page.get_by_role("button", name="Show it").click()
        dialog = page.locator("dialog.show")
        titles = []
        for _ in range(30):
            heading = dialog.locator(".step:not([hidden]) h2")
            titles.append(heading.inner_text())
            says = dialog.locator(".step:not([hidden]) .says")
            assert says.evaluate("(e) => parseFloat(getComputedStyle(e).fontSize)") >= 24
            box = says.bounding_box()
            assert box is not None and box["y"] + box["height"] <= high
            drawing = dialog.locator(".step:not([hidden]) svg use").first
            if drawing.count():
                assert drawing.evaluate("(e) => e.getBoundingClientRect().width") > 200
            page.keyboard.press("ArrowRight")
            if dialog.locator(".step:not([hidden]) h2").inner_text() == titles[-1]:
                break
        assert titles[0] == "The flight" and titles[-1].startswith("Next time")
        # Both clocks: the findings may speak of either.
        last = dialog.locator(".step").last
        fly = last.locator(".fly").inner_text()
        assert "by the clock" in fly and "From wings level" in fly
        for number in (1, 2, 3, 4):
            assert any(title.startswith(f"Circuit {number}:") for title in titles)
        assert any("again, with the outbound heading right" in title for title in titles)
        assert dialog.locator(".where").inner_text() == f"{len(titles)} of {len(titles)}"
        page.keyboard.press("Home")
        assert dialog.locator(".step:not([hidden]) h2").inner_text() == "The flight"
        page.keyboard.press("Escape")
        assert not dialog.is_visible()
        assert watched.complaints == []


@pytest.mark.parametrize("screen", SCREENS)
def test_showing_fits_every_screen(chromium: Any, pages: dict[str, Path], screen: str) -> None:
    wide, high, _ = SCREENS[screen]
    with opened(chromium, pages["lesson"], **view(screen)) as watched:
        watched.page.locator("[data-show]").first.click()
        dialog = watched.page.locator("dialog.show")
        for _ in range(dialog.locator(".step").count()):
            assert dialog.evaluate("(e) => e.scrollWidth") <= wide
            keys = dialog.locator(".show-keys").bounding_box()
            assert keys is not None and keys["y"] + keys["height"] <= high + 1
            watched.page.keyboard.press("PageDown")


#: Milliseconds that the script takes for one picture of the replay, over two hundred of them.
PACE = """() => {
  const box = document.querySelector('[data-replay]'), slider = box.querySelector('[data-time]');
  const from = Number(slider.min), to = Number(slider.max), taken = [];
  for (let i = 0; i < 200; i++) {
    slider.value = String(from + ((to - from) * i) / 200);
    const start = performance.now();
    slider.dispatchEvent(new Event('input'));
    taken.push(performance.now() - start);
  }
  taken.sort((a, b) => a - b);
  return taken[100];
}"""


def test_a_picture_of_the_replay_of_an_hour_costs_little_of_a_sixtieth_of_a_second(
    chromium: Any, pages: dict[str, Path]
) -> None:
    with opened(chromium, pages["hour"], **view("desk")) as watched:
        watched.page.evaluate("document.querySelector('.lines').open = true")
        assert watched.page.evaluate(PACE) < 1000.0 / 60.0 / 4.0


#: Milliseconds between the browser's pictures during one second.
INTERVALS = """() => new Promise((done) => {
  const at = [], start = performance.now();
  const next = (time) => {
    at.push(time);
    if (performance.now() - start < 1000) requestAnimationFrame(next);
    else done(at.slice(1).map((one, place) => one - at[place]).sort((a, b) => a - b));
  };
  requestAnimationFrame(next);
})"""


def test_the_replay_of_an_hour_runs_at_sixty_pictures_a_second(chromium: Any, pages: dict[str, Path]) -> None:
    """Without a display or a graphics card, painted by the processor; every drawing is open.

    A busy machine holds the browser up, so one second of ten must be whole: nine pictures in ten on time, 16.7 ms. The
    page's own part is counted in processor time, which others hardly lengthen: less than half of what there is.
    """
    with opened(chromium, pages["hour"], **view("desk")) as watched:
        page = watched.page
        page.evaluate("document.querySelector('.lines').open = true")
        counted = page.context.new_cdp_session(page)
        counted.send("Performance.enable", {"timeDomain": "threadTicks"})

        def busy_s() -> float:
            metrics = counted.send("Performance.getMetrics")["metrics"]
            return next(float(one["value"]) for one in metrics if one["name"] == "TaskDuration")

        page.locator("[data-play]").click()
        seconds, costs_ms = [], []
        for _ in range(10):
            before = busy_s()
            seconds.append(page.evaluate(INTERVALS))
            costs_ms.append(1000.0 * (busy_s() - before) / len(seconds[-1]))
            if len(seconds[-1]) >= 57 and seconds[-1][51] < 17.5:
                break
        else:
            pytest.fail(f"pictures in each second: {[len(one) for one in seconds]}")
        assert page.locator("[data-play]").get_attribute("aria-pressed") == "true"
        assert min(costs_ms) < 1000.0 / 60.0 / 2.0


def test_the_replay_begins_at_nought_and_tells_its_keys(chromium: Any, pages: dict[str, Path]) -> None:
    with opened(chromium, pages["lesson"], **view("desk")) as watched:
        page = watched.page
        assert page.locator('[data-read="time"]').inner_text() == "0:00"
        page.evaluate("document.querySelector('.lines').open = true")
        assert "space plays" in page.locator(".lines").inner_text()
        page.locator("[data-play]").click()
        page.wait_for_timeout(500)
        page.locator("[data-play]").click()
        minutes, seconds = page.locator('[data-read="time"]').inner_text().split(":")
        assert 2 <= 60 * int(minutes) + int(seconds) <= 60
        # Who plays sees all circuits, not only the one of the first finding.
        assert page.locator('[data-choose="circuit"]').input_value() == ""


def test_two_fingers_zoom_the_plan_and_arrows_pan_it(chromium: Any, pages: dict[str, Path]) -> None:
    with opened(chromium, pages["lesson"], **view("phone"), has_touch=True, is_mobile=True) as watched:
        page = watched.page
        plan = page.locator('[data-fig="plan"]')
        plan.scroll_into_view_if_needed()
        box = plan.bounding_box()
        assert box is not None
        middle, height = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        touch = page.context.new_cdp_session(page)

        def fingers(kind: str, apart: float) -> None:
            points = [] if kind == "touchEnd" else [
                {"x": middle - apart, "y": height, "id": 0},
                {"x": middle + apart, "y": height, "id": 1},
            ]  # fmt: skip
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        fingers("touchStart", 30)
        for apart in (40, 55, 70, 90):
            fingers("touchMove", apart)
        fingers("touchEnd", 90)
        _, _, wide, _ = (float(edge) for edge in plan.get_attribute("viewBox").split())
        assert wide == pytest.approx(560 / 3, rel=0.1)
        before = plan.get_attribute("viewBox")
        page.get_by_role("button", name="→ look right").click()
        assert plan.get_attribute("viewBox") != before


def test_on_paper_every_page_takes_two_sheets_a_hold(
    chromium: Any, pages: dict[str, Path], tmp_path: Path
) -> None:
    for name, holds in (("lesson", 1), ("hour", 1), ("three holds", 3)):
        with opened(chromium, pages[name], **view("desk")) as watched:
            printed = watched.page.pdf(prefer_css_page_size=True)
            assert len(re.findall(rb"/Type /Page\b(?!s)", printed)) == 2 * holds, name
