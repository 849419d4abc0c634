"""The logbook: weeks of debriefs, of one pilot or of a whole school.

One code path for an SQLite file and a PostgreSQL database. Everything that is written is one transaction,
acknowledged only when it is on the disk.
"""

from __future__ import annotations

from analyser.logbook.asked import AskedLogbook
from analyser.logbook.carried import CarriedLogbook
from analyser.logbook.erased import ErasingLogbook
from analyser.logbook.kept import KeptLogbook


class Logbook(AskedLogbook, KeptLogbook, ErasingLogbook, CarriedLogbook):
    """An open logbook; use it in a ``with`` block, or close it.

    What can be asked of it, put into it, erased from it and carried elsewhere is each in a module of its own.
    """
