"""Untidy flights: faults together, laps broken off, levels cleared and not, gusts, and what an examiner says first.

Written down beforehand by the trade, as in :mod:`tests.planted.table`; where several faults are of one severity the
danger to others and to the aircraft comes before the speed, the speed before what comes of it.
"""

from __future__ import annotations

from tests.flights.air import Air
from tests.planted.fault import Fault, Scene
from tests.planted.table import CROSSWIND, FAA, FAA_LEFT, NEVER, OFFSET, PARALLEL, Planted

STRONG = Air(300.0, 35.0, 4000.0)
GUSTY = Air(200.0, 18.0, 4000.0, gust_kt=4.0)
VEERING = Air(120.0, 22.0, 4000.0, veer_deg_per_hour=240.0)
FOUR = Scene(circuits=4)
UP_AT_2 = Scene(circuits=4, cleared=((2, 5000.0),))
DISTANCE = Scene(leg_nm=4.0, tas_kt=140.0, side=-1)
FAA_CROSS = Scene(rules="faa", side=-1, air=CROSSWIND)

UNTIDY = (
    Planted(
        "wrong entry, 350 ft low and 18 kt fast",
        "unsafe",
        ("level",),
        Fault(level_off_ft=-350.0, speed_kt=18.0),
        Scene(entry="offset", asked="parallel"),
    ),
    Planted(
        "wrong entry, slow, 11° of bank",
        "below standard",
        ("speed",),
        Fault(speed_kt=-15.0, bank_deg=11.0),
        Scene(entry="parallel", asked="offset", side=-1),
    ),
    Planted(
        "everything wrong",
        "below standard",
        ("speed",),
        Fault(
            level_off_ft=-180.0,
            speed_kt=15.0,
            bank_deg=35.0,
            outbound_s=30.0,
            late_s=20.0,
            drift="none",
            swing_deg=7.0,
        ),
        Scene(air=CROSSWIND),
    ),
    Planted(
        "everything wrong, FAA",
        "below standard",
        ("level",),
        Fault(level_off_ft=250.0, speed_kt=-18.0, bank_deg=12.0, outbound_s=-30.0, late_s=12.0, drift="none"),
        FAA_CROSS,
    ),
    Planted(
        "everything a little wrong",
        "below standard",
        ("track",),
        Fault(
            level_off_ft=70.0,
            speed_kt=4.0,
            bank_deg=21.0,
            outbound_s=7.0,
            late_s=5.0,
            outbound_heading_deg=4.0,
        ),
        Scene(air=CROSSWIND),
    ),
    Planted(
        "left outbound on the second lap", "good", ("entry",), scene=Scene(circuits=2, ending="outbound")
    ),
    Planted(
        "left in the second inbound turn, late turns",
        "below standard",
        ("late turn",),
        Fault(late_s=15.0),
        Scene(circuits=2, ending="inbound turn", rules="faa"),
    ),
    Planted("climbed as cleared", "good", ("entry",), Fault((2,), bust_ft=1000.0, bust_s=NEVER), UP_AT_2),
    Planted("climbed, not cleared", "unsafe", ("level",), Fault((2,), bust_ft=1000.0, bust_s=NEVER), FOUR),
    Planted("cleared to climb and stayed", "unsafe", ("level",), scene=UP_AT_2),
    Planted(
        "cleared to climb, and back again",
        "unsafe",
        ("level",),
        Fault((2,), bust_ft=1350.0, bust_s=40.0),
        UP_AT_2,
    ),
    Planted(
        "descended a lap after the clearance",
        "unsafe",
        ("level",),
        Fault((3,), bust_ft=-1000.0, bust_s=NEVER),
        Scene(circuits=4, cleared=((2, 3000.0),)),
    ),
    Planted(
        "sinking at 40 ft/min and 8 kt slow",
        "unsafe",
        ("level",),
        Fault(sink_fpm=40.0, speed_kt=-8.0),
        Scene(rules="faa"),
    ),
    Planted("nothing, veering wind", "good", ("entry",), scene=Scene(air=VEERING, circuits=4)),
    Planted(
        "no drift, distance leg",
        "below standard",
        ("wind_correction",),
        Fault(drift="none"),
        Scene(leg_nm=5.0, tas_kt=140.0, air=CROSSWIND),
    ),
    Planted(
        "distance leg cut to 0.6, FAA",
        "below standard",
        ("timing",),
        Fault(outbound_factor=0.6),
        Scene(leg_nm=5.0, tas_kt=140.0, rules="faa"),
    ),
    Planted(
        "distance leg of 2.2 times",
        "unsafe",
        ("holding area", "long outbound leg"),
        Fault(outbound_factor=2.2),
        DISTANCE,
    ),
    Planted(
        "offset 4° beyond its boundary", "good", ("entry",), scene=Scene(entry="offset", arrival_off_deg=74.0)
    ),
    Planted(
        "offset 4° into the parallel sector",
        "good",
        ("entry",),
        scene=Scene(entry="offset", arrival_off_deg=-4.0),
    ),
    Planted(
        "offset 9° into the parallel sector",
        "below standard",
        ("entry",),
        scene=Scene(entry="offset", arrival_off_deg=-9.0),
    ),
    Planted("direct 3° into the offset sector", "good", ("entry",), scene=Scene(arrival_off_deg=67.0)),
    Planted(
        "direct 9° into the offset sector",
        "below standard",
        ("entry",),
        scene=Scene(arrival_off_deg=61.0, side=-1),
    ),
    Planted(
        "beyond the speed limit and 600 ft low",
        "unsafe",
        ("level",),
        Fault(speed_kt=130.0, level_off_ft=-600.0),
        Scene(level_ft=8000.0, tas_kt=150.0),
    ),
    Planted(
        "wrong side and 500 ft low", "unsafe", ("wrong side",), Fault(wrong_hand=True, level_off_ft=-500.0)
    ),
    Planted(
        "wrong side, all else right",
        "unsafe",
        ("wrong side",),
        Fault(wrong_hand=True),
        Scene(rules="faa", entry="parallel"),
    ),
    Planted(
        "wrong side and everything else",
        "unsafe",
        ("wrong side",),
        Fault(wrong_hand=True, speed_kt=15.0, bank_deg=35.0, outbound_s=40.0),
        Scene(side=-1),
    ),
    Planted(
        "entry turned away, then long legs",
        "unsafe",
        ("entry way",),
        Fault(entry_wrong_way=True, outbound_factor=2.5),
        Scene(entry="parallel"),
    ),
    Planted(
        "45 s late at 45° of bank",
        "below standard",
        ("late turn",),
        Fault(late_s=45.0, bank_deg=45.0),
        Scene(rules="faa"),
    ),
    Planted(
        "short legs and steep turns", "below standard", ("timing",), Fault(outbound_s=-30.0, bank_deg=32.0)
    ),
    Planted(
        "a single lap without drift",
        "below standard",
        ("wind_correction",),
        Fault(drift="none"),
        Scene(circuits=1, air=CROSSWIND),
    ),
    Planted("a single lap, nothing", "good", ("entry",), scene=Scene(circuits=1)),
    Planted(
        "four laps right, the fifth all wrong",
        "below standard",
        ("wind_correction",),
        Fault((5,), bank_deg=40.0, outbound_s=40.0, outbound_heading_deg=25.0),
        Scene(circuits=5),
    ),
    Planted(
        "no drift in 35 kt",
        "below standard",
        ("wind_correction",),
        Fault(drift="none"),
        Scene(air=STRONG, tas_kt=100.0),
    ),
    Planted("nothing, 35 kt of wind", "good", ("entry",), scene=Scene(air=STRONG, tas_kt=100.0)),
    Planted(
        "single drift in 35 kt, FAA",
        "below standard",
        ("wind_correction",),
        Fault(drift="single"),
        Scene(air=STRONG, tas_kt=100.0, rules="faa"),
    ),
    Planted(
        "beside the course and 15 s long",
        "below standard",
        ("timing",),
        Fault(beside_nm=0.3, outbound_s=15.0),
    ),
    Planted(
        "1.3 NM beside the fix on every lap",
        "below standard",
        ("fix passage",),
        Fault(beside_nm=1.3),
    ),
    Planted(
        "1.2 NM beside the fix on the last of four",
        "below standard",
        ("fix passage",),
        Fault((4,), beside_nm=-1.2),
        Scene(circuits=4, rules="faa", side=-1),
    ),
    Planted(
        "30 s short above 14,000 ft",
        "below standard",
        ("timing",),
        Fault(outbound_s=-30.0),
        Scene(level_ft=15000.0, tas_kt=190.0, air=Air(100.0, 15.0, 15000.0)),
    ),
    Planted(
        "nothing above 14,000 ft",
        "good",
        ("entry",),
        scene=Scene(level_ft=16000.0, tas_kt=190.0, air=Air(100.0, 15.0, 16000.0)),
    ),
    Planted(
        "gusts, 20 kt slow", "below standard", ("speed",), Fault(speed_kt=-20.0), Scene(air=GUSTY, seed=3)
    ),
    Planted(
        "gusts, 500 ft low",
        "unsafe",
        ("level",),
        Fault((2,), bust_ft=-500.0),
        Scene(air=GUSTY, rules="faa", side=-1, seed=5),
    ),
    Planted(
        "low, late and on the wrong side",
        "unsafe",
        ("wrong side",),
        Fault(level_off_ft=-400.0, late_s=25.0, wrong_hand=True),
    ),
    Planted(
        "400 ft low in the entry alone",
        "unsafe",
        ("level",),
        Fault(bust_ft=-400.0, bust_s=10.0, bust_when="entry"),
        OFFSET,
    ),
    Planted(
        "400 ft low on the last way home",
        "unsafe",
        ("level",),
        Fault((3,), bust_ft=-400.0, bust_s=NEVER, bust_when="homeward"),
    ),
    Planted(
        "up through the level of the hold",
        "unsafe",
        ("level",),
        Fault(bust_when="arrival", bust_ft=-1000.0, bust_back_ft=1000.0),
    ),
    Planted(
        "climbed past the cleared level",
        "unsafe",
        ("level",),
        Fault((2,), bust_ft=1400.0, bust_s=15.0, bust_back_ft=1000.0),
        UP_AT_2,
    ),
    Planted(
        "sank by 500 ft before the cleared climb",
        "unsafe",
        ("level",),
        Fault((2,), bust_ft=-500.0, bust_s=10.0, bust_back_ft=1000.0),
        UP_AT_2,
    ),
    Planted(
        "beyond the limit in the turns alone",
        "unsafe",
        ("speed limit", "holding area"),
        Fault(turn_speed_kt=30.0),
        Scene(rules="faa", tas_kt=205.0, level_ft=5000.0),
    ),
    Planted(
        "beyond a charted limit in the turns alone",
        "unsafe",
        ("speed limit",),
        Fault(turn_speed_kt=20.0),
        Scene(max_kias=115.0, tas_kt=118.0),
    ),
    Planted(
        "arrived 34 kt beyond a charted limit",
        "unsafe",
        ("speed limit",),
        Fault(arrival_speed_kt=60.0),
        Scene(max_kias=150.0, tas_kt=130.0, entry="parallel"),
    ),
    Planted("left 60 s late", "below standard", ("leaving",), scene=Scene(leave_late_s=60.0)),
    Planted(
        "left 60 s early",
        "below standard",
        ("leaving",),
        scene=Scene(leave_late_s=-60.0, rules="faa", side=-1),
    ),
    Planted("left 5 s late", "good", ("entry",), scene=Scene(leave_late_s=5.0)),
    Planted("no outbound leg", "below standard", ("no outbound leg",), Fault(outbound_is_s=0.0)),
    Planted(
        "no outbound leg on circuit 2",
        "below standard",
        ("no outbound leg",),
        Fault((2,), outbound_is_s=0.0),
        FAA,
    ),
    Planted("outbound for three minutes", "unsafe", ("long outbound leg",), Fault(outbound_is_s=180.0)),
    Planted(
        "outbound for three minutes once",
        "unsafe",
        ("long outbound leg",),
        Fault((2,), outbound_is_s=180.0),
        FAA_LEFT,
    ),
    Planted("the second lap to the left", "unsafe", ("wrong side",), Fault((2,), wrong_lap=True)),
    Planted("the last lap to the right", "unsafe", ("wrong side",), Fault((3,), wrong_lap=True), FAA_LEFT),
    Planted("the first lap to the left", "unsafe", ("wrong side",), Fault((1,), wrong_lap=True), OFFSET),
    Planted(
        "turned inbound the wrong way once", "below standard", ("inbound way",), Fault((2,), wrong_back=True)
    ),
    Planted("turned inbound the wrong way", "below standard", ("inbound way",), Fault(wrong_back=True), FAA),
    Planted(
        "parallel entry 40° to the non-holding side",
        "below standard",
        ("entry track",),
        Fault(entry_track_off_deg=-40.0),
        PARALLEL,
    ),
    Planted(
        "offset entry on the non-holding side",
        "below standard",
        ("entry track",),
        Fault(entry_track_off_deg=-60.0),
        OFFSET,
    ),
    Planted("held on the reciprocal", "unsafe", ("wrong side",), scene=Scene(file_course_off_deg=180.0)),
    Planted("60° of bank for 5 s", "unsafe", ("steep bank",), Fault((2,), steep_deg=60.0, steep_s=5.0)),
    Planted(
        "60° of bank for 5 s, by samples of 5 s",
        "unsafe",
        ("steep bank",),
        Fault(steep_deg=60.0, steep_s=5.0),
        Scene(rules="faa", side=-1, interval_s=5.0),
    ),
    Planted("35 kt slow", "unsafe", ("speed",), Fault(speed_kt=-35.0)),
    Planted("outbound turn 15 s early", "below standard", ("early turn",), Fault(late_s=-15.0)),
    Planted(
        "parallel entry's leg of three times",
        "unsafe",
        ("long entry leg", "holding area"),
        Fault(entry_time_factor=3.0),
        PARALLEL,
    ),
    Planted(
        "offset entry's leg of four times",
        "unsafe",
        ("long entry leg", "holding area"),
        Fault(entry_time_factor=4.0),
        Scene(entry="offset", rules="faa"),
    ),
    Planted("2.5 NM beside the fix on every lap", "below standard", ("fix passage",), Fault(beside_nm=2.5)),
    Planted("290 ft high throughout", "below standard", ("level",), Fault(level_off_ft=290.0)),
    Planted("180 ft lost on every lap", "below standard", ("level",), Fault(bust_ft=-180.0, bust_s=0.0)),
    Planted("85 ft lost on every lap", "good", ("entry",), Fault(bust_ft=-85.0, bust_s=10.0)),
    Planted("outbound turn 60 s late once", "below standard", ("late turn",), Fault((2,), late_s=60.0)),
    Planted("outbound turn 40 s early", "below standard", ("early turn",), Fault(late_s=-40.0)),
    Planted("outbound turn 45 s early", "below standard", ("early turn",), Fault(late_s=-45.0), FAA_LEFT),
    Planted(
        "a minute outbound into a headwind of 30 kt inbound",
        "below standard",
        ("timing",),
        Fault(outbound_is_s=60.0),
        Scene(rules="faa", air=Air(30.0, 30.0, 4000.0)),
    ),
    Planted("outbound turn 25 s early once", "improve", ("early turn",), Fault((2,), late_s=-25.0)),
    Planted(
        "25 kt fast until the first lap", "below standard", ("speed",), Fault(arrival_speed_kt=25.0), OFFSET
    ),
    Planted(
        "40 kt slow in the turns",
        "unsafe",
        ("speed",),
        Fault(turn_speed_kt=-40.0),
        Scene(rules="faa", logged_speed=True),
    ),
    Planted("nothing, samples of 10 s", "good", ("entry",), scene=Scene(interval_s=10.0)),
    Planted(
        "nothing, offset entry, samples of 5 s",
        "good",
        ("entry",),
        scene=Scene(interval_s=5.0, rules="faa", side=-1, entry="offset"),
    ),
    Planted(
        "400 ft low once, no file",
        "unsafe",
        ("level",),
        Fault((2,), bust_ft=-400.0, bust_s=30.0),
        Scene(hold_file=False),
    ),
    Planted(
        "60° of bank for 5 s, no file",
        "unsafe",
        ("steep bank",),
        Fault((2,), steep_deg=60.0),
        Scene(hold_file=False),
    ),
    Planted("55° of bank in every turn", "unsafe", ("steep bank",), Fault(bank_deg=55.0)),
    Planted(
        "no outbound leg, to leave on time",
        "good",
        ("entry",),
        Fault((3,), outbound_is_s=0.0),
        Scene(leave_late_s=2.0),
    ),
)
