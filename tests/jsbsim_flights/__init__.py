"""Flights of real aircraft models by JSBSim, an open flight-dynamics library: truth that nobody here made up.

The pilot is the one of :mod:`tests.flights`; the aircraft under the hands, the wind and the turbulence are the
library's own. An autopilot turns what the pilot wants (bank, height, speed) into stick, rudder and throttle.
"""
