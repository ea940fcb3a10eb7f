"""What a check over several keys yields, before it is given its place in the file."""

from collections.abc import Sequence
from typing import NamedTuple

from pydantic import BaseModel

from greenkeeper.settings.basics import Checked
from greenkeeper.settings.faults import Path, number, shown

# Setpoints are sums of decimal fractions: a difference below this is none.
SAME_K = 1e-9


class Finding(NamedTuple):
    """`leans_on` names the other keys it judged by: if one is wrong, this waits."""

    path: Path
    found: str
    allowed: str = ""  # empty in a remark
    hint: str = ""
    leans_on: tuple[Path, ...] = ()


def written(model: Checked, name: str) -> str:
    """A value as found, and whether it was not written but stands by default."""
    value = shown(getattr(model, name))
    return value if is_written(model, name) else f"{value} (the default)"


def is_written(model: BaseModel, name: str) -> bool:
    return name in model.model_fields_set


def celsius(temp_c: float) -> str:
    return f"{number(temp_c)} °C"


def listed(names: Sequence[str], most: int = 6) -> str:
    """'a, b, c', cut short where there are many."""
    return ", ".join([*names[:most], "…"] if len(names) > most else names)
