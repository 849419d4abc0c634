"""The planted faults, and what an examiner makes of each: written down beforehand, by the trade.

A level counts as maintained within 300 ft (ICAO Doc 4444, from memory); what fails is exceeding a tolerance
consistently or not correcting promptly (FAA-S-ACS-8C, appendix). Leaving the level by 300 ft, flying the non-holding
side, turning an entry away from the hold, exceeding the holding speed and doubling the outbound leg are what examiners
stop a flight for [common practice].
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from tests.flights.air import Air
from tests.planted.fault import Fault, Scene

#: A quarter of the airspeed from abeam the inbound course.
CROSSWIND = Air(120.0, 25.0, 4000.0)
NEVER = math.inf


@dataclass(frozen=True)
class Planted:
    """One row: what is planted, the worst severity, and the kinds that may be said first."""

    name: str
    severity: str
    first: tuple[str, ...]
    fault: Fault = field(default_factory=Fault)
    scene: Scene = field(default_factory=Scene)


LEFT, FAA, FAA_LEFT = Scene(side=-1), Scene(rules="faa"), Scene(rules="faa", side=-1)
OFFSET, PARALLEL = Scene(entry="offset"), Scene(entry="parallel")

TABLE = (
    Planted("1,000 ft low throughout", "unsafe", ("level",), Fault(level_off_ft=-1000.0)),
    Planted("1,000 ft high throughout", "unsafe", ("level",), Fault(level_off_ft=1000.0), FAA_LEFT),
    Planted("450 ft low from circuit 2 on", "unsafe", ("level",), Fault((2,), bust_ft=-450.0, bust_s=NEVER)),
    Planted("394 ft high, corrected", "unsafe", ("level",), Fault((2,), bust_ft=394.0)),
    Planted("500 ft low, corrected", "unsafe", ("level",), Fault((1,), bust_ft=-500.0), FAA),
    Planted("250 ft high for a minute", "unsafe", ("level",), Fault((2,), bust_ft=250.0, bust_s=60.0), LEFT),
    Planted("sinking at 150 ft/min", "unsafe", ("level",), Fault(sink_fpm=150.0)),
    Planted("sinking at 9 ft/min", "below standard", ("level",), Fault(sink_fpm=9.0), FAA),
    Planted(
        "170 ft low for a minute", "below standard", ("level",), Fault((2,), bust_ft=-170.0, bust_s=60.0)
    ),
    Planted(
        "170 ft high for a minute", "below standard", ("level",), Fault((3,), bust_ft=170.0, bust_s=60.0), FAA
    ),
    Planted("140 ft high, put right at once", "improve", ("level",), Fault((2,), bust_ft=140.0, bust_s=0.0)),
    Planted("left-hand in a right-hand hold", "unsafe", ("wrong side",), Fault(wrong_hand=True)),
    Planted("right-hand in a left-hand hold", "unsafe", ("wrong side",), Fault(wrong_hand=True), FAA_LEFT),
    Planted(
        "305 KIAS, limit 230",
        "unsafe",
        ("speed limit", "holding area"),
        Fault(speed_kt=171.0),
        Scene(level_ft=8000.0, tas_kt=150.0),
    ),
    Planted(
        "225 KIAS, limit 200",
        "unsafe",
        ("speed limit", "holding area"),
        Fault(speed_kt=71.0),
        Scene(rules="faa", tas_kt=163.0),
    ),
    Planted("20 kt slow", "below standard", ("speed",), Fault(speed_kt=-20.0)),
    Planted("20 kt fast", "below standard", ("speed",), Fault(speed_kt=20.0), LEFT),
    Planted("16 kt fast by the FAA's ±10", "below standard", ("speed",), Fault(speed_kt=16.0), FAA),
    Planted("20 kt slow and 45° of bank", "below standard", ("speed",), Fault(speed_kt=-20.0, bank_deg=45.0)),
    Planted("45° of bank", "below standard", ("bank",), Fault(bank_deg=45.0)),
    Planted(
        "30° of bank in the inbound turns",
        "below standard",
        ("bank",),
        Fault(bank_deg=30.0, bank_parts=("inbound",)),
        FAA,
    ),
    Planted("10° of bank", "below standard", ("bank",), Fault(bank_deg=10.0), LEFT),
    Planted("bank swings by 9°", "below standard", ("steadiness",), Fault(swing_deg=9.0)),
    Planted(
        "outbound three times too long",
        "unsafe",
        ("long outbound leg", "holding area"),
        Fault(outbound_factor=3.0),
    ),
    Planted(
        "outbound five times too long",
        "unsafe",
        ("long outbound leg", "holding area"),
        Fault(outbound_factor=5.0),
        LEFT,
    ),
    Planted(
        "outbound three times too long, FAA",
        "unsafe",
        ("long outbound leg", "holding area"),
        Fault(outbound_factor=3.0),
        FAA_LEFT,
    ),
    Planted(
        "one outbound leg of 2.6 times",
        "unsafe",
        ("long outbound leg", "holding area"),
        Fault((2,), outbound_factor=2.6),
    ),
    Planted("outbound 20 s long, every lap", "below standard", ("timing",), Fault(outbound_s=20.0)),
    Planted("outbound 25 s short, every lap", "below standard", ("timing",), Fault(outbound_s=-25.0), LEFT),
    Planted("outbound 15 s long once, then right", "improve", ("timing",), Fault((2,), outbound_s=15.0)),
    Planted("inbound 25 s long, every lap, FAA", "below standard", ("timing",), Fault(outbound_s=25.0), FAA),
    Planted(
        "first outbound 25 s long, then right, FAA",
        "improve",
        ("timing",),
        Fault((1,), outbound_s=27.0),
        FAA_LEFT,
    ),
    Planted(
        "4 NM leg flown 1.4 times as long",
        "below standard",
        ("timing",),
        Fault(outbound_factor=1.4),
        Scene(leg_nm=4.0, tas_kt=150.0),
    ),
    Planted("outbound turn 40 s late, every lap", "below standard", ("late turn",), Fault(late_s=40.0)),
    Planted(
        "outbound turn 20 s late, every lap", "below standard", ("late turn",), Fault(late_s=20.0), FAA_LEFT
    ),
    Planted("outbound turn 15 s late, every lap", "below standard", ("late turn",), Fault(late_s=15.0), LEFT),
    Planted(
        "no drift correction",
        "below standard",
        ("wind_correction",),
        Fault(drift="none"),
        Scene(air=CROSSWIND),
    ),
    Planted(
        "no drift correction",
        "below standard",
        ("wind_correction",),
        Fault(drift="none"),
        Scene(rules="faa", side=-1, air=CROSSWIND),
    ),
    Planted(
        "single drift correction",
        "below standard",
        ("wind_correction",),
        Fault(drift="single"),
        Scene(air=CROSSWIND, side=-1),
    ),
    Planted(
        "no drift on the measuring circuit, then right",
        "improve",
        ("wind_correction",),
        Fault((1,), drift="none"),
        Scene(air=CROSSWIND),
    ),
    Planted(
        "outbound heading 20° out", "below standard", ("wind_correction",), Fault(outbound_heading_deg=20.0)
    ),
    Planted("inbound 0.4 NM beside the course", "below standard", ("track",), Fault(beside_nm=0.4)),
    Planted("parallel entry turned away", "unsafe", ("entry way",), Fault(entry_wrong_way=True), PARALLEL),
    Planted("offset entry turned away", "unsafe", ("entry way",), Fault(entry_wrong_way=True), OFFSET),
    Planted(
        "offset entry turned away, left",
        "unsafe",
        ("entry way",),
        Fault(entry_wrong_way=True),
        Scene(entry="offset", side=-1),
    ),
    Planted(
        "offset flown for parallel",
        "below standard",
        ("entry",),
        Fault(),
        Scene(entry="offset", asked="parallel"),
    ),
    Planted(
        "parallel flown for offset",
        "below standard",
        ("entry",),
        Fault(),
        Scene(entry="parallel", asked="offset", side=-1),
    ),
    Planted(
        "offset flown for parallel, FAA",
        "remark",
        ("entry",),
        Fault(),
        Scene(entry="offset", asked="parallel", rules="faa"),
    ),
    Planted("entry leg twice its time", "improve", ("entry time",), Fault(entry_time_factor=1.8), OFFSET),
    Planted(
        "entry track 20° out",
        "improve",
        ("entry track",),
        Fault(entry_track_off_deg=20.0),
        Scene(entry="offset", side=-1),
    ),
    Planted("nothing", "good", ("entry",)),
    Planted("nothing", "good", ("entry",), scene=LEFT),
    Planted("nothing, FAA", "good", ("entry",), scene=FAA),
    Planted("nothing, FAA", "good", ("entry",), scene=FAA_LEFT),
    Planted("nothing, offset entry", "good", ("entry",), scene=OFFSET),
    Planted("nothing, parallel entry", "good", ("entry",), scene=Scene(entry="parallel", side=-1)),
    Planted("small first turn", "good", ("entry",), scene=Scene(entry="parallel", arrival_off_deg=-20.0)),
    Planted(
        "small first turn, FAA",
        "good",
        ("entry",),
        scene=Scene(entry="parallel", arrival_off_deg=-22.0, rules="faa", side=-1),
    ),
    Planted("nothing, distance leg", "good", ("entry",), scene=Scene(leg_nm=4.0, tas_kt=150.0)),
    Planted("nothing, strong crosswind", "good", ("entry",), scene=Scene(air=CROSSWIND)),
    Planted(
        "3 s late, 3 kt fast, 4 s long", "good", ("entry",), Fault(late_s=3.0, speed_kt=3.0, outbound_s=4.0)
    ),
    Planted(
        "several small things",
        "below standard",
        ("speed",),
        Fault(late_s=8.0, speed_kt=7.0, outbound_s=12.0, outbound_heading_deg=6.0),
    ),
)
