"""Hold files made: from answers in a chart's words, and from the holds that a flight flew."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.collection.files import ENDING, own_folder
from analyser.errors import UsageError
from analyser.holds import chart_words
from analyser.holds.holdfile import hold_file_from
from analyser.holds.holdfile_text import hold_file_text
from analyser.holds.holdfile_words import fix_table

if TYPE_CHECKING:
    from analyser.debrief import HoldDebrief
    from analyser.logs.read import ReadOptions
    from analyser.logs.track import Track

CAUTION = "A training aid: not for navigation. The published chart, the AIP and air traffic control decide."


@dataclass(frozen=True)
class Question:
    """One question of ``analyser hold new``.

    Attributes
    ----------
    key : str
        Of the hold file.
    asked : str
    needed : bool
        Whether a file can do without.
    """

    key: str
    asked: str
    needed: bool = False


#: In the order of a chart's box.
QUESTIONS = (
    Question("name", "Name of the hold"),
    Question("fix", "Fix (N46°30.0' W033°00.0', or 274M 8 NM from N46 30.0 W033 00.0)"),
    Question("inbound_course", "Inbound course, TO the fix (274M magnetic, 264T true)", needed=True),
    Question("turns", "Turns (R or L)", needed=True),
    Question("leg", "Outbound leg (1 min, 4 NM; empty: by altitude, from the rules)"),
)


def checked(key: str, answer: str) -> str:
    """Return an answer if it can be read.

    Raises
    ------
    UsageError
        It cannot; the message says what it should look like.
    """
    readers = {"fix": chart_words.spot, "turns": chart_words.hand, "leg": chart_words.leg}
    try:
        if key == "inbound_course":
            if chart_words.direction(answer)[1] is None:
                raise ValueError(chart_words.DIRECTION_LOOKS)
        elif key in readers:
            readers[key](answer)
    except ValueError as fault:
        raise UsageError(f"must be {fault}, not '{answer}'", place=f"key '{key}'") from None
    return answer


def hold_file_of(answers: Mapping[str, str]) -> str:
    """Write a hold file from answers in a chart's words.

    Parameters
    ----------
    answers : mapping of str to str
        Key to answer; an empty one is left out.

    Raises
    ------
    HoldFileError
        An answer cannot be read, or they make no hold together.
    """
    said: dict[str, Any] = {key: answer for key, answer in answers.items() if answer}
    plain = hold_file_from(said).said
    data: dict[str, Any] = {
        "inbound_course": plain.inbound_course,
        "reference": plain.reference,
        "turns": plain.turns,
    }
    remarks = {}
    if plain.name:
        data["name"] = plain.name
    if "fix" in said:
        spot = chart_words.spot(said["fix"])
        data["fix"] = fix_table(spot)
        remarks["fix"] = chart_words.written(spot.lat_deg, spot.lon_deg)
    if plain.leg is not None:
        data["leg"] = plain.leg.model_dump(exclude_none=True)
    for key in ("altitude_ft", "speed_kias"):
        if getattr(plain, key) is not None:
            data[key] = getattr(plain, key)
    return hold_file_text(data, remarks=remarks, heading=(CAUTION,))


def place_for(name: str) -> Path:
    """Return where a hold of a name is kept: in the user's own collection."""
    stem = re.sub(r"[^\w]+", "_", name).strip("_").lower()[:60] or "hold"
    return own_folder() / f"{stem}{ENDING}"


def write_new(path: Path, text: str, *, force: bool) -> None:
    """Write a hold file, never over another unless that is meant.

    Raises
    ------
    UsageError
        There is one.
    ReportError
        It cannot be written.
    """
    from analyser.pages.write import write_text_whole

    if path.exists() and not force:
        mend = "name another with --to, or say --force"
        raise UsageError("the file is there already", file=str(path), mend=mend)
    write_text_whole(path, text)


def flown_hold_files(log: Path, options: ReadOptions) -> list[str]:
    """Write each hold of a flight as a hold file, with how well the flight tells it.

    Returns
    -------
    list of str
        At least one.

    Raises
    ------
    LogError
        The log cannot be read.
    UsageError
        No hold was found in it.
    """
    from analyser.debrief import debrief_track
    from analyser.logs.read import read_log

    misses = []
    texts: list[str] = []
    for track in read_log(log, options):
        found = debrief_track(track)
        texts += [_text(one, track, number) for number, one in enumerate(found.holds, len(texts) + 1)]
        misses.append(found.nearest_miss or "")
    if not texts:
        raise UsageError(f"no hold was found in this log: {misses[0]}", file=str(log))
    return texts


def _text(one: HoldDebrief, track: Track, number: int) -> str:
    flown, hold = one.flown, one.flown.hold
    variation = one.judged.variation_deg
    if variation is None and track.start_utc is not None:
        from analyser.earth.variation import magnetic_variation

        place = hold.fix_lat_deg, hold.fix_lon_deg
        variation = magnetic_variation(*place, one.judged.altitude_ft or 0.0, track.start_utc).variation_deg
    course = hold.inbound_course_true_deg - (variation or 0.0)
    data: dict[str, Any] = {
        "name": f"Hold {number} of {track.name}",
        "fix": {"lat": round(hold.fix_lat_deg, 5), "lon": round(hold.fix_lon_deg, 5)},
        "inbound_course": round(course % 360.0, 1),
        "reference": "true" if variation is None else "magnetic",
        "turns": hold.turns,
    }
    remarks = {
        "fix": f"{chart_words.written(hold.fix_lat_deg, hold.fix_lon_deg)}{_sigma(flown.fix_sd_nm, ' NM', 2)}",
        "inbound_course": "degrees TO the fix" + _sigma(flown.course_sd_deg, " degrees", 1),
        "turns": f"{len(flown.circuits)} {'circuit' if len(flown.circuits) == 1 else 'circuits'} flown",
    }
    if hold.leg is not None:
        minutes, miles = hold.leg.minutes, hold.leg.distance_nm
        data["leg"] = {"minutes": minutes} if minutes is not None else {"distance_nm": round(miles or 0.0, 1)}
        remarks["leg"] = "as flown; the chart decides"
    if one.judged.altitude_ft is not None:
        data["altitude_ft"] = 100 * round(one.judged.altitude_ft / 100.0)
        remarks["altitude_ft"] = f"flown {one.judged.altitude_ft:.0f} on the average"
    heading = (
        f"Inferred from the track of {track.name}: what was flown, not what is published.",
        "Correct it by the chart. Without the line of the fix, the fix is inferred from each flight.",
        CAUTION,
    )
    return hold_file_text(data, remarks=remarks, heading=heading)


def _sigma(sd: float | None, unit: str, decimals: int) -> str:
    return "" if sd is None else f"; one sigma {sd:.{decimals}f}{unit}"
