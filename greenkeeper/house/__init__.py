"""The modelled house: physics, weather and a house to play through. Pure, no I/O.

model.py answers "what happens in the next seconds", weather.py "what is it like
outside", simulated.py puts both together into something probes and outputs can be
hung in. Nothing here knows about control, files or the network.
"""
