"""A pilot's pages, each one file without a script: progress in pictures, and the record to read, print and sign."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from analyser.earth.angles import whole_direction
from analyser.logbook.documents import LoggedHold
from analyser.logbook.logbook_thresholds import TREND
from analyser.logbook.marks import title_of
from analyser.logbook.names import counted
from analyser.logbook.practise import Exercise
from analyser.logbook.progress import ItemProgress, Progress
from analyser.logbook.sessions import Session, TrailEntry
from analyser.logbook.standard import RULE
from analyser.pages import progress_charts as charts
from analyser.pages.grades import grades_by_session, remark_rows, told
from analyser.pages.template import render
from analyser.pages.words import number, points_or_not, points_words

#: The styles of the logbook's pages.
STYLES = ("page.css", "progress.css")
#: Sixty times the wind's share of the airspeed is the largest drift in degrees, as a rule of thumb.
_DRIFT_PER_SHARE = 60.0


def progress_page(
    progress: Progress, *, card_file: str = "", hold_file: str = "", record_file: str = ""
) -> str:
    """Write a pilot's progress page: a complete HTML document.

    Card and hold file of the exercise and the record lie beside the page; a name is empty where one is not written.
    """
    every = ((progress.overall,) if progress.overall else ()) + progress.items
    return render(
        "progress.html",
        *STYLES,
        progress=progress,
        days=_days_words(progress.sessions),
        summary=summary(progress),
        items=[_item(one, progress) for one in every],
        grades=grades_by_session(progress.sessions, progress.scale),
        remarks=remark_rows(progress.sessions, progress.scale),
        overlay=_overlay(progress.sessions),
        exercise=progress.exercise,
        made=_card(progress.exercise),
        card_file=card_file,
        hold_file=hold_file,
        streaks=[_streak_words(one) for one in progress.streaks[:5]],
        drift=number(_DRIFT_PER_SHARE * progress.reference_share),
        rule=RULE,
        record_file=record_file,
        undated=[one.reference for one in progress.sessions if one.flown is None],
        winds=_winds,
        points=_points_words,
    )


def summary(progress: Progress) -> list[str]:
    """Say in a few sentences where the pilot stands: for the page's top and for the terminal."""
    weakest = progress.weakest
    if weakest is None:
        return ["No session with a judged hold is in the logbook yet."]
    now = _now_words(weakest, progress.asked_points)
    said = [f"Work on {weakest.item.title.lower()}: {now}."]
    if weakest.now.points >= progress.asked_points:
        lowest = f"the lowest is {weakest.item.title.lower()}, {now}."
        said = [f"By the points every item is at the grade asked for; {lowest}"]
        if progress.overall and progress.overall.now.points < progress.asked_points:
            overall = points_words(progress.overall.now.points, progress.asked_points)
            said.append(f"The holds as a whole are below it: {overall} points.")
    below = [title_of(one.item).lower() for one in progress.standards if one.graded and one.open]
    if below:
        said.append(f"An instructor's last grade is below what was asked for: {', '.join(below)}.")
    if progress.unsafe:
        count, of = len(progress.unsafe), progress.looked_for_unsafe
        last = progress.unsafe[0][0].when
        said.insert(0, f"Something was unsafe in {count} of {of} sessions, the last time on {last:%Y-%m-%d}.")
    if progress.close:
        names = ", ".join(one.item.title.lower() for one in progress.close)
        lowest = weakest.item.title.lower()
        said.append(
            f"Whether {lowest} is the weakest is not sure: the scatter does not tell it from {names}."
        )
    better, worse = (_named(progress, verdict) for verdict in ("better", "worse"))
    if better:
        said.append(f"Getting better: {better}.")
    if worse:
        said.append(f"Getting worse, the wind allowed for: {worse}.")
    if not any(one.trend for one in progress.items):
        said.append(
            f"To tell a change takes {TREND.fewest_sessions} sessions at least, on more than one day."
        )
    elif not better and not worse:
        moved = ", ".join(one.item.title.lower() for one in progress.items if one.moved and not one.count)
        said.append(
            f"Not as at first: {moved}. Whether that lasts or form only drifts cannot be told yet."
            if moved
            else "No change in any item can be told from the ups and downs yet."
        )
    return said


def _now_words(one: ItemProgress, asked: float) -> str:
    if one.count is not None:
        return charts.lately_words(one.count)
    count = one.now.sessions
    over = "in the latest session" if count == 1 else f"over the last {count} sessions"
    return f"{points_words(one.now.points, asked)} points ({charts.sure_words(one.now)}) {over}"


def _named(progress: Progress, verdict: str) -> str:
    every = (*progress.items, *((progress.overall,) if progress.overall else ()))
    return ", ".join(
        "the holds overall" if one is progress.overall else one.item.title.lower()
        for one in every
        if one.trend and one.trend.verdict == verdict
    )


def _item(one: ItemProgress, progress: Progress) -> dict[str, Any]:
    return {
        "about": one,
        "points": charts.points_chart(one, progress.asked_points, progress.reference_share),
        "raw": charts.deviation_chart(one),
        "trend": charts.trend_words(one),
        "level": progress.scale.propose(one.now.points),
        "cost": _cost_words(one),
        "sure": charts.sure_words(one.now),
        "lately": charts.lately_words(one.count) if one.count else "",
    }


