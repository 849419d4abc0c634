"""The keys of a hold file, as the checker sees them. Imported only where a hold file is read."""

from __future__ import annotations

import math
import re
from datetime import datetime
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

_WIND = re.compile(r"(?P<direction>\d{1,3}(\.\d+)?)\s*/\s*(?P<speed>\d{1,3}(\.\d+)?)")

Latitude = Annotated[float, Field(ge=-90, le=90)]
Longitude = Annotated[float, Field(ge=-180, le=180)]
Direction = Annotated[float, Field(ge=0, le=360)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class PlaceShape(_Table):
    """A place by latitude and longitude, WGS84 degrees."""

    lat: Latitude
    lon: Longitude


class FixShape(_Table):
    """The fix: a place, or a bearing and distance from one."""

    lat: Latitude | None = None
    lon: Longitude | None = None
    from_place: PlaceShape | None = Field(default=None, alias="from")
    bearing: Direction | None = None
    distance_nm: Annotated[float, Field(gt=0, le=300)] | None = None
    #: Of the bearing, where it is not the inbound course's.
    reference: Literal["magnetic", "true"] | None = None

    @model_validator(mode="after")
    def _one_way_of_saying_it(self) -> FixShape:
        here = [self.lat is not None, self.lon is not None]
        away = [self.from_place is not None, self.bearing is not None, self.distance_nm is not None]
        if (all(here) and not any(away)) or (all(away) and not any(here)):
            return self
        raise ValueError("lat and lon together, or from, bearing and distance_nm together")


class LegShape(_Table):
    """What ends the outbound leg: a time, a length, or a reading of the station that the fix is read from."""

    minutes: Annotated[float, Field(gt=0, le=10)] | None = None
    distance_nm: Annotated[float, Field(gt=0, le=50)] | None = None
    fix_dme_nm: Annotated[float, Field(ge=0, le=300)] | None = None
    outbound_dme_nm: Annotated[float, Field(ge=0, le=300)] | None = None

    @model_validator(mode="after")
    def _one_way_of_saying_it(self) -> LegShape:
        by_dme = [self.fix_dme_nm is not None, self.outbound_dme_nm is not None]
        ways = [self.minutes is not None, self.distance_nm is not None, any(by_dme)]
        if sum(ways) != 1 or any(by_dme) != all(by_dme):
            raise ValueError(
                "minutes, or distance_nm, or fix_dme_nm and outbound_dme_nm together: one of the three"
            )
        if self.fix_dme_nm is not None and self.fix_dme_nm == self.outbound_dme_nm:
            raise ValueError("an outbound_dme_nm other than fix_dme_nm")
        return self


class FixByShape(_Table):
    """What tells that the aircraft is over the fix."""

    kind: Literal["vor", "ndb", "intersection", "dme", "gnss", "given"]
    height_ft: Annotated[float, Field(gt=0, le=60000)] | None = None
    distance_nm: Annotated[float, Field(gt=0, le=300)] | None = None
    crossing_distance_nm: Annotated[float, Field(gt=0, le=300)] | None = None
    crossing_angle: Annotated[float, Field(ge=0, le=360)] | None = None
    along_nm: Annotated[float, Field(ge=0, le=20)] | None = None
    cross_nm: Annotated[float, Field(ge=0, le=20)] | None = None

    @model_validator(mode="after")
    def _what_its_kind_needs(self) -> FixByShape:
        needed = _NEEDED[self.kind]
        sizes = self.model_dump(exclude={"kind"}, exclude_none=True)
        if set(sizes) != needed:
            raise ValueError(
                f'with kind = "{self.kind}" exactly {" and ".join(sorted(needed)) or "nothing else"}'
            )
        if self.crossing_angle is not None and abs(math.sin(math.radians(self.crossing_angle))) < _FLATTEST:
            raise ValueError(
                "a crossing_angle of at least 20 degrees from the inbound course and its reciprocal"
            )
        return self


#: What each kind of fix needs to be said, and the flattest crossing that makes a fix at all.
_NEEDED: dict[str, set[str]] = {
    "vor": {"height_ft"},
    "ndb": {"height_ft"},
    "intersection": {"distance_nm", "crossing_distance_nm", "crossing_angle"},
    "dme": {"distance_nm"},
    "gnss": set(),
    "given": {"along_nm", "cross_nm"},
}
_FLATTEST = math.sin(math.radians(20.0))


class ClearedLevelShape(_Table):
    """A change of level that was cleared while holding."""

    ft: Annotated[float, Field(ge=-2000, le=60000)]
    circuit: Annotated[int, Field(ge=1, le=99)] | None = None
    at: datetime | None = None

    @model_validator(mode="after")
    def _when(self) -> ClearedLevelShape:
        if (self.circuit is None) == (self.at is None):
            raise ValueError("circuit or at, exactly one of them: from when the level holds")
        if self.at is not None and self.at.tzinfo is None:
            raise ValueError("at with its offset from UTC, such as 2026-03-14T18:32:00Z")
        return self


class HoldShape(_Table):
    """One hold file."""

    name: Annotated[str, Field(max_length=200)] = ""
    #: Left out, the fix is inferred from the flight, along the course.
    fix: FixShape | None = None
    inbound_course: Direction
    reference: Literal["magnetic", "true"]
    turns: Literal["right", "left"]
    leg: LegShape | None = None
    altitude_ft: Annotated[float, Field(ge=-2000, le=60000)] | None = None
    speed_kias: Annotated[float, Field(gt=0, le=500)] | None = None
    max_kias: Annotated[float, Field(gt=0, le=500)] | None = None
    #: Of the station that fix_dme_nm is read from, in the file's reference.
    limiting_radial: Direction | None = None
    #: The published way to the fix, of the same station.
    arrival: Literal["reciprocal", "arc"] | None = None
    category: Literal["A", "B", "C", "D", "E", "H"] | None = None
    reported_wind: str | None = None
    leave_fix_at: datetime | None = None
    fix_by: FixByShape | None = None
    levels_ft: tuple[ClearedLevelShape, ...] = ()

    @model_validator(mode="after")
    def _level_before(self) -> HoldShape:
        if self.levels_ft and self.altitude_ft is None:
            raise ValueError("levels_ft are changes from altitude_ft, which must be given too")
        return self

    @model_validator(mode="after")
    def _radial_has_a_station(self) -> HoldShape:
        for key in ("limiting_radial", "arrival"):
            if getattr(self, key) is not None and (self.leg is None or self.leg.fix_dme_nm is None):
                raise ValueError(f"{key} with leg = {{ fix_dme_nm, outbound_dme_nm }}, for its station")
        return self

    @field_validator("reported_wind")
    @classmethod
    def _wind_makes_sense(cls, value: str | None) -> str | None:
        if value is not None:
            wind_of(value)
        return value

    @field_validator("leave_fix_at")
    @classmethod
    def _has_an_offset(cls, value: datetime | None) -> datetime | None:
        if value is not None and value.tzinfo is None:
            raise ValueError("a time with its offset from UTC, such as 2026-03-14T18:32:00Z")
        return value


def wind_of(text: str) -> tuple[float, float]:
    """Read a wind such as ``"240/22"``.

    Parameters
    ----------
    text : str
        Direction FROM in degrees true, a stroke, knots.

    Raises ValueError: not of that form, a direction above 360 or a speed above 250 kt.
    """
    found = _WIND.fullmatch(text.strip())
    if found is None:
        raise ValueError("degrees true and knots with a stroke between, such as 240/22")
    direction, speed = float(found["direction"]), float(found["speed"])
    if direction > 360.0:
        raise ValueError("a direction of at most 360 degrees")
    if speed > 250.0:
        raise ValueError("a wind of at most 250 kt")
    return direction % 360.0, speed
