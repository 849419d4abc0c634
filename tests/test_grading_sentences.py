"""Whole sentences of findings, each with the numbers, sides and circuits that were planted: still air, 110 kt.

Rate one at 110 kt is 16.8° of bank (tan φ = ω V / g), a minute outbound and inbound is right, ±10 s are allowed for
timing (Doc 8168 Vol II, Table I-2-3-1), ±5° for bank and heading (Part-FCL, Appendix 7), 6 s to react (Table I-4-3).
"""

from __future__ import annotations

import pytest

from analyser.grading.finding import Finding
from analyser.grading.judge import judge_hold
from analyser.rules.load import load_regime, load_standard
from tests.grading_flights import Faults, Plan, fly

ICAO, FAA, FCL = load_regime("icao"), load_regime("faa"), load_standard("part-fcl-instrument")
NONE = Faults()


def found(kind: str, *faults: Faults, faa: bool = False, **plan: float) -> list[Finding]:
    flown = fly(Plan(**({"wind_kt": 0.0} | plan), still_air=not faa, faults=faults))  # type: ignore[arg-type]
    judged = judge_hold(flown, FAA if faa else ICAO, FCL)
    return [one for one in judged.findings if one.kind == kind]


@pytest.mark.parametrize(
    ("faults", "sentence", "brief"),
    [
        (
            (Faults(inbound_bank_deg=7.0, outbound_bank_deg=7.0),) * 2,
            "You banked 24° in both turns on circuits 1 and 2; 17° (±5) was right.",
            "bank up to 7° too steep on circuits 1 and 2",
        ),
        (
            (NONE, Faults(inbound_bank_deg=12.0)),
            "You banked 29° in the inbound turn on circuit 2; 17° (±5) was right.",
            "bank 12° too steep on circuit 2",
        ),
        (
            (NONE, Faults(outbound_bank_deg=-11.0)),
            "You banked 6° in the outbound turn on circuit 2; 17° (±5) was right.",
            "bank 11° too flat on circuit 2",
        ),
        (
            (Faults(inbound_bank_deg=7.0, outbound_bank_deg=-7.0),) * 2,
            "You banked between 10° and 24° in both turns on circuits 1 and 2; 17° (±5) was right.",
            "bank up to 7° off on circuits 1 and 2",
        ),
        (
            (Faults(inbound_bank_deg=12.0), Faults(inbound_bank_deg=17.0)),
            "You banked up to 34° in the inbound turn on circuits 1 and 2; 17° (±5) was right.",
            "bank up to 17° too steep on circuits 1 and 2",
        ),
        (
            (Faults(outbound_bank_deg=-7.0, inbound_bank_deg=-11.0),) * 2,
            "You banked as little as 6° in both turns on circuits 1 and 2; 17° (±5) was right.",
            "bank up to 11° too flat on circuits 1 and 2",
        ),
    ],
)
def test_a_bank_is_said_with_its_turns_its_size_and_what_was_right(
    faults: tuple[Faults, ...], sentence: str, brief: str
) -> None:
    (one,) = found("bank", *faults)
    assert (one.sentence, one.brief, one.severity) == (sentence, brief, "below standard")


ASKED = "outbound from abeam the fix; this wind asked for 60 s (±10)."
LONG, SHORT = Faults(outbound_time_s=14.0), Faults(outbound_time_s=-14.0)


@pytest.mark.parametrize(
    ("faults", "faa", "said"),
    [
        (
            (LONG, NONE, NONE),
            False,
            [("improve", "On circuit 1 you flew 74 s outbound from abeam the fix; this wind asked for 60 s (±10). "
              "That was put right afterwards.", "outbound leg 14 s long on circuit 1")],
        ),
        (
            (SHORT,) * 3,
            False,
            [("below standard", f"On circuit 1 you flew 46 s {ASKED}",
              "outbound leg up to 14 s short on circuits 1, 2 and 3")],
        ),
        (
            (NONE, SHORT, LONG),
            False,
            [("below standard", f"On circuit 2 you flew 46 s {ASKED}",
              "outbound leg up to 14 s off on circuits 2 and 3")],
        ),
        # In still air a longer outbound leg is a longer inbound one, which the FAA times; the first is flown by itself.
        (
            (LONG,) * 3,
            True,
            [("below standard", "On circuit 2 your inbound leg took 74 s; 60 s (±10) was to be flown.",
              "inbound leg up to 14 s long on circuits 2 and 3"),
             ("improve", "On circuit 1 you flew 74 s outbound from abeam the fix; the first is flown for 60 s (±10).",
              "outbound leg 14 s long on circuit 1")],
        ),
    ],
)  # fmt: skip
def test_a_time_is_said_by_its_clock_with_what_was_asked_for(
    faults: tuple[Faults, ...], faa: bool, said: list[tuple[str, str, str]]
) -> None:
    assert [(one.severity, one.sentence, one.brief) for one in found("timing", *faults, faa=faa)] == said


