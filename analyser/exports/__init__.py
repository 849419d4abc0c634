"""A cleaned track out in an open format: cut at the phases of its holds, in numbers that read back equal."""
