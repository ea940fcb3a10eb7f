"""What `greenkeeper rehearse` shows of several rehearsals beside each other.

Lives here: the tables of --compare and --sweep, what they count and what follows. Does not live
here: a single rehearsal (rehearse_sheet.py), any figure (greenkeeper/rehearsal).
"""

import textwrap
from collections.abc import Sequence

from greenkeeper.commands import warmth_ahead
from greenkeeper.commands.rehearse_head import WIDTH, About, cost_words, head, kwh_words
from greenkeeper.rehearsal.compare import Comparison, ahead_and_not, saved
from greenkeeper.rehearsal.sweep import Swept
from greenkeeper.reports import words
from greenkeeper.settings.derived import heaters
from greenkeeper.units import shown_c


def comparison_lines(about: About, found: Comparison) -> list[str]:
    # Where a dawn's own sentence follows, that one says it.
    out = [*head(about, foretold=found.ideal.foretold and found.dawns is None), ""]
    out += textwrap.wrap(_terms(found), WIDTH)
    tariff = about.settings.tariff
    cost = f"{tariff.currency:>10}" if tariff is not None else ""
    out += ["", f"{'':<18}{'kWh':>10}{cost}{'over ideal':>13}{'moved by':>12}{'switched on':>14}"]
    out.append(_contender_line("ideal", found.ideal.kwh, found.ideal.cost, "", "", ""))
    for each in found.contenders:
        out.append(
            _contender_line(
                each.name,
                each.kwh,
                each.cost,
                f"{100.0 * each.over_ideal:+.1f} %",
                f"{each.shift_k:+.2f} K",
                str(each.switched_on),
            )
        )
    out += _whose_lines(about)
    return out + _saved_lines(about, found) + _ahead_lines(about, found) + _dawn_lines(about, found)


def _terms(found: Comparison) -> str:
    """What is counted, and what is left out."""
    terms = (
        f"Every strategy's setpoints are moved until the lowest air at the plants is "
        f"{shown_c(found.target_c)}, which the ideal heater holds exactly"
    )
    if not found.left_out_hours:
        return f"{terms}."
    hard = words.count(found.hard_hours, "hour")
    when = f"In {hard}" if found.hard_hours else "Just before these days"
    return (
        f"{terms} while its power is enough. {when} full power was not always enough. With the "
        f"two hours after each, {words.count(found.left_out_hours, 'hour')} in all are left out "
        "of that lowest; what they took is counted in every row."
    )


def _whose_lines(about: About) -> list[str]:
    """Whose figures a row has, where there are several heaters."""
    zones = about.settings.zones.items()
    heated = [(name, zone.heat) for name, zone in zones if zone.heat is not None]
    name, heat = heated[0]
    text = ""
    if len(heated) > 1:
        text += f"The kWh are all heaters', the lowest air and 'switched on' those of {name}. "
    if heat.second_output is not None:
        text += (
            f"Of {heat.output} and {heat.second_output}, 'switched on' is the one that was "
            "switched more often."
        )
    return textwrap.wrap(text, WIDTH)


def _ahead_lines(about: About, found: Comparison) -> list[str]:
    """Whether heating ahead in cheap hours pays, and what it came to here."""
    pair = ahead_and_not(found)
    heated = next((name for name, z in about.settings.zones.items() if z.heat is not None), None)
    tariff = about.settings.tariff
    if pair is None or heated is None or tariff is None:
        return []
    text = warmth_ahead.sentence(about.settings, heated, about.learned)
    ahead, plain = pair
    if ahead.cost is not None and plain.cost is not None and ahead.kwh != plain.kwh:
        saved = plain.cost - ahead.cost
        verb = "saved" if saved >= 0.0 else "cost"
        text += (
            f". Here it {verb} {cost_words(abs(saved))} {tariff.currency}, for "
            f"{kwh_words(abs(ahead.kwh - plain.kwh))} kWh "
            f"{'more' if ahead.kwh > plain.kwh else 'less'}"
        )
    return ["", *textwrap.wrap(f"Cheap hours: {text}.", WIDTH)]


def _dawn_lines(about: About, found: Comparison) -> list[str]:
    """What a clear dawn that is left to the sun spares, and what it costs in warmth."""
    if found.dawns is None:
        return []
    left, kept = found.dawns
    money = _less_money(about, " and", kept.cost, left.cost)
    return ["", *textwrap.wrap(
        f"Dawn: left to the sun where the sky is foretold clear, the setpoints as they are, it "
        f"spares {kwh_words(kept.kwh - left.kwh)} of {kwh_words(kept.kwh)} kWh{money}; the lowest "
        f"is {shown_c(left.low_c)} instead of {shown_c(kept.low_c)}. Its forecasts are invented.",
        WIDTH,
    )]  # fmt: skip


def _saved_lines(about: About, found: Comparison) -> list[str]:
    """What the thriftiest way spares beside a plain switch, and what it takes of the relay."""
    pair = saved(found)
    if pair is None:
        return []
    plain, best = pair
    money = _less_money(about, ",", plain.cost, best.cost)
    return ["", *textwrap.wrap(
        f"Beside a plain switch of 1 K with its setpoint where it keeps the plants as well, "
        f"'{best.name}' saves {kwh_words(plain.kwh - best.kwh)} kWh{money} "
        f"({100.0 * (1.0 - best.kwh / plain.kwh):.0f} %), and switches on "
        f"{best.switched_on} times instead of {plain.switched_on}.",
        WIDTH,
    )]  # fmt: skip


def _less_money(about: About, joint: str, before: float | None, after: float | None) -> str:
    """By how much the second costs less, after a joint; nothing without a tariff."""
    tariff = about.settings.tariff
    if tariff is None or before is None or after is None:
        return ""
    return f"{joint} {cost_words(before - after)} {tariff.currency}"


def _contender_line(
    name: str, kwh: float, cost: float | None, over: str, moved: str, switched: str
) -> str:
    money = f"{cost_words(cost):>10}" if cost is not None else ""
    return f"{name:<18}{kwh_words(kwh):>10}{money}{over:>13}{moved:>12}{switched:>14}".rstrip()


def sweep_lines(about: About, key: str, swept: Sequence[Swept]) -> list[str]:
    tariff = about.settings.tariff
    cost = f"{tariff.currency:>10}" if tariff is not None else ""
    foretold = any(each.result.foretold for each in swept)
    out = [*head(about, foretold=foretold), "", key]
    out.append(f"{'':<18}{'kWh':>10}{cost}{'lowest':>10}{'below min':>13}{'switched on':>14}")
    for each in swept:
        result = each.result
        low_c = min(zone.low_c for zone in result.zones)
        below_s = sum(zone.below_s for zone in result.zones)
        switched = sum(output.switched_on for output in result.outputs if output.heats)
        money = f"{cost_words(result.cost):>10}" if result.cost is not None else ""
        below = words.duration(below_s) if below_s > 0.0 else "never"
        out.append(
            f"{each.value:<18}{kwh_words(result.kwh):>10}{money}{shown_c(low_c):>10}{below:>13}{switched:>14}"
        )
    if len(heaters(about.settings)) > 1:
        out.append("'switched on' counts all heaters together.")
    return out
