"""A header cut into words: at blanks and signs, where the case changes, and where known words meet."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from analyser.logs.vocabulary import phrases, vocabulary

_WORD = re.compile(r"[a-z0-9°º'µ%]+")
_REFERENCED = re.compile(r"(°|º|deg)(t|m)\b")
_CAMEL = (re.compile(r"(?<=[a-z0-9])(?=[A-Z])"), re.compile(r"(?<=[A-Z])(?=[A-Z][a-z])"))
#: So much of a header is looked at.
MOST_LETTERS = 200
#: Runs of letters so long are cut, into words no longer than the last.
_CUT, _LONGEST_WORD = range(5, 41), 14


#: Words of other languages so long are found inside a run of letters.
_LONG_ENOUGH = 5


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
