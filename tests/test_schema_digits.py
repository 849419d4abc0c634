"""How many digits a number of the debrief file has, by what it is; and that a part of the file is never changed."""

import math

import pytest

from analyser.schema import is_debrief
from analyser.schema.debrief_file import WrittenInterception, WrittenLeg, WrittenLesson, WrittenOtherEnd
from analyser.schema.plain_data import (
    Degrees,
    Direction,
    Feet,
    FilePart,
    HundredThousandths,
    Hundredths,
    InUnit,
    Knots,
    LatLon,
    Miles,
    Points,
    Seconds,
    SigmaInUnit,
    TenThousandths,
    Tenths,
    Thousandths,
    Whole,
)


def test_each_quantity_is_written_far_finer_than_anybody_knows_it_and_no_finer():
    """Instants to 10 ms, where receivers tell ten fixes a second; 0.0001 NM are 20 cm and 0.000001° of latitude 10 cm,
    where they tell metres; of a figure in its unit the doubt has one digit more than the figure."""

    class Quantities(FilePart):
        time: Seconds
        way: Miles
        place: LatLon
        course: Direction
        bank: Degrees
        speed: Knots
        level: Feet
        points: Points
        whole: Whole
        tenth: Tenths
        hundredth: Hundredths
        thousandth: Thousandths
        fourth: TenThousandths
        fifth: HundredThousandths

    value = 123.456789123
    made = Quantities(**dict.fromkeys(Quantities.__annotations__, value)).plain()
    decimals = {"time": 2, "way": 4, "place": 6, "course": 2, "bank": 2, "speed": 2, "level": 1, "points": 1,
                "whole": 0, "tenth": 1, "hundredth": 2, "thousandth": 3, "fourth": 4, "fifth": 5}  # fmt: skip
    assert made == {name: float(f"{value:.{places}f}") for name, places in decimals.items()}

    class InItsUnit(FilePart):
        value: InUnit
        sd: SigmaInUnit
        unit: str

    for unit, places in {"s": 2, "°": 2, "NM": 4, "kt": 2, "ft": 1, "of another kind": 2}.items():
        written_in = InItsUnit(value=value, sd=value, unit=unit)
        assert written_in.value == float(f"{value:.{places}f}")
        assert written_in.sd == float(f"{value:.{places + 1}f}")


def test_a_written_part_cannot_be_changed_and_rounds_to_what_its_type_says():
    leg = WrittenLeg(minutes=1.00049, distance_nm=math.nan)
    assert (leg.minutes, leg.distance_nm, leg.plain()) == (1.0, None, {"minutes": 1.0})
    with pytest.raises(AttributeError):
        leg.minutes = 2.0
    with pytest.raises(TypeError):
        WrittenLeg(hours=1.0)
    # A direction just short of north is north, and an error of the other sign than nought's is nought.
    rollout = {"rollout_cross_track_nm": -0.00001, "angle": -0.001, "met_at_nm": None}
    assert str(WrittenInterception(**rollout).rollout_cross_track_nm) == "0.0"
    assert WrittenOtherEnd(fix=None, inbound_course_true=359.999, chance=0.5).inbound_course_true == 0.0


@pytest.mark.parametrize(
    ("head", "ours"),
    [
        ('{\n "schema": 2,\n "caution": "A training', True),
        ('{"schema":1,"caution":"', True),
        ('{"type": "FeatureCollection", "features": [{"schema": 2, "caution": "', False),
        ('{"schema": 2, "log": {', False),
        ('[{"schema": 2, "caution": ""}]', False),
        ("", False),
    ],
)
def test_a_debrief_file_is_known_by_how_it_begins(head, ours):
    assert is_debrief(head) == ours


@pytest.mark.parametrize(
    ("outcome", "right"),
    [("kept", True), ("right", True), ("too little", False), ("too far", False), ("wrong way", False),
     ("not at all", False)],
)  # fmt: skip
def test_a_lesson_was_right_where_what_was_taught_was_flown(outcome, right):
    numbers = dict.fromkeys(("before", "taught", "flown", "exact"))
    lesson = WrittenLesson(circuit=2, quantity="outbound_time", outcome=outcome, rule="a rule", **numbers)
    assert lesson.is_right == right