def _cost_words(one: ItemProgress) -> str:
    """Say what a wind of a tenth of the airspeed costs, and how well that is known."""
    tenth, sd = one.cost.per_share / 10.0, one.cost.sd / 10.0
    if not one.cost.per_share:
        return "no wind allowed for"
    if round(tenth) == 0 and round(2 * sd) == 0:
        # An estimate held at nought, where more wind was never flown worse.
        return "no cost to be seen"
    return (
        f"{number(tenth, signed=True)} points for each tenth of the airspeed, give or take {number(2 * sd)}"
    )


def _overlay(sessions: Sequence[Session]) -> dict[str, Any] | None:
    """Put the first and the latest circuit over each other, of the hold that was flown last."""
    traced = [(one, place) for one in sessions for place in range(len(one.holds)) if _circuit(one, place, -1)]
    if not traced:
        return None
    last = traced[-1]
    first = next(pair for pair in traced if _place(pair) == _place(last))
    earliest, latest = _circuit(*first, 0), _circuit(*last, -1)
    if earliest is None or latest is None or earliest == latest:
        # The only whole circuit.
        return None
    winds = [_wind_words(one.holds[place]) for one, place in (first, last)]
    labels = [f"{one.when:%Y-%m-%d}, {wind}" for (one, _), wind in zip((first, last), winds, strict=True)]
    picture = charts.overlay(earliest, latest, labels)
    name = _place(last)[0] or "The hold flown last"
    return {"picture": picture, "labels": labels, "name": name, "winds_differ": winds[0] != winds[1]}


def _place(pair: tuple[Session, int]) -> tuple[str, object]:
    hold = pair[0].holds[pair[1]]
    course = hold.inbound_course_true_deg
    place = (round(hold.fix_lat_deg or 0.0, 1), round(hold.fix_lon_deg or 0.0, 1))
    return hold.name, (hold.turns, None if course is None else round(course / 6.0), place)


def _circuit(session: Session, place: int, which: int) -> Sequence[Sequence[float]] | None:
    """Return the path of a whole circuit of a hold: 0 the first, -1 the last."""
    flown = session.debrief.path(place)
    whole = [
        (one.start_s, one.end_s)
        for one in session.holds[place].circuits
        if one.complete and one.start_s is not None and one.end_s is not None
    ]
    if flown is None or not whole:
        return None
    begin, end = whole[which]
    path = [point for point in flown if begin <= point[0] <= end]
    return path if len(path) > 1 else None


def _wind_words(hold: LoggedHold) -> str:
    source, speed = hold.wind_from_true_deg, hold.wind_speed_kt
    if source is None or speed is None:
        return "wind not known"
    return f"wind {whole_direction(source):03d}°T/{number(speed)} kt"


def _card(exercise: Exercise | None) -> dict[str, Any] | None:
    """Make the card of an exercise and its sketch, where its wind leaves a circuit."""
    from analyser.pages.card import sketch
    from analyser.pages.card_writer import card_of
    from analyser.pages.figures.svg import svg

    if exercise is None or exercise.briefing is None:
        return None
    finding = "Sketch of the exercise's circuit in its wind, north up."
    drawn = svg(sketch(exercise.briefing), finding, name="sketch")
    return {"card": card_of(exercise.briefing), "sketch": drawn}


def _streak_words(streak: Any) -> str:
    until = "and not broken yet" if streak.running else f"to {streak.last:%Y-%m-%d}"
    title = streak.item.title
    return f"{title}: {streak.circuits} circuits in a row within tolerance, from {streak.first:%Y-%m-%d} {until}."


def _days_words(sessions: Sequence[Session]) -> str:
    """Say from when to when sessions were flown; those that nobody dated are not counted."""
    days = sorted(one.flown.date() for one in sessions if one.flown)
    if not days:
        return "no dates" if sessions else ""
    return f"{days[0]} to {days[-1]}" if days[0] != days[-1] else f"{days[0]}"


def _winds(one: Session) -> str:
    return "; ".join(_wind_words(hold).removeprefix("wind ") for hold in one.holds)


def _points_words(one: Session) -> str:
    return ", ".join("not judged" if hold.points is None else number(hold.points) for hold in one.holds)


def record_page(
    progress: Progress, sessions: Sequence[Session], trail: Sequence[TrailEntry], *, progress_file: str = ""
) -> str:
    """Write a student's record: a complete HTML document without a script.

    ``sessions`` are the pilot's own, also those without a hold, and ``trail`` is theirs; ``progress_file`` names
    the progress page beside it, and is empty where that is not written.
    """
    return render(
        "record.html",
        *STYLES,
        progress=progress,
        standards=[one for one in progress.standards if one.graded or one.item != "overall"],
        told=partial(told, scale=progress.scale),
        item_title=title_of,
        grades=grades_by_session(sessions, progress.scale),
        remarks=remark_rows(sessions, progress.scale),
        withdrawn=[(one, each) for one in reversed(sessions) for each in one.grades if each.withdrawn],
        rule=RULE,
        exercise=progress.exercise,
        instructors=_names(one.instructor for one in sessions),
        devices=_names(one.device for one in sessions),
        days=_days_words(sessions),
        sessions=sessions,
        winds=_winds,
        hold_words=_hold_words,
        trail=trail,
        progress_file=progress_file,
    )


def _names(found: Any) -> str:
    return ", ".join(sorted({one for one in found if one}, key=str.casefold))


def _hold_words(hold: LoggedHold) -> str:
    said = [
        counted(len(hold.circuits), "circuit"),
        points_or_not(hold.points),
    ]
    if hold.entry_verdict in ("correct", "incorrect"):
        said.append(f"{hold.entry_flown} entry {'right' if hold.entry_verdict == 'correct' else 'wrong'}")
    return f"{hold.name or f'Hold {hold.number}'}: " + ", ".join(said)
