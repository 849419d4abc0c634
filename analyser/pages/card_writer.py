"""The kneeboard card as rows: which figures it shows, in which words, and on which rule each rests.

The terminal and the page print the same rows.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import groupby

from analyser import CAUTION
from analyser.earth.angles import whole_direction
from analyser.frozen import dataclass
from analyser.grading.wording import sentence
from analyser.holds.briefing import Briefing
from analyser.holds.definition import LegLimit
from analyser.holds.entries import EntryPlan
from analyser.holds.exact import ExactCircuit
from analyser.holds.leaving_plan import LeavePlan
from analyser.holds.rules_of_thumb import ThumbComparison
from analyser.pages.words import clock, direction, latitude, longitude, number
from analyser.rules.regime import Sourced


@dataclass(frozen=True)
class Row:
    """One line of the card; the few figures that are flown are ``main``, ``detail`` stands in smaller type."""

    label: str
    value: str
    rules: tuple[str, ...] = ()
    detail: str = ""
    main: bool = False


@dataclass(frozen=True)
class Table:
    """A table of the card: a header row and rows of as many cells."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    rules: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Card:
    """The whole card; untrusted text may be in its title.

    ``warnings`` stand above everything else; ``short`` are other winds and rules of thumb in as little room as A6 has;
    ``level`` is what is said of the minimum holding level over obstacles, its caution last; ``rules`` are all that is
    named, in order: the number beside a figure is its place here, from 1.
    """

    title: str
    warnings: tuple[str, ...]
    hold: tuple[Row, ...]
    circuit: tuple[Row, ...]
    entry: Table
    winds: Table | None
    leaving: Table | None
    turn_in: Table | None
    thumbs: Table | None
    caution: str = CAUTION
    short: tuple[Table, ...] = ()
    level: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()

    @property
    def tables(self) -> tuple[Table, ...]:
        """The tables that there are."""
        every = (self.entry, self.winds, self.leaving, self.turn_in, self.thumbs)
        return tuple(table for table in every if table is not None)

    def marks(self, rules: tuple[str, ...]) -> str:
        """Write the numbers of some rules: ``"1, 3"``."""
        return ", ".join(str(self.rules.index(rule) + 1) for rule in rules)


def lines(card: Card) -> Iterator[str]:
    """Write a card as plain lines for the terminal."""
    yield card.title
    for warning in card.warnings:
        yield f"! {warning}"
    for rows in (card.hold, card.circuit):
        if rows:
            yield ""
        for row in rows:
            mark = f" [{card.marks(row.rules)}]" if row.rules else ""
            detail = f", {row.detail}" if row.detail else ""
            yield f"{row.label:<17} {row.value}{detail}{mark}"
    for table in card.tables:
        yield ""
        yield f"{table.title} [{card.marks(table.rules)}]"
        yield from _columns(table)
        if table.note:
            yield f"  {table.note}"
    if card.level:
        yield ""
        yield "Lowest level over the obstacles"
        yield from (f"  {line}" for line in card.level)
    yield ""
    yield from (f"[{number}] {rule}" for number, rule in enumerate(card.rules, start=1))
    yield ""
    yield card.caution


def _columns(table: Table) -> Iterator[str]:
    rows = (table.head, *table.rows)
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.head))]
    for row in rows:
        cells = (f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True))
        yield "  " + "  ".join(cells).rstrip()


EXACT = "exact circuit: constant TAS and bank, steady wind as forecast (derived)"
FILE = "hold file"
#: Marks an outbound time that runs from wings level.
_LEVEL = "†"
#: A circuit that was solved to turn inbound at a limit does so this nearly.
_ON_LIMIT_NM, _ON_RADIAL_DEG = 0.01, 0.1
#: A time in brackets.
_BRACKETS = re.compile(r"\(\d+:\d\d\)")


