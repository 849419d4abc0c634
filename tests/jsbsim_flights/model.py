"""An aircraft model of the library, with the same handles as the generator's own aircraft."""

from __future__ import annotations

import math
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import jsbsim
import numpy as np

from tests.flights.air import FT, Air
from tests.flights.aircraft import STEP_S, Hand
from tests.flights.flight import EARTH
from tests.flights.truth import Series
from tests.flights.wander import wandering
from tests.jsbsim_flights.autopilot import Autopilot, Gains

FRAMES_A_STEP = 3
KT_PER_FPS = 0.3048 * 3600.0 / 1852.0
PROPERTIES = {
    "lat": "position/lat-geod-deg",
    "lon": "position/long-gc-deg",
    "bank_deg": "attitude/phi-deg",
    "tas_kt": "velocities/vtrue-kts",
    "altitude_ft": "position/h-sl-ft",
    "wind_east_kt": "atmosphere/total-wind-east-fps",
    "wind_north_kt": "atmosphere/total-wind-north-fps",
    "ground_east_kt": "velocities/v-east-fps",
    "ground_north_kt": "velocities/v-north-fps",
}


@dataclass(frozen=True)
class Type:
    """One aircraft model: its name in the library, the speed it holds at, and how it is flown."""

    name: str
    ias_kt: float
    altitude_ft: float
    flaps: float = 0.0
    gains: Gains = field(default_factory=Gains)


@dataclass(frozen=True)
class Turbulence:
    """The library's own turbulence (MIL-F-8785C spectra, "milspec"); severity 0 is none."""

    name: str = "off"
    severity: int = 0
    wind_at_20ft_fps: float = 0.0


class ModelAircraft:
    """Flies one model; stepped with the bank that is wanted."""

    def __init__(
        self,
        rng: np.random.Generator,
        kind: Type,
        origin_deg: tuple[float, float],
        *,
        air: Air,
        hand: Hand,
        turbulence: Turbulence,
        heading_deg: float,
        east_m: float,
        north_m: float,
    ) -> None:
        self.air, self.hand, self.kind, self.origin_deg = air, hand, kind, origin_deg
        self.time_s, self.rows = 0.0, []
        self.wanted_ft, self.climb_fpm = kind.altitude_ft, 500.0
        self.wanted_eas_kt = kind.ias_kt
        self._speed = wandering(rng, hand.tas_wander_kt, hand.tas_memory_s, STEP_S)
        self._bank = wandering(rng, hand.bank_wander_deg, hand.bank_memory_s, STEP_S)
        self._heading = wandering(rng, hand.heading_wander_deg, hand.heading_memory_s, STEP_S)
        self.bank_off = self.heading_off = 0.0
        self.fdm = _trimmed(kind, origin_deg, heading_deg, east_m, north_m)
        self._still_to_windy(turbulence, int(rng.integers(1, 2**31 - 1)))
        f = self.fdm
        self.autopilot = Autopilot(
            kind.gains, f["fcs/elevator-cmd-norm"], f["fcs/throttle-cmd-norm"], f["attitude/theta-deg"],
            _rudder_sign(kind, origin_deg), hand.roll_rate_dps,
        )  # fmt: skip
        self.heading_deg = heading_deg
        self._read()

    def _still_to_windy(self, turbulence: Turbulence, seed: int) -> None:
        """Let the wind in; the ground velocity is set so that the airspeed stays as trimmed."""
        f = self.fdm
        f["simulation/randomseed"] = seed
        self._blow()
        if turbulence.severity:
            f["atmosphere/turb-type"] = 3
            f["atmosphere/turbulence/milspec/windspeed_at_20ft_AGL-fps"] = turbulence.wind_at_20ft_fps
            f["atmosphere/turbulence/milspec/severity"] = turbulence.severity

    def _blow(self) -> None:
        east, north = self.air.towards_mps(self.time_s, self.fdm["position/h-sl-ft"])
        self.fdm["atmosphere/wind-east-fps"], self.fdm["atmosphere/wind-north-fps"] = east / FT, north / FT

    def unsteady_bank_deg(self) -> float:
        """Return what the hand adds to a bank it means to hold, now."""
        return self.bank_off

    def step(self, bank_wanted_deg: float) -> None:
        """Fly on for one step of a twentieth of a second."""
        f, a, dt = self.fdm, self.autopilot, STEP_S
        self.bank_off, self.heading_off = next(self._bank), next(self._heading)
        most = self.climb_fpm / 60.0
        climb_fps = max(-most, min(most, 0.12 * (self.wanted_ft - f["position/h-sl-ft"])))
        speed_kt = self.wanted_eas_kt + next(self._speed)
        f["fcs/aileron-cmd-norm"] = a.aileron(
            bank_wanted_deg - f["attitude/phi-deg"], math.degrees(f["velocities/p-rad_sec"]), dt
        )
        f["fcs/elevator-cmd-norm"] = a.stick(
            climb_fps - f["velocities/h-dot-fps"],
            f["attitude/theta-deg"],
            math.degrees(f["velocities/q-rad_sec"]),
            dt,
        )
        f["fcs/rudder-cmd-norm"] = a.rudder(-math.degrees(f["accelerations/Ny"]), f["aero/beta-deg"], dt)
        throttle = a.power(speed_kt - f["velocities/vc-kts"], dt)
        for engine in range(_engines(f)):
            f[f"fcs/throttle-cmd-norm[{engine}]"] = throttle
        self._blow()
        for _ in range(FRAMES_A_STEP):
            f.run()
        self.time_s += dt
        self._read()

    def _read(self) -> None:
        f = self.fdm
        row = [f[name] for name in PROPERTIES.values()]
        row[5:] = [fps * KT_PER_FPS for fps in row[5:]]
        lat, lon, self.bank_deg, self.tas_kt, self.height_ft, wind_e, wind_n, ground_e, ground_n = row
        air_deg = math.degrees(math.atan2(ground_e - wind_e, ground_n - wind_n))
        self.heading_deg += (air_deg - self.heading_deg + 180.0) % 360.0 - 180.0
        # Near enough for steering; the truth is worked out on the ellipsoid afterwards.
        lat_0, lon_0 = self.origin_deg
        self.north_m = (lat - lat_0) * 111_132.0
        self.east_m = (
            ((lon - lon_0 + 180.0) % 360.0 - 180.0) * 111_320.0 * math.cos(math.radians(0.5 * (lat + lat_0)))
        )
        self.rows.append((self.time_s, self.heading_deg, *row))

    def series(self) -> Series:
        """Return everything that was kept, with positions on the map of the origin."""
        table = np.array(self.rows)
        names = ("time_s", "heading_deg", *PROPERTIES)
        series = {name: table[:, i].copy() for i, name in enumerate(names)}
        lat, lon = series.pop("lat"), series.pop("lon")
        count = np.ones(lat.size)
        azimuth, _, metres = EARTH.inv(self.origin_deg[1] * count, self.origin_deg[0] * count, lon, lat)
        series["east_m"] = np.asarray(metres) * np.sin(np.radians(azimuth))
        series["north_m"] = np.asarray(metres) * np.cos(np.radians(azimuth))
        return series


