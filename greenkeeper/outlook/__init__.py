"""The coming night, reckoned in the afternoon: how cold outdoors, how cold at the plants.

Lives here: courses of the outdoor air (evening.py, course.py), the house run forward under
one (ahead.py), and what to do about it (advice.py). Pure: no clock, no file, no network.
Does not live here: what the journal holds (reports/outlook_data.py), words and layout
(reports/outlook_sheet.py).
"""
