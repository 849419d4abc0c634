"""The root finder, on functions whose zeros are known."""

import math

import pytest

from analyser.holds.root_finding import root_between


@pytest.mark.parametrize(
    ("function", "low", "high", "zero"),
    [
        (math.cos, 0.0, 3.0, math.pi / 2),
        (lambda x: x**3 - 8.0, 0.0, 10.0, 2.0),
        (lambda x: math.exp(x) - 1e6, 0.0, 100.0, math.log(1e6)),
        (lambda x: 5.0 - x, 5.0, 9.0, 5.0),
        (lambda x: x - 9.0, 5.0, 9.0, 9.0),
    ],
)
def test_known_zeros(function, low, high, zero):
    assert root_between(function, low, high, within=1e-12) == pytest.approx(zero, abs=1e-9)


def test_a_one_sided_curve_does_not_creep():
    calls = 0

    def bent(x):
        nonlocal calls
        calls += 1
        return x**9 - 1e-3

    assert root_between(bent, 0.0, 1.0, within=1e-12) == pytest.approx(1e-3 ** (1 / 9))
    assert calls < 40


def test_ends_of_one_sign_give_the_nearer_one_and_stop():
    assert root_between(lambda x: x + 1.0, 0.0, 5.0, within=1e-12) == 0.0
