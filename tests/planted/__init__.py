"""Flights that are right in everything but one planted fault, with the truth of what was planted.

Flown by the generator in ``tests/flights``, which shares no kinematics with the analyser.
"""
