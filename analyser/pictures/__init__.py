"""Pictures to take away, for slides and reports: drawn with matplotlib, which nothing else loads."""
