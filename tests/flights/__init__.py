"""Invented flights with known truth: an aircraft in moving air, flown by a fallible pilot, seen by a receiver.

Nothing here uses the analyser's arithmetic; only :mod:`tests.flights.as_track` knows what a ``Track`` is.
The aircraft is stepped through the air at twenty hertz, rolls at its own rate, turns as its bank makes it turn
and is carried by the wind. What it truly did is read off afterwards (:mod:`tests.flights.truth`).
"""
