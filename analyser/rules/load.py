"""Reading the rules: the two regimes, the test standards that come with the program, or one's own."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from analyser.errors import SettingsError
from analyser.rules.flight_test_standard import Standard
from analyser.rules.regime import Regime
from analyser.rules.thumb import ThumbRules
from analyser.rules.toml_data import load, named, names_in, raise_all

_HERE = Path(__file__).parent
REGIMES = ("icao", "faa")
#: The test standard that goes with each regime when none is named.
_USUAL_STANDARD = {"icao": "part-fcl-instrument", "faa": "acs-instrument"}


@lru_cache(maxsize=len(REGIMES))
def load_regime(key: str) -> Regime:
    """Load a set of holding rules.

    Raises SettingsError: there are no such rules.
    """
    if key not in REGIMES:
        mend = "use " + " or ".join(REGIMES)
        raise SettingsError(f"no rules are called '{key}'", place="--rules", mend=mend)
    return load(Regime, _HERE / f"{key}.toml")


@lru_cache(maxsize=1)
def load_thumb_rules() -> ThumbRules:
    """Load the rules of thumb."""
    return load(ThumbRules, _HERE / "thumb.toml")


def standard_names() -> tuple[str, ...]:
    """Name the test standards that come with the program."""
    return names_in(_HERE / "standards")


def load_standard(name_or_path: str | Path) -> Standard:
    """Load a test standard: one of :func:`standard_names`, or a TOML file of one's own with the same keys.

    Raises SettingsError: no such standard or file, or keys in it that are wrong (all of them named).
    """
    path = named(name_or_path, _HERE / "standards", what="test standard", option="--standard")
    standard = load(Standard, path)
    raise_all(_impossible(standard), file=str(path), error=SettingsError)
    return standard


def _impossible(standard: Standard) -> dict[str, str]:
    """Find tolerances that no flight could be judged by."""
    must_be_positive = {
        "altitude.tolerance_ft": standard.altitude.tolerance_ft,
        "speed.tolerance_kt": standard.speed.tolerance_kt,
        "heading.tolerance_deg": standard.heading.tolerance_deg,
        "track.deflection_fraction": standard.track.deflection_fraction,
        "track.angular_deg": standard.track.angular_deg,
        "track.linear_nm": standard.track.linear_nm,
        "track.linear_brief_nm": standard.track.linear_brief_nm,
        "cdi.vor_full_scale_deg": standard.cdi.vor_full_scale_deg,
        "cdi.gps_full_scale_nm": standard.cdi.gps_full_scale_nm,
        "timing.tolerance_s": standard.timing.tolerance_s if standard.timing else None,
    }
    return {
        key: f"must be above zero, not {value:g}"
        for key, value in must_be_positive.items()
        if value is not None and value <= 0.0
    }


def rules_in_force(rules: str, standard: str | None) -> tuple[Regime, Standard]:
    """Load the rules and the tolerances to judge by; without a standard, the regime's usual one.

    Raises SettingsError: no such rules or standard.
    """
    regime = load_regime(rules)
    return regime, load_standard(standard or _USUAL_STANDARD[rules])