def card_of(briefing: Briefing, *, magnetic: bool = True) -> Card:
    """Write a briefing as a card, directions magnetic or true; wind is always true, as it is forecast."""
    writer = _Writer(briefing, magnetic)
    closes = briefing.exact.closes
    hold, circuit, entry = writer.hold(), writer.circuit() if closes else (), writer.entry()
    # Where only a makeshift circuit closes, neither cutting it short nor rules of thumb make sense.
    exists = briefing.exact.exists
    tables = (
        writer.winds() if closes else None,
        writer.leaving() if briefing.leaving else None,
        writer.turn_in() if exists else None,
        writer.thumbs() if exists else None,
    )
    named = [rule for one in (*hold, *circuit, entry, *tables) if one is not None for rule in one.rules]
    short = [writer.winds(short=True)] * closes + [writer.thumbs(short=True)] * exists
    return Card(
        briefing.hold.name or "Holding pattern",
        writer.warnings(),
        *(hold, circuit, entry, *tables),
        short=tuple(short),
        rules=tuple(dict.fromkeys(named)),
    )


def rule_of(sourced: Sourced) -> str:
    """Name a rule with its standing: ``"FAA AIM 5-3-8 j.2 (published)"``."""
    return f"{sourced.source} ({sourced.standing})"


@dataclass(frozen=True)
class _Writer:
    briefing: Briefing
    magnetic: bool

    def degrees(self, true_deg: float) -> str:
        both = direction(true_deg, self.briefing.variation.variation_deg)
        return both[0] if self.magnetic else both[1]

    def warnings(self) -> tuple[str, ...]:
        b, said, flown = self.briefing, [], f"{number(self.briefing.flight.ias_kt)} KIAS is"
        if b.too_fast:
            limit = f"the maximum of {number(b.speed_limit_kias)} KIAS"
            said.append(f"{flown} above {limit}: slow down, or this hold is not protected.")
        if b.too_slow and b.regime.least_speed is not None:
            least = f"the {number(b.regime.least_speed.kias)} KIAS that {b.regime.name} names for holding"
            said.append(f"{flown} below {least}.")
        if not b.exact.exists:
            said.append(sentence(b.exact.why_not))
        if not b.flight.wind_known:
            said.append("No wind is given: still air is assumed.")
        if not b.variation.within_validity:
            said.append("The date lies outside the magnetic model's years: check the variation.")
        return tuple(said)

    def hold(self) -> tuple[Row, ...]:
        b = self.briefing
        hold, flight, limit = b.hold, b.flight, b.speed_limit
        warmer = number(flight.isa_deviation_c, signed=True)
        deviation = f", ISA {warmer} °C" if flight.isa_deviation_c else ""
        speeds = f"{number(flight.ias_kt)} KIAS, {number(flight.tas_kt)} kt TAS"
        wind = f"{whole_direction(flight.wind_from_true_deg):03d}°T / {number(flight.wind_speed_kt)} kt"
        course = f"{self.degrees(hold.inbound_course_true_deg)}, {hold.turns} turns"
        category = f" (category {flight.category})" if flight.category in limit.categories else ""
        return (
            Row("Fix", f"{latitude(hold.fix_lat_deg)}, {longitude(hold.fix_lon_deg)}", (FILE,)),
            Row("Inbound course", course, (FILE,)),
            Row("Leg", *self._leg()),
            Row("Level, speed", f"{number(flight.altitude_ft)} ft{deviation}, {speeds}"),
            Row("Wind", wind if flight.wind_known else "not given"),
            Row("Variation", b.variation.said()),
            Row("Maximum speed", f"{number(b.speed_limit_kias)} KIAS{category}", (rule_of(limit),)),
        )

    def circuit(self) -> tuple[Row, ...]:
        b, exact = self.briefing, self.briefing.exact
        timed = clock(exact.outbound_timed_s), (EXACT, rule_of(b.regime.clock))
        clock_from = "wings level: abeam is not met" if exact.abeam_after_s is None else "abeam the fix"
        rate = f"{number(exact.turn_rate_dps, 1)}°/s"
        # In a right-hand hold the aircraft is to the right of the course, so the fix bears left of it.
        bearing = exact.inbound_course_deg - exact.side * exact.gate_bearing_deg
        gate = f"fix bears {self.degrees(bearing)}, {number(exact.gate_bearing_deg)}° off the course"
        outbound = (
            self.degrees(exact.outbound_heading_deg),
            (EXACT,),
            _correction(exact.outbound_correction_deg),
        )
        drift = _correction(exact.inbound_drift_correction_deg)
        inbound = self.degrees(exact.inbound_heading_deg), (EXACT,), drift
        leg = f"{clock(exact.inbound_time_s)}, {number(exact.inbound_distance_nm, 1)} NM"
        rows = [
            Row("Outbound heading", *outbound, main=True),
            Row("Outbound time", *timed, f"from {clock_from}", main=True),
            Row("Turn in when", gate, (EXACT,)),
            Row("Inbound heading", *inbound, main=True),
            Row("Inbound leg", leg, (EXACT, rule_of(b.regime.wind))),
            Row("Bank", f"{number(exact.bank_deg)}°", (rule_of(b.regime.turns),), rate, main=True),
            Row("Turns take", f"{clock(exact.first_turn_s)} and {clock(exact.second_turn_s)}", (EXACT,)),
            Row("Whole circuit", clock(exact.total_s), (EXACT,)),
        ]
        if b.hold.leg is not None and b.hold.leg.distance_nm is not None:
            rows.append(self._end_by_distance(b.hold.leg))
        beyond_deg = b.hold.beyond_radial_deg(exact.outbound_end_along_nm, exact.outbound_end_cross_nm)
        if b.hold.limiting_radial_true_deg is not None and beyond_deg is not None:
            met = beyond_deg > -_ON_RADIAL_DEG
            before = "met before the distance: turn inbound before you pass it"
            crossed = before if met else "not reached by then"
            radial = self.degrees(b.hold.limiting_radial_true_deg)
            rows.append(Row("Limiting radial", radial, (FILE,), crossed, main=met))
        if b.regime.clock.fixes == "inbound":
            rows.append(Row("By the rules", b.regime.wind.words, (rule_of(b.regime.wind),)))
        if exact.drift_multiple is not None:
            multiple = f"{number(exact.drift_multiple, 1)} × the inbound correction"
            rows.insert(4, Row("Outbound drift", multiple, (EXACT,)))
        if exact.level_time_s is not None:
            rows.insert(2, Row("… from wings level", clock(exact.level_time_s), (EXACT,)))
        return tuple(rows)

    def _end_by_distance(self, leg: LegLimit) -> Row:
        """Write the charted limit, which ends the outbound leg whatever the time."""
        exact, limit_nm = self.briefing.exact, leg.distance_nm or 0.0
        detail = "as charted, whatever the time"
        out_nm = leg.out_nm(exact.outbound_end_along_nm, exact.outbound_end_cross_nm)
        if not exact.exists and out_nm - limit_nm > _ON_LIMIT_NM:
            detail += "; the times above lead beyond it"
        rules = (rule_of(self.briefing.regime.distance_leg),)
        return Row("Outbound ends at", self._end_of_leg(limit_nm), rules, detail, main=True)

    def _end_of_leg(self, out_nm: float) -> str:
        leg = self.briefing.hold.leg
        if leg is not None and leg.end_dme_nm is not None:
            return f"{number(leg.end_dme_nm, 1)} DME"
        return f"{number(out_nm, 1)} NM out"

    def entry(self) -> Table:
        b = self.briefing
        named = {one.entry: one for one in b.sectors}
        rows = []
        for name in b.allowed or ("direct", "offset", "parallel"):
            zone = named[name]
            headings = f"{self.degrees(zone.from_heading_deg)} to {self.degrees(zone.to_heading_deg)}"
            planned = next((one for one in b.entries if one.entry == name), None)
            rows.append((b.regime.entry.word(name), headings, *self._entry(planned)))
        zone_deg = number(b.regime.entry.zone_deg)
        note = f"Within {zone_deg}° of a border either neighbour is right. Sectors are by heading at the fix."
        note += _explained(rows)
        arrival = b.flight.arrival_heading_true_deg
        title = "Entry" if arrival is None else f"Entry, arriving on heading {self.degrees(arrival)}"
        rules = (rule_of(b.regime.entry), rule_of(b.regime.entry_time[0]), *((EXACT,) if b.entries else ()))
        head = ("entry", "heading at the fix", "over the fix", "time", "then")
        return Table(title, head, tuple(rows), rules, note)

    def winds(self, *, short: bool = False) -> Table:
        """Lay out other winds, a direction a row; short: the outbound leg alone."""
        b = self.briefing
        columns = len({case.wind_from_true_deg for case in b.winds})
        per_row = len(b.winds) // columns
        rows = []
        for start in range(0, len(b.winds), per_row):
            cases = b.winds[start : start + per_row]
            cells = [self._wind(case.exact, short) for case in cases]
            rows.append((f"{whole_direction(cases[0].wind_from_true_deg):03d}°T", *cells))
        head = ("wind from", *(f"{number(case.wind_speed_kt)} kt" for case in b.winds[:per_row]))
        said = "Outbound heading and time." if short else "Outbound heading and time, inbound heading."
        explained = _from_level(rows) if short else _explained(rows)
        note = said + ("" if explained in self.entry().note else explained)
        if any(case.exact.closes and not case.exact.exists for case in b.winds):
            note += " * The shortest circuit that closes; the leg is longer than the rules ask."
        return Table("If the wind differs", head, tuple(rows), (EXACT,), note)

    def _wind(self, exact: ExactCircuit, short: bool) -> str:
        if not exact.closes:
            return "none"
        heading = self.degrees(exact.outbound_heading_deg)
        makeshift = "" if exact.exists else "*"
        if short:
            return f"{heading} {clock(exact.outbound_timed_s)}{makeshift}{_mark(exact)}"
        inbound = self.degrees(exact.inbound_heading_deg)
        return f"{heading} {_both_clocks(exact)}{makeshift}, in {inbound}"

    def leaving(self) -> Table:
        b = self.briefing
        rows = _merged([self._leave(plan) for plan in b.leaving])
        head = ("leave at", "circuits", "last heading", "time out", "turn in at")
        least = number(b.regime.allowances.least_inbound_s)
        note = f"From passing the fix, by length alone; at least {least} s inbound." + _from_level(rows)
        return Table("Leaving on time", head, rows, (EXACT, rule_of(b.regime.leaving)), note)

    def turn_in(self) -> Table:
        rows = tuple(self._turn_in(line) for line in self.briefing.turn_in)
        head = ("back after", "heading out", "time out", "turn in with")
        note = "Turn in with this much time left to the fix." + _from_level(rows)
        return Table("Turn in early", head, rows, (EXACT,), note)

    def thumbs(self, *, short: bool = False) -> Table:
        """Lay out the rules of thumb; short: of each figure the one that comes nearest."""
        beside = self.briefing.beside
        rules = tuple(dict.fromkeys(rule_of(one.thumb.rule) for one in beside))
        rows = []
        for what, group in groupby(beside, key=lambda one: one.what):
            members = list(group)
            if short:
                members = [min(members, key=lambda one: abs(one.thumb.value - one.exact))]
            exact = self._figure(members[0], members[0].exact)
            rows.append((what, exact, "; ".join(self._thumb(one) for one in members)))
        said = "nearest rule" if short else "rule and what it says"
        head = ("for", "exact", f"{said} (✓ good enough)")
        return Table("Rules of thumb in this wind", head, tuple(rows), (EXACT, *rules))

    def _leg(self) -> tuple[str, tuple[str, ...]]:
        b, charted = self.briefing, self.briefing.hold.leg
        rule = FILE if charted else rule_of(b.regime.leg_step(b.flight.altitude_ft))
        if charted and charted.distance_nm is not None:
            return f"{number(charted.distance_nm, 1)} NM outbound", (rule,)
        minutes = f"{b.still_air_s / 60.0:g} min {b.regime.clock.fixes}"
        still = ", in still air" if b.regime.clock.fixes == "outbound" else ""
        return minutes + still, (rule, rule_of(b.regime.clock))

    def _entry(self, plan: EntryPlan | None) -> tuple[str, str, str]:
        if plan is None:
            return "–", "–", "–"
        through = f" through {number(plan.first_turn_deg)}°" if plan.first_turn_deg else ""
        turn = f"{plan.first_turn}{through} to " if plan.first_turn else "to "
        heading = f"{turn}{self.degrees(plan.heading_deg)}"
        if plan.entry == "direct":
            return heading, _both_clocks(self.briefing.exact), f"{plan.second_turn}, inbound"
        if plan.end_nm is not None:
            return heading, f"to {self._end_of_leg(plan.end_nm)}", f"{plan.second_turn}, meet the course"
        as_in_still_air = round(plan.time_s) == round(plan.rule_time_s)
        still = "" if as_in_still_air else f" ({clock(plan.rule_time_s)} still air)"
        return heading, clock(plan.time_s) + still, f"{plan.second_turn}, meet the course"

    def _leave(self, plan: LeavePlan) -> tuple[str, ...]:
        if not plan.feasible:
            nearest = f"no: nearest {clock(plan.leaves_s)}"
            return clock(plan.wanted_s), nearest, "–", "–", "–"
        parts = [f"{plan.full_circuits} full"] if plan.full_circuits else []
        last = plan.shortened[-1] if plan.shortened else self.briefing.exact
        if plan.shortened:
            parts.append(f"{len(plan.shortened)} short")
        turn_in_s = plan.leaves_s - last.total_s + last.first_turn_s + last.outbound_time_s
        heading = self.degrees(last.outbound_heading_deg)
        return clock(plan.wanted_s), ", ".join(parts), heading, _marked_clocks(last), clock(turn_in_s)

    def _turn_in(self, line: ExactCircuit) -> tuple[str, ...]:
        heading, to_go_s = self.degrees(line.outbound_heading_deg), line.total_s - line.turn_in_after_s
        return clock(line.total_s), heading, _marked_clocks(line), clock(to_go_s)

    def _thumb(self, one: ThumbComparison) -> str:
        off = _amount(abs(round(one.thumb.value) - round(one.exact)), one.thumb.unit)
        verdict = "✓" if one.good else f"(out by {off})"
        return f"{one.thumb.rule.name}: {self._figure(one, one.thumb.value)} {verdict}"

    def _figure(self, one: ThumbComparison, value: float) -> str:
        return side_of(value) if "correction" in one.what else _amount(value, one.thumb.unit)


