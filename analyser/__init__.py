"""Debriefs flown holding patterns from recorded flight logs.

A training aid: not for navigation, not for obstacle clearance.
"""

__version__ = "0.1.0"
