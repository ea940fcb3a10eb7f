"""YAML itself: what a bare word means, and what a settings file has no use for."""

import pytest

from greenkeeper.settings import yamlnodes
from tests.settings.examples import changed, faults, said
from tests.support import tables


def _meaning(value: object) -> str:
    if value is None:
        return "null"
    if isinstance(value, bool):
        return f"bool {str(value).lower()}"
    return f"{type(value).__name__} {value:.10g}" if isinstance(value, float) else _plain(value)


def _plain(value: object) -> str:
    return f"{type(value).__name__} {value}"


@pytest.mark.parametrize("row", tables.rows("yaml_scalars"), ids=lambda row: row["text"] or "empty")
def test_a_bare_word_means_what_yaml_1_2_says_or_is_text(row: dict[str, str]) -> None:
    meaning = _meaning(yamlnodes.bare(row["text"]))
    assert meaning == row["here"]
    assert row["here"] in (row["core"], f"str {row['text']}")


def test_a_quoted_word_is_always_text() -> None:
    assert yamlnodes.read("""{a: '5', b: "true", c: 'null', d: ''}""", "f").data == {
        "a": "5",
        "b": "true",
        "c": "null",
        "d": "",
    }


def test_keys_are_words_whatever_they_look_like() -> None:
    document = yamlnodes.read("on: 1\n17: 2\nnull: 3\n1.5: 4\n", "f")
    assert document.data == {"on": 1, "17": 2, "null": 3, "1.5": 4}
    assert not document.faults


def test_a_whole_number_of_many_digits_neither_raises_nor_passes() -> None:
    for digits in (19, 400, 900):
        (fault,) = said(changed(("poll_s: 10", "poll_s: " + "9" * digits)))
        assert "poll_s: found" in fault
        (fault,) = said(changed(("setpoint_c: 5", "setpoint_c: " + "9" * digits)))
        assert "allowed -10 to 35 (°C)" in fault


# What is refused, and what is said of it; the place is that of the trap.
TRAPS = {
    "a key given twice": (
        ("poll_s: 10", "poll_s: 10\npoll_s: 20"),
        "house.yaml:6:1  poll_s: found this key again, first on line 5; allowed each key once",
    ),
    "a key given twice, deep inside": (
        ("      setpoint_c: 5", "      setpoint_c: 5\n      setpoint_c: 6"),
        "house.yaml:20:7  zones.bench.heat.setpoint_c: found this key again, first on line 19;"
        " allowed each key once",
    ),
    "an alias": (
        ("night: {from: '20:00', to: '07:00'}", "night: *usual"),
        "house.yaml:13:8  night: found *usual; allowed the value itself, written out",
    ),
    "an anchor": (
        ("poll_s: 10", "poll_s: &often 10"),
        "house.yaml:5:9  poll_s: found &often; allowed the value alone, without a mark",
    ),
    "an anchor on a key": (
        ("  output: fan", "  output: fan\n      &x hysteresis_k: 1"),
        "house.yaml:22:7  zones.bench.cool: found &x; allowed the value alone, without a mark",
    ),
    "a tag": (
        ("poll_s: 10", "poll_s: !!float 10"),
        "house.yaml:5:9  poll_s: found the tag tag:yaml.org,2002:float; allowed the value alone",
    ),
    "a merge key": (
        ("      output: fan", "      <<: {output: fan}\n      output: fan"),
        "house.yaml:21:7  zones.bench.cool.<<: found a merge key; allowed the keys themselves,"
        " written out",
    ),
    "a list as a key": (
        ("poll_s: 10", "poll_s: 10\n[a, b]: 5"),
        "house.yaml:6:1: found a key that is no plain word; allowed a word and a colon",
    ),
    "a second document": (
        ("poll_s: 10", "poll_s: 10\n---\nextra: 1"),
        "house.yaml:6:1: found a second document; allowed one, without a line of --- inside",
    ),
    "a tab in front": (
        ("  left: {", "\tleft: {"),
        "house.yaml:7:1: found a tab; allowed spaces, two for each level",
    ),
    "a tab after a colon": (
        ("poll_s: 10", "poll_s:\t10"),
        "house.yaml:5:8: found a tab; allowed spaces, two for each level",
    ),
    "an open quote": (
        ("from: '20:00'", "from: '20:00"),
        "house.yaml:13:8: found a group that is not closed properly;"
        " allowed one such as {kind: modelled, place: bench}",
    ),
    "an open quote to the end": (
        ("journal: {keep_days: 3650}", "journal: 'kept"),
        "house.yaml:26:10: found a quote that is never closed; allowed a quote at both ends,"
        " on one line",
    ),
    "an open bracket": (
        ("probes: [left, right]", "probes: [left, right"),
        "house.yaml:16:13: found a list that is not closed properly;"
        " allowed one such as [bench-left, bench-right]",
    ),
    "an open brace": (
        ("  fan: {kind: gpio, pin: 23}", "  fan: {kind: gpio, pin: 23"),
        "house.yaml:12:8: found a group that is not closed properly;"
        " allowed one such as {kind: modelled, place: bench}",
    ),
    "a line further left than its group": (
        ("      setpoint_c: 5", "     setpoint_c: 5"),
        "house.yaml:19:6: found a line that fits no group above it;"
        " allowed the same indentation within a group",
    ),
    "a line further right than its group": (
        ("  timezone: Europe/Brussels", "    timezone: Europe/Brussels"),
        "house.yaml:3:13: found a colon where no key can be; allowed one key: value on a line",
    ),
    "a line without a colon": (
        ("poll_s: 10", "poll_s 10"),
        "house.yaml:5:1: found a line without a colon; allowed lines such as key: value",
    ),
    "a dash where no list can begin": (
        ("poll_s: 10", "poll_s: - 10"),
        "house.yaml:5:9: found a dash where no list can begin;"
        " allowed each - item on a line of its own",
    ),
    "a sign that means something to YAML": (
        ("name: orchard", "name: @orchard"),
        "house.yaml:2:9: found the sign @; allowed that sign in quotes only",
    ),
    "a control character": (
        ("poll_s: 10", "poll_s: 1\x070"),
        "house.yaml:5:10: found the character U+0007; allowed text that can be seen",
    ),
    "an escaped control character": (
        ("name: plumbago", 'name: "plum\\abago"'),
        "house.yaml:25:12  plants[1].name: found a line break or a control character;"
        " allowed one line of plain text",
    ),
    "half a character": (
        ("name: plumbago", 'name: "\\ud800"'),
        "house.yaml:25:12  plants[1].name: found a line break or a control character;"
        " allowed one line of plain text",
    ),
    "an escape that is none": (
        ("name: plumbago", 'name: "plum\\qbago"'),
        "found a backslash with no meaning here; allowed backslashes between single quotes",
    ),
    "an escape beyond all characters": (
        ("name: plumbago", 'name: "\\UFFFFFFFF"'),
        "found text that is no YAML; allowed lines such as key: value",
    ),
    "a text of several lines": (
        ("  name: orchard", "  name: |\n    orchard"),
        "house.yaml:2:9  site.name: found a line break or a control character;"
        " allowed one line of plain text",
    ),
    "a text without end": (
        ("name: plumbago", "name: " + "a" * 1001),
        "allowed at most 1000 characters",
    ),
    "a directive for a number without end": (
        ("site:", "%YAML 1." + "1" * 5000 + "\n---\nsite:"),
        "house.yaml:1:1: found text that is no YAML; allowed lines such as key: value",
    ),
}


