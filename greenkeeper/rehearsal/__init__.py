"""Rehearsing: the very control that would run, in the modelled house, over any weather.

Lives here: hanging a keeper's settings into the modelled house (rig.py), living through a
span of weather (run.py), what is written down meanwhile (ledger.py), breaking things
(faults.py), and comparing and sweeping (compare.py, sweep.py). Does not live here:
deciding (control), physics (house), files, and words (reports, commands). No line of
control or of the house asks whether it is being rehearsed.
"""
