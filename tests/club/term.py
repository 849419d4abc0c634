"""A term of an imaginary school: 12 instructors, 60 pilots, 554 sessions; or the same class with nothing planted.

Each pilot's form drifts: good weeks follow good weeks, without anything being learnt. In some pilots a change is
planted in one item; in the class where nothing is planted nobody changes. Sessions are made as the logbook gives them
back, so that a class costs a second and not a database.
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from analyser.logbook.book import Logbook
from analyser.logbook.documents import logged_holds
from analyser.logbook.marks import item_points
from analyser.logbook.record import fingerprint
from analyser.logbook.sessions import Given, Grade, Kept, Session
from analyser.rules.scales import load_scale
from tests.club.people import Habit, Pilot
from tests.club.session import TOLERANCE, Made, make_session

SEED = 20260907
FIRST_DAY = datetime(2026, 9, 7, 8, 0, tzinfo=UTC)
WEEKS = 14
FIRST_NAMES = (
    "Ana",
    "Bea",
    "Cem",
    "Dov",
    "Eli",
    "Fay",
    "Gil",
    "Hal",
    "Ida",
    "Jan",
    "Kai",
    "Lea",
    "Max",
    "Nia",
    "Oda",
)
LAST_NAMES = ("Arden", "Birk", "Corvin", "Dahlquist")
INSTRUCTORS = tuple(
    f"{name} Teachwell"
    for name in ("Abe", "Bo", "Cy", "Di", "Ed", "Flo", "Gus", "Hew", "Ike", "Joy", "Kit", "Lou")
)
#: In steps of the scale; the others are fair.
LEANS = {INSTRUCTORS[3]: 0.8, INSTRUCTORS[7]: -0.8}
#: Who changes, in what, and which way: planted in twelve of the sixty.
CHANGES = {
    place: (
        ("timing", "track", "altitude", "wind_correction")[place % 4],
        "worse" if place % 3 == 2 else "better",
    )
    for place in range(12)
}
#: How far a change that is planted goes, in tolerances: from a flight examiner's "unsatisfactory" to a good one, and
#: back. How often that and less is found is printed by ``python -m tests.club --power``.
PLANTED = 2.2
#: What a session alone adds in all items, in tolerances.
SCATTER = 0.08


@dataclass(frozen=True)
class Form:
    """How a pilot's form goes from session to session, in tolerances.

    It comes back to the pilot's level with deviation ``sd``, neighbouring sessions being alike by ``stays``; or it
    ``walks``: each session adds a step of deviation ``sd`` that stays for good. All items have it in common, or each
    goes its way ``alone``.
    """

    sd: float = 0.15
    stays: float = 0.7
    walks: bool = False
    alone: bool = False

    def series(self, chance: random.Random) -> Iterator[float]:
        form = 0.0 if self.walks else chance.gauss(0.0, self.sd)
        while True:
            new = chance.gauss(0.0, self.sd)
            form = form + new if self.walks else self.stays * form + (1.0 - self.stays**2) ** 0.5 * new
            yield form

    def by_item(self, chance: random.Random) -> Iterator[dict[str, float]]:
        """Each session's form by item, with what that session alone adds to it in all items."""
        each = [self.series(chance) for _ in (TOLERANCE if self.alone else ("all",))]
        while True:
            forms, scatter = [next(one) for one in each], chance.gauss(0.0, SCATTER)
            yield {key: forms[place % len(forms)] + scatter for place, key in enumerate(TOLERANCE)}


DRIFTING = Form()


@dataclass(frozen=True)
class Member:
    """A pilot of the class with the planted change: item and direction, None where nothing is planted."""

    pilot: Pilot
    instructor: str
    change: tuple[str, str] | None


def learns(way: str, tolerances: float) -> Habit:
    """How an item is flown that changes by so many tolerances over the term, ``"better"`` or ``"worse"``."""
    far, near = 0.3 + tolerances, 0.3
    first, last = (far, near) if way == "better" else (near, far)
    return Habit(bias=first, learned=1.0 - last / first, wander=0.3, by_wind=0.1)


def members(*, planted: float = PLANTED, sessions_of_changing: int = 20) -> list[Member]:
    """The sixty pilots; weaknesses that do not change are there whatever change is ``planted``, in tolerances.

    Those who change fly more often than the others, as who learns does.
    """
    found = []
    for place in range(60):
        change = CHANGES.get(place) if planted else None
        habits = {
            "bank": Habit(bias=0.2 + 0.03 * (place % 20)),
            "altitude": Habit(bias=0.3 + 0.05 * (place % 13)),
        }
        if change:
            habits[change[0]] = learns(change[1], planted)
        name = f"{FIRST_NAMES[place % 15]} {LAST_NAMES[place // 15]}"
        count = sessions_of_changing if place in CHANGES else 7 if place < 38 else 6
        pilot = Pilot(
            name, change[0] if change else "", "procedure trainer", habits, count, wrong_entries=0.1
        )
        found.append(Member(pilot, INSTRUCTORS[place % 12], change))
    return found


