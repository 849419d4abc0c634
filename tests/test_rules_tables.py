"""The rules' tables as their documents print them."""

from collections.abc import Iterator
from dataclasses import MISSING, fields, is_dataclass, replace
from typing import Any

import pytest

from analyser.errors import SettingsError
from analyser.holds.definition import Hold, LegLimit
from analyser.holds.ideal_circuit import ideal_circuit
from analyser.rules.load import load_regime, load_standard, standard_names
from analyser.rules.regime import Regime, Sourced
from analyser.rules.scoring import load_scoring

ICAO, FAA = load_regime("icao"), load_regime("faa")


# ICAO Doc 8168 Table I-6-1-1 as a state AIP gives it in ENR 1.5.
@pytest.mark.parametrize(
    ("altitude_ft", "kias"),
    [(2000, 230), (14000, 230), (14001, 240), (20000, 240), (20001, 265), (34000, 265)],
)
def test_icao_speed_table(altitude_ft, kias):
    assert ICAO.speed_limit_kias(altitude_ft) == kias


def test_icao_category_a_and_b_and_turbulence():
    assert ICAO.speed_limit_kias(5000, "A") == 170
    assert ICAO.speed_limit_kias(5000, "B") == 170
    assert ICAO.speed_limit_kias(5000, "C") == 230
    assert ICAO.speed_limit_kias(15000, "B") == 240
    rough = ICAO.under(turbulence=True)
    assert rough.speed_limit_kias(12000) == 280
    assert rough.speed_limit_kias(12000, "B") == 170


def test_icao_helicopters():
    # Doc 8168 Vol I (quoted): 100 kt to 6,000 ft.
    assert ICAO.speed_limit_kias(6000, "H") == 100
    assert ICAO.speed_limit_kias(6001, "H") == 230


@pytest.mark.parametrize(
    ("altitude_ft", "charted", "kias"),
    [
        (5000, 210, 200),
        (6001, 210, 210),
        (14000, 210, 210),
        (14001, 210, 265),
        (16000, 175, 175),
        (3000, 175, 175),
    ],
)
def test_faa_charted_limits(altitude_ft, charted, kias):
    # AIM 5-3-8 j.2: 210 where charted from 6,001 to 14,000 ft only; any other charted limit at any level.
    assert FAA.speed_limit_kias(altitude_ft, charted_kias=charted) == kias
    assert FAA.speed_limit(altitude_ft, None, charted).kias == kias


def test_a_charted_limit_above_the_rules_own_changes_nothing():
    assert ICAO.speed_limit_kias(5000, "A", 190.0) == 170
    assert ICAO.speed_limit_kias(5000, None, 190.0) == 190


def test_mach_limits_become_indicated_airspeeds():
    # Mach 0.83 at 36,089 ft, by hand: qc/p = (1 + 0.2 · 0.83²)^3.5 − 1 = 0.5711; p/p0 = 0.2234, so
    # qc/p0 = 0.1276; CAS = 661.5 · √(5 · (1.1276^(2/7) − 1)) = 276.3 kt.
    assert ICAO.speed_limit_kias(36089) == pytest.approx(276.3, abs=0.1)
    assert ICAO.speed_limit_kias(34001) < 300
    # Mach 0.80 is the lesser only high up.
    rough = ICAO.under(turbulence=True)
    assert rough.speed_limit_kias(34000) == pytest.approx(280, abs=5)
    assert rough.speed_limit_kias(39000) < 265


# FAA AIM 5-3-8 j.2.
@pytest.mark.parametrize(
    ("altitude_ft", "kias"), [(3000, 200), (6000, 200), (6001, 230), (14000, 230), (14001, 265), (30000, 265)]
)
def test_faa_speed_table(altitude_ft, kias):
    assert FAA.speed_limit_kias(altitude_ft) == kias
    assert FAA.speed_limit_kias(altitude_ft, "B") == kias
    assert FAA.under(turbulence=True).speed_limit_kias(altitude_ft) == kias


