"""What of a faulty file can be understood, so that the cross-checks need not wait.

Lives here: leaving out what is wrong, key by key and then group by group, until the
rest makes settings. Does not live here: the cross-checks themselves (rules.py).
Nothing but the checks ever sees a draft; the keeper runs on whole settings only.
"""

from copy import deepcopy
from functools import cache
from typing import Any

from pydantic import Field, ValidationError

from greenkeeper.settings.basics import Id
from greenkeeper.settings.faults import Path
from greenkeeper.settings.keys import inside
from greenkeeper.settings.schema import Settings, Site, Zone
from greenkeeper.settings.sensors import Probe
from greenkeeper.settings.translate import Slip, slips
from greenkeeper.settings.yamlnodes import MOST_DEEP

EVERYTHING: Path = ()


@cache
def _draft_type() -> type[Settings]:
    """Settings in which nothing is required. Built late: a sound file needs none."""

    class Draft(Settings):
        site: Site = Field(default_factory=lambda: Site(name="unnamed"))
        probes: dict[Id, Probe] = Field(default_factory=dict)
        zones: dict[Id, Zone] = Field(default_factory=dict)

    return Draft


def drafted(data: dict[str, Any]) -> tuple[Settings, set[Path]]:
    """The settings without what is wrong, and the paths that were left out.

    An item of a list takes its whole list with it, so that the others keep their count.
    """
    data = deepcopy(data)
    left_out: set[Path] = set()
    for _ in range(MOST_DEEP):  # each round goes at least one level up from every slip
        try:
            return _draft_type().model_validate(data), left_out
        except ValidationError as error:
            for slip in slips(error.errors(include_url=False), data):
                left_out.add(_leave_out(slip, data))
    return _draft_type().model_validate({}), {EVERYTHING}


def _leave_out(slip: Slip, data: dict[str, Any]) -> Path:
    path = slip.path[:-1] if slip.missing else slip.path
    while path and isinstance(path[-1], int):
        path = path[:-1]
    group = inside(path[:-1], data)
    if path and isinstance(group, dict):
        group.pop(path[-1], None)
    return path
