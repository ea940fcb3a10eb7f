"""What was learned is kept as it was, and no damage to its file is ever more than a loss."""

import json
from contextlib import suppress
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper import learned_file
from greenkeeper.clock import HandClock
from greenkeeper.learned import (
    FIGURES,
    MOST_PAST,
    Estimate,
    Kept,
    Learned,
    Notice,
    Past,
    Unknown,
    document,
    from_document,
    with_new,
)
from greenkeeper.model import Condition

POSITIVE = st.floats(1e-3, 1e9)
ESTIMATES = st.builds(Estimate, POSITIVE, st.floats(0.0, 1e9))
FIGURE = ESTIMATES | st.builds(Unknown, st.text())
TIMES = st.floats(-1e10, 1e11)
LEARNED = st.builds(
    Learned,
    **dict.fromkeys(("learned_utc_s", "from_utc_s", "to_utc_s"), TIMES),
    nights=st.integers(0, 400),
    power_w=st.none() | POSITIVE,
    **dict.fromkeys(FIGURES, FIGURE),
    notices=st.lists(st.builds(Notice, st.text(), st.text()), max_size=3).map(tuple),
)
PAST = st.builds(Past, TIMES, TIMES, st.dictionaries(st.sampled_from(FIGURES), ESTIMATES))
KEPT = st.builds(Kept, st.none() | LEARNED, st.lists(PAST, max_size=4).map(tuple))


def learned(**changed):
    figures = dict.fromkeys(FIGURES, Unknown("nobody looked"))
    return Learned(2e9, 1e9, 1.1e9, 9, "bench", "heater", 1500.0, **figures)._replace(**changed)


@pytest.fixture
def file(tmp_path):
    return tmp_path / learned_file.FILE_NAME


@given(KEPT)
def test_what_is_kept_comes_back_as_it_was(kept):
    assert from_document(json.loads(json.dumps(document(kept), allow_nan=False))) == kept


def test_a_file_comes_back_as_it_was_written(file):
    kept = with_new(Kept(), learned(loss_w_per_k=Estimate(52.0, 1.5)))
    learned_file.write(file, kept)
    assert learned_file.read(file) == (kept, None)


def test_without_a_file_nothing_is_learned_and_nothing_is_wrong(file):
    assert learned_file.read(file) == (Kept(), None)


def test_a_damaged_file_counts_as_nothing_learned_and_says_so(file):
    learned_file.write(file, with_new(Kept(), learned(slow_s=Estimate(30000.0, 900.0))))
    whole = file.read_bytes()
    chance = Random(5)
    for _ in range(300):
        cut = bytearray(whole[: chance.randrange(len(whole))])
        for _ in range(chance.randrange(3)):
            if cut:
                cut[chance.randrange(len(cut))] = chance.randrange(256)
        file.write_bytes(cut)
        found = learned_file.read(file)
        assert found.kept == Kept()
        assert found.trouble
        assert str(file) in found.trouble


@given(st.recursive(st.none() | st.booleans() | st.floats() | st.integers() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.sampled_from(
        ("format", "learned", "past", "to_utc_s", "from_utc_s", "figures", "loss_w_per_k")
    ), inner), max_leaves=12))  # fmt: skip
def test_any_json_is_read_or_refused(found):
    with suppress(ValueError):  # the refusal; any other error fails the test
        assert isinstance(from_document(found), Kept)


@pytest.mark.parametrize(
    "value",
    ["NaN", "Infinity", "1e999", "-3", "0", "true", "null", '"12"', "1" + "0" * 400],
)
def test_a_figure_that_cannot_be_is_refused(file, value):
    told = json.dumps(document(Kept(learned(loss_w_per_k=Estimate(77.0, 1.0)))))
    file.write_text(told.replace("77.0", value))
    assert learned_file.read(file).kept.learned is None


def test_a_file_too_large_is_not_read(file):
    file.write_bytes(b" " * (learned_file.MOST_BYTES + 1))
    assert "larger" in learned_file.read(file).trouble


