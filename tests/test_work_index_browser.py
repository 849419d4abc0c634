"""The list of debriefs in a real browser: readable at three widths, by keyboard and by the accessibility checker."""

from __future__ import annotations

import pytest

from analyser.pages.index import update_index
from tests.pages_browser import axe_script, opened
from tests.test_work_index import debrief

pytestmark = [pytest.mark.browser, pytest.mark.slow]
RULES = ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "best-practice"]
LONG = "A name that somebody made very long " * 4


@pytest.fixture(scope="module")
def listed(tmp_path_factory):
    out = tmp_path_factory.mktemp("listed")
    debrief(out, "first", when="2026-03-14T12:00:00Z")
    debrief(out, "second", when=None, points=None, name=f"{LONG}.gpx", said=f"It went as it went: {LONG}.")
    update_index(out)
    return out / "index.html"


@pytest.mark.parametrize("width", [1280, 768, 390])
@pytest.mark.parametrize("paper", ["light", "dark"])
def test_nothing_is_wrong_with_it(chromium, listed, tmp_path, width, paper):
    script = axe_script(tmp_path)
    with opened(chromium, listed, viewport={"width": width, "height": 900}, color_scheme=paper) as watched:
        page = watched.page
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        page.evaluate(script)
        found = page.evaluate(
            "axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa', 'best-practice']})"
        )
        assert [(one["id"], len(one["nodes"])) for one in found["violations"]] == []
        assert watched.complaints == []
        assert [one for one in watched.requests if not one.startswith(("file:", "data:"))] == []


def test_the_keyboard_goes_from_debrief_to_debrief(chromium, listed):
    with opened(chromium, listed, viewport={"width": 1280, "height": 900}) as watched:
        page = watched.page
        met = []
        for _ in range(2):
            page.keyboard.press("Tab")
            met.append(page.evaluate("document.activeElement.getAttribute('href')"))
        assert met == ["first.html", "second.html"]
        page.keyboard.press("Enter")
        page.wait_for_url("**/second.html")
