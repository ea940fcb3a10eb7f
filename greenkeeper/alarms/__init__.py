"""What is worth waking someone for, and through what.

    tick -> ledger (pure) -> letter (pure) -> desk -> courier's thread -> helper process

Lives here: which of the standing alarms a person is told now, in which words, and how
that leaves the house; and the heartbeat by which somebody else notices a dead Pi. Does
not live here: which alarms stand (control), and the broker, which is told everything.
Nothing in this room can make the loop wait.
"""