def made(one: Member, seed: int, *, drawn: bool = False, form: Form = DRIFTING) -> Iterator[Made]:
    """A member's sessions over the term."""
    chance = random.Random(f"{seed} {one.pilot.name}")
    day_forms = form.by_item(chance)
    for number in range(one.pilot.sessions):
        share = number / (one.pilot.sessions - 1)
        day = FIRST_DAY + timedelta(days=share * (WEEKS * 7 - 6) + chance.uniform(0.0, 5.0))
        flown = make_session(
            one.pilot,
            day.replace(microsecond=0),
            share,
            number,
            chance,
            form=next(day_forms),
            drawn=drawn,
        )
        log = flown.document["log"]
        log["sha256"] = hashlib.sha256(f"{seed} {one.pilot.name} {number}".encode()).hexdigest()
        yield replace(flown, document=_with_findings(flown.document))


def _with_findings(document: dict) -> dict:  # type: ignore[type-arg]
    """As schema 2 has them: a level far off is unsafe."""
    for hold in document["holds"]:
        worst = max(abs(one["altitude_error_max_ft"]) for one in hold["circuits"])
        said = f"{worst:.0f} ft off the level."
        hold["findings"] = (
            [{"kind": "level", "severity": "unsafe", "sentence": said}] if worst > 300.0 else []
        )
    return {**document, "schema": 2}


def given(one: Member, flown: Made, chance: random.Random) -> Iterator[tuple[str, str, int, str]]:
    """What pilot and instructor gave: (item, role, place, remark)."""
    scale = load_scale()
    required = scale.place(scale.required)
    for item, points in item_points(logged_holds(flown.document)[0]).items():
        proposed = scale.propose(points)
        if proposed is None:
            continue
        there = scale.place(proposed.key)
        for role, lean in (("pilot", 0.3), ("instructor", LEANS.get(one.instructor, 0.0))):
            place = max(1, min(5, round(there + lean + chance.gauss(0.0, 0.4))))
            yield item, role, place, "invented: see the debrief" if place < required else ""


def sessions(
    seed: int = SEED,
    *,
    planted: float = PLANTED,
    drawn: bool = False,
    class_of: Sequence[Member] = (),
    form: Form = DRIFTING,
) -> list[Session]:
    """The whole class, in the order flown, as a logbook gives it back."""
    found = []
    for one in class_of or members(planted=planted):
        chance = random.Random(f"grades {seed} {one.pilot.name}")
        found += [_session(one, flown, chance) for flown in made(one, seed, drawn=drawn, form=form)]
    return sorted(found, key=lambda each: (each.when, each.key))


def _session(one: Member, flown: Made, chance: random.Random) -> Session:
    scale, (hold, *_) = load_scale(), logged_holds(flown.document)
    grades = []
    for item, role, place, remark in given(one, flown, chance):
        points = item_points(hold)[item]
        proposed = scale.propose_place(points)
        assert proposed is not None
        grades.append(
            Grade(
                hold=1,
                item=item,
                given_as="pilot" if role == "pilot" else "instructor",
                grader=one.pilot.name if role == "pilot" else one.instructor,
                scale=scale.key,
                level=scale.levels[place - 1].key,
                place=place,
                required=scale.required,
                computed_points=points,
                proposed=proposed[0],
                proposed_place=proposed[1],
                remark=remark,
                graded=flown.flown + timedelta(hours=2),
                recorded=flown.flown + timedelta(hours=3),
            )
        )
    log = flown.document["log"]
    kept = Kept("0.1.0", "invented", flown.flown, flown.document, flown.trace, fingerprint(flown.document))
    return Session(
        log_sha256=log["sha256"],
        flight=1,
        log_name=log["name"],
        others=(),
        flown=flown.flown,
        flown_from="log",
        pilot=one.pilot.name,
        instructor=one.instructor,
        device=one.pilot.device,
        lesson=None,
        recorded=flown.flown,
        debrief=kept,
        earlier=(),
        grades=tuple(grades),
    )


def fill_term(book: Logbook, seed: int = SEED) -> int:
    """Record the term with its grades; return how many sessions."""
    scale = load_scale()
    count = 0
    for one in members():
        chance = random.Random(f"grades {seed} {one.pilot.name}")
        for flown in made(one, seed):
            key = book.record(
                flown.document,
                pilot=one.pilot.name,
                instructor=one.instructor,
                device=one.pilot.device,
                trace=flown.trace,
            ).session
            grades = [
                Given(
                    1,
                    item,
                    "pilot" if role == "pilot" else "instructor",
                    "",
                    scale.levels[place - 1].key,
                    scale.required,
                    remark,
                )
                for item, role, place, remark in given(one, flown, chance)
            ]
            book.grade(key, grades, scale=scale, graded=flown.flown + timedelta(hours=2))
            count += 1
    return count
