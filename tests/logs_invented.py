"""An invented flight for the readers' tests, and writers of every format by the letter of its specification.

The flight laps a racetrack in a steady wind; nothing here shares code with the analyser.
"""

from __future__ import annotations

import io
import json
import math
import struct
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


def nmea_place(lat: float, lon: float) -> str:
    """Write latitude, its side, longitude and its side as NMEA's fields."""
    return ",".join((*_degrees_minutes(lat, 2, "NS", 6), *_degrees_minutes(lon, 3, "EW", 6)))


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
        place = nmea_place(lat, lon)
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


def as_tcx(flight: Invented) -> str:
    """Write one activity of the training-centre schema, version 2, with the activity extension's speed."""
    points = "".join(
        f"<Trackpoint><Time>{when}</Time><Position><LatitudeDegrees>{lat:.7f}</LatitudeDegrees>"
        f"<LongitudeDegrees>{lon:.7f}</LongitudeDegrees></Position><AltitudeMeters>{alt * 0.3048:.2f}</AltitudeMeters>"
        f"<Extensions><ns3:TPX><ns3:Speed>{gs * 1852 / 3600:.3f}</ns3:Speed></ns3:TPX></Extensions></Trackpoint>"
        for when, lat, lon, alt, gs in zip(
            flight.iso(), flight.lat, flight.lon, flight.altitude_ft, flight.ground_speed_kt, strict=True
        )
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?><TrainingCenterDatabase xmlns:ns3="urn:extension"><Activities>'
        f'<Activity Sport="Other"><Id>{flight.iso()[0]}</Id><Lap StartTime="{flight.iso()[0]}"><Track>{points}</Track>'
        "</Lap></Activity></Activities></TrainingCenterDatabase>"
    )


def records(flight: Invented) -> list[dict[str, object]]:
    """Return one object for each sample, names as in a table's header."""
    return [
        {
            "time": when,
            "position": {"lat": round(float(lat), 7), "lon": round(float(lon), 7)},
            "altitude_ft": round(float(alt), 1),
            "ground_speed_kt": round(float(gs), 1),
            "bank_deg": round(float(bank), 2),
        }
        for when, lat, lon, alt, gs, bank in zip(
            flight.iso(),
            flight.lat,
            flight.lon,
            flight.altitude_ft,
            flight.ground_speed_kt,
            flight.bank_deg,
            strict=True,
        )
    ]


def as_json(flight: Invented) -> str:
    """Write a list of points inside an object."""
    return json.dumps({"recorder": "invented", "points": records(flight)})


def as_ndjson(flight: Invented) -> str:
    """Write one point a line."""
    return "".join(json.dumps(record) + "\n" for record in records(flight))


#: The FIT protocol's checksum, four bits at a time.
_FIT_CRC = (
    0x0000, 0xCC01, 0xD801, 0x1400, 0xF001, 0x3C00, 0x2800, 0xE401,
    0xA001, 0x6C00, 0x7800, 0xB401, 0x5000, 0x9C01, 0x8801, 0x4400,
)  # fmt: skip
_FIT_DAY = datetime(1989, 12, 31, tzinfo=UTC)


def fit_crc(data: bytes) -> int:
    """Return the check sum of the FIT protocol."""
    crc = 0
    for byte in data:
        for nibble in (byte & 0xF, byte >> 4):
            crc = (crc >> 4) ^ _FIT_CRC[crc & 0xF] ^ _FIT_CRC[nibble]
    return crc


def as_fit(flight: Invented) -> bytes:
    """Write record messages by the published FIT protocol: whole seconds, semicircles, altitude (m + 500) · 5.

    Global messages 0 (file_id) and 20 (record); fields 253 timestamp, 0 and 1 position, 78 enhanced_altitude, 73
    enhanced_speed (mm/s); base types 0x00 enum, 0x85 sint32, 0x86 uint32; little-endian.
    """
    body = bytes((0x40, 0, 0)) + struct.pack("<H", 0) + bytes((1, 0, 1, 0x00)) + bytes((0x00, 4))
    fields = ((253, 0x86), (0, 0x85), (1, 0x85), (78, 0x86), (73, 0x86))
    body += bytes((0x41, 0, 0)) + struct.pack("<H", 20) + bytes((len(fields),))
    body += b"".join(bytes((number, 4, base)) for number, base in fields)
    for moment, lat, lon, alt, gs in zip(
        flight.moments(), flight.lat, flight.lon, flight.altitude_ft, flight.ground_speed_kt, strict=True
    ):
        body += b"\x01" + struct.pack(
            "<IiiII",
            round((moment - _FIT_DAY).total_seconds()),
            round(lat * 2**31 / 180.0),
            round(lon * 2**31 / 180.0),
            round((alt * 0.3048 + 500.0) * 5.0),
            round(gs * 1852.0 / 3.6),
        )
    head = struct.pack("<BBHI4s", 14, 0x20, 2132, len(body), b".FIT")
    head += struct.pack("<H", fit_crc(head))
    return head + body + struct.pack("<H", fit_crc(head + body))


def as_xlsx(flight: Invented, *, preamble: int = 2) -> bytes:
    """Write a workbook: a sheet of notes, then a sheet with a few lines of preamble, a units row and true dates."""
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True, "remove_timezone": True})
    stamp = book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss.000"})
    book.add_worksheet("notes").write(0, 0, "invented")
    sheet = book.add_worksheet("flight")
    for row in range(preamble):
        sheet.write(row, 0, "an invented recorder")
    sheet.write_row(preamble, 0, ["Time UTC", "Latitude", "Longitude", "Altitude", "Ground Speed", "Bank"])
    sheet.write_row(preamble + 1, 0, ["", "deg", "deg", "ft", "kt", "deg"])
    for row, (moment, *values) in enumerate(
        zip(
            flight.moments(),
            flight.lat.tolist(),
            flight.lon.tolist(),
            flight.altitude_ft.tolist(),
            flight.ground_speed_kt.tolist(),
            flight.bank_deg.tolist(),
            strict=True,
        ),
        preamble + 2,
    ):
        sheet.write_datetime(row, 0, moment, stamp)
        sheet.write_row(row, 1, values)
    book.close()
    return out.getvalue()
