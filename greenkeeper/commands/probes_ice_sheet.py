"""How the ice-point check looks to people: before, meanwhile, and in the end.

Lives here: the words of `greenkeeper probes --ice`. Does not live here: reading and
judging (probes_ice.py, probes/icepoint.py).
"""

from collections.abc import Iterator, Mapping, Sequence

from greenkeeper.commands.probes_ice import Checked
from greenkeeper.commands.probes_sheet import WIDTH, exact_c, free_names, now_c, wrapped
from greenkeeper.probes.icepoint import GIVE_UP_S, NEAR_K, SOUND_K, STEADY_K, STEADY_S, Standing

FINEST_STEP_K = 0.0625  # 12 bits

HEAD = """\
Crushed ice with a little water, stirred now and then; every probe in the middle
of it, its whole sleeve covered, away from the vessel's wall and ground.

CAUTION: a keeper that runs beside this takes the ice for frost, and heats.
Unplug the heater, or stop the keeper first: systemctl stop greenkeeper

It takes two minutes at least, and a quarter of an hour at most.
"""


def head(names: Sequence[str]) -> str:
    named = wrapped(f"Ice point of {', '.join(names)}.")
    return "\n".join([*named, HEAD])


def meanwhile(results: Sequence[Checked], taken_s: float) -> str:
    """One line on how far it is, for a terminal."""
    resting = sum(each.finding.at_rest for each in results)
    slowest = min(results, key=lambda each: (each.finding.at_rest, each.finding.steady_s))
    steady_s = min(slowest.finding.steady_s, STEADY_S)
    line = f"{taken_s:.0f} s  {resting} of {len(results)} at rest"
    if not slowest.finding.at_rest:
        now = f"{slowest.subject.word} {now_c(slowest.last)}"
        line += f"  {now}, steady for {steady_s:.0f} of {STEADY_S:.0f} s"
    return line[: WIDTH - 1]


def lines(results: Sequence[Checked], names: Mapping[str, str] | None) -> list[str]:
    """What came of it, and what to paste. names: ROM -> name in the settings."""
    sheet = [line for each in results for line in _result(each)]
    return sheet + _to_paste(results, free_names(names))


def _result(checked: Checked) -> list[str]:
    text = f"{checked.subject.word}: {_SENTENCES[checked.finding.standing](checked)}"
    return wrapped(text)


def _sound(checked: Checked) -> str:
    promised = f"sound, within the {SOUND_K:g} K of its data sheet"
    return f"reads {_mean(checked)}: {promised}.{_coarse(checked)}"


def _off(checked: Checked) -> str:
    mean_c = checked.finding.mean_c or 0.0
    return (
        f"reads {_mean(checked)}: {abs(mean_c):.2f} K off, more than the {SOUND_K:g} K of its "
        "data sheet. Replace it; or give it its offset, and check it again in a month, for "
        f"what is so far off may drift.{_coarse(checked)}"
    )


def _not_ice(checked: Checked) -> str:
    return (
        f"rests at {_mean(checked)}. That is no ice, and no known probe is more than "
        f"{NEAR_K:g} K off: put it in, stir, and start again. No offset is given."
    )


def _unsteady(checked: Checked) -> str:
    lowest_c, highest_c = checked.finding.lowest_c or 0.0, checked.finding.highest_c or 0.0
    return (
        f"did not come to rest in {GIVE_UP_S / 60:.0f} min: between {exact_c(lowest_c)} and "
        f"{exact_c(highest_c)} in the last {STEADY_S / 60:.0f} min, where {STEADY_K:g} K are "
        "allowed. More ice, less water, stir; or its wire is bad. No offset is given."
    )


def _silent(checked: Checked) -> str:
    seen = checked.last.detail or "too few readings"
    return f"cannot be read: {seen}. See greenkeeper probes."


_SENTENCES = {
    Standing.SOUND: _sound,
    Standing.OFF: _off,
    Standing.NOT_ICE: _not_ice,
    Standing.UNSTEADY: _unsteady,
    Standing.SILENT: _silent,
}


def _mean(checked: Checked) -> str:
    mean_c = checked.finding.mean_c
    return "?" if mean_c is None else exact_c(mean_c)


def _coarse(checked: Checked) -> str:
    if checked.step_k <= FINEST_STEP_K:
        return ""
    return f" It measures in steps of {checked.step_k:g} K: no finer than that can this be."


def _to_paste(results: Sequence[Checked], free: Iterator[str]) -> list[str]:
    """Offsets as they stand in the settings. They replace the old ones: nothing is added up."""
    given = [each for each in results if each.finding.offset_k is not None]
    if not given:
        return []
    sheet = ["", "For the settings, under 'probes:', each in place of the offset it may have:", ""]
    for each in given:
        sheet += _entry(each, free)
    return sheet


def _entry(checked: Checked, free: Iterator[str]) -> list[str]:
    subject, offset_k = checked.subject, f"{checked.finding.offset_k:g}"
    if subject.name is None:
        return [f"  {next(free)}: {{kind: onewire, rom: {subject.rom}, offset_k: {offset_k}}}"]
    had = f"  # now {subject.offset_k:g}" if subject.offset_k else ""
    return [f"  {subject.name}:", f"    offset_k: {offset_k}{had}"]
