"""Names of people as they come from a keyboard or a folder: cleaned, compared, never trusted."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Iterable, Sequence
from difflib import get_close_matches
from pathlib import Path

from analyser.errors import UsageError

LONGEST = 120

# Cc: control characters; Cf: invisible ones, among them those that turn the direction of writing; Cs:
# halves of characters; Co, Cn: nobody's characters; Zl, Zp: line and paragraph separators. Each of them
# would let a name forge a line of a table, show as another name, or break a database's text.
_REFUSED = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
#: Some scripts and signs cannot be written without these two joiners.
JOINERS = {"\u200c", "\u200d"}


def clean_name(name: str, *, what: str = "pilot") -> str:
    """Return a person's or a device's name in its one written form; ``what`` is whose it is, for the message.

    Any script, any punctuation. Composed (NFC), outer blanks removed, inner blanks single. Raises UsageError: empty,
    longer than 120 characters, or with control characters in it.
    """
    text = unicodedata.normalize("NFC", name).strip()
    if not text.strip("".join(JOINERS)):
        raise UsageError(f"the {what}'s name is empty", mend="give a name")
    if any(unicodedata.category(sign) in _REFUSED for sign in set(text) - JOINERS):
        raise UsageError(f"the {what}'s name holds control characters", mend="leave them out")
    if len(text) > LONGEST:
        mend = f"use at most {LONGEST} characters"
        raise UsageError(f"the {what}'s name has {len(text)} characters", mend=mend)
    # Only now may blanks of every kind be folded: before the check they would have hidden a line break.
    return " ".join(text.split())


def clean_or_none(name: str | None, *, what: str) -> str | None:
    """Return a name that need not be given in its one written form; None for an empty one."""
    return clean_name(name, what=what) if name else None


def name_key(name: str) -> str:
    """Return what two spellings of one cleaned name have in common: case and letter forms do not count."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())


def alike(name: str, known: Iterable[str], *, cutoff: float = 0.6) -> list[str]:
    """Return those of the known names that may have been meant by this one, the likeliest first."""
    names = {name_key(one): one for one in known}
    return [names[one] for one in get_close_matches(name_key(name), list(names), n=3, cutoff=cutoff)]


def near(name: str, known: Collection[str]) -> str:
    """Say which of the names that are known was probably meant."""
    close = alike(name, known)
    if close:
        return "did you mean " + " or ".join(close) + "?"
    few = sorted(known, key=str.casefold)[:20]
    more = f" and {len(known) - len(few)} more" if len(known) > len(few) else ""
    return "known: " + ", ".join(few) + more if few else "debrief a log with --pilot NAME first"


def storable(text: object, *, longest: int = 300) -> str:
    """Make any text of a log fit for a text column: no NUL, no half characters, of bounded length.

    The document beside it keeps the text as it was; None gives an empty text.
    """
    plain = "" if text is None else str(text)
    kept = plain.replace("\x00", "\ufffd").encode("utf-8", "replace").decode("utf-8")
    return kept[:longest]


def counted(count: int, what: str) -> str:
    """Say how many: ``"1 grade"``, ``"2 grades"``."""
    return f"{count} {what}{'' if count == 1 else 's'}"


def pilot_from_folder(log: Path, schools: Sequence[Path] = ()) -> str:
    """Return the pilot of a log that lies in the pilot's own folder: the folder's name, underscores read as blanks.

    ``schools`` are folders that hold a folder for each pilot. Raises UsageError if the log lies beside the pilots'
    folders, or the folder's name cannot be a person's.
    """
    here = log.absolute()
    for school in (one.absolute() for one in schools):
        if here.parent == school:
            mend = "put it into its pilot's folder, or record it with --pilot"
            raise UsageError("lies beside the pilots' folders and in none of them", file=str(log), mend=mend)
        if here.is_relative_to(school):
            return clean_name(here.relative_to(school).parts[0].replace("_", " "))
    return clean_name(here.parent.name.replace("_", " "))
