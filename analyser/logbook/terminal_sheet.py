"""A grade sheet that is typed in, item by item."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from analyser.errors import UsageError
from analyser.logbook.book import Logbook
from analyser.logbook.items import title_of
from analyser.logbook.marks import item_points
from analyser.logbook.names import clean_name
from analyser.logbook.sessions import Session
from analyser.logbook.sheet import Given, check_remarks
from analyser.rules.scales import Scale, load_scale


@dataclass
class TypedSheet:
    """One hold of a session, counted from 1, about to be graded.

    ``scale_name`` may be a path; without ``required_name`` the scale's level is asked for; an empty ``instructor`` is
    the session's.
    """

    session: Session
    hold: int
    scale_name: str
    required_name: str | None
    instructor: str
    scale: Scale = field(init=False)
    points: dict[str, float | None] = field(init=False)

    def __post_init__(self) -> None:
        self.scale = load_scale(self.scale_name)
        self.required = self.scale.level(self.required_name or self.scale.required)
        if not 1 <= self.hold <= len(self.session.holds):
            what = f"session {self.session.reference} has {len(self.session.holds)} holds"
            raise UsageError(what, place="--hold", mend="give the number of one of them")
        self.points = item_points(self.session.holds[self.hold - 1])

    def heading(self) -> str:
        """Say what is graded, and on which scale."""
        levels = ", ".join(level.title for level in self.scale.levels)
        one = self.session
        return f"{one.reference}: {one.log_name}, hold {self.hold}, flown by {one.pilot}\nScale: {levels}"

    def lines(self) -> Iterator[tuple[str, str]]:
        """Go through the items."""
        for key, points in self.points.items():
            proposed = self.scale.propose(points)
            said = "not judged" if proposed is None else f"{points:.0f} points, proposed {proposed.title}"
            yield key, f"{title_of(key)} ({said})"

    def given(self, said: str, *, own: bool) -> Given:
        """Read one grade, ``ITEM=GRADE`` or ``ITEM=GRADE:remark``; ``own`` is the pilot's own.

        Raises
        ------
        UsageError
            No such item or grade, or not of that form.
        """
        key, equals, rest = said.partition("=")
        level, _, remark = rest.partition(":")
        if not equals or not level.strip():
            raise UsageError(
                f"'{said}' is not of the form ITEM=GRADE", mend="write altitude=3, or altitude=2:why"
            )
        key = key.strip().lower().replace(" ", "_")
        if key not in self.points:
            raise UsageError(f"there is no item '{key}'", mend="use one of: " + ", ".join(self.points))
        found = self.scale.level(level)
        grader = clean_name(self.instructor, what="instructor") if self.instructor and not own else ""
        return Given(
            hold=self.hold,
            item=key,
            given_as="pilot" if own else "instructor",
            grader=grader,
            scale=self.scale.key,
            level=found.key,
            place=self.scale.place(found.key),
            required=self.required.key,
            required_place=self.scale.place(self.required.key),
            remark=remark.strip(),
        )

    def keep(self, book: Logbook, given: Sequence[Given]) -> int:
        """Put the grades into the logbook; return how many were new.

        Raises
        ------
        UsageError
            None was given, or one below standard has no remark.
        LogbookError
            They were not kept.
        """
        if not given:
            raise UsageError("no grade is given", mend="give one at least")
        check_remarks(given)
        return book.grade(self.session.key, given, propose=self.scale.propose_place)
