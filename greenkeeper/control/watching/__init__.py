"""The parts of control/watch.py: one question about the heat in each module.

trail.py is what they all look at, thresholds.py how far each lets things go.
"""
