"""What the kneeboard card says, as rows: the terminal and the page print the same ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from analyser.holds.beside import Beside
from analyser.holds.briefing import Briefing
from analyser.holds.entries import EntryPlan
from analyser.holds.leaving import LeavePlan, TurnIn
from analyser.pages.words import clock, direction, latitude, longitude, number
from analyser.rules.regime import Sourced

#: Said on every card.
CAUTION = (
    "Training aid: not for navigation, not for obstacle clearance. The AIP, air traffic control, the "
    "aircraft's manual and a qualified instructor decide."
)
EXACT = "exact circuit: constant TAS and bank, steady wind as forecast (derived)"
FILE = "hold file"


@dataclass(frozen=True)
class Row:
    """One line of the card.

    Attributes
    ----------
    label, value : str
    rules : tuple of str
        What the numbers rest on.
    main : bool
        One of the few figures that are flown.
    """

    label: str
    value: str
    rules: tuple[str, ...] = ()
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
    """The whole card.

    Attributes
    ----------
    title : str
        Untrusted text may be in it: escape it.
    warnings : tuple of str
        What stands above everything else.
    hold, circuit : tuple of Row
    entry : Table or None
    winds, leaving, turn_in, thumbs : Table or None
    caution : str
    rules : tuple of str
        All that is named, in order: the number beside a figure is its place here, from 1.
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
    rules: tuple[str, ...] = field(default=())

    @property
    def tables(self) -> tuple[Table, ...]:
        """The tables that there are."""
        every = (self.entry, self.winds, self.leaving, self.turn_in, self.thumbs)
        return tuple(table for table in every if table is not None)

    def marks(self, rules: tuple[str, ...]) -> str:
        """Write the numbers of some rules: ``"1, 3"``."""
        return ", ".join(str(self.rules.index(rule) + 1) for rule in rules)


