"""Whether heating ahead in cheap hours pays in a house, in a sentence.

Lives here: wording, for check and rehearse alike. Does not live here: the reckoning
(control/storing.py).
"""

import math

from greenkeeper.control import storing
from greenkeeper.learned import Learned, Unknown
from greenkeeper.settings.schema import Settings


def sentence(settings: Settings, zone: str, learned: Learned | None) -> str:
    """zone: a heated one. learned: what is known of the house beyond the settings."""
    found = storing.store_plan(settings, zone, learned)
    if isinstance(found, Unknown):
        return f"not heated ahead in cheap hours: {found.reason}"
    seen = storing.prospect(found.market)
    if seen.best is None:
        return _never(seen)
    best, stretch = seen.best, seen.best.stretch
    return (
        f"heated ahead in cheap hours, in up to {best.hours:.1f} h at {stretch.price:g} before "
        f"{stretch.dearer:g} {found.currency} a kWh: each kelvin spares "
        f"{best.saved_per_k:.3f} {found.currency} in a night that is cold enough"
    )


def _never(seen: storing.Prospect) -> str:
    if seen.pays_from == math.inf:
        return (
            "never heated ahead: after these cheap hours it is light before the heat has come back"
        )
    return (
        "never heated ahead: heat kept in this house from cheap hours would pay from "
        f"{seen.pays_from:.1f} times their price on, and the dear ones cost "
        f"{seen.offered:.1f} times as much"
    )
