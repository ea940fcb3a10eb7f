"""Which house it is that is looked ahead for: as learned, as measured, or as described.

Lives here: its figures tonight, bare and under what is laid by hand, and what its heater must
draw where nobody says. Does not live here: running it forward (outlook/ahead.py), the season's
what-ifs (season_house.py).
"""

from datetime import datetime
from typing import NamedTuple

from greenkeeper.house.envelope import envelope, fitted
from greenkeeper.house.network import Parameters
from greenkeeper.house.seasonal import day_of_year, in_force
from greenkeeper.learned import Learned
from greenkeeper.settings.derived import heats_with
from greenkeeper.settings.schema import Heat, Settings


class Variants(NamedTuple):
    bare: Parameters
    covered: Parameters | None
    covers: str
    source: str
    learned: bool  # its loss
    laid: bool  # the covers are fitted: somebody lays them every night


def variants(settings: Settings, sunset_utc_s: float, learned: Learned | None) -> Variants:
    """The house as it stands tonight, and under what is laid by hand (nights_only)."""
    house = settings.house
    day, hung = _hung(settings, sunset_utc_s)
    covers = in_force(
        house, [name for name, each in house.improvements.items() if each.nights_only], day, True
    )
    loss, known = (learned.value("loss_w_per_k"), learned) if learned else (None, None)
    if loss is not None and known is not None:
        # Of the house as it was in the middle of those nights: the lining may be newer.
        factor, source = loss / _then_w_per_k(settings, known), f"learned in {known.nights} nights"
    else:
        factor, source = _measured_share(settings), "as the settings describe it"
        if house.loss_w_per_k is not None:
            source = "measured, as the settings say"

    def with_loss(names: frozenset[str]) -> Parameters:
        made = Parameters.from_settings(house)
        made = made._replace(loss_w_per_k=envelope(house, names).loss_w_k * factor)
        return made if known is None else _weighed(made, known)

    return Variants(
        with_loss(hung - covers),
        with_loss(hung | covers) if covers else None,
        " and ".join(sorted(covers)),
        source,
        loss is not None,
        bool(covers & fitted(house)),
    )


def as_it_stands(settings: Settings, sunset_utc_s: float, learned: Learned | None) -> Parameters:
    """The house of this night; under its covers, if the settings say that they are laid."""
    found = variants(settings, sunset_utc_s, learned)
    return found.covered if found.laid and found.covered is not None else found.bare


def with_learned_power(settings: Settings, learned: Learned | None) -> tuple[Settings, list[str]]:
    """The settings with what a heater without power_w must draw to lift the described house as
    far as its nights showed, and a note that says so; else as they are."""
    rise_k = None if learned is None else learned.value("rise_k")
    output = None if learned is None else settings.outputs.get(learned.heater)
    if learned is None or rise_k is None or output is None or output.power_w is not None:
        return settings, []
    power_w = rise_k * _then_w_per_k(settings, learned) * _measured_share(settings)
    outputs = {**settings.outputs, learned.heater: output.model_copy(update={"power_w": power_w})}
    return settings.model_copy(update={"outputs": outputs}), [
        f"outputs.{learned.heater}.power_w is missing in the settings: taken for "
        f"{round(power_w, -1):.0f} W, which lift the house as far as it did in "
        f"{learned.nights} nights"
    ]


def no_power(settings: Settings, heat: Heat) -> str:
    """Why nobody can reckon with this heat, and what to do. Learning finds the power of a zone's
    first heater alone."""
    silent = [name for name in heats_with(heat) if settings.outputs[name].power_w is None]
    told = (
        f"{' and '.join(f'outputs.{name}.power_w' for name in silent)} "
        f"{'is' if len(silent) == 1 else 'are'} missing in the settings: without "
        f"{'it' if len(silent) == 1 else 'them'} nobody knows what the heater can hold"
    )
    if silent == [heat.output]:
        return f"{told}, until greenkeeper learn has found it out"
    return f"{told}. Write the watts that stand on its plate"


def _then_w_per_k(settings: Settings, learned: Learned) -> float:
    """What the settings describe for the middle of the nights that were learned from."""
    _, hung = _hung(settings, (learned.from_utc_s + learned.to_utc_s) / 2.0)
    return envelope(settings.house, hung).loss_w_k


def _measured_share(settings: Settings) -> float:
    house = settings.house
    return 1.0 if house.loss_w_per_k is None else house.loss_w_per_k / envelope(house).loss_w_k


def _hung(settings: Settings, utc_s: float) -> tuple[int, frozenset[str]]:
    """The day of the year, and what is fitted and in its season then, by night."""
    day = day_of_year(datetime.fromtimestamp(utc_s, settings.site.zone).date())
    return day, in_force(settings.house, fitted(settings.house), day, dark=True)


def _weighed(made: Parameters, learned: Learned) -> Parameters:
    """With what was learned of its air and mass, if all three are known."""
    air, mass, between = (
        learned.value(name) for name in ("air_kj_per_k", "mass_kj_per_k", "mass_w_per_k")
    )
    if air is None or mass is None or between is None:
        return made
    return made._replace(air_j_per_k=air * 1000.0, mass_j_per_k=mass * 1000.0, mass_w_per_k=between)
