"""The journal: the true record of the house, in one SQLite file.

rows.py     what is recorded, as values; times.py counts their minutes and hours
minutes.py  temperatures of many ticks summed to minutes      (pure)
on_time.py  commands of many ticks summed to time on          (pure)
gather.py   a tick taken apart into all of these              (pure)
backlog.py  what waits for the card, bounded                  (pure)
opening.py  the file: opened, made, brought up to date, or set aside when damaged
store.py    the one connection that writes
scribe.py   bears with every fault of the card
writer.py   the loop's side of it, which never waits
reader.py   read-only questions; answers.py what comes back; check.py is all well?

schema.sql is the document. Control never depends on any of this.
"""
