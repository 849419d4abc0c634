"""What a stretch's measures are made of, part by part: each laid down, so that what comes of it is arithmetic."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyser.earth.plane import LocalPlane
from analyser.logs.track import Seam, Track
from analyser.motion.airdata import logged, prove_bank
from analyser.motion.estimate import (
    Measured,
    _fit,
    _isa_deviation_c,
    _logged_tas,
    _wild_notice,
    _with_heading,
)
from analyser.motion.layout import _rate_notices, _seam_notices, lay_out, with_logged
from analyser.motion.noise_model import CorrelatedNoise
from analyser.motion.path import Path, tidy_path
from analyser.motion.windfit import WindFit
from tests.test_motion_parts import correlations
from tests.test_motion_speeds import motion
from tests.test_motion_wind import wandering

KT, G = 3600.0 / 1852.0, 9.80665
AT_S = np.arange(600.0)
#: A full circle to the right in two minutes, at 110 kt, in 20 kt of wind from the west, climbing a foot in a second.
TURNED = np.radians(3.0 * AT_S)
VELOCITY = np.column_stack([110.0 * np.sin(TURNED) + 20.0, 110.0 * np.cos(TURNED)])


def flown_path(velocity_kt: np.ndarray = VELOCITY) -> Path:
    east = np.concatenate([[np.zeros(2)], np.cumsum(0.5 * (velocity_kt[1:] + velocity_kt[:-1]), axis=0)]) / KT
    return tidy_path(AT_S, east, 1.0, AT_S)


PATH = flown_path()
WIND = WindFit(
    np.array([0.0]), AT_S, np.zeros(600), np.array([20.0, 0.0, 0.0, 0.0, 110.0]),
    np.diag([0.4**2 - 0.05**2] * 2 + [0.0, 0.0, 0.01]), CorrelatedNoise(2.0, 25.0), 1.0,
)  # fmt: skip


def laid(hole: np.ndarray | None = None, warmer_c: float = 0.0, height_ft: float = 0.0) -> Any:
    lost = np.zeros(600, dtype=bool) if hole is None else hole
    return lay_out(
        LocalPlane(47.0, 8.0), AT_S, PATH, np.full(600, height_ft), lost, WIND, {"wind": "derived"}, warmer_c
    )


def test_a_circle_in_a_wind_is_flown_at_one_airspeed_one_bank_and_one_rate() -> None:
    found, inner = laid(), slice(30, 570)
    assert found.tas_kt[inner] == pytest.approx(np.full(540, 110.0), rel=3e-3)
    off = (found.heading_deg - np.degrees(TURNED) + 180.0) % 360.0 - 180.0
    assert np.abs(off[inner]).max() < 0.3
    assert found.turn_rate_dps[inner] == pytest.approx(np.full(540, 3.0), rel=0.02)
    bank = np.degrees(np.arctan(110.0 / KT * np.radians(3.0) / G))
    assert found.bank_deg[inner] == pytest.approx(np.full(540, bank), abs=0.3)
    # At sea level on a standard day indicated is true; ten degrees warmer it is less by the root of the density.
    assert found.ias_kt[inner] == pytest.approx(found.tas_kt[inner], rel=1e-6)
    warm = laid(warmer_c=10.0)
    assert (warm.ias_kt / warm.tas_kt)[inner] == pytest.approx(
        np.full(540, np.sqrt(288.15 / 298.15)), abs=2e-4
    )
    assert np.isnan(laid(height_ft=np.nan).ias_kt).all() and np.isnan(laid(height_ft=np.nan).ias_sd_kt).all()


def test_sigmas_are_those_of_wind_and_path_and_in_a_hole_a_guess() -> None:
    hole = np.zeros(600, dtype=bool)
    hole[200:250] = True
    found = laid(hole)
    along = np.where(hole, 8.0, PATH.along_sd_kt)
    assert found.tas_sd_kt == pytest.approx(np.hypot(0.4, along))
    across = np.where(hole, 8.0, PATH.across_sd_kt)
    assert found.heading_sd_deg == pytest.approx(np.degrees(np.hypot(0.4, across) / found.tas_kt))
    # Bank is the acceleration over gravity's arc tangent, and a tenth of a degree more.
    acceleration = np.where(hole, 2.0, PATH.acceleration_sd)
    upright = np.cos(np.radians(found.bank_deg)) ** 2
    assert found.bank_sd_deg == pytest.approx(np.degrees(acceleration / G) * upright + 0.1)
    assert found.tas_mean_sd_kt == pytest.approx(
        0.5 * 2.0 * np.sqrt(correlations(AT_S, 25.0).mean()), rel=0.02
    )
    assert (found.tas_wander_kt, found.wind_mean_sd_kt) == (2.0, pytest.approx(0.4))
    assert found.tas_mean_kt == pytest.approx(found.tas_kt.mean())


def track(**channels: np.ndarray) -> Track:
    return Track("t", "table", "", AT_S, 47.0 + AT_S * 1e-4, np.full(600, 8.0), channels)


def fitted(one: Track, altitude_ft: np.ndarray, path: Path = PATH) -> tuple[WindFit, dict[str, str]]:
    return _fit(one, AT_S, path, altitude_ft, np.ones(600, dtype=bool), fed=False, quick=False)


def test_the_airspeed_that_leaves_the_quieter_remainder_is_the_reference() -> None:
    rng = np.random.default_rng(3)
    wander = wandering(rng, AT_S, 4.0, 40.0)
    tas = 110.0 + wander
    velocity = np.column_stack([tas * np.sin(TURNED) + 20.0, tas * np.cos(TURNED)])
    path, level = flown_path(velocity), np.full(600, 4000.0)
    by_log = fitted(track(tas_kt=tas + rng.normal(0.0, 0.3, 600)), level, path)
    assert by_log[1] == {"wind": "logged", "tas": "logged"}
    assert by_log[0].mean_wind(0.0, 599.0)[:2] == pytest.approx((20.0, 0.0), abs=0.3)
    # One that wanders more than the pilot did only misleads.
    wild = fitted(track(tas_kt=tas + wandering(rng, AT_S, 12.0, 40.0)), level, path)
    assert wild[1] == {"wind": "derived", "tas": "derived"} == fitted(track(), level, path)[1]


@pytest.mark.parametrize(("climbs_ft", "sheared"), [(700.0, False), (900.0, True)])
def test_a_wind_may_shear_where_the_height_changed_by_eight_hundred_feet(
    climbs_ft: float, sheared: bool
) -> None:
    fit, _ = fitted(track(), np.linspace(4000.0, 4000.0 + climbs_ft, 600))
    assert (np.ptp(fit.height_kft) > 0.0) == sheared
    if sheared:
        assert np.ptp(fit.height_kft) == pytest.approx(climbs_ft / 1000.0, rel=0.01)
        assert fit.height_kft.mean() == pytest.approx(0.0, abs=1e-9)


def test_a_true_airspeed_is_taken_as_logged_or_from_the_indicated_one_in_the_air_of_the_day() -> None:
    level = np.full(600, 10_000.0)
    swing = np.sin(AT_S / 30.0)
    assert _logged_tas(track(tas_kt=140.0 + swing, ias_kt=110.0 + swing), AT_S, level) == pytest.approx(
        140.0 + swing
    )
    # At 10,000 ft standard air has 0.7385 of the density; compressibility is a few tenths of a knot.
    found = _logged_tas(track(ias_kt=110.0 + swing), AT_S, level)
    assert found == pytest.approx((110.0 + swing) / np.sqrt(0.7385), rel=3e-3)
    assert _logged_tas(track(ias_kt=110.0 + swing), AT_S, np.full(600, np.nan)) is None
    # Standard at 10,000 ft is -4.8 °C.
    warm = track(outside_air_temperature_c=7.2 + 0.1 * swing, ias_kt=110.0 + swing)
    assert _isa_deviation_c(warm, AT_S, level) == pytest.approx(12.0, abs=0.05)
    assert _isa_deviation_c(warm, AT_S, np.full(600, np.nan)) == 0.0 == _isa_deviation_c(track(), AT_S, level)
    hot = _logged_tas(warm, AT_S, level)
    assert hot is not None and found is not None
    assert hot / found == pytest.approx(np.full(600, np.sqrt(280.3 / 268.3)), abs=1e-3)


def test_a_heading_true_before_magnetic_makes_the_wind_surer_and_is_said_to() -> None:
    rng = np.random.default_rng(5)
    tas = 110.0 + wandering(rng, AT_S, 5.0, 30.0)
    path = flown_path(np.column_stack([tas * np.sin(TURNED) + 20.0, tas * np.cos(TURNED)]))
    level, use = np.full(600, 4000.0), np.ones(600, dtype=bool)
    bare, obtained = fitted(track(), level, path)
    true, magnetic = np.degrees(TURNED) % 360.0, (np.degrees(TURNED) - 9.0) % 360.0
    wild = rng.uniform(0.0, 360.0, 600)
    for channels, used in (
        ({"heading_true_deg": true}, True),
        ({"heading_magnetic_deg": magnetic}, True),
        ({"heading_true_deg": true, "heading_magnetic_deg": wild}, True),
        ({"heading_magnetic_deg": wild}, False),
        ({}, False),
    ):
        fit, said = _with_heading(track(**channels), AT_S, path, np.zeros(600), use, bare, obtained)
        assert (said.get("heading") == "logged") == used
        assert (fit.mean_wind(0.0, 599.0)[2] < 0.9 * bare.mean_wind(0.0, 599.0)[2]) == used
        assert fit.mean_wind(0.0, 599.0)[0] == pytest.approx(20.0, abs=2.0)


def test_a_logged_bank_and_airspeed_speak_where_they_prove_themselves() -> None:
    found = laid(height_ft=4000.0)
    turning = np.where(AT_S % 120.0 < 60.0, 17.0, 0.0)
    flown = replace(found, bank_deg=turning, turn_rate_dps=turning / 6.0)
    own = {"bank_deg": turning + 0.4 * np.sin(AT_S / 3.0), "ias_kt": 103.0 + np.sin(AT_S / 20.0)}
    both = with_logged(track(**own), flown, chorded=False)
    assert (both.obtained["bank"], both.obtained["ias"]) == ("logged", "logged")
    proved, _ = prove_bank(own["bank_deg"], turning, turning < 4.0)
    assert proved is not None
    assert both.bank_deg == pytest.approx(proved.values) and both.bank_sd_deg == pytest.approx(proved.sd)
    assert both.ias_kt == pytest.approx(own["ias_kt"]) and (both.ias_sd_kt == 1.0).all()
    # Between chords nothing tells a bank, whatever is logged.
    chords = with_logged(track(**own), flown, chorded=True)
    assert chords.obtained["bank"] == "derived" and (chords.bank_sd_deg == 30.0).all()
    assert [notice.code for notice in chords.notices] == ["positions-chorded"]
    assert logged(track(**own), "bank_deg", AT_S) is not None


def test_turns_that_nobody_flies_make_the_clock_doubtful_unless_a_bank_was_logged() -> None:
    turning = np.where(AT_S % 120.0 < 60.0, 55.0, 0.0)
    flown = replace(laid(), bank_deg=turning, turn_rate_dps=turning / 20.0)
    told = {"bank_deg": turning + 0.1 * np.sin(AT_S)}
    for channels, chorded, codes in (
        ({}, False, ["time-doubtful"]),
        (told, False, []),
        ({}, True, ["positions-chorded"]),
    ):
        found = with_logged(track(**channels), flown, chorded=chorded)
        assert [notice.code for notice in found.notices] == codes


@pytest.mark.parametrize(("steep", "said"), [(49, False), (52, True)])
def test_turning_most_of_it_steeper_than_anybody_holds_makes_the_clock_doubtful(
    steep: int, said: bool
) -> None:
    """Of what banks by more than ten degrees, more than half by more than 45."""
    bank = np.zeros(200)
    bank[:100], bank[:steep] = -20.0, 46.0
    assert bool(_rate_notices(motion(np.full(200, 110.0), bank_deg=bank))) == said
    # A hole says nothing, nor does what turns too little to be a turn.
    hole = np.arange(200) < steep
    assert not _rate_notices(motion(np.full(200, 110.0), bank_deg=bank, in_hole=hole))
    gentle = np.where(np.arange(200) >= 100, 9.5, bank)
    assert bool(_rate_notices(motion(np.full(200, 110.0), bank_deg=gentle))) == said


def test_seams_are_told_with_their_time_and_what_became_of_it() -> None:
    flight = motion(np.full(200, 110.0), time_s=np.arange(600.0, 800.0))
    seams = (Seam(599.0, 5.0), Seam(600.0, 34.0), Seam(725.0, -3.0), Seam(799.0, 8.0), Seam(800.5, 9.0))
    said = [notice.message for notice in _seam_notices(replace(track(), seams=seams), flight)]
    assert said == [
        "10 min 0 s into the flight the recording stood still for 34 s: what lies across that is not timed",
        "12 min 5 s into the flight time went uncounted or changed its rate: what lies across that is not timed",
        "13 min 19 s into the flight the recording stood still for 8 s: what lies across that is not timed",
    ]
    assert (
        "for 3 s between 2 min 5 s and 2 min 9 s into"
        in _wild_notice(np.array([125.0, 127.0, 129.0])).message
    )


def test_a_spans_length_in_time_is_known_by_its_samples_and_by_the_speed_held() -> None:
    """Each tells it for itself: their precisions add up. Of a speed held three knots are a pilot's wander at least."""
    flight = motion(np.full(200, 110.0), heading_deg=np.full(200, 30.0), heading_sd_deg=np.full(200, 2.0))
    asked: list[np.ndarray] = []

    def covariance(time_s: np.ndarray, nose: np.ndarray, starts: np.ndarray) -> np.ndarray:
        asked.append(nose)
        assert starts.tolist() == [0] and time_s.size == nose.shape[0]
        return np.array([[4.0]])

    errors: Any = SimpleNamespace(covariance=covariance)
    rolls: Any = None
    for sigma, held in ((1.0, 3.0), (6.0, 6.0)):
        wind = replace(WIND, speed_noise=CorrelatedNoise(sigma, 20.0))
        measured = Measured(flight, wind, rolls, chorded=False, velocity_errors=errors)
        mean_sd = held * np.sqrt(correlations((np.arange(400) + 0.5) * 0.25, 20.0).mean())
        both = 1.0 / np.hypot(1.0 / 2.0, 1.0 / mean_sd)
        assert measured.clock_sd(20.0, 120.0) == pytest.approx(both / 110.0, rel=1e-3)
        assert asked[-1] == pytest.approx(np.tile([np.sin(np.pi / 6.0), np.cos(np.pi / 6.0)], (101, 1)))
        # What the path does not know across itself makes it shorter than the way that was flown: half the square.
        gusts = 0.5 * sigma * np.sqrt(correlations((np.arange(400) + 0.5) * 0.25, 20.0).mean())
        short = 0.5 * 110.0 * np.radians(2.0) ** 2
        known = np.linalg.norm([0.4, gusts, 0.06, 2.0, short])
        assert measured.mean_tas(20.0, 120.0)[1] == pytest.approx(known, rel=2e-3)
    assert Measured(flight, WIND, rolls, chorded=False).clock_sd(20.0, 120.0) == 0.0
    over = Measured(flight, WIND, rolls, chorded=False).over(20.0, 120.0)
    assert (over.wind_mean_east_kt, over.wind_mean_north_kt, over.tas_mean_kt) == pytest.approx(
        (20.0, 0.0, 110.0)
    )


@pytest.mark.parametrize(
    ("at_s", "heading_deg"),
    [
        (-5.0, 350.0),
        (0.0, 350.0),
        (0.5, 0.0),
        (1.0, 10.0),
        (1.5, 5.0),
        (2.5, 355.0),
        (3.0, 350.0),
        (9.0, 350.0),
    ],
)
def test_a_direction_is_read_the_short_way_round_between_any_two_points(
    at_s: float, heading_deg: float
) -> None:
    """350°, 10°, 0° and 350°, a second apart; before the first and after the last as there."""
    one = motion(np.full(4, 100.0), heading_deg=np.array([350.0, 10.0, 0.0, 350.0]))
    assert one.at("heading_deg", at_s) == pytest.approx(heading_deg, abs=1e-9)