CARRIED = "the outbound heading carried"
TWO_THIRDS = f"{CARRIED} two thirds of the drift correction it needed: 12° more to the left was needed."
HALF_AGAIN = f"{CARRIED} half as much again as the drift correction it needed: 12° less of it was right."


@pytest.mark.parametrize(
    ("off_deg", "wind_kt", "side", "words"),
    [
        (12.0, 0.0, 1, "the outbound heading lay 12° too far right for this wind."),
        (-12.0, 0.0, 1, "the outbound heading lay 12° too far left for this wind."),
        # 20 kt across from the right of the course, at 110 kt: 10.5° inbound, so some 29° outbound, to the left there.
        (
            12.0,
            20.0,
            1,
            TWO_THIRDS,
        ),
        (
            -12.0,
            20.0,
            1,
            HALF_AGAIN,
        ),
        # To the other hand the planted angle is mirrored, and the wind is not.
        (
            -12.0,
            20.0,
            -1,
            TWO_THIRDS,
        ),
        # Within four degrees of none it is not said to have been laid off at all.
        (
            31.0,
            20.0,
            1,
            "the outbound heading carried next to none of the drift correction it needed: 31° more to the left was "
            "needed.",
        ),
        (
            34.0,
            20.0,
            1,
            "the outbound heading was laid off to the wrong side: 34° further left was needed.",
        ),
        (
            -45.0 + 12.0,
            20.0,
            -1,
            "the outbound heading was laid off to the wrong side: 33° further left was needed.",
        ),
    ],
)
def test_an_outbound_heading_is_said_as_a_share_of_what_it_needed(
    off_deg: float, wind_kt: float, side: int, words: str
) -> None:
    (one,) = found(
        "wind_correction", *(Faults(outbound_heading_deg=off_deg),) * 3, wind_kt=wind_kt, side=side
    )
    where, _, rest = one.sentence.partition(" the ")
    assert where in ("On circuit 1", "On circuit 2", "On circuit 3") and f"the {rest}" == words
    assert one.brief == f"outbound heading up to {abs(off_deg):.0f}° off on circuits 1, 2 and 3"
    assert one.circuits == (1, 2, 3) and one.severity == "below standard"


@pytest.mark.parametrize(
    ("late_s", "laps", "severity", "mended"),
    [
        (5.0, 1, None, False),
        (9.0, 1, "improve", True),
        (20.0, 1, "improve", True),
        (
            24.0,
            1,
            "below standard",
            True,
        ),  # beyond twice the 11 s that the designers allow for reaction and bank
        (9.0, 3, "below standard", False),
    ],
)
def test_a_late_turn_is_said_with_its_seconds_and_whether_it_was_put_right(
    late_s: float, laps: int, severity: str | None, mended: bool
) -> None:
    faults = (Faults(late_turn_s=late_s),) * laps + (NONE,) * (3 - laps)
    late = found("late turn", *faults)
    assert [one.severity for one in late] == ([] if severity is None else [severity])
    for one in late:
        said = f"On circuit 1 you began the outbound turn {late_s:.0f} s after the fix; 6 s to react are allowed for."
        assert one.sentence == said + (" That was put right afterwards." if mended else "")
        many = "up to " if laps > 1 else ""
        on = "circuits 1, 2 and 3" if laps > 1 else "circuit 1"
        assert one.brief == f"outbound turn {many}{late_s:.0f} s late on {on}"
