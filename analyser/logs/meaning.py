"""What a table's column means, read from the words of its header.

A header is cut into words, abbreviations are spelled out, a unit among them is set aside, and what remains
must be one of the phrases of the vocabulary, no more and no less: ``Ground Speed [kt]``, ``gnd_spd_kt`` and
``speedOverGround (knots)`` mean the same, while ``selected heading`` means nothing that was measured.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import replace
from functools import lru_cache

from analyser.frozen import dataclass
from analyser.logs.units import Unit, unit_of
from analyser.logs.vocabulary import Concept, phrases, vocabulary

_WORD = re.compile(r"[a-z0-9°º'µ%]+")
_REFERENCED = re.compile(r"(°|º|deg)(t|m)\b")
_CAMEL = (re.compile(r"(?<=[a-z0-9])(?=[A-Z])"), re.compile(r"(?<=[A-Z])(?=[A-Z][a-z])"))
#: So much of a header is looked at.
MOST_LETTERS = 200
#: Runs of letters so long are cut, into words no longer than the last.
_CUT, _LONGEST_WORD = range(5, 41), 14
#: Words of other languages so long are found inside a run of letters.
_LONG_ENOUGH = 5
#: Meanings by words of other languages stand behind all others.
_OTHER_LANGUAGE = 100


@dataclass(frozen=True)
class Meaning:
    """What a header says.

    Attributes
    ----------
    concept : Concept
    rank : int
        Place of the phrase in the concept's order of preference, 0 first.
    unit : Unit or None
        From the header, None where it does not say.
    words : tuple of str
        The header's words without the unit.
    """

    concept: Concept
    rank: int
    unit: Unit | None
    words: tuple[str, ...]


@lru_cache(maxsize=4096)
def meaning_of(header: str) -> Meaning | None:
    """Read a header, which is untrusted text; None where it means nothing the program uses."""
    if not any(letter.isalpha() for letter in header[:MOST_LETTERS]):
        return None
    # "GroundSpeed" is cut where the case changes; "baroaltitude" only where known words meet.
    plain = words_of(header.lower())
    english = vocabulary().english
    for words in (words_of(header), plain, [part for word in plain for part in parted(word)]):
        found = _without_unit(words)
        if found is not None:
            return found
        found = _without_unit(english(words))
        if found is not None:
            # A word that is one in English comes before one of another language that looks like another.
            return replace(found, rank=found.rank + _OTHER_LANGUAGE)
    return None


def _without_unit(words: list[str]) -> Meaning | None:
    for removed in _removals(len(words)):
        rest = [word for place, word in enumerate(words) if place not in removed]
        found = _concept(rest)
        if found is None:
            continue
        concept, rank = found
        unit = _unit([words[place] for place in removed], concept.kind)
        if unit is not None or not removed:
            return Meaning(concept, rank, unit or _own_unit(rest), tuple(rest))
    return None


def _removals(count: int) -> list[tuple[int, ...]]:
    """Return which words may be the unit: none, one, or two that stand side by side; later ones first."""
    if not 0 < count <= 10:
        return []
    singles = [(place,) for place in reversed(range(count))]
    pairs = [(place, place + 1) for place in reversed(range(count - 1))]
    return [(), *singles, *pairs]


def _concept(words: list[str]) -> tuple[Concept, int] | None:
    if not words:
        return None
    key = vocabulary().key
    whole = phrases().get(key(words))
    if whole is not None:
        return whole
    # In front "ac" is the aircraft; behind, as in "LatAc", it is an acceleration.
    words = words[1:] if words[0] == "ac" else words
    rest = [word for word in words if word not in vocabulary().fillers]
    return phrases().get(key(rest)) if rest else None


def _unit(words: list[str], kind: str) -> Unit | None:
    for glue in ("/", ""):
        unit = unit_of(glue.join(words), kind) if words else None
        if unit is not None:
            return unit
    return None


def _own_unit(words: list[str]) -> Unit | None:
    """Take the unit that some names carry: knots indicated, hundreds of feet."""
    for word in words:
        if word in ("kias", "ktas", "kcas", "kgs"):
            return unit_of("kt", "speed")
        if word == "fl":
            return unit_of("fl", "length")
        if word in ("seconds", "secs"):
            return unit_of("s", "time")
    if set(words) == {"flight", "level"}:
        return unit_of("fl", "length")
    return None


def without_accents(text: str) -> str:
    """Take accents and the like off letters: ``Höhe`` becomes ``Hohe``."""
    if text.isascii():
        return text
    plain = "".join(
        letter for letter in unicodedata.normalize("NFD", text) if not unicodedata.combining(letter)
    )
    return plain.replace("ß", "ss")


def words_of(header: str) -> list[str]:
    """Cut a header into lower-case words, at blanks, signs and changes of case."""
    text = without_accents(unicodedata.normalize("NFKC", header[:MOST_LETTERS]).strip())
    for seam in _CAMEL:
        text = seam.sub(" ", text)
    # °T and degM say two things: the unit, and true or magnetic.
    return _WORD.findall(_REFERENCED.sub(r"\1 \2", text.lower()))


@lru_cache(maxsize=1)
def _known() -> frozenset[str]:
    words = {word for phrase in phrases() for word in phrase}
    words |= set(vocabulary().abbreviations) | vocabulary().fillers
    words |= {word for word in vocabulary().translations if len(word) >= _LONG_ENOUGH}
    return frozenset(word for word in words if len(word) >= 3) | {"gs", "vs"}


def parted(word: str) -> list[str]:
    """Cut a run of letters (``baroaltitude``) into known words; leave it whole where that does not come out even."""
    known = _known()
    if word in known or len(word) not in _CUT:
        return [word]
    ways: list[list[str] | None] = [[], *[None] * len(word)]
    for end in range(1, len(word) + 1):
        for start in range(max(0, end - _LONGEST_WORD), end - 1):
            before = ways[start]
            if before is not None and word[start:end] in known:
                ways[end] = [*before, word[start:end]]
                break
    return ways[-1] or [word]
