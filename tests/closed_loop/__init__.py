"""Closed loop: a pilot with faults flies a hold, is debriefed, and flies the next circuit as advised.

The pilot and the aircraft are the tests' own (:mod:`tests.grading_flights`): stepped through the air at twenty hertz,
sharing no kinematics with the analyser; what would have been right is found by trial.
"""
