"""What a table's column means, read from the words of its header.

A header is cut into words, abbreviations are spelled out, a unit among them is set aside, and what remains
must be one of the phrases of the vocabulary, no more and no less: ``Ground Speed [kt]``, ``gnd_spd_kt`` and
``speedOverGround (knots)`` mean the same, while ``selected heading`` means nothing that was measured.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from analyser.frozen import dataclass
from analyser.logs.log_thresholds import LOOK
from analyser.logs.text import without_accents
from analyser.logs.units import Unit, unit_of


@dataclass(frozen=True)
class Concept:
    """Something a column can hold."""

    #: The short name a person uses with ``--columns``.
    name: str
    #: Kind of unit (:class:`analyser.logs.units.Unit`), or ``""``.
    kind: str
    #: The channel it fills, or ``""`` for time, position and identity; ``"heading_unmarked_deg"`` and the like are
    #: settled against the track later.
    channel: str
    #: In order of preference where a table has several.
    phrases: tuple[tuple[str, ...], ...]
    #: Other names that people use with ``--columns``.
    also: tuple[str, ...] = ()


class Vocabulary:
    """All the words, from the two files beside this module, which say what each list is for."""

    def __init__(self) -> None:
        data, languages = (
            tomllib.loads(Path(__file__).with_name(name).read_text(encoding="utf-8"))
            for name in ("vocabulary.toml", "vocabulary_languages.toml")
        )
        self.concepts = tuple(
            Concept(
                name,
                entry.get("kind", ""),
                entry.get("channel", ""),
                tuple(tuple(" ".join(line.split()).split(", ")) for line in entry["phrases"]),
                tuple(entry.get("also", ())),
            )
            for name, entry in data["concept"].items()
        )
        self.missing: tuple[str, ...] = tuple(data["missing"])
        self.since_start = frozenset(data["since_start"])
        self.months = {
            begins: number for number, words in enumerate(data["months"], 1) for begins in words.split()
        }
        self.sides: dict[str, tuple[list[str], list[str]]] = {
            name: (both["positive"].split(), both["negative"].split()) for name, both in data["sides"].items()
        }
        self.containers = frozenset((*data["containers"], *data["fillers"]))
        self.fillers = frozenset((*data["fillers"], *languages.pop("fillers")))
        self.abbreviations = _by_word(data["abbreviations"])
        self.translations: dict[str, str] = {}
        for words in languages.values():
            self.translations |= _by_word(words)
        #: Words that without their accents are others.
        self.accented = {word: english for word, english in self.translations.items() if not word.isascii()}
        #: Words of the languages whose letter O is east, and of those whose O is west and of no other.
        east, west = (
            {word for name in names for word in _by_word(languages[name])}
            for names in (
                ("german", "dutch", "swedish", "danish", "norwegian"),
                ("french", "spanish", "italian", "portuguese"),
            )
        )
        self.o_is_east, self.o_is_west = frozenset(east), frozenset(west - east)
        #: Every phrase by its key, with its concept and its place in the order of preference.
        self.phrases: dict[tuple[str, ...], tuple[Concept, int]] = {}
        for concept in self.concepts:
            for rank, line in enumerate(concept.phrases):
                for phrase in line:
                    self.phrases.setdefault(self.key(phrase.split()), (concept, rank))
        #: The words for a position in all languages.
        self.positions = {
            wanted: [
                word
                for word, one in (*self.abbreviations.items(), *self.translations.items())
                if one == wanted
            ]
            for wanted in ("latitude", "longitude", "coordinates")
        }
        long = {word for word in self.translations if len(word) >= LOOK.word_letters}
        known = (
            {word for phrase in self.phrases for word in phrase} | long | {*self.abbreviations, *self.fillers}
        )
        #: The words that a run of letters is cut into.
        self.known = frozenset(word for word in known if len(word) >= 3) | _SHORT_WORDS

    def english(self, words: Sequence[str]) -> list[str]:
        """Put the English words in place of others'."""
        return [one for word in words for one in self.translations.get(word, word).split()]

    def key(self, words: Sequence[str]) -> tuple[str, ...]:
        """Return what is compared: the words spelled out, in an order of their own."""
        return tuple(sorted(self.abbreviations.get(word, word) for word in words))


@lru_cache(maxsize=1)
def vocabulary() -> Vocabulary:
    """Load the words that come with the program."""
    return Vocabulary()


def _by_word(table: Mapping[str, str]) -> dict[str, str]:
    """Turn a table of English words, each with words parted by blanks, into one from each of those to its English."""
    return {word: english for english, words in table.items() for word in words.split()}


def concept_named(name: str) -> Concept | None:
    """Find a concept by the name a person uses: its short name, its channel's, or another that is usual."""
    wanted, concepts = name.strip().lower(), vocabulary().concepts
    return next((one for one in concepts if wanted in (one.name, one.channel, *one.also)), None)