@pytest.mark.parametrize("regime", [ICAO, FAA])
def test_leg_time_changes_above_14000_ft(regime):
    assert regime.leg_minutes(14000) == 1.0
    assert regime.leg_minutes(14001) == 1.5
    assert regime.leg_step(14001).source
    assert regime.leg_minutes(float("nan")) == 1.0


def test_entry_times():
    assert (ICAO.entry_minutes(14000), ICAO.entry_minutes(15000)) == (1.0, 1.5)
    assert (FAA.entry_minutes(14000), FAA.entry_minutes(15000)) == (1.0, 1.0)


def test_what_the_clock_fixes():
    assert ICAO.clock.fixes == "outbound"
    assert FAA.clock.fixes == "inbound"


# Above 170 kt TAS the ICAO turn is always 25° of bank (Doc 8168 Vol II); 3°/s takes 30° at 210.2 kt.
@pytest.mark.parametrize(
    ("tas_kt", "half_turn_s"), [(80, 60.0), (120, 60.0), (150, 60.0), (180, 63.6), (200, 70.7)]
)
def test_icao_half_turn(tas_kt, half_turn_s):
    assert 180 / ICAO.turn_rate_dps(tas_kt) == pytest.approx(half_turn_s, abs=0.06)


def test_turn_banks():
    assert ICAO.turn_bank_deg(120) == pytest.approx(18.24, abs=0.006)
    assert ICAO.turn_bank_deg(170) == 25
    assert FAA.turn_bank_deg(200) == pytest.approx(28.78, abs=0.006)
    assert FAA.turn_bank_deg(211) == 30
    steered = FAA.under(flight_director=True)
    assert steered.turn_bank_deg(200) == 25
    assert FAA.turn_rate_dps(200) == pytest.approx(3.0)
    assert steered.turn_rate_dps(200) < 3.0
    assert ICAO.under(flight_director=True) == ICAO


def test_test_standards():
    acs, fcl = load_standard("acs-instrument"), load_standard("part-fcl-instrument")
    assert (acs.altitude.tolerance_ft, acs.speed.tolerance_kt, acs.heading.tolerance_deg) == (100, 10, 10)
    assert (fcl.altitude.tolerance_ft, fcl.speed.tolerance_kt, fcl.heading.tolerance_deg) == (100, 5, 5)
    # Three-quarters of a VOR's full scale of 12°: 9°.
    assert (acs.track_angular_deg, acs.track_linear_nm) == (9.0, 0.75)
    assert (fcl.track_angular_deg, fcl.track_linear_nm, fcl.track.linear_brief_nm) == (5, 0.5, 1.0)
    assert acs.timing is None
    assert acs.vor_deflection(-6) == -0.5
    assert acs.gps_deflection(2) == 1.0
    assert set(standard_names()) >= {"acs-instrument", "part-fcl-instrument"}


def _sourced(thing):
    if isinstance(thing, tuple):
        for one in thing:
            yield from _sourced(one)
    elif is_dataclass(thing):
        if hasattr(thing, "source"):
            yield thing
        for one in fields(thing):
            yield from _sourced(getattr(thing, one.name))


@pytest.mark.parametrize("rules", [ICAO, FAA, load_standard("acs-instrument")])
def test_every_figure_names_its_source(rules):
    found = list(_sourced(rules))
    assert len(found) > 4
    assert all(len(one.source) > 10 for one in found)
    assert all(isinstance(one, Sourced) or one.source != "given in the file" for one in found)


def test_unknown_names():
    with pytest.raises(SettingsError, match="use icao or faa"):
        load_regime("lunar")
    with pytest.raises(SettingsError, match="acs-instrument"):
        load_standard("lunar")
    with pytest.raises(SettingsError, match="no such file"):
        load_standard("nowhere/lunar.toml")


