"""Prints how far outlooks are from what came, on real weather of whole winters.

The house is the default one, unheated, lived through by its own model in the file's wind and sun
and without a clear sky's loss; the outlook is told what its probes would have. So the figures
are about the weather and the way of looking ahead, not about how well a model fits a real
house. At 16:00 with the outdoor air known beforehand, and as the last nights fell; and two
hours and a quarter after sunset by the evening method. Not a test: it judges nothing.

Run: python -m tests.bench.bench_outlook
"""

from greenkeeper.outlook.ahead import STEP_S

HOUR_S, DAY_S = 3600.0, 86_400.0
DAY_STEPS = int(DAY_S / STEP_S)
LATE_S = 900.0  # after the evening's air
BEFORE_DAYS = 32  # of record, before the first outlook
# Two stretches of each file's year, by day.
WINTER = (("2025-01-03", "2025-03-31"), ("2025-09-14", "2025-12-28"))