def card_of(briefing: Briefing, *, magnetic: bool = True) -> Card:
    """Write a briefing as a card.

    Parameters
    ----------
    briefing : Briefing
    magnetic : bool
        Directions magnetic (wind stays true, as it is forecast); False for true.

    Returns
    -------
    Card
    """
    writer = _Writer(briefing, magnetic)
    closes = briefing.exact.closes
    hold, circuit, entry = writer.hold(), writer.circuit() if closes else (), writer.entry()
    tables = (
        writer.winds() if closes else None,
        writer.leaving() if briefing.leaving else None,
        writer.turn_in() if closes else None,
        writer.thumbs() if closes else None,
    )
    named = [rule for row in (*hold, *circuit) for rule in row.rules]
    named += [rule for table in (entry, *tables) if table is not None for rule in table.rules]
    title = briefing.hold.name or "Holding pattern"
    return Card(title, writer.warnings(), hold, circuit, entry, *tables, rules=tuple(dict.fromkeys(named)))


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
        b, said = self.briefing, []
        if b.too_fast:
            said.append(
                f"{number(b.flight.ias_kt)} KIAS is above the maximum of {number(b.speed_limit_kias)} KIAS: "
                "slow down, or this hold is not protected."
            )
        if not b.exact.exists:
            said.append(b.exact.why_not[0].upper() + b.exact.why_not[1:] + ".")
        if not b.flight.wind_known:
            said.append("No wind is given: still air is assumed.")
        if not b.variation.within_validity:
            said.append(f"Magnetic variation {b.variation.said()}.")
        return tuple(said)

    def hold(self) -> tuple[Row, ...]:
        b = self.briefing
        hold, flight, limit = b.hold, b.flight, b.regime.speed_limit(b.flight.altitude_ft, b.flight.category)
        deviation = (
            f", ISA {number(flight.isa_deviation_c, signed=True)} °C" if flight.isa_deviation_c else ""
        )
        speeds = f"{number(flight.ias_kt)} KIAS, {number(flight.tas_kt)} kt TAS"
        wind = f"{flight.wind_from_true_deg:03.0f}°T / {number(flight.wind_speed_kt)} kt"
        category = f" (category {flight.category})" if flight.category in limit.categories else ""
        return (
            Row("Fix", f"{latitude(hold.fix_lat_deg)}, {longitude(hold.fix_lon_deg)}", (FILE,)),
            Row(
                "Inbound course", f"{self.degrees(hold.inbound_course_true_deg)}, {hold.turns} turns", (FILE,)
            ),
            Row("Leg", *self._leg()),
            Row("Level, speed", f"{number(flight.altitude_ft)} ft{deviation}, {speeds}"),
            Row("Wind", wind if flight.wind_known else "not given"),
            Row("Variation", b.variation.said()),
            Row("Maximum speed", f"{number(b.speed_limit_kias)} KIAS{category}", (rule_of(limit),)),
        )

    def circuit(self) -> tuple[Row, ...]:
        b, exact = self.briefing, self.briefing.exact
        clock_from = "wings level (abeam comes too late)" if exact.abeam_after_s is None else "abeam the fix"
        bank = f"{number(exact.bank_deg)}° of bank, {number(exact.turn_rate_dps, 1)}°/s"
        # In a right-hand hold the aircraft is to the right of the course, so the fix bears left of it.
        bearing = exact.inbound_course_deg - exact.side * exact.gate_bearing_deg
        gate = f"fix bears {self.degrees(bearing)}, {number(exact.gate_bearing_deg)}° off the course"
        outbound = f"{self.degrees(exact.outbound_heading_deg)} ({side_of(exact.outbound_correction_deg)})"
        inbound = f"{self.degrees(exact.inbound_heading_deg)} ({side_of(exact.inbound_drift_correction_deg)})"
        leg = f"{clock(exact.inbound_time_s)}, {number(exact.inbound_distance_nm, 1)} NM"
        multiple = "" if exact.drift_multiple is None else number(exact.drift_multiple, 1)
        rows = [
            Row("Outbound heading", outbound, (EXACT,), main=True),
            Row(
                "Outbound time",
                f"{clock(exact.outbound_timed_s)} from {clock_from}",
                (EXACT, rule_of(b.regime.clock)),
                main=True,
            ),
            Row("Turn in when", gate, (EXACT,)),
            Row("Inbound heading", inbound, (EXACT,), main=True),
            Row("Inbound leg", leg, (EXACT, rule_of(b.regime.wind))),
            Row("Bank", bank, (rule_of(b.regime.turns),), main=True),
            Row("Turns take", f"{clock(exact.first_turn_s)} and {clock(exact.second_turn_s)}", (EXACT,)),
            Row("Whole circuit", clock(exact.total_s), (EXACT,)),
        ]
        if multiple:
            rows.insert(4, Row("Outbound drift", f"{multiple} × the inbound correction", (EXACT,)))
        return tuple(rows)

    def entry(self) -> Table:
        b = self.briefing
        named = {one.entry: one for one in b.sectors}
        rows = []
        for name in b.allowed or ("direct", "offset", "parallel"):
            zone = named[name]
            headings = f"{self.degrees(zone.from_heading_deg)} to {self.degrees(zone.to_heading_deg)}"
            planned = next((one for one in b.entries if one.entry == name), None)
            rows.append((name, headings, *self._entry(planned)))
        zone_deg = number(b.regime.entry.zone_deg)
        note = f"Within {zone_deg}° of a border either neighbour is right. Sectors are by heading at the fix."
        arrival = b.flight.arrival_heading_true_deg
        title = "Entry" if arrival is None else f"Entry, arriving on heading {self.degrees(arrival)}"
        times = rule_of(b.regime.entry_time[0])
        rules = (rule_of(b.regime.entry), times, *((EXACT,) if b.entries else ()))
        return Table(
            title, ("entry", "heading at the fix", "over the fix", "time", "then"), tuple(rows), rules, note
        )

    def winds(self) -> Table:
        b = self.briefing
        columns = len({case.wind_from_true_deg for case in b.winds})
        rows = []
        per_row = len(b.winds) // columns
        for start in range(0, len(b.winds), per_row):
            cases = b.winds[start : start + per_row]
            cells = [
                f"{number(case.wind_speed_kt)} kt: {self.degrees(case.exact.outbound_heading_deg)} "
                f"{clock(case.exact.outbound_timed_s)}{'' if case.exact.exists else '*'}, "
                f"in {self.degrees(case.exact.inbound_heading_deg)}"
                if case.exact.closes
                else f"{number(case.wind_speed_kt)} kt: none"
                for case in cases
            ]
            rows.append((f"{cases[0].wind_from_true_deg:03.0f}°T", *cells))
        head = ("wind from", *("weaker", "as forecast", "stronger")[:per_row])
        note = "Outbound heading and time, inbound heading."
        if any(case.exact.closes and not case.exact.exists for case in b.winds):
            note += " * The shortest circuit that closes; the leg is longer than the rules ask."
        return Table("If the wind differs", head, tuple(rows), (EXACT,), note)

    def leaving(self) -> Table:
        b = self.briefing
        rows = tuple(self._leave(plan) for plan in b.leaving)
        head = ("leave after", "circuits", "last: out", "time", "turn in at")
        note = "Times run from passing the fix outbound. Bank and speed stay; no leg is longer than the full one."
        return Table("Leaving on time", head, rows, (EXACT, rule_of(b.regime.leaving)), note)

    def turn_in(self) -> Table:
        rows = tuple(self._turn_in(line) for line in self.briefing.turn_in)
        head = ("back after", "out", "time", "turn in with")
        return Table("Turn in early", head, rows, (EXACT,), "Turn in with this much time left to the fix.")

    def thumbs(self) -> Table:
        rows = tuple(self._thumb(one) for one in self.briefing.beside)
        rules = tuple(dict.fromkeys(rule_of(one.thumb.rule) for one in self.briefing.beside))
        return Table(
            "Rules of thumb in this wind", ("for", "rule", "says", "exact", ""), rows, (EXACT, *rules)
        )

    def _leg(self) -> tuple[str, tuple[str, ...]]:
        b, charted = self.briefing, self.briefing.hold.leg
        rule = FILE if charted else rule_of(b.regime.leg_step(b.flight.altitude_ft))
        if charted and charted.distance_nm is not None:
            return f"{number(charted.distance_nm, 1)} NM inbound", (rule,)
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
            return heading, clock(plan.time_s), f"{plan.second_turn}, inbound"
        still = (
            "" if round(plan.time_s) == round(plan.rule_time_s) else f" ({clock(plan.rule_time_s)} still air)"
        )
        return heading, clock(plan.time_s) + still, f"{plan.second_turn}, meet the course"

    def _leave(self, plan: LeavePlan) -> tuple[str, ...]:
        if not plan.feasible:
            nearest = f"not possible: nearest {clock(plan.leaves_s)}"
            return clock(plan.wanted_s), nearest, "–", "–", "–"
        parts = [f"{plan.full_circuits} full"] if plan.full_circuits else []
        last = plan.shortened[-1] if plan.shortened else self.briefing.exact
        if plan.shortened:
            parts.append(f"{len(plan.shortened)} short")
        turn_in_s = plan.leaves_s - last.total_s + last.first_turn_s + last.outbound_time_s
        heading = self.degrees(last.outbound_heading_deg)
        timed = clock(last.outbound_timed_s) + ("" if last.abeam_after_s is not None else " from level")
        return clock(plan.wanted_s), ", ".join(parts), heading, timed, clock(turn_in_s)

    def _turn_in(self, line: TurnIn) -> tuple[str, ...]:
        timed = clock(line.outbound_timed_s) + ("" if line.clock_from == "abeam" else " from level")
        heading = self.degrees(line.outbound_heading_deg)
        return clock(line.back_after_s), heading, timed, clock(line.to_go_s)

    def _thumb(self, one: Beside) -> tuple[str, ...]:
        signed = "correction" in one.what
        says, exact = one.thumb.value, one.exact
        verdict = "good" if one.good else f"out by {_amount(abs(one.error), one.thumb.unit)}"
        shown = (side_of(says), side_of(exact)) if signed else (
            _amount(says, one.thumb.unit), _amount(exact, one.thumb.unit)
        )  # fmt: skip
        return one.what, one.thumb.rule.name, *shown, verdict


def side_of(correction_deg: float) -> str:
    """Write a correction with its side: ``"24° right"``."""
    whole = round(abs(correction_deg))
    if whole == 0:
        return "0°"
    return f"{whole}° {'right' if correction_deg > 0 else 'left'}"


def _amount(value: float, unit: str) -> str:
    return f"{number(value)}{unit}" if unit == "°" else f"{number(value)} {unit}"


def lines(card: Card) -> Iterator[str]:
    """Write a card as plain lines for the terminal.

    Parameters
    ----------
    card : Card

    Yields
    ------
    str
    """
    yield card.title
    for warning in card.warnings:
        yield f"! {warning}"
    for rows in (card.hold, card.circuit):
        if rows:
            yield ""
        for row in rows:
            mark = f" [{card.marks(row.rules)}]" if row.rules else ""
            yield f"{row.label:<17} {row.value}{mark}"
    for table in card.tables:
        yield ""
        yield f"{table.title} [{card.marks(table.rules)}]"
        yield from _columns(table)
        if table.note:
            yield f"  {table.note}"
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
