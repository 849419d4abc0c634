"""What is said is true of what was flown, and nothing on a page contradicts another statement."""

import pytest

from tests.statements import MOST_FALSE, examined


def _wrong(numbers):
    found = [(number, check) for number in numbers for check in examined(number)]
    return len(found), [(number, check) for number, check in found if not check.good]


def test_every_statement_on_a_few_flights_is_true():
    total, wrong = _wrong((0, 1, 9, 12))
    assert total > 60 and not wrong


@pytest.mark.slow
def test_hardly_a_statement_is_false_and_none_in_a_first_sentence():
    total, wrong = _wrong(range(96))
    assert len(wrong) <= MOST_FALSE * total
    assert not [one for one in wrong if one[1].first]
