"""Setting a house up: from a few plain answers to a commented settings file.

Lives here: what is asked, in which order, what an answer may be, which probe is the one in
the warm hand, and how the settings are written. Does not live here: the terminal, the bus
and the relays, which the command brings along (commands/setup.py); what settings may say
(settings/), by which every file written here is checked before anybody sees it.
"""
