"""``python -m tests.club [FILE]``: write the imaginary club's logbook.

Every fourth session of each pilot is flown by the flight generator and read from its log by the program; the others
are documents written from what is planted in the pilot.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from analyser.commands.screen import steps
from analyser.logbook.book import Logbook
from analyser.process_settings import use_one_thread
from tests.club.build import fill
from tests.club.flown import fly_some
from tests.club.people import PILOTS
from tests.club.power import table, term_lines
from tests.club.term import fill_term


def main(words: list[str]) -> int:
    """Write the logbook where the first word says; a file that is there is not touched."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.club", description=(__doc__ or "").split("\n\n", 1)[1]
    )
    parser.add_argument(
        "file", nargs="?", type=Path, default=Path("club.sqlite"), help="club.sqlite if left out"
    )
    parser.add_argument("--term", action="store_true", help="a term of a school: 12 instructors, 60 pilots")
    parser.add_argument(
        "--power",
        nargs="?",
        type=int,
        const=4,
        metavar="CLASSES",
        help="write nothing: print how often changes are told of that are not there, and found that are",
    )
    parser.add_argument(
        "--form", default="", help="with --power: only forms with this in their name, say 'walks'"
    )
    said = parser.parse_args(words)
    if said.power is not None:
        for line in table(said.power, said.form):
            print(line, flush=True)
        return 0
    path = said.file
    if path.exists():
        print(f"{path} is there already; give another name", file=sys.stderr)
        return 2
    use_one_thread()
    if said.term:
        with Logbook.open(path) as book:
            print(f"{path}: {fill_term(book)} invented sessions of a term, none of them really flown")
            for line in term_lines(book.sessions()):
                print(line)
        return 0
    with (
        Logbook.open(path) as book,
        steps("invented flights", sum(pilot.sessions for pilot in PILOTS)) as step,
    ):
        count = fill(book, make=fly_some, done=step)
    print(f"{path}: {count} invented sessions of three invented pilots, every fourth of each really flown")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
