"""Every number of the rules that a document or common teaching sets, as it stands there: written down here by source.

What is nobody's but this program's choice is not here; it is held by what it does to a flight.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

import analyser.rules

RULES = Path(analyser.rules.__file__).parent

#: ICAO Doc 8168: Vol II, Tables I-2-3-1 and I-4-3: pilot 6 s, bank 5 s, timing 10 s, heading 5°; at least 30 s inbound.
DESIGN = {
    "allowances.timing_s": 10,
    "allowances.heading_deg": 5,
    "allowances.reaction_s": 6,
    "allowances.bank_establishment_s": 5,
    "allowances.least_inbound_s": 30,
    "rolling.roll_rate_dps": 5,  # a gentle roll under the hood, as taught
}
#: Sectors by heading as both publish them: 70° on the holding side, 110° on the other, a zone of 5°, offset by 30°.
SECTORS = {
    "entry.offset_sector_deg": 70,
    "entry.parallel_sector_deg": 110,
    "entry.zone_deg": 5,
    "entry.offset_angle_deg": 30,
}
PRINTED: dict[str, dict[str, Any]] = {
    "icao.toml": {
        **DESIGN,
        **SECTORS,
        "turns.rate_dps": 3.0,
        "turns.bank_limit_deg": 25,
        "entry.arrivals.within_deg": 30,  # App. C-15: 30° to the holding side
        # Doc 8168 Vol II: w = 2h + 47, h in thousands of feet, at ISA + 15.
        "design_wind.base_kt": 47,
        "design_wind.per_1000_ft_kt": 2,
        "design_wind.isa_deviation_c": 15,
        # 300 m, 600 m over high terrain; the buffer's miles 300, 150, 120, 90, 60 m: in feet by 1 m = 3.2808 ft.
        "clearance.area_ft": 984,
        "clearance.area_high_terrain_ft": 1969,
        "clearance.buffer_step_nm": 1.0,
        "clearance.buffer_ft": [984, 492, 394, 295, 197],
    },
    "faa.toml": {
        **DESIGN,
        **SECTORS,
        "turns.rate_dps": 3.0,
        "turns.bank_limit_deg": 30,
        "turns.bank_limit_flight_director_deg": 25,
        "slow_down.before_fix_s": 180,  # AIM 5-3-8 j.8(a): three minutes
        "drift.multiple": 3.0,  # j.8(c): triple the inbound correction
        "least_speed.kias": 90,  # j.2
    },
    "thumb.toml": {
        "bank.divisor": 10,
        "bank.addend_deg": 7,
        "time_full.seconds_per_kt": 1.0,
        "time_half.seconds_per_kt": 0.5,
        "clock_code.factor": 60,
        "clock_code.full_at_deg": 60,
        "double.multiple": 2.0,
        "triple.multiple": 3.0,
        # US Navy P-871: triple for the first minute, then single; a corrected outbound leg is of 30 s at least.
        "triple_then_single.multiple": 3.0,
        "triple_then_single.after_multiple": 1.0,
        "triple_then_single.first_s": 60,
        "feedback.least_s": 30,
        "gate.angle_deg": 30,
        # Half of the 5° that a bank in a steep turn is tested to, rounded down; the heading allowance.
        "bands.bank_deg": 2,
        "bands.gate_deg": 5,
    },
    "airspace.toml": {
        # Doc 8168 Vol II, holding template: ab = 5v, ac = 11v, gi1 = (t - 5)v, gi2 = (t + 21)v, Wi2 = Wi1 + 14w'.
        "template.bank_late_s": 5,
        "template.turn_late_s": 11,
        "template.outbound_early_s": -5,
        "template.outbound_late_s": 21,
        "template.outbound_late_wind_s": 14,
        "template.spread_deg": 5,
        "distance_leg.late_s": 11,
        # A parallel entry turns back as far as a 45° intercept (180 + 45), an offset one by 180 + 30.
        "entry_turns.parallel_deg": 225,
        "entry_turns.offset_deg": 210,
        # Vol II I-2-2-4, App. C-14: cones over a VOR and an NDB.
        "overhead_vor.cone_deg": 50,
        "overhead_vor.aside_deg": 5,
        "overhead_vor.track_deg": 5,
        "overhead_ndb.cone_deg": 40,
        "overhead_ndb.aside_deg": 15,
        "overhead_ndb.track_deg": 5,
        "bearing.inbound_deg": 5.2,
        "bearing.crossing_deg": 4.5,
        "dme.base_nm": 0.25,
        "dme.share": 0.0125,
        "gnss.cross_nm": 1.0,
        "gnss.along_nm": 0.8,
        "level.round_to_ft": 100,
        "high_terrain.buffer_times": 2.0,
        # 1.28 NM is the corner of 1.0 by 0.8 NM: √1.64.
        "doubt.unknown_fix_nm": 1.3,
    },
    "scoring.toml": {
        "unsafe.level_off_ft": 300.0,  # ICAO Doc 4444, 8.5.5
        "unsafe.bank_deg": 50.0,  # an upset from 45° (Doc 10011), and the tolerance of 5°
        "unsafe.fix_missed_nm": 5.0,  # the buffer round a holding area (Doc 8168 Vol II)
        "unsafe.steady_offset_share": 0.05,  # 4 ft per 1,000 ft and degree, of a day 12° off: 48 in 1,000
        "limiting_radial.tolerance_deg": 2.0,  # one dot
        "fix_passage.beside_nm": 0.5,  # half and full scale of ±1 NM
        "fix_passage.missed_nm": 1.0,
        "bank.tolerance_deg": 5.0,
        "leaving.tolerance_s": 10.0,
        "learning.worth_time_s": 10.0,  # the designers' allowances …
        "learning.worth_heading_deg": 5.0,
        "learning.time_band_s": 5.0,  # … and half of them, rounded up
        "learning.heading_band_deg": 3.0,
        "entry.minimum_turn_back_deg": 180.0,
        "entry.another_way_deg": 25.0,  # 30° between entries, less the zone of 5°
    },
    "standards/acs-instrument.toml": {
        "altitude.tolerance_ft": 100,
        "speed.tolerance_kt": 10,
        "heading.tolerance_deg": 10,
        "track.deflection_fraction": 0.75,
        "cdi.vor_full_scale_deg": 12,
        "cdi.gps_full_scale_nm": 1.0,
    },
    "standards/part-fcl-instrument.toml": {
        "altitude.tolerance_ft": 100,
        "speed.tolerance_kt": 5,
        "heading.tolerance_deg": 5,
        "track.deflection_fraction": 0.5,
        "track.angular_deg": 5,
        "track.linear_nm": 0.5,
        "track.linear_brief_nm": 1.0,
        "cdi.vor_full_scale_deg": 12,
        "cdi.gps_full_scale_nm": 1.0,
    },
}


@pytest.mark.parametrize("name", PRINTED)
def test_the_numbers_are_those_of_their_source(name: str) -> None:
    data = tomllib.loads((RULES / name).read_text(encoding="utf-8"))

    def at(path: str) -> Any:
        value: Any = data
        for part in path.split("."):
            value = value[part]
        return value

    assert {path: at(path) for path in PRINTED[name]} == PRINTED[name]


def test_a_scale_proposes_the_grades_at_the_points_where_the_house_gives_them() -> None:
    """The page's grade and the grade sheet's are one: the tables say so, and no pilot gets two."""
    scoring = tomllib.loads((RULES / "scoring.toml").read_text(encoding="utf-8"))
    steps = {str(one["grade"]): (one["from_points"], one["word"]) for one in scoring["grade"]["steps"]}
    scale = tomllib.loads((RULES / "scales/evidence-1-5.toml").read_text(encoding="utf-8"))
    points = {level["key"]: level["points_from"] for level in scale["levels"]}
    assert points == {key: points for key, (points, _) in steps.items()}
    # At the tolerance itself a performance earns 70 points, and that is "adequate": the least that a standard asks.
    assert [word for points, word in steps.values() if points == 70.0] == ["adequate"]
    assert dict(map(tuple, scoring["points"]["knots"]))[1.0] == 70.0
    # With something outside nothing is exemplary, below standard nothing effective, on the wrong side nothing even
    # minimally acceptable: one point less than each. Unsafe is never adequate.
    least = {word: points for points, word in steps.values()}
    caps = scoring["caps"]
    assert caps["outside"]["points"] == least["exemplary"] - 1.0 and caps["outside"]["highest_grade"] == 4
    assert caps["below_standard"]["points"] == least["effective"] - 1.0
    assert caps["below_standard"]["highest_grade"] == 2
    assert caps["wrong_side"]["points"] == least["minimally acceptable"] - 1.0
    assert caps["wrong_side"]["points"] < caps["unsafe"]["points"] < least["adequate"]
    assert caps["unsafe"]["highest_grade"] == caps["wrong_side"]["highest_grade"] == 1
