"""The ways out in open formats: a cleaned track cut at the phases of its holds, and the circuits of many debriefs."""
