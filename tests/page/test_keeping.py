"""What takes long is worked out once, and nobody waits for it twice."""

import threading

import pytest

from greenkeeper.page.keeping import Kept


def test_it_is_worked_out_again_only_when_its_mark_is_another() -> None:
    marks, worked = [1], []
    kept = Kept(lambda: worked.append(1) or len(worked), lambda: marks[0])
    assert (kept.value(), kept.value(), len(worked)) == (1, 1, 1)
    marks[0] = 2
    assert (kept.value(), len(worked)) == (2, 2)


def test_while_it_is_worked_out_anew_the_old_one_is_shown() -> None:
    marks, busy, go_on = [1], threading.Event(), threading.Event()

    def slowly() -> int:
        if marks[0] == 2:
            busy.set()
            assert go_on.wait(20.0)
        return marks[0]

    kept = Kept(slowly, lambda: marks[0])
    assert kept.value() == 1
    marks[0] = 2
    worker = threading.Thread(target=kept.value)
    worker.start()
    assert busy.wait(20.0)
    assert kept.value() == 1
    go_on.set()
    worker.join(20.0)
    assert kept.value() == 2


def test_what_fails_is_tried_again() -> None:
    tries: list[int] = []

    def work() -> int:
        tries.append(1)
        if len(tries) == 1:
            raise ValueError("not yet")
        return 7

    kept = Kept(work, lambda: 1)
    with pytest.raises(ValueError, match="not yet"):
        kept.value()
    assert kept.value() == 7