def _engines(fdm: jsbsim.FGFDMExec) -> int:
    return int(fdm.get_propulsion().get_num_engines())


@contextmanager
def _silent() -> Iterator[None]:
    """Keep the library's chatter off both outputs: it writes past Python, to the descriptors themselves."""
    kept = [os.dup(1), os.dup(2)]
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 1)
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        for target, source in zip((1, 2), kept, strict=True):
            os.dup2(source, target)
            os.close(source)


def _trimmed(
    kind: Type, origin_deg: tuple[float, float], heading_deg: float, east_m: float, north_m: float
) -> jsbsim.FGFDMExec:
    """Load a model and trim it for level flight in still air, at its place."""
    with _silent():
        return _trim(kind, origin_deg, heading_deg, east_m, north_m)


def _trim(
    kind: Type, origin_deg: tuple[float, float], heading_deg: float, east_m: float, north_m: float
) -> jsbsim.FGFDMExec:
    fdm = jsbsim.FGFDMExec(None)
    fdm.set_debug_level(0)
    # Some models open a table of their own to write, in whatever folder one is in: let it lie elsewhere, and empty.
    fdm.set_output_path(tempfile.gettempdir())
    if not fdm.load_model(kind.name):
        raise RuntimeError(f"the library has no aircraft {kind.name!r}")
    fdm.disable_output()
    fdm.set_dt(STEP_S / FRAMES_A_STEP)
    lon, lat, _ = EARTH.fwd(
        origin_deg[1], origin_deg[0], math.degrees(math.atan2(east_m, north_m)), math.hypot(east_m, north_m)
    )
    for name, value in (
        ("lat-geod-deg", lat), ("long-gc-deg", lon), ("h-sl-ft", kind.altitude_ft),
        ("psi-true-deg", heading_deg % 360.0), ("gamma-deg", 0.0), ("vc-kts", kind.ias_kt),
    ):  # fmt: skip
        fdm[f"ic/{name}"] = value
    fdm.run_ic()
    fdm["propulsion/set-running"] = -1
    fdm["gear/gear-cmd-norm"] = 0.0
    fdm["fcs/flap-cmd-norm"] = kind.flaps
    for engine in range(_engines(fdm)):
        fdm[f"fcs/throttle-cmd-norm[{engine}]"] = 0.7
        fdm[f"fcs/mixture-cmd-norm[{engine}]"] = 0.85
    fdm.do_trim(1)
    return fdm


def _rudder_sign(kind: Type, origin_deg: tuple[float, float]) -> float:
    """Find out which way the rudder goes in this model: a second of it, and see where the nose went."""
    fdm = _trimmed(kind, origin_deg, 0.0, 0.0, 0.0)
    fdm["fcs/rudder-cmd-norm"] = fdm["fcs/rudder-cmd-norm"] + 0.1
    for _ in range(60):
        fdm.run()
    # Wind from the right (positive slip) is taken out by yawing right.
    return 1.0 if fdm["velocities/r-rad_sec"] > 0.0 else -1.0
