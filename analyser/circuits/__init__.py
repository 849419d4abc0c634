"""Racetracks found in the motion, cut into turns and legs; the unknown hold inferred; the entry recognised."""
