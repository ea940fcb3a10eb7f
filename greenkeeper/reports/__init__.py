"""Reports: facts put in words, tables and pictures for people.

Everything here is a function of the status document or of the journal. words.py is the
one place that words a state, so that terminal and page say the same. Nothing here
decides or measures.
"""
