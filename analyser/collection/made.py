"""Hold files made: from answers in a chart's words, and from the holds that a flight flew."""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.collection.files import ENDING, own_folder
from analyser.errors import ReportError, UsageError
from analyser.frozen import dataclass
from analyser.holds import chart_words
from analyser.holds.holdfile import hold_file_from
from analyser.holds.holdfile_words import hold_file_text

if TYPE_CHECKING:
    from analyser.circuits.flown import PossibleHold
    from analyser.debrief import HoldDebrief
    from analyser.holds.definition import Hold
    from analyser.logs.read import ReadOptions
    from analyser.logs.track import Track

CAUTION = "A training aid: not for navigation. The published chart, the AIP and air traffic control decide."


@dataclass(frozen=True)
class Question:
    """One question of ``analyser hold new``, for a key of the hold file that may be ``needed``."""

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

    Raises UsageError if it cannot; the message says what it should look like.
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
    """Write a hold file from answers in a chart's words, by key; an empty one is left out.

    Raises HoldFileError if an answer cannot be read, or they make no hold together.
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
        data["fix"] = chart_words.spot(said["fix"])
        place = data["fix"].get("from", data["fix"])
        remarks["fix"] = chart_words.written(place["lat"], place["lon"])
    if plain.leg is not None:
        data["leg"] = plain.leg.model_dump(exclude_none=True)
    for key in ("altitude_ft", "speed_kias"):
        if getattr(plain, key) is not None:
            data[key] = getattr(plain, key)
    return hold_file_text(data, remarks=remarks, heading=(CAUTION,))


def place_for(name: str) -> Path:
    """Return a free place in the user's own collection for a hold of a name: nobody answers five questions twice."""
    stem = re.sub(r"[^\w]+", "_", name).strip("_").lower()[:60] or "hold"
    numbered = (f"{stem}{ENDING}" if number == 1 else f"{stem}_{number}{ENDING}" for number in count(1))
    return next(path for name in numbered if not (path := own_folder() / name).exists())


def write_new(texts: Mapping[Path, str], *, force: bool) -> None:
    """Write hold files, never over others unless that is meant; none where one cannot be.

    Raises UsageError if there is one of that name. Raises ReportError if it cannot be written.
    """
    from analyser.whole_files import write_text_whole

    for path in texts:
        if path.exists() and not force:
            mend = "name another with --to, or say --force"
            raise UsageError("the file is there already", file=str(path), mend=mend)
    for path, text in texts.items():
        write_text_whole(path, text)


def flown_hold_files(log: Path, options: ReadOptions) -> list[str]:
    """Write each hold of a flight as a hold file, with how well the flight tells it: one at least.

    Where no hold was found it is what may have been one. Raises LogError if the log cannot be read. Raises
    ReportError if nothing in it is like a hold.
    """
    from analyser.debrief import debrief_track
    from analyser.logs.read import read_log

    found = [debrief_track(track) for track in read_log(log, options)]
    holds = [(one.track, hold) for one in found for hold in one.holds]
    texts = [_flown(hold, track, number) for number, (track, hold) in enumerate(holds, 1)]
    if not texts:
        possible = [(one.track, perhaps) for one in found for perhaps in one.possible]
        texts = [_possible(perhaps, track, number) for number, (track, perhaps) in enumerate(possible, 1)]
    if not texts:
        raise ReportError(f"no hold was found in this log: {found[0].nearest_miss}", file=str(log))
    return texts


def _flown(one: HoldDebrief, track: Track, number: int) -> str:
    flown, hold = one.flown, one.flown.hold
    data = _frame(hold, track, one.judged.altitude_ft)
    data["name"] = f"Hold {number} of {track.name}"
    remarks = {
        "fix": f"{chart_words.written(hold.fix_lat_deg, hold.fix_lon_deg)}{_sigma(flown.fix_sd_nm, ' NM', 2)}",
        "inbound_course": "degrees TO the fix" + _sigma(flown.course_sd_deg, " degrees", 1),
        "turns": f"{len(flown.circuits)} {'circuit' if len(flown.circuits) == 1 else 'circuits'} flown",
        "leg": "as flown; the chart decides",
    }
    if hold.leg is not None:
        minutes, miles = hold.leg.minutes, hold.leg.distance_nm
        data["leg"] = {"minutes": minutes} if minutes is not None else {"distance_nm": round(miles or 0.0, 1)}
    if one.judged.altitude_ft is not None:
        data["altitude_ft"] = 100 * round(one.judged.altitude_ft / 100.0)
        remarks["altitude_ft"] = f"flown {one.judged.altitude_ft:.0f} on the average"
    return hold_file_text(data, remarks=remarks, heading=_heading(track, "Inferred"))


def _possible(one: PossibleHold, track: Track, number: int) -> str:
    data = {"name": f"Perhaps hold {number} of {track.name}", **_frame(one, track, None)}
    remarks = {
        "fix": chart_words.written(one.fix_lat_deg, one.fix_lon_deg),
        "inbound_course": "degrees TO the fix; by the turns alone",
        "turns": f"{one.laps} {'lap' if one.laps == 1 else 'laps'}",
    }
    against = [f"Against a hold speaks: {said}" for said in one.speaks_against]
    heading = _heading(
        track, "This may have been a hold; if it was one, correct it and give it with --hold. Inferred"
    )
    return hold_file_text(data, remarks=remarks, heading=(*against, *heading))


def _heading(track: Track, begun: str) -> tuple[str, ...]:
    return (
        f"{begun} from the track of {track.name}: what was flown, not what is published.",
        "Correct it by the chart. Without the line of the fix, the fix is inferred from each flight.",
        CAUTION,
    )


def _frame(one: Hold | PossibleHold, track: Track, altitude_ft: float | None) -> dict[str, Any]:
    """Write what every hold has; the course as a chart prints it, magnetic, where the log has a date."""
    course, reference = one.inbound_course_true_deg, "true"
    if track.start_utc is not None:
        from analyser.earth.variation import magnetic_variation

        place = one.fix_lat_deg, one.fix_lon_deg
        course -= magnetic_variation(*place, altitude_ft or 0.0, track.start_utc).variation_deg
        reference = "magnetic"
    return {
        "fix": {"lat": round(one.fix_lat_deg, 5), "lon": round(one.fix_lon_deg, 5)},
        "inbound_course": round(course % 360.0, 1),
        "reference": reference,
        "turns": one.turns,
    }


def _sigma(sd: float | None, unit: str, decimals: int) -> str:
    return "" if sd is None else f"; one sigma {sd:.{decimals}f}{unit}"
