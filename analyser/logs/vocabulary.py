"""The words that headers of tables are read with: ``vocabulary.toml``, and what stands in it as objects."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import field
from functools import lru_cache
from pathlib import Path

from analyser.frozen import dataclass

_FILE = Path(__file__).with_name("vocabulary.toml")
_LANGUAGES = Path(__file__).with_name("vocabulary_languages.toml")


@dataclass(frozen=True)
class Concept:
    """Something a column can hold.

    Attributes
    ----------
    name : str
        The short name a person uses with ``--columns``.
    kind : str
        Kind of unit (:class:`analyser.logs.units.Unit`), or ``""``.
    channel : str
        The channel it fills, or ``""`` for time, position and identity. ``"heading_unmarked_deg"`` and the
        like are settled against the track later.
    phrases : tuple of tuple of str
        In order of preference where a table has several.
    also : tuple of str
        Other names that people use with ``--columns``.
    """

    name: str
    kind: str
    channel: str
    phrases: tuple[tuple[str, ...], ...]
    also: tuple[str, ...] = ()


@dataclass(frozen=True)
class Vocabulary:
    """All the words.

    Attributes
    ----------
    concepts : tuple of Concept
    abbreviations : mapping of str to str
        Spelled out before phrases are compared.
    fillers : frozenset of str
        Left out where no phrase is found with them.
    translations : mapping of str to str
        Words of other languages, each with one English word or more.
    missing : tuple of str
        What cells say that have no value.
    since_start : frozenset of str
        Words of headers whose times count from the log's own start.
    """

    concepts: tuple[Concept, ...]
    abbreviations: Mapping[str, str]
    fillers: frozenset[str]
    translations: Mapping[str, str] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    since_start: frozenset[str] = frozenset()

    def english(self, words: Sequence[str]) -> list[str]:
        """Put the English words in place of others'."""
        return [one for word in words for one in self.translations.get(word, word).split()]

    def key(self, words: list[str]) -> tuple[str, ...]:
        """Return what is compared: the words spelled out, in an order of their own."""
        return tuple(sorted(self.abbreviations.get(word, word) for word in words))


@lru_cache(maxsize=1)
def vocabulary() -> Vocabulary:
    """Load the words that come with the program."""
    data = tomllib.loads(_FILE.read_text(encoding="utf-8"))
    concepts = tuple(
        Concept(
            name,
            entry.get("kind", ""),
            entry.get("channel", ""),
            tuple(tuple(" ".join(line.split()).split(", ")) for line in entry["phrases"]),
            tuple(entry.get("also", ())),
        )
        for name, entry in data["concept"].items()
    )
    languages = tomllib.loads(_LANGUAGES.read_text(encoding="utf-8"))
    translations: dict[str, str] = {}
    for words in languages.values():
        if isinstance(words, dict):
            translations |= _by_word(words)
    fillers = frozenset((*data["fillers"], *languages["fillers"]))
    return Vocabulary(
        concepts,
        _by_word(data["abbreviations"]),
        fillers,
        translations,
        tuple(data["missing"]),
        frozenset(data["since_start"]),
    )


def _by_word(table: Mapping[str, str]) -> dict[str, str]:
    """Turn a table of English words, each with words parted by blanks, into one from each of those to its English."""
    return {word: english for english, words in table.items() for word in words.split()}


@lru_cache(maxsize=1)
def phrases() -> Mapping[tuple[str, ...], tuple[Concept, int]]:
    """Return every phrase by its key, with its concept and its place in the order of preference."""
    words = vocabulary()
    found: dict[tuple[str, ...], tuple[Concept, int]] = {}
    for concept in words.concepts:
        for rank, line in enumerate(concept.phrases):
            for phrase in line:
                found.setdefault(words.key(phrase.split()), (concept, rank))
    return found


def concept_named(name: str) -> Concept | None:
    """Find a concept by the name a person uses: its short name, its channel's, or another that is usual."""
    wanted = name.strip().lower()
    for concept in vocabulary().concepts:
        if wanted in (concept.name, concept.channel, *concept.also):
            return concept
    return None
