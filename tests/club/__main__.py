"""``python -m tests.club [FILE]``: write the imaginary club's logbook."""

from __future__ import annotations

import sys
from pathlib import Path

from analyser.logbook.book import Logbook
from tests.club.build import fill


def main(words: list[str]) -> int:
    """Write the logbook where the first word says; a file that is there is not touched."""
    path = Path(words[0] if words else "club.sqlite")
    if path.exists():
        print(f"{path} is there already; give another name", file=sys.stderr)
        return 2
    with Logbook.open(path) as book:
        count = fill(book)
    print(f"{path}: {count} invented sessions of three invented pilots")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
