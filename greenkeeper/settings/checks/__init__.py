"""Checks that need more than one key, by what they are about.

Each module yields Findings: `faults` refuse the settings, `remarks` only tell. rules.py
asks them all. They judge a draft as well (draft.py), so they take nothing for granted
that another key should have brought.
"""