def test_a_folder_in_its_place_is_told(file):
    file.mkdir()
    assert "cannot be read" in learned_file.read(file).trouble


def test_a_night_learned_again_replaces_its_line():
    kept = with_new(Kept(), learned(rise_k=Estimate(20.0, 1.0)))
    kept = with_new(kept, learned(rise_k=Estimate(21.0, 1.0)))
    assert [past.figures["rise_k"].value for past in kept.past] == [21.0]


def test_what_could_not_be_learned_leaves_no_line():
    assert with_new(Kept(), learned()).past == ()


def test_the_history_is_bounded_and_loses_its_oldest():
    kept = Kept()
    for night in range(MOST_PAST + 5):
        kept = with_new(kept, learned(to_utc_s=float(night), rise_k=Estimate(20.0, 1.0)))
    assert [kept.past[0].to_utc_s, kept.past[-1].to_utc_s] == [5.0, MOST_PAST + 4.0]


def test_the_largest_file_is_far_below_what_is_read():
    estimates = dict.fromkeys(FIGURES, Estimate(123456.789012345, 12345.6789012345))
    past = tuple(Past(1.7e9 + n, 1.6e9 + n, estimates) for n in range(MOST_PAST))
    kept = Kept(learned(**estimates), past)
    assert len(json.dumps(document(kept), indent=1)) < learned_file.MOST_BYTES / 2


def test_a_figure_is_asked_for_by_name():
    known = learned(loss_w_per_k=Estimate(52.0, 2.0))
    assert known.value("loss_w_per_k") == 52.0
    assert known.value("rise_k") is None
    assert Estimate(52.0, 2.0).span(2.0) == (48.0, 56.0)


# --- what the keeper makes of it ----------------------------------------------------------------

CHANGED = Notice("loss-changed", "the house loses more than before: up 25 %")


@pytest.fixture
def clock():
    return HandClock(utc_s=2e9)


@pytest.fixture
def keeper(file, clock):
    return learned_file.Notices(file, clock)


def later(clock, seconds):
    clock.advance(seconds)


def test_the_keeper_hears_of_a_change_within_its_slow_round(file, clock, keeper):
    assert keeper.conditions() == ()
    learned_file.write(file, Kept(learned(notices=(CHANGED,))))
    later(clock, learned_file.LOOK_EVERY_S - 1.0)
    assert keeper.conditions() == ()
    later(clock, 1.0)
    assert keeper.conditions() == (Condition("loss-changed", "bench", CHANGED.text),)
    learned_file.write(file, Kept(learned()))
    later(clock, learned_file.LOOK_EVERY_S)
    assert keeper.conditions() == ()


def test_a_file_that_did_not_change_is_not_read_again(file, clock, keeper, monkeypatch):
    learned_file.write(file, Kept(learned(notices=(CHANGED,))))
    assert keeper.conditions()
    monkeypatch.setattr(learned_file, "read", None)  # calling it would be an error
    later(clock, learned_file.LOOK_EVERY_S)
    assert keeper.conditions()


def test_only_a_notice_can_come_of_the_file_whatever_is_in_it(file, keeper):
    others = (Notice("stuck-on", "invented"), Notice("no-such-code", "invented"), CHANGED)
    learned_file.write(file, Kept(learned(notices=others)))
    assert [each.code for each in keeper.conditions()] == ["loss-changed"]


def test_what_nobody_confirms_any_more_is_told_no_longer(file, clock, keeper):
    learned_file.write(file, Kept(learned(notices=(CHANGED,))))
    assert keeper.conditions()
    later(clock, learned_file.GONE_AFTER_S + 1.0)
    assert keeper.conditions() == ()


def test_a_damaged_or_missing_file_means_no_notice(file, clock, keeper):
    file.write_text("{")
    assert keeper.conditions() == ()
    file.unlink()
    later(clock, learned_file.LOOK_EVERY_S)
    assert keeper.conditions() == ()