OWN = """
key = "club"
name = "Club check"
altitude = { tolerance_ft = 150 }
speed = { tolerance_kt = 10 }
heading = { tolerance_deg = 10 }
track = { deflection_fraction = 1.0, linear_nm = 0.8 }
cdi = { vor_full_scale_deg = 10, gps_full_scale_nm = 1.0 }
timing = { tolerance_s = 5 }
"""


def test_a_file_of_ones_own(tmp_path):
    path = tmp_path / "club.toml"
    path.write_text(OWN)
    club = load_standard(path)
    assert club.altitude.tolerance_ft == 150
    assert club.timing.tolerance_s == 5
    assert (club.track_angular_deg, club.track_linear_nm) == (10, 0.8)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "tolerance_ft = 150",
            "tolerance_feet = 150",
            r"altitude\.tolerance_feet.*mean 'tolerance_ft'",
        ),
        ("tolerance_ft = 150", 'tolerance_ft = "150"', r"altitude\.tolerance_ft.*number"),
        ("tolerance_ft = 150", "tolerance_ft = 0", r"altitude\.tolerance_ft.*above zero"),
        ("tolerance_kt = 10", "tolerance_kt = nan", r"speed\.tolerance_kt.*finite"),
        ('name = "Club check"', "", r"'name': is missing"),
        ('key = "club"', "key = ", r"not TOML.*line 2"),
    ],
)
def test_mistakes_name_their_key(tmp_path, old, new, said):
    path = tmp_path / "club.toml"
    path.write_text(OWN.replace(old, new))
    with pytest.raises(SettingsError, match=said):
        load_standard(path)


def test_all_mistakes_at_once(tmp_path):
    path = tmp_path / "club.toml"
    wrong = OWN.replace("tolerance_kt", "tolerance_knots").replace("tolerance_s = 5", "tolerance_s = true")
    path.write_text(wrong)
    with pytest.raises(SettingsError) as caught:
        load_standard(path)
    assert "speed.tolerance_knots" in str(caught.value)
    assert "timing.tolerance_s" in str(caught.value)


def _optional(table: Any) -> Iterator[tuple[Any, Any]]:
    """Yield what the house's file says of each key that another may leave out, and what holds where it does."""
    for one in fields(table):
        said = getattr(table, one.name)
        if one.default is not MISSING:
            yield said, one.default
        if is_dataclass(said):
            yield from _optional(said)


def test_a_schools_file_that_leaves_a_key_out_means_what_the_house_means() -> None:
    """Older files of schools know fewer keys: they are judged by as before, but for where the number comes from."""

    def numbers(one: Any) -> Any:
        return replace(one, source="", standing="common practice") if is_dataclass(one) else one

    optional = list(_optional(load_scoring()))
    assert len(optional) >= 15
    for said, unsaid in optional:
        assert numbers(said) == numbers(unsaid)


@pytest.mark.parametrize("rules", [ICAO, FAA], ids=["icao", "faa"])
def test_no_outbound_leg_is_shorter_than_a_quarter_of_a_minute(rules: Regime) -> None:
    """Half of the 30 s that US Navy P-871 asks for; into 40 kt the minute inbound would leave less of it."""
    hold = Hold(50.0, 8.0, 0.0, "right", LegLimit(minutes=1.0))
    air = {"tas_kt": 110.0, "altitude_ft": 4000.0, "wind_east_kt": 0.0}
    short = ideal_circuit(hold, rules, wind_north_kt=-40.0, **air)
    assert short.outbound_time_s == pytest.approx(15.0, abs=0.01) and short.closes and not short.exists
    assert "at least 15 s outbound in this wind" in short.why_not
    assert ideal_circuit(hold, rules, wind_north_kt=-20.0, **air).exists


def test_nothing_changes_by_a_flight_director_or_turbulence_that_nobody_named() -> None:
    for rules in (ICAO, FAA):
        assert rules.under() == rules
    assert (
        ICAO.under(turbulence=True).speeds != ICAO.speeds and ICAO.under(turbulence=True).turns == ICAO.turns
    )
    assert FAA.under(flight_director=True).speeds == FAA.speeds
