"""What the simplified construction leaves out, measured by sweeping finely: it must lie within the stated doubt."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from shapely import distance, points

from analyser.airspace import swept_paths
from analyser.airspace.allowances import load_airspace_rules
from analyser.airspace.fix_tolerance import gnss, point
from analyser.airspace.holding_area import HoldingArea, holding_area, right_hand_area


def _drawn(**what: Any) -> HoldingArea:
    right_hand_area.cache_clear()
    return holding_area(**what, turns="right", fix_tolerance=point())


def _left_out_nm(true: Any, drawn: Any) -> float:
    return float(np.max(distance(drawn, points(np.array(true.exterior.coords)))))


@pytest.mark.slow
@pytest.mark.parametrize(
    "what",
    [
        {"ias_kt": 90.0, "altitude_ft": 3000.0, "minutes": 1.0},
        {"ias_kt": 170.0, "altitude_ft": 6000.0, "distance_nm": 6.0},
        {"ias_kt": 240.0, "altitude_ft": 19000.0, "minutes": 1.5},
    ],
)
def test_finer_chords_and_wider_sectors_add_less_than_the_stated_doubt(
    what: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn, doubt, usual = _drawn(**what), load_airspace_rules().doubt, swept_paths._headings
    angle = np.linspace(0.0, 2.0 * np.pi, 216, endpoint=False)
    monkeypatch.setattr(swept_paths, "_CHORD_DEG", 5.0)
    monkeypatch.setattr(swept_paths, "_CIRCLE", np.column_stack([np.cos(angle), np.sin(angle)]))
    monkeypatch.setattr(swept_paths, "_APART_DEG", 5.0)
    monkeypatch.setattr(swept_paths, "_headings", lambda first, last: usual(first - 5.0, last + 5.0))
    fine = _drawn(**what)
    right_hand_area.cache_clear()
    assert 0.0 < _left_out_nm(fine.area, drawn.area) < 0.04 < doubt.circuit_nm
    assert 0.0 < _left_out_nm(fine.entry_area, drawn.entry_area) < 0.45 < doubt.entry_nm
    # And the drawn one is the smaller: none of it stands out of the finely swept one.
    assert drawn.area.difference(fine.area.buffer(1e-3)).is_empty
    assert drawn.entry_area.difference(fine.entry_area.buffer(1e-3)).is_empty


def test_doubt_of_an_unknown_fix_covers_the_tolerance_of_satellite_navigation() -> None:
    corner = max(float(np.hypot(*corner)) for corner in gnss().corners_nm)
    assert corner <= load_airspace_rules().doubt.unknown_fix_nm < corner + 0.1