@pytest.mark.parametrize("trap", TRAPS)
def test_a_trap_is_named_with_its_place(trap: str) -> None:
    change, expected = TRAPS[trap]
    text = said(changed(change))
    assert any(expected in fault for fault in text), text


@pytest.mark.parametrize("trap", TRAPS)
def test_a_trap_is_told_once(trap: str) -> None:
    """It makes no second fault out of the value that could not be taken."""
    change, _ = TRAPS[trap]
    assert len(faults(changed(change))) == 1


@pytest.mark.parametrize("text", ["[" * 5000, "{a: " * 5000, "- " * 5000 + "x"])
def test_nesting_without_end_is_refused_and_not_followed(text: str) -> None:
    (fault,) = said(text)
    assert "found keys within keys without end; allowed at most 16 levels" in fault


def test_a_flood_of_keys_is_refused_before_it_costs_much() -> None:
    flood = said("".join(f"key{number}: 1\n" for number in range(50_000)))
    assert "found too much; allowed at most 20000 keys, values and brackets" in flood[-1]


def test_aliases_that_multiply_are_refused_one_by_one() -> None:
    levels = ["a0: &a0 [x, x]"] + [f"a{n}: &a{n} [*a{n - 1}, *a{n - 1}]" for n in range(1, 30)]
    assert len(faults("\n".join(levels))) >= 30


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing but words\n", "---\n", "null\n"])
def test_an_empty_file_says_what_it_needs(text: str) -> None:
    assert said(text) == [
        "house.yaml: found an empty file; allowed site, probes and zones at least"
    ]


@pytest.mark.parametrize(
    ("text", "found"), [("- site\n", "a list"), ("site\n", "site"), ("5", "5")]
)
def test_a_file_that_is_no_group_of_keys_is_refused(text: str, found: str) -> None:
    assert said(text) == [
        f"house.yaml:1:1: found {found}; allowed keys such as site, probes, zones"
    ]


def test_windows_line_ends_are_read_like_others() -> None:
    assert not faults(changed().replace("\n", "\r\n"))