_WORD = re.compile(r"[a-z0-9°º'µ%]+")
_REFERENCED = re.compile(r"(°|º|deg)(t|m)\b")
_CAMEL = (re.compile(r"(?<=[a-z0-9])(?=[A-Z])"), re.compile(r"(?<=[A-Z])(?=[A-Z][a-z])"))
_NUMBER_BEHIND = {number: re.compile(rf"(?<=[a-z]{{3}}){number}$") for number in (1, 2)}
#: Runs of letters so long are cut, into words no longer than the last.
_CUT, _LONGEST_WORD = range(4, 41), 14
#: Words and units that are cut off such runs although they are short, or no words of a phrase: ``LATDEG``, ``GSKT``.
_SHORT_WORDS = {"gs", "vs", "ft", "kt", "kts", "deg", "fpm", "mps"}
#: Meanings by words of other languages stand behind all others.
_OTHER_LANGUAGE = 200
#: Meanings by words with a number behind them stand behind those without, the second behind the first.
_NUMBERED = 50
#: Before all others.
TOLD = -1


@dataclass(frozen=True)
class Meaning:
    """What a header says."""

    concept: Concept
    #: Place of the phrase in the concept's order of preference, 0 first; :data:`TOLD` where the person says it.
    rank: int
    #: From the header, None where it does not say.
    unit: Unit | None
    #: The header's words without the unit.
    words: tuple[str, ...]

    @property
    def told(self) -> bool:
        """Whether the person says it."""
        return self.rank == TOLD


@lru_cache(maxsize=4096)
def meaning_of(header: str) -> Meaning | None:
    """Read a header, which is untrusted text; None where it means nothing the program uses."""
    if not any(letter.isalpha() for letter in header[: LOOK.header_letters]):
        return None
    # "GroundSpeed" is cut where the case changes; "baroaltitude" only where known words meet.
    plain = words_of(header.lower())
    tried: list[list[str]] = []
    ways = [(words_of(header), 0), (plain, 0), ([part for word in plain for part in _parted(word)], 0)]
    # Of sensors that are there twice the first counts: "IAS1", "GPS1 latitude"; one without a number comes before it.
    for number in (1, 2):
        ways.append(([_NUMBER_BEHIND[number].sub("", word) for word in plain], number * _NUMBERED))
    for words, behind in ways:
        # A word that is one in English comes before one of another language that looks like another.
        for same, farther in ((words, 0), (vocabulary().english(words), _OTHER_LANGUAGE)):
            found = None if same in tried else _without_unit(same)
            if found is not None:
                return replace(found, rank=found.rank + behind + farther)
            tried.append(same)
    return None


def means(name: str, concept: str) -> bool:
    """Tell whether a header means a concept."""
    meaning = meaning_of(name)
    return meaning is not None and meaning.concept.name == concept


def concepts_of(headers: Sequence[str]) -> set[str]:
    """Return the short names of what some headers mean."""
    return {meaning.concept.name for header in headers if (meaning := meaning_of(header)) is not None}


def _without_unit(words: list[str]) -> Meaning | None:
    # None of the words may be the unit, or one, or several that stand side by side; later ones first.
    count = len(words)
    runs = (
        range(place, place + length)
        for length in range(1, LOOK.unit_words + 1)
        for place in reversed(range(count - length + 1))
    )
    for removed in (range(0), *runs) if 0 < count <= LOOK.header_words else ():
        rest = [word for place, word in enumerate(words) if place not in removed]
        concept, rank = _concept(rest) or (None, 0)
        if concept is not None:
            unit_words = words[removed.start : removed.stop]
            unit = unit_of("/".join(unit_words), concept.kind) or unit_of("".join(unit_words), concept.kind)
            if unit is not None or not removed:
                own = (_OWN_UNITS.get(word) for word in (*rest, " ".join(sorted(rest))))
                return Meaning(concept, rank, unit or next(filter(None, own), None), tuple(rest))
    return None


def _concept(words: list[str]) -> tuple[Concept, int] | None:
    known = vocabulary()
    whole = known.phrases.get(known.key(words))
    if whole is not None or not words:
        return whole
    # In front "ac" is the aircraft; behind, as in "LatAc", it is an acceleration.
    words = words[1:] if words[0] == "ac" else words
    rest = [word for word in words if word not in known.fillers]
    return known.phrases.get(known.key(rest))


#: Units that some names carry: knots indicated, hundreds of feet.
_OWN_UNITS = {
    **dict.fromkeys(("kias", "ktas", "kcas", "kgs"), unit_of("kt", "speed")),
    **dict.fromkeys(("fl", "flight level"), unit_of("fl", "length")),
    **dict.fromkeys(("seconds", "secs"), unit_of("s", "time")),
}


def words_of(header: str) -> list[str]:
    """Cut a header into lower-case words, at blanks, signs and changes of case."""
    text = unicodedata.normalize("NFKC", header[: LOOK.header_letters]).strip()
    if not text.isascii():
        accented = vocabulary().accented
        text = re.sub(r"[^\W\d_]+", lambda word: accented.get(word[0].lower(), word[0]), text)
    text = without_accents(text)
    for seam in _CAMEL:
        text = seam.sub(" ", text)
    # °T and degM say two things: the unit, and true or magnetic.
    return _WORD.findall(_REFERENCED.sub(r"\1 \2", text.lower()))


def _parted(word: str) -> list[str]:
    """Cut a run of letters (``baroaltitude``) into known words; leave it whole where that does not come out even."""
    known = vocabulary().known
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
