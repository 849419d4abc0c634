"""The example page in ``reports/`` is what the program writes today, byte for byte."""

from __future__ import annotations

from tests.example_page import EXAMPLE, example


def test_the_example_page_is_up_to_date() -> None:
    assert EXAMPLE.read_text(encoding="utf-8") == example(), "write it again: python -m tests.example_page"


def test_the_example_says_that_its_flight_is_invented_and_what_it_is_not_for() -> None:
    page = EXAMPLE.read_text(encoding="utf-8")
    assert "training aid" in page
    assert "This flight is invented" in page
    assert "qualified instructor decide" in page
