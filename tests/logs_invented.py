"""An invented flight for the readers' tests, and writers of every format by the letter of its specification.

The flight laps a racetrack in a steady wind; nothing here shares code with the analyser.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import reduce

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

START = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Invented:
    """One flight; everything true, in knots, feet and degrees."""

    time_s: FloatArray
    lat: FloatArray
    lon: FloatArray
    altitude_ft: FloatArray
    ground_speed_kt: FloatArray
    track_deg: FloatArray
    heading_deg: FloatArray
    bank_deg: FloatArray
    ias_kt: FloatArray
    start: datetime

    def iso(self) -> list[str]:
        return [
            (self.start + timedelta(seconds=float(t)))
            .isoformat(timespec="milliseconds")
            .replace("+00:00", "Z")
            for t in self.time_s
        ]

    def moments(self) -> list[datetime]:
        return [self.start + timedelta(seconds=float(t)) for t in self.time_s]


def invented_flight(
    samples: int = 900,
    interval_s: float = 1.0,
    tas_kt: float = 110.0,
    wind_east_kt: float = 15.0,
    wind_north_kt: float = 8.0,
    lat: float = 48.1,
    lon: float = 11.5,
    start: datetime = START,
) -> Invented:
    """Fly laps of two right-hand turns at 3°/s and two one-minute legs."""
    time_s = np.arange(samples) * interval_s
    turning = (time_s % 240.0 < 60.0) | ((time_s % 240.0 >= 120.0) & (time_s % 240.0 < 180.0))
    rate = np.where(turning, 3.0, 0.0)
    heading = np.cumsum(np.concatenate([[0.0], rate[:-1]])) * interval_s
    east_kt = tas_kt * np.sin(np.radians(heading)) + wind_east_kt
    north_kt = tas_kt * np.cos(np.radians(heading)) + wind_north_kt
    step = interval_s / 3600.0
    north_nm = np.concatenate([[0.0], np.cumsum(0.5 * (north_kt[1:] + north_kt[:-1]))]) * step
    east_nm = np.concatenate([[0.0], np.cumsum(0.5 * (east_kt[1:] + east_kt[:-1]))]) * step
    # Kept near its place: a long flight would drift out of the country, or off the globe.
    north_nm = (north_nm + 600.0) % 1200.0 - 600.0 if samples > 20_000 else north_nm
    lats = lat + north_nm / 60.0
    lons = lon + east_nm / (60.0 * math.cos(math.radians(lat)))
    return Invented(
        time_s,
        lats,
        (lons + 180.0) % 360.0 - 180.0,
        4000.0 + 40.0 * np.sin(time_s / 70.0),
        np.hypot(east_kt, north_kt),
        np.degrees(np.arctan2(east_kt, north_kt)) % 360.0,
        heading % 360.0,
        np.degrees(np.arctan(tas_kt * 0.514444 * np.radians(rate) / 9.80665)),
        0.94 * tas_kt + 1.5 * np.sin(time_s / 23.0),
        start,
    )


def as_csv(flight: Invented) -> str:
    """Write a plain table with units in its headers."""
    rows = [
        f"{t},{lat:.7f},{lon:.7f},{alt:.1f},{gs:.1f},{trk:.1f},{hdg:.1f},{bank:.2f},{ias:.1f}"
        for t, lat, lon, alt, gs, trk, hdg, bank, ias in zip(
            flight.iso(),
            flight.lat,
            flight.lon,
            flight.altitude_ft,
            flight.ground_speed_kt,
            flight.track_deg,
            flight.heading_deg,
            flight.bank_deg,
            flight.ias_kt,
            strict=True,
        )
    ]
    head = "time_utc,latitude,longitude,altitude_ft,ground_speed_kt,track_true,heading_true,bank_deg,ias_kt"
    return "\n".join([head, *rows]) + "\n"


def as_gpx(flight: Invented, *, name: str = "invented", version: str = "1.1", namespace: bool = True) -> str:
    """Write GPX; version 1.0 puts course and speed beside the elevation, 1.1 in extensions."""
    space = f' xmlns="http://www.topografix.com/GPX/{version.replace(".", "/")}"' if namespace else ""
    points = []
    for when, lat, lon, alt, gs, trk in zip(
        flight.iso(),
        flight.lat,
        flight.lon,
        flight.altitude_ft,
        flight.ground_speed_kt,
        flight.track_deg,
        strict=True,
    ):
        more = f"<course>{trk:.1f}</course><speed>{gs * 1852 / 3600:.3f}</speed>"
        more = more if version == "1.0" else f"<extensions>{more}</extensions>"
        points.append(
            f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{alt * 0.3048:.2f}</ele><time>{when}</time>{more}</trkpt>'
        )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="{version}" creator="invented"{space}>'
        f"<trk><name>{name}</name><trkseg>{''.join(points)}</trkseg></trk></gpx>"
    )


def as_kml(flight: Invented, *, name: str = "invented") -> str:
    """Write a KML 2.3 Track inside nested folders."""
    whens = "".join(f"<when>{when}</when>" for when in flight.iso())
    coords = "".join(
        f"<coord>{lon:.7f} {lat:.7f} {alt * 0.3048:.2f}</coord>"
        for lat, lon, alt in zip(flight.lat, flight.lon, flight.altitude_ft, strict=True)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.3"><Document><Folder><Folder>'
        f"<Placemark><name>{name}</name><Track><altitudeMode>absolute</altitudeMode>{whens}{coords}</Track></Placemark>"
        "</Folder></Folder></Document></kml>"
    )


def as_geojson(flight: Invented) -> str:
    """Write one timed LineString."""
    coordinates = [
        [round(float(lon), 7), round(float(lat), 7), round(float(alt) * 0.3048, 2)]
        for lat, lon, alt in zip(flight.lat, flight.lon, flight.altitude_ft, strict=True)
    ]
    feature = {
        "type": "Feature",
        "properties": {"name": "invented", "coordTimes": flight.iso()},
        "geometry": {"type": "LineString", "coordinates": coordinates},
    }
    return json.dumps({"type": "FeatureCollection", "features": [feature]})


def sentence(body: str) -> str:
    """Put the dollar sign and the checksum round an NMEA sentence."""
    return f"${body}*{reduce(lambda total, letter: total ^ ord(letter), body, 0):02X}\r\n"


def _degrees_minutes(value: float, digits: int, letters: str, decimals: int) -> tuple[str, str]:
    scaled = round(abs(value) * 60.0 * 10**decimals)
    degrees, minutes = divmod(scaled, 60 * 10**decimals)
    text = f"{degrees:0{digits}d}{minutes // 10**decimals:02d}"
    return f"{text}.{minutes % 10**decimals:0{decimals}d}", letters[0 if value >= 0 else 1]


def as_nmea(flight: Invented, talker: str = "GP") -> str:
    """Write RMC, GGA and HDT for each sample."""
    lines = []
    for moment, lat, lon, alt, gs, trk, hdg in zip(
        flight.moments(),
        flight.lat,
        flight.lon,
        flight.altitude_ft,
        flight.ground_speed_kt,
        flight.track_deg,
        flight.heading_deg,
        strict=True,
    ):
        place = ",".join((*_degrees_minutes(lat, 2, "NS", 6), *_degrees_minutes(lon, 3, "EW", 6)))
        clock = f"{moment:%H%M%S}.{moment.microsecond // 10_000:02d}"
        lines.append(sentence(f"{talker}RMC,{clock},A,{place},{gs:.2f},{trk:.1f},{moment:%d%m%y},,,A"))
        lines.append(sentence(f"{talker}GGA,{clock},{place},1,09,0.8,{alt * 0.3048:.2f},M,47.0,M,,"))
        lines.append(sentence(f"HEHDT,{hdg:.1f},T"))
    return "".join(lines)


def as_igc(flight: Invented, *, date_form: str = "HFDTEDATE:{:%d%m%y},01") -> str:
    """Write B records with IAS (km/h) and TRT extensions."""
    lines = ["AXXX001", date_form.format(flight.start), "I033638FXA3941IAS4244TRT"]
    for moment, lat, lon, alt, ias, trk in zip(
        flight.moments(),
        flight.lat,
        flight.lon,
        flight.altitude_ft,
        flight.ias_kt,
        flight.track_deg,
        strict=True,
    ):
        north, ns = _degrees_minutes(lat, 2, "NS", 3)
        east, ew = _degrees_minutes(lon, 3, "EW", 3)
        height = round(alt * 0.3048)
        lines.append(
            f"B{moment:%H%M%S}{north.replace('.', '')}{ns}{east.replace('.', '')}{ew}A{height:05d}{height + 40:05d}"
            f"010{round(ias * 1.852):03d}{round(trk) % 360:03d}"
        )
    return "\r\n".join(lines) + "\r\n"
