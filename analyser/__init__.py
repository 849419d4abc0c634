"""Debriefs flown holding patterns from recorded flight logs.

A training aid: not for navigation, not for obstacle clearance.
"""

__version__ = "0.1.0"

#: Said on everything that leaves the program; in short where there is no room.
CAUTION_IN_SHORT = "Training aid: not for navigation, not for obstacle clearance."
CAUTION = f"{CAUTION_IN_SHORT} The AIP, air traffic control, the aircraft's manual and a qualified instructor decide."
