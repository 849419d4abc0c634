"""Circuits held against the rules: measures, points, error budget, advice."""
