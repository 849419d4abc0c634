"""Weeks of practice: pilots, sessions, grades and progress, kept safely."""
