"""Rules of thumb as data: their numbers, words and pedigree."""

from __future__ import annotations

from analyser.rules.regime import Sourced
from analyser.rules.toml_data import RuleTable


class ThumbRule(Sourced):
    """One rule of thumb."""

    #: What to call it, and what it says.
    name: str
    words: str


class BankRule(ThumbRule):
    """Bank = TAS / ``divisor`` + ``addend_deg``."""

    divisor: float
    addend_deg: float


class TimeRule(ThumbRule):
    """Seconds of outbound time per knot of wind along the course."""

    seconds_per_kt: float


class ClockCodeRule(ThumbRule):
    """Maximum drift = ``factor`` × wind / TAS, reached where the wind is ``full_at_deg`` off the course."""

    factor: float
    full_at_deg: float


class MultipleRule(ThumbRule):
    """Outbound correction = ``multiple`` × inbound correction."""

    multiple: float


class ThenRule(MultipleRule):
    """A multiple for the first seconds, then another."""

    after_multiple: float
    first_s: float


class FeedbackRule(ThumbRule):
    """Next outbound time from the last inbound one, on a first correction never below ``least_s``."""

    least_s: float


class GateRule(ThumbRule):
    """Bearing of the fix off the inbound course at which to turn in."""

    angle_deg: float


class Bands(Sourced):
    """How near the exact figure a rule of thumb must come to be called good."""

    bank_deg: float
    gate_deg: float


class ThumbRules(RuleTable):
    """All of them."""

    bank: BankRule
    time_full: TimeRule
    time_half: TimeRule
    small_angle: ThumbRule
    clock_code: ClockCodeRule
    double: MultipleRule
    triple: MultipleRule
    triple_then_single: ThenRule
    feedback: FeedbackRule
    gate: GateRule
    bands: Bands
