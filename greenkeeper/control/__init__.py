"""Control: from readings to commands, purely.

step.py is the way in: `make_plan` once per settings, `fresh` once per run, `step`
every tick. Nothing here does I/O, reads a clock, or raises for a reading.
"""

from greenkeeper.control.plan import Plan, make_plan, with_learned
from greenkeeper.control.step import carried_over, fresh, step

__all__ = ["Plan", "carried_over", "fresh", "make_plan", "step", "with_learned"]
