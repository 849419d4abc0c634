"""Flights with faults on single laps, put right or not; holes in the log, cleared levels, limits of several kinds.

What an examiner says of each was written down beforehand, as in :mod:`tests.planted.table`.
"""

from __future__ import annotations

from dataclasses import replace

from tests.flights.air import Air
from tests.planted.fault import Fault, Scene
from tests.planted.table import CROSSWIND, FAA, NEVER, TABLE, Planted
from tests.planted.untidy import FOUR, UNTIDY

STEPS_UP = Scene(circuits=4, cleared=((2, 5000.0), (3, 6000.0)))
JET = Scene(level_ft=8000.0, tas_kt=295.0, air=Air(100.0, 15.0, 8000.0))
BY_STATION = Scene(leg_nm=6.0, tas_kt=150.0, fix_dme_nm=10.0)

SINGLE_LAPS = (
    Planted(
        "145, 105 and 130 kt, none given",
        "below standard",
        ("speed",),
        Fault((1,), lap_speed_kt=15.0, also=(Fault((2,), lap_speed_kt=-25.0),)),
        Scene(speed_given=False, logged_speed=True, tas_kt=130.0),
    ),
    Planted(
        "outbound turn 20 s late on the last lap",
        "below standard",
        ("late turn",),
        Fault((3,), late_s=20.0),
        FAA,
    ),
    Planted(
        "outbound long, short and long again",
        "below standard",
        ("timing",),
        Fault((1, 3), outbound_s=25.0, also=(Fault((2,), outbound_s=-25.0),)),
    ),
    Planted(
        "inbound turns steep, then flat, then right",
        "below standard",
        ("bank",),
        Fault(
            (1,),
            bank_deg=30.0,
            bank_parts=("inbound",),
            also=(Fault((2,), bank_deg=9.0, bank_parts=("inbound",)),),
        ),
        FAA,
    ),
    Planted(
        "no drift on lap 1, 40° of bank on lap 2, both put right",
        "below standard",
        ("bank",),
        Fault((1,), drift="none", also=(Fault((2,), bank_deg=40.0),)),
        Scene(air=CROSSWIND),
    ),
    Planted(
        "60° of bank on lap 1, a late turn on lap 3",
        "unsafe",
        ("steep bank",),
        Fault((1,), steep_deg=60.0, also=(Fault((3,), late_s=20.0),)),
    ),
    Planted(
        "the second lap to the left and 400 ft low",
        "unsafe",
        ("wrong side",),
        Fault((2,), wrong_lap=True, bust_ft=-400.0),
        FOUR,
    ),
    Planted("nothing, a lap unseen", "good", ("entry",), scene=Scene(circuits=4, holes=((2, 10.0, 220.0),))),
    Planted(
        "500 ft low, seen in part",
        "unsafe",
        ("level",),
        Fault((2,), bust_ft=-500.0, bust_s=90.0),
        Scene(holes=((2, 100.0, 60.0),)),
    ),
    Planted(
        "late by 20 s across a hole over the fix",
        "below standard",
        ("late turn",),
        Fault(late_s=20.0),
        Scene(holes=((2, -15.0, 40.0),)),
    ),
    Planted(
        "cleared to 5,000 ft, then to 6,000 ft, both flown",
        "good",
        ("entry",),
        Fault((2,), bust_ft=1000.0, bust_s=NEVER, also=(Fault((3,), bust_ft=2000.0, bust_s=NEVER),)),
        STEPS_UP,
    ),
    Planted(
        "cleared to 5,000 ft, then to 6,000 ft, stayed at 5,000 ft",
        "unsafe",
        ("level",),
        Fault((2,), bust_ft=1000.0, bust_s=NEVER),
        STEPS_UP,
    ),
    Planted(
        "descended a lap before the clearance",
        "unsafe",
        ("level",),
        Fault((2,), bust_ft=-1000.0, bust_s=NEVER),
        Scene(circuits=4, cleared=((3, 3000.0),)),
    ),
    Planted("262 KIAS in turbulence", "good", ("entry",), scene=replace(JET, turbulence=True)),
    Planted("262 KIAS, no turbulence", "unsafe", ("speed limit", "holding area"), scene=JET),
    Planted(
        "294 KIAS in turbulence",
        "unsafe",
        ("speed limit", "holding area"),
        scene=replace(JET, turbulence=True, tas_kt=332.0),
    ),
    Planted(
        "a helicopter at 112 KIAS",
        "unsafe",
        ("speed limit",),
        scene=Scene(category="H", level_ft=3000.0, tas_kt=117.0, air=Air(100.0, 10.0, 3000.0)),
    ),
    Planted(
        "a helicopter at 90 KIAS",
        "good",
        ("entry",),
        scene=Scene(category="H", level_ft=3000.0, tas_kt=94.0, air=Air(100.0, 10.0, 3000.0)),
    ),
    Planted("category B at 180 KIAS", "unsafe", ("speed limit",), scene=Scene(category="B", tas_kt=191.0)),
    Planted(
        "the turn 7° beyond a limiting radial",
        "below standard",
        ("limiting radial",),
        Fault(outbound_heading_deg=25.0),
        replace(BY_STATION, radial_off_deg=9.0),
    ),
    Planted(
        "nothing, within a limiting radial",
        "good",
        ("entry",),
        scene=replace(BY_STATION, radial_off_deg=12.0),
    ),
    Planted(
        "a leg 1.2 NM too long on the last lap",
        "below standard",
        ("timing",),
        Fault((3,), outbound_factor=1.35),
        Scene(leg_nm=4.0, tas_kt=150.0),
    ),
    Planted(
        "no drift on lap 1, left outbound on lap 2",
        "below standard",
        ("wind_correction",),
        Fault((1,), drift="none"),
        Scene(circuits=2, ending="outbound", air=CROSSWIND),
    ),
    Planted(
        "left 25 s late and 350 ft low",
        "unsafe",
        ("level",),
        Fault((3,), bust_ft=-350.0),
        Scene(leave_late_s=25.0),
    ),
    Planted("left 15 s early", "improve", ("leaving",), scene=Scene(leave_late_s=-15.0, rules="faa")),
    Planted(
        "beyond the limit on arrival, and not the recommended entry",
        "unsafe",
        ("speed limit",),
        Fault(arrival_speed_kt=75.0),
        Scene(rules="faa", entry="offset", asked="parallel", tas_kt=160.0),
    ),
    Planted(
        "250 ft low for two minutes, no level given",
        "unsafe",
        ("level",),
        Fault((2,), bust_ft=-250.0, bust_s=120.0),
        Scene(level_given=False),
    ),
    Planted(
        "sinking at 60 ft/min, no level given",
        "below standard",
        ("level",),
        Fault(sink_fpm=60.0),
        Scene(level_given=False),
    ),
    Planted("an orbit over the fix", "good", ("circle",), Fault((2,), orbit=True), FAA),
)

#: All that an examiner is shown.
PLANTED = (*TABLE, *UNTIDY, *SINGLE_LAPS)
