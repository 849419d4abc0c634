"""How much a log may ask of the reader: every limit is here, and its message says what to do.

The limits are this project's own choice: far above any flight (a day at 20 Hz is 1.7 million samples), far
below what would fill a desktop computer's memory.
"""

from __future__ import annotations

from analyser.errors import LogError

#: Largest file on disk, and largest content after unpacking, bytes.
MAX_BYTES = 400_000_000
#: Largest size of everything unpacked from one archive, bytes.
MAX_ARCHIVE_BYTES = 1_000_000_000
#: Most files looked at in one archive.
MAX_MEMBERS = 500
#: Longest line of a text format, characters.
MAX_LINE = 200_000
#: Most columns of a table.
MAX_COLUMNS = 1_000
#: Most samples in one file.
MAX_SAMPLES = 5_000_000
#: Most flights (or aircraft) taken from one file.
MAX_FLIGHTS = 200
#: Most tracks or segments gone through to find them.
MAX_PIECES = 2_000
#: Deepest nesting of elements or arrays.
MAX_DEPTH = 200
#: Longest tag or comment of an XML document, bytes: each is gone through anew with every piece of it.
MAX_MARKUP = 4_000_000
#: Largest value of a JSON text that is taken whole, characters.
MAX_JSON_VALUE = 4_000_000
#: Most text that the cells of a workbook may share, bytes.
MAX_SHARED_TEXT = 50_000_000
#: Most memory that an unpacker may ask for its own work, bytes.
MAX_UNPACKING_BYTES = 300_000_000
#: Most archives inside one another (a gzip in a zip is two).
MAX_WRAPPERS = 3
#: So many samples, evenly far apart, tell what all of them would.
ENOUGH_SAMPLES = 2_000


def some_of(count: int, most: int = ENOUGH_SAMPLES) -> slice:
    """Return which of so many are looked at where about ``most`` tell: the first, and others evenly far apart."""
    return slice(None, None, max(1, count // most))


def check_samples(count: int) -> None:
    """Refuse more samples than one file may hold; who reads the file adds its name."""
    if count > MAX_SAMPLES:
        raise LogError(
            f"the file holds more than {MAX_SAMPLES:,} samples",
            place=f"sample {MAX_SAMPLES + 1:,}",
            mend="cut it to the flight",
        )


def check_size(size: int, file: str, what: str = "the file") -> None:
    """Refuse content of more than :data:`MAX_BYTES`; ``what`` says what is measured."""
    if size > MAX_BYTES:
        raise LogError(
            f"{what} holds more than {MAX_BYTES // 1_000_000} MB",
            file=file,
            mend="cut the log to the flight, or record at a longer interval",
        )
