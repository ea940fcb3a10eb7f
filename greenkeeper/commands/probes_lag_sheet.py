"""How watching a probe cool looks to people: before, meanwhile, and in the end.

Lives here: the words of `greenkeeper probes --lag`. Does not live here: reading and judging
(probes_lag.py, probes/cooling.py).
"""

from collections.abc import Sequence

from greenkeeper.commands.probes_lag import Watched, for_settings_s
from greenkeeper.commands.probes_sheet import WIDTH, now_c, wrapped
from greenkeeper.probes.cooling import GIVE_UP_S, WARMED_K, Standing

HEAD = f"""\
Leave each where it hangs until this has begun. Then hold it in your warm hand
until it has risen by {WARMED_K:g} K, let go, and leave it alone: door shut, no fan,
no heat.

CAUTION: a keeper that runs beside this takes the hand for warmth, and does not
heat meanwhile. Do it on a mild day.

It takes about ten minutes, and {GIVE_UP_S / 60:.0f} minutes at most.
"""


def head(names: Sequence[str]) -> str:
    named = wrapped(f"How far behind the air: {', '.join(names)}.")
    return "\n".join([*named, HEAD])


def meanwhile(results: Sequence[Watched], taken_s: float) -> str:
    """One line on how far it is, for a terminal."""
    over = sum(each.finding.standing in (Standing.DONE, Standing.ROUGH) for each in results)
    line = f"{taken_s:.0f} s  {over} of {len(results)} done"
    waiting = [each for each in results if each.finding.standing in _MEANWHILE]
    if waiting:
        # The one that is cooling stands before those that wait for the hand.
        nearest = max(waiting, key=lambda each: _ORDER.index(each.finding.standing))
        doing = _MEANWHILE[nearest.finding.standing].format(share=nearest.finding.share)
        line += f"  {nearest.subject.word} {now_c(nearest.last)}, {doing}"
    return line[: WIDTH - 1]


_MEANWHILE = {
    Standing.COLD: "waits for the hand",
    Standing.WARM: "warm: let go",
    Standing.COOLING: "has cooled {share:.0%} of the way",
}
_ORDER = list(_MEANWHILE)


def lines(results: Sequence[Watched]) -> list[str]:
    """What came of it, and what to paste."""
    sheet = [line for each in results for line in wrapped(f"{each.subject.word}: {_said(each)}")]
    lag_s = for_settings_s(results)
    if lag_s is None:
        return sheet
    several = " (the middle one)" if sum(each.well for each in results) > 1 else ""
    return [*sheet, "", f"For the settings{several}:", "", "house:", f"  probe_lag_s: {lag_s:g}"]


def _said(watched: Watched) -> str:
    lag_s = watched.finding.lag_s
    if lag_s is not None:
        return f"{lag_s:.0f} s behind the air."
    if watched.finding.standing is Standing.SILENT:
        seen = watched.last.detail or "too few readings"
        return f"cannot be read: {seen}. See greenkeeper probes."
    return _WITHOUT[watched.finding.standing]


_LATE = f"in {GIVE_UP_S / 60:.0f} min. Start again."
_WITHOUT = {
    Standing.COLD: f"was not warmed by {WARMED_K:g} K {_LATE}",
    Standing.WARM: f"was not let go {_LATE}",
    Standing.COOLING: f"did not cool down {_LATE}",
    Standing.ROUGH: "came down, but not as something that is left alone: touched, a draught, or "
    "the air changed meanwhile. Start again.",
}
