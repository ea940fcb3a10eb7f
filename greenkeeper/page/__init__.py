"""The page: what a grower looks at on the phone before bed.

Lives here: gathering what the keeper, the journal and the outlooks say, and serving it as
HTML that needs neither scripts nor the internet. It only reads, in a process and under a
user of its own. Does not live here: working anything out (reports/), its words
(reports/words.py), and any way to give an order.
"""
