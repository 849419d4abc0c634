"""An imaginary flying club, for demonstrations and tests: three pilots, one instructor, eight weeks.

Everybody and everything in it is invented. ``python -m tests.club`` writes its logbook.
"""
