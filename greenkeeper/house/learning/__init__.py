"""Learning the house from its own nights: how much it loses, how fast it cools, how it lags.

Lives here: nights as arrays (nights.py), the model and its filter (filter.py), fitting it
(fit.py), the figures that follow (figures.py), when it is coldest (dawn.py), and what has
changed (drift.py). Does not live here: reading a journal (reports/learning_data.py), the
noun that is handed out (greenkeeper/learned.py).

The one part of the house that needs numpy, and so the one that nothing but `greenkeeper
learn` imports: never the keeper.
"""
