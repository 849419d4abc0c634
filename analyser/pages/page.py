"""The debrief page: one HTML file that reads, replays and prints without anything else."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from analyser.circuits.flown import PossibleHold, SearchReason
from analyser.earth.plane import LocalPlane
from analyser.grading.finding import SEVERITIES
from analyser.grading.wording import sentence
from analyser.logs.track import Track
from analyser.pages.figures import symbols
from analyser.pages.figures.canvas import Canvas, canvas_for, letter_free
from analyser.pages.figures.svg import svg
from analyser.pages.shown_hold import hold_view
from analyser.pages.subject import CODE, phase_words
from analyser.pages.template import environment, island, shell
from analyser.pages.words import clock, direction, latitude, longitude

if TYPE_CHECKING:
    from analyser.debrief import Debrief
    from analyser.rules.scales import Scale
    from analyser.schema.debrief_file import WrittenDebrief, WrittenFit, WrittenHold


def render_page(
    debrief: Debrief,
    document: WrittenDebrief,
    *,
    scales: Sequence[Scale] = (),
    filled: Mapping[str, str] | None = None,
) -> str:
    """Write the debrief of one log as a page: a whole HTML document that asks for nothing outside itself.

    Time series come from ``debrief``, judged numbers and words from ``document``, the same debrief as it is written.
    The grade sheet offers ``scales``, the first one chosen, by default those that come with the program; ``filled`` is
    what is known of it beforehand: ``pilot``, ``instructor``, ``device``, ``lesson``. The same input gives the same
    text.
    """
    holds = [
        hold_view(hold, document, number, debrief.track.start_utc)
        for number, hold in enumerate(debrief.holds, 1)
    ]
    page = environment().get_template("debrief.html")
    rendered = page.render(
        **shell(),
        log=document.log,
        holds=holds,
        first_hold=_first_hold(document.holds),
        magnetic_known=any(part.variation is not None for part in document.holds),
        misfits=_misfits(document.definition_fit),
        doubts=[
            _fit_words(fit) for fit in document.definition_fit if fit.code in ("flown-course", "flown-fix")
        ],
        nearest_miss=debrief.nearest_miss or "",
        search=search_view(debrief),
        island=island({"phases": phase_words(), "code": CODE, "holds": [hold["replay"] for hold in holds]}),
        document=document,
        scales=scales,
        filled=filled or {},
    )
    # Indentation serves readers of the templates only.
    return re.sub(r"\n\s+", "\n", rendered)


def _misfits(fits: Sequence[WrittenFit]) -> list[str]:
    """Say which holds that were named were not flown, and why not; of a collection only that none fits."""
    flown = {(fit.file, fit.name) for fit in fits if fit.code.startswith("flown")}
    unfit = [fit for fit in fits if fit.named and (fit.file, fit.name) not in flown]
    if not flown and fits and not unfit:
        return [f"None of the {len(fits)} given holds nearby fits this flight."]
    return [_fit_words(fit) for fit in unfit]


def _fit_words(fit: WrittenFit) -> str:
    return f"{fit.name or fit.file or 'The given hold'}: {fit.sentence}"


def _first_hold(holds: Sequence[WrittenHold]) -> int:
    """Choose the hold that stands opened where there are several: the one that most needs talking of."""

    def need(hold: WrittenHold) -> tuple[int, float]:
        worst = min((SEVERITIES.index(one.severity) for one in hold.findings), default=len(SEVERITIES))
        return worst, hold.points if hold.points is not None else 100.0

    return 1 + min(range(len(holds)), key=lambda place: need(holds[place]), default=0)


#: So many places are shown each with its own words; more than that are counted.
MOST_SHOWN = 3
#: Points of the flight that its map is drawn from.
MAP_POINTS = 3000
#: A small map shows so much of the flight before and after, seconds.
AROUND_S = 90.0


def search_view(debrief: Debrief) -> dict[str, Any]:
    """Say what was looked for and not found, or found and not surely a hold."""
    track = debrief.track
    ordered = sorted(debrief.possible, key=lambda one: (-one.laps, one.start_s))[:MOST_SHOWN]
    shown = sorted(ordered, key=lambda one: one.start_s)
    dropped = _without_repeats(debrief.reasons, shown)[:MOST_SHOWN]
    marked = [
        *((letter, one.start_s, one.end_s) for letter, one in zip("ABC", shown, strict=False)),
        *((str(n), one.start_s, one.end_s) for n, one in enumerate(dropped, 1)),
    ]
    return {
        "possible": [_possible(track, letter, one) for letter, one in zip("ABC", shown, strict=False)],
        "more": len(debrief.possible) - len(shown),
        "dropped": [{"number": n, "said": sentence(one.sentence)} for n, one in enumerate(dropped, 1)],
        "map": svg(_map(track, marked), "", caption="search-map", name="search") if track.samples > 1 else "",
        "do": _what_to_do(debrief),
    }


def _without_repeats(reasons: tuple[SearchReason, ...], shown: list[PossibleHold]) -> list[SearchReason]:
    """Keep the first reason of every stretch that is not shown as a possible hold."""
    kept: list[SearchReason] = []
    taken = [(one.start_s, one.end_s) for one in shown]
    for reason in reasons:
        if not any(reason.start_s < end and start < reason.end_s for start, end in taken):
            kept.append(reason)
            taken.append((reason.start_s, reason.end_s))
    return kept


def _possible(track: Track, letter: str, one: PossibleHold) -> dict[str, Any]:
    canvas = _map(track, [], (one.start_s - AROUND_S, one.end_s + AROUND_S), one)
    laps = "1 lap" if one.laps == 1 else f"{one.laps} laps"
    title = f"{letter}: {laps}, {clock(one.start_s)} to {clock(one.end_s)}"
    where = (
        f"{one.turns}-hand, inbound about {direction(one.inbound_course_true_deg, None)[1]}, round "
        f"{latitude(one.fix_lat_deg)} {longitude(one.fix_lon_deg)}"
    )
    return {
        "title": title,
        "where": where,
        "speaks_for": one.speaks_for,
        "speaks_against": one.speaks_against,
        "caption_id": f"possible-{letter}",
        "map": svg(canvas, "", caption=f"possible-{letter}", name="possible"),
    }


def _map(
    track: Track,
    marked: list[tuple[str, float, float]],
    between_s: tuple[float, float] | None = None,
    hold: PossibleHold | None = None,
) -> Canvas:
    """Draw a flight, north up; stretches that are spoken of are drawn strong and lettered where they begin."""
    first, last = between_s or (float(track.time_s[0]), float(track.time_s[-1]))
    inside = np.flatnonzero((track.time_s >= first) & (track.time_s <= last))
    inside = inside[:: max(inside.size // MAP_POINTS, 1)]
    lat, lon, time_s = track.lat_deg[inside], track.lon_deg[inside], track.time_s[inside]
    middle = inside.size // 2
    origin = (hold.fix_lat_deg, hold.fix_lon_deg) if hold else (float(lat[middle]), float(lon[middle]))
    east, north, _ = LocalPlane(*origin).to_plane(lat, lon)
    canvas = canvas_for(east, north, width=300.0 if hold else 560.0)
    symbols.north_and_scale(canvas)
    canvas.line(east, north, "pencil", 1.0, layer="other")
    spans = [("", hold.start_s, hold.end_s)] if hold else marked
    for _, start_s, end_s in spans:
        cut = (time_s >= start_s) & (time_s <= end_s)
        canvas.line(np.where(cut, east, np.nan), north, "ink", 1.8, layer="flown")
    for letter, start_s, end_s in spans:
        at = int(np.searchsorted(time_s, start_s))
        if letter and at < time_s.size and time_s[at] <= end_s:
            letter_free(canvas, (float(east[at]), float(north[at])), [(letter, "circle")], 0.0, layer="lettering",
                        clear_of=("flown", "other"))  # fmt: skip
    if hold:
        symbols.fix(canvas)
    return canvas


def _what_to_do(debrief: Debrief) -> list[str]:
    """Say what would help, in the order of how likely it does."""
    notices = {notice.code for notice in debrief.track.notices}
    codes = {reason.code for reason in debrief.reasons}
    do = []
    if "file-cut-off" in notices:
        do.append("The log was cut off: the hold may be in what is missing. Save it again from the recorder.")
    if "log-ends" in codes:
        do.append("The log ends before a lap is round. Let the recorder run until you have left the hold.")
    if not debrief.fits:
        do.append(
            "If you did hold, give the hold with --hold FILE: the flight is then cut by its fix, however it was flown."
        )
    if any(one.coarse for one in debrief.possible):
        do.append(
            "The positions are too sparse to tell turns from legs. Record every second or two if you can."
        )
    for fit in debrief.fits:
        if fit.code in ("not-near", "sign", "passed", "course-reversed"):
            do.append("Check fix, course and hand of the hold file: analyser hold check FILE LOG draws both.")
            break
    return do
