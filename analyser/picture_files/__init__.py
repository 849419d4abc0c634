"""Pictures to take away, for slides and reports."""
