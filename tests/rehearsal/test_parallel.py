"""Several rehearsals in processes of their own give what they give one after the other."""

import pytest

from greenkeeper.rehearsal.parallel import Task, all_of
from greenkeeper.rehearsal.rig import RehearsalError
from greenkeeper.rehearsal.run import Way
from tests.rehearsal.houses import invented


def tasks() -> list[Task]:
    return [Task(*invented(0.5), Way(hysteresis_k=k)) for k in (0.3, 1.0)]


def test_processes_change_nothing_but_the_time_it_takes() -> None:
    shares: list[float] = []
    apart = all_of(tasks(), shares.append, workers=2)
    together = all_of(tasks(), lambda _: None, workers=1)
    assert [r._replace(took_s=0.0) for r in apart] == [r._replace(took_s=0.0) for r in together]
    assert apart[0].kwh != apart[1].kwh
    assert shares[-1] == pytest.approx(1.0)


def test_what_one_of_them_raises_arrives() -> None:
    settings, stage, span = invented(0.5)
    heater = settings.outputs["heater"].model_copy(update={"power_w": None})
    bare = settings.model_copy(update={"outputs": {**settings.outputs, "heater": heater}})
    with pytest.raises(RehearsalError, match="power_w is missing"):
        all_of([Task(bare, stage, span)] * 2, lambda _: None, workers=2)
