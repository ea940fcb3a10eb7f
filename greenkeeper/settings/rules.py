"""Checks over several keys, all asked together, and given their places in the file.

Lives here: asking every module of checks/ and turning Findings into faults and remarks.
Does not live here: the checks.

Limit: a check waits for the next round when a key it leans on is itself wrong, and so
do the checks on all plants when an item of that list can't be read at all.
"""

from collections.abc import Collection, Iterable, Iterator

from greenkeeper.settings.checks import (
    commands,
    contacts,
    damp,
    dawn,
    house,
    names,
    page,
    place,
    plants,
    probes,
    remote,
    roles,
    stages,
    tariff,
    thermostat,
    upkeep,
    wiring,
)
from greenkeeper.settings.checks.finding import Finding
from greenkeeper.settings.checks.names import Names
from greenkeeper.settings.faults import WHOLE_FILE, Path, Places, SettingsFault, key_text
from greenkeeper.settings.schema import Settings


def faults(
    settings: Settings,
    chosen: Names,
    places: Places,
    file: str,
    doubtful: Collection[Path],
) -> Iterator[SettingsFault]:
    """What makes these settings unfit; `doubtful` paths are wrong for another reason."""
    found = list(names.faults(settings, chosen))
    found += commands.faults(settings, chosen.zones)
    found += place.faults(settings)
    for check in (
        *(roles, stages, wiring, contacts, probes, damp, remote, thermostat, plants, house, tariff),
        *(upkeep, page, dawn),
    ):
        found += check.faults(settings)
    wrong = frozenset(doubtful)
    around = {path[:depth] for path in wrong for depth in range(len(path))}
    sure = [finding for finding in found if not _leans_on(finding, wrong, around)]
    return _placed(sure, settings, places, file)


def remarks(
    settings: Settings, places: Places | None = None, file: str = ""
) -> tuple[SettingsFault, ...]:
    """What is worth a word though nothing is wrong, in the file's order.

    Needs settings that passed the faults. Without places the lines are 0.
    """
    checks = (
        names,
        roles,
        stages,
        wiring,
        contacts,
        probes,
        damp,
        dawn,
        remote,
        thermostat,
        plants,
        house,
        tariff,
        upkeep,
        commands,
        page,
    )
    found = [finding for check in checks for finding in check.remarks(settings)]
    placed = _placed(found, settings, places, file)
    return tuple(sorted(placed, key=lambda remark: (remark.line, remark.column)))


def _leans_on(finding: Finding, wrong: Collection[Path], around: Collection[Path]) -> bool:
    """Whether it judged by a key that is wrong, that lies in a wrong group or holds one."""
    return any(
        path in around or any(path[:depth] in wrong for depth in range(len(path) + 1))
        for path in (finding.path, *finding.leans_on)
    )


def _placed(
    found: Iterable[Finding], settings: Settings, places: Places | None, file: str
) -> Iterator[SettingsFault]:
    plants_by_name = {"plants": [{"name": plant.name} for plant in settings.plants]}
    for finding in dict.fromkeys(found):
        place = places.of_setting(finding.path) if places else WHOLE_FILE
        key = key_text(finding.path, plants_by_name)
        yield SettingsFault(file, *place, key, finding.found, finding.allowed, finding.hint)
