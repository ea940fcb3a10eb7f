"""The demo: an invented night, kept by the real keeper, told truly at the end."""

import re
import signal
import sqlite3

import pytest

from greenkeeper.commands import main
from greenkeeper.commands.demo import _duration_s


@pytest.fixture(autouse=True)
def own_signals():
    """The keeper blocks signals for its process; here the process goes on with other tests."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [])
    yield
    signal.pthread_sigmask(signal.SIG_SETMASK, before)


@pytest.fixture
def night(tmp_path, capsys):
    """(what was printed, the journal) of a night from the afternoon on."""

    def live(hours: int) -> tuple[str, sqlite3.Connection]:
        words = ["demo", "--speed", "0", "--for", f"{hours}h", "--folder", str(tmp_path)]
        assert main(words) == 0
        shown = capsys.readouterr().out
        return shown, sqlite3.connect(tmp_path / "state" / "journal.db")

    return live


def test_it_shows_an_hour_in_a_line_and_tells_in_the_end_what_the_journal_holds(night):
    shown, journal = night(12)
    (on_s,) = journal.execute(
        "SELECT sum(on_s) FROM output_minute JOIN output ON output.id = output"
        " WHERE output.name = 'heater'"
    ).fetchone()
    (times,) = journal.execute(
        "SELECT count(*) FROM switching JOIN output ON output.id = output"
        " WHERE output.name = 'heater' AND is_on"
    ).fetchone()
    (low_c,) = journal.execute(
        "SELECT min(low_c) FROM minute JOIN probe ON probe.id = probe"
        " WHERE probe.name = 'bench-left'"
    ).fetchone()
    journal.close()
    hours, minutes = divmod(int(on_s) // 60, 60)
    kwh = on_s * 1200 / 3.6e6
    assert (
        f"heater                {hours} h {minutes:02d} min in {times} pulses, "
        f"{kwh:.2f} kWh, {kwh * 0.32:.2f} EUR"
    ) in shown
    assert re.search(rf"bench +lowest {low_c:.1f} °C at \d\d:\d\d \(bench-left\)", shown)
    assert "every plant stayed" in shown
    assert "fan                   never ran" in shown
    # And while it lived, an hour was a line.
    assert len(re.findall(r"^\w{3} 1[45] Jan \d\d:\d\d   bench", shown, re.MULTILINE)) == 13


@pytest.mark.parametrize("hours", [2, 12, 30])
def test_the_night_it_offers_to_look_at_is_the_one_that_was_lived(night, capsys, hours):
    shown, _ = night(hours)
    (offered,) = re.findall(r"^ +\S+ (lastnight .*)$", shown, re.MULTILINE)
    assert main(offered.split()) == 0
    told = capsys.readouterr().out
    assert "the night of Wednesday 14 January 2026" in told
    assert "nothing was measured" not in told


@pytest.mark.parametrize(
    ("text", "seconds"), [("90min", 5400.0), ("14h", 50_400.0), ("2d", 172_800.0), ("1.5h", 5400.0)]
)
def test_times_are_written_as_people_do(text, seconds):
    assert _duration_s(text) == seconds


@pytest.mark.parametrize("text", ["", "h", "-1h", "0h", "1y", "1:30"])
def test_what_is_no_time_is_refused_with_examples(text, capsys):
    with pytest.raises(SystemExit) as left:
        main(["demo", f"--for={text}"])
    assert left.value.code == 2
    assert "write 90min, 14h or 2d" in capsys.readouterr().err


def test_a_house_with_real_relays_is_refused(capsys):
    assert main(["demo", "--settings", "config/small.yaml"]) == 1
    assert "a demo needs modelled outputs" in capsys.readouterr().err
