"""Weather that was written down: EPW, TMY3 and plain CSV files.

Lives here: from the text of a file to a Record, or to an error that says where and what
is wrong. A file is taken whole or not at all. Does not live here: opening files (the
commands do), and weather that is made up (weather.py, invented_year.py).
"""
