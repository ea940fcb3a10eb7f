"""Scripts are followed to the letter, and a bad one is refused with its place."""

from pathlib import Path

import pytest

from greenkeeper.clock import HandClock
from greenkeeper.errors import GreenkeeperError
from greenkeeper.model import ContactReading, Fault, Reading
from greenkeeper.probes.scripted import ScriptedContacts, ScriptedGroup

SCRIPT = """\
# invented: a cold hour with a loose joint
seconds,temp_c
60,6.5
600,-4.25

900,
1200, 4.0
"""


def group(tmp_path: Path, clock: HandClock, text: str = SCRIPT) -> ScriptedGroup:
    path = tmp_path / "night.csv"
    path.write_text(text, encoding="utf-8")
    return ScriptedGroup({"bench": path}, clock)


@pytest.mark.parametrize(
    ("elapsed_s", "temp_c"),
    [
        (0.0, None),
        (59.9, None),
        (60.0, 6.5),
        (599.9, 6.5),
        (600.0, -4.25),
        (900.0, None),
        (1199.9, None),
        (1200.0, 4.0),
        (1e6, 4.0),
    ],
)
def test_a_value_holds_from_its_second_to_the_next(
    tmp_path: Path, elapsed_s: float, temp_c: float | None
) -> None:
    clock = HandClock(utc_s=0.0)
    scripted = group(tmp_path, clock)
    clock.advance(elapsed_s)
    reading = scripted.read()["bench"]
    assert reading.taken_s == 1000.0 + elapsed_s
    assert reading.temp_c == temp_c
    assert reading.fault is (Fault.MISSING if temp_c is None else None)


def test_seconds_count_from_the_group_s_start_not_the_clock_s(tmp_path: Path) -> None:
    clock = HandClock(utc_s=0.0, mono_s=5000.0)
    scripted = group(tmp_path, clock, "seconds,temp_c\n0,1.0\n10,2.0\n")
    clock.advance(9.0)
    assert scripted.read() == {"bench": Reading(5009.0, 1.0)}
    clock.advance(1.0)
    assert scripted.read() == {"bench": Reading(5010.0, 2.0)}


def test_several_scripts_are_one_group_that_never_blocks(tmp_path: Path) -> None:
    one, two = tmp_path / "one.csv", tmp_path / "two.csv"
    one.write_text("seconds,temp_c\n0,1\n")
    two.write_text("seconds,temp_c\n0,2\n")
    scripted = ScriptedGroup({"a": one, "b": two}, HandClock(utc_s=0.0))
    assert scripted.names == ("a", "b")
    assert not scripted.blocking
    assert [reading.temp_c for reading in scripted.read().values()] == [1.0, 2.0]
    scripted.close()


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("", "line 1: expected the header 'seconds,temp_c'"),
        ("# a note\ntime,temp\n", "line 2: expected the header 'seconds,temp_c'"),
        ("0,5\n", "line 1: expected the header 'seconds,temp_c'"),
        ("seconds,temp_c\n", "no rows after the header"),
        ("seconds,temp_c\n0,5\n1\n", "line 3: expected 2 columns"),
        ("seconds,temp_c\n0,5,6\n", "line 2: expected 2 columns"),
        ("seconds,temp_c\n0,5\nsoon,6\n", "line 3, column seconds: 'soon' is no number"),
        ("seconds,temp_c\n,5\n", "line 2, column seconds: '' is no number"),
        ("seconds,temp_c\n-1,5\n", "line 2, column seconds: -1 is before the start"),
        ("seconds,temp_c\n0,5\n\n0,6\n", "line 4, column seconds: 0 does not come after 0"),
        ("seconds,temp_c\n0,mild\n", "line 2, column temp_c: 'mild' is no number"),
        ("seconds,temp_c\n0,nan\n", "line 2, column temp_c: 'nan' is no number"),
        ("seconds,temp_c\n0,inf\n", "line 2, column temp_c: 'inf' is no number"),
    ],
)
def test_a_bad_script_is_refused_with_its_file_line_and_column(
    tmp_path: Path, text: str, place: str
) -> None:
    with pytest.raises(GreenkeeperError) as caught:
        group(tmp_path, HandClock(utc_s=0.0), text)
    assert str(tmp_path / "night.csv") in str(caught.value)
    assert place in str(caught.value)


def test_a_script_that_is_not_there_is_refused_with_the_system_s_words(tmp_path: Path) -> None:
    with pytest.raises(GreenkeeperError, match=r"none\.csv: .*No such file"):
        ScriptedGroup({"bench": tmp_path / "none.csv"}, HandClock(utc_s=0.0))


def test_a_script_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "night.csv"
    path.write_bytes(b"seconds,temp_c\n0,\xff\xfe\n")
    with pytest.raises(GreenkeeperError, match="not UTF-8"):
        ScriptedGroup({"bench": path}, HandClock(utc_s=0.0))


# --- contacts -----------------------------------------------------------------------------


def test_a_contact_is_so_not_so_or_unknown_as_the_script_says(tmp_path: Path) -> None:
    clock = HandClock(utc_s=0.0)
    path = tmp_path / "door.csv"
    path.write_text("# invented\nseconds,active\n10,1\n20,0\n30,\n")
    contacts = ScriptedContacts({"door": path}, clock)
    said = []
    for _ in range(4):
        said.append(contacts.read()["door"])
        clock.advance(10.0)
    unknown = "the script has no value here"
    assert said == [
        ContactReading(1000.0, None, unknown),
        ContactReading(1010.0, True),
        ContactReading(1020.0, False),
        ContactReading(1030.0, None, unknown),
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("seconds,temp_c\n0,1\n", "line 1: expected the header 'seconds,active'"),
        ("seconds,active\n0,on\n", "line 2, column active: 'on' is neither 1 nor 0"),
        ("seconds,active\n0,1,0\n", "line 2: expected 2 columns, seconds and active, found 3"),
        ("seconds,active\n", "no rows after the header; write at least one, such as 0,1"),
        ("seconds,active\n-1,0\n", "line 2, column seconds: -1 is before the start"),
    ],
)
def test_a_contacts_bad_script_is_refused_with_its_place(
    tmp_path: Path, text: str, words: str
) -> None:
    path = tmp_path / "door.csv"
    path.write_text(text)
    with pytest.raises(GreenkeeperError) as caught:
        ScriptedContacts({"door": path}, HandClock(utc_s=0.0))
    assert words in str(caught.value)
