"""Two heaters for one zone: which of them is first.

Lives here: the order of the two, by wear and by what is known of either. Does not live here:
when the second joins or takes the first's place (joining.py), and what proves that one gives
no heat (doubt.py).

They change places while both rest. A heater that was on in vain, or that is known to give no
heat, goes behind the other at once.
"""

from collections.abc import Collection, Mapping

from greenkeeper.control import doubt
from greenkeeper.control.plan import StagePlan
from greenkeeper.model import Now, OutputMemory, Staging, Wish

_CALM_S = 60.0  # both off for so long, and none wanted: they may change places


def known(
    before: Mapping[str, Staging], zone: str, stages: StagePlan, outputs: Mapping[str, OutputMemory]
) -> Staging:
    kept = before.get(zone)
    if kept is not None and kept.first in stages.outputs:
        return kept
    one, two = stages.outputs
    worn = stages.takes_turns and _wear(stages, outputs, one) > _wear(stages, outputs, two)
    return Staging(two if worn else one)


def ranked(
    kept: Staging,
    stages: StagePlan,
    wish: Wish,
    outputs: Mapping[str, OutputMemory],
    out: Collection[str],
    now: Now,
) -> Staging:
    shunned = {name: until_s for name, until_s in kept.shunned.items() if now.mono_s < until_s}
    shunned |= {name: now.mono_s + doubt.SHUNNED_S for name in stages.outputs if name in out}
    kept = kept._replace(shunned=shunned) if shunned != kept.shunned else kept
    first, second = kept.first, other(stages, kept.first)
    calm = not wish.on and all(
        not outputs[name].on and now.mono_s - outputs[name].since_s >= _CALM_S
        for name in stages.outputs
    )
    kept = doubt.forgotten(kept, now) if calm else kept
    if second in shunned or doubt.is_about(kept, second):
        return kept
    if first in shunned or (doubt.is_about(kept, first) and not kept.joined):
        return swapped(kept, second)
    if not calm or (kept.doubt is not None and kept.doubt.heater == first):
        return kept
    if kept.doubt is not None:  # it is the second's turn to be tried once more
        return swapped(kept, second)
    if not stages.takes_turns:
        return kept if first == stages.outputs[0] else swapped(kept, second)
    ahead = _wear(stages, outputs, first) - _wear(stages, outputs, second)
    return swapped(kept, second) if ahead >= stages.turn_after else kept


def swapped(kept: Staging, first: str) -> Staging:
    return kept._replace(first=first, run_s=None, rest_s=None)


def other(stages: StagePlan, first: str) -> str:
    one, two = stages.outputs
    return two if first == one else one


def _wear(stages: StagePlan, outputs: Mapping[str, OutputMemory], name: str) -> float:
    return outputs[name].operations / stages.rated[stages.outputs.index(name)]


def is_shunned(kept: Staging, name: str, now: Now) -> bool:
    return kept.shunned.get(name, 0.0) > now.mono_s