def _merged(rows: Sequence[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
    """Say once what is the same for several times in a row: ``"4:00 to 9:00"``, ``"no: nearest 6:28"``."""
    merged = []
    for rest, group in groupby(rows, key=lambda row: row[1:]):
        times = [row[0] for row in group]
        merged.append((times[0] if len(times) == 1 else f"{times[0]} to {times[-1]}", *rest))
    return tuple(merged)


def _both_clocks(exact: ExactCircuit) -> str:
    """Write the outbound time by the rules' clock, and in brackets from wings level where that is another one."""
    level = "" if exact.level_time_s is None else f" ({clock(exact.level_time_s)})"
    return clock(exact.outbound_timed_s) + level


def _marked_clocks(exact: ExactCircuit) -> str:
    return _both_clocks(exact) + _mark(exact)


def _mark(exact: ExactCircuit) -> str:
    return _LEVEL if exact.abeam_after_s is None else ""


def _explained(rows: Sequence[tuple[str, ...]]) -> str:
    """Explain the times in brackets, where there are some."""
    bracketed = any(_BRACKETS.search(cell) for row in rows for cell in row)
    return " In brackets, here and below: from wings level." if bracketed else ""


def _from_level(rows: Sequence[tuple[str, ...]]) -> str:
    """Explain the mark of times that cannot run from abeam, where there are some."""
    marked = any(cell.endswith(_LEVEL) for row in rows for cell in row)
    return f" {_LEVEL} From wings level: abeam is not met." if marked else ""


def side_of(correction_deg: float) -> str:
    """Write a correction with its side: ``"24° right"``."""
    whole = round(abs(correction_deg))
    if whole == 0:
        return "0°"
    return f"{whole}° {'right' if correction_deg > 0 else 'left'}"


def _correction(correction_deg: float) -> str:
    return side_of(correction_deg) if round(correction_deg) else "no correction"


def _amount(value: float, unit: str) -> str:
    return f"{number(value)}{unit}" if unit == "°" else f"{number(value)} {unit}"
