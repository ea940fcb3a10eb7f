"""The modelled house: physics, weather and a house to play through. Pure, no I/O.

model.py answers "what happens in the next seconds", glass.py "how much sun comes in",
weather.py "what is it like outside", simulated.py puts them together into something
probes and outputs can be hung in; envelope.py and heatloss.py say what it loses and why.
Nothing here knows about control, files or the network.
"""
