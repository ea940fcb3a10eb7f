"""Pictures: nothing that was low is thinned away, and silence is not drawn across."""

from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.journal.answers import OnTimes, Temperatures
from greenkeeper.page import axis, chart, thin
from greenkeeper.page.chart import Bar, Drawing, Limit, Line
from greenkeeper.page.figures import Figures
from greenkeeper.page.thin import Column, Grid
from greenkeeper.reports.night import Span

BRITISH = Figures(units="celsius", language="en-GB", timezone="Europe/Brussels")
AMERICAN = Figures(units="fahrenheit", language="en-US", timezone="Europe/Brussels")
DAY = Span(1_926_111_600.0, 1_926_198_000.0)  # 14 January 2031 in Brussels
TEMPS = st.floats(-30.0, 50.0)
SVG = "{http://www.w3.org/2000/svg}"


def row(minute: int, temp_c: float | None) -> Temperatures:
    return Temperatures(int(DAY.from_utc_s) + 60 * minute, 6, temp_c, temp_c, temp_c, 0)


# --- thinning --------------------------------------------------------------------------------


@given(st.lists(st.tuples(st.integers(0, 1439), TEMPS), min_size=1), st.integers(1, 400))
def test_the_lowest_and_the_highest_outlive_any_thinning(
    seen: list[tuple[int, float]], columns: int
) -> None:
    course = thin.temperatures([row(*each) for each in seen], Grid(DAY, columns))
    known = [column for column in course if column]
    assert min(column.low_c for column in known) == min(temp_c for _, temp_c in seen)
    assert max(column.high_c for column in known) == max(temp_c for _, temp_c in seen)
    assert all(column.low_c <= column.mean_c + 1e-9 for column in known)


def test_what_is_outside_the_span_is_not_in_the_picture() -> None:
    grid = Grid(DAY, 24)
    assert grid.of(DAY.from_utc_s) == 0
    assert grid.of(DAY.to_utc_s - 1.0) == 23
    assert grid.of(DAY.from_utc_s - 1.0) is None
    assert grid.of(DAY.to_utc_s) is None


def test_a_minute_without_a_measurement_is_silence() -> None:
    course = thin.temperatures([row(0, 5.0), row(60, None)], Grid(DAY, 24))
    assert course[0] == Column(5.0, 5.0, 5.0)
    assert course[1:] == [None] * 23
    assert thin.silences(course) == [(1, 24)]
    assert thin.silences([None, 1, 1, None, None]) == [(0, 1), (3, 5)]


def test_several_probes_are_shown_by_their_coldest_and_their_warmest() -> None:
    one, other = [Column(1.0, 2.0, 3.0), None], [Column(0.0, 4.0, 9.0), None]
    assert thin.together([one, other]) == [Column(0.0, 3.0, 9.0), None]


def test_the_share_of_the_time_that_something_ran() -> None:
    rows = [OnTimes(int(DAY.from_utc_s) + 60 * i, 15.0, 0) for i in range(60)]
    shares = thin.shares_on(rows, Grid(DAY, 24), 60.0)
    assert shares[0] == pytest.approx(0.25)
    assert shares[1] is None  # nobody watched, which is not off


def test_an_hour_fills_all_the_columns_it_covers() -> None:
    grid = Grid(DAY, 96)
    hours = [OnTimes(int(DAY.from_utc_s), 1800.0, 3)]
    assert thin.shares_on(hours, grid, 3600.0)[:5] == [0.5, 0.5, 0.5, 0.5, None]
    course = thin.temperatures([row(0, 5.0)], grid)
    assert thin.filled(course, grid, 3600.0)[3:5] == [Column(5.0, 5.0, 5.0), None]


# --- axes ------------------------------------------------------------------------------------


@given(TEMPS, TEMPS)
def test_round_steps_enclose_what_is_shown(one: float, other: float) -> None:
    low, high = sorted((one, other))
    ticks = axis.degrees(low, high)
    assert ticks[0] <= low + 1e-9
    assert ticks[-1] >= high - 1e-9
    assert 2 <= len(ticks) <= 8
    assert all(tick == round(tick) for tick in ticks)


def test_hours_of_a_day_are_those_on_the_wall() -> None:
    assert [words for _, words in axis.moments(DAY, BRITISH)] == [
        "00:00",
        "06:00",
        "12:00",
        "18:00",
    ]


def test_on_the_day_the_clock_goes_forward_an_hour_is_missing_and_no_label() -> None:
    # 30 March 2031: from 02:00 to 03:00 in Brussels, 23 hours long.
    span = Span(1_932_591_600.0, 1_932_591_600.0 + 23 * 3600.0)
    found = axis.moments(span, BRITISH)
    assert [words for _, words in found] == ["00:00", "06:00", "12:00", "18:00"]
    assert found[1][0] - found[0][0] == 5 * 3600.0


@pytest.mark.parametrize(
    ("days", "most"),
    [(1, 5), (3, 4), (7, 5), (10, 6), (31, 4), (62, 6), (184, 8), (365, 8), (3650, 14)],
)
def test_labels_never_crowd(days: int, most: int) -> None:
    found = axis.moments(Span(DAY.from_utc_s, DAY.from_utc_s + days * 86_400.0), BRITISH)
    assert 1 <= len(found) <= most


# --- drawing -----------------------------------------------------------------------------------


def drawing(course: list[Column | None]) -> Drawing:
    return Drawing(
        "a day <of> frost & sun",
        Grid(DAY, len(course)),
        [
            Line("bench", "inside", course, banded=True),
            Line(
                "outdoors",
                "outdoors",
                [c and Column(-3.0, -3.0, -3.0) for c in course],
                banded=False,
            ),
        ],
        [Limit("minimum of lemon", 4.0)],
        [Bar("heater", "heat", [0.5 if column else None for column in course])],
    )


def drawn(course: list[Column | None], figures: Figures = BRITISH) -> ElementTree.Element:
    return ElementTree.fromstring(str(chart.svg(drawing(course), figures)))  # noqa: S314 - our own


def test_a_gap_lifts_the_pen() -> None:
    some: Column | None = Column(5.0, 5.2, 5.5)
    root = drawn([some] * 20 + [None] * 20 + [some] * 20)
    lines = [each for each in root.iter(f"{SVG}path") if each.get("class") == "line inside"]
    assert len(lines) == 2
    (silent,) = [each for each in root.iter(f"{SVG}rect") if each.get("class") == "silence"]
    assert (silent.get("x"), silent.get("width")) == ("33.33%", "33.33%")
    assert "no record" in [each.text for each in root.iter(f"{SVG}text")]


def test_a_picture_without_a_measurement_says_so() -> None:
    root = drawn([None] * 60)
    assert "no record" in [each.text for each in root.iter(f"{SVG}text")]
    assert not [each for each in root.iter(f"{SVG}path") if "line" in (each.get("class") or "")]


def test_every_line_bears_its_name_and_every_place_its_figures() -> None:
    root = drawn([Column(5.0, 5.2, 5.5)] * 96)
    texts = [each.text for each in root.iter(f"{SVG}text")]
    assert {"bench", "outdoors", "heater", "minimum of lemon"} <= set(texts)
    titles = [each.text or "" for each in root.iter(f"{SVG}title")]
    assert len(titles) == 48
    assert titles[0].replace("\N{NO-BREAK SPACE}", " ") == (
        "00:00: bench 5.0 °C, outdoors −3.0 °C, heater 50 %"
    )
    assert root.get("role") == "img"
    assert root.get("aria-label") == "a day <of> frost & sun"


def test_the_picture_speaks_the_readers_degrees() -> None:
    root = drawn([Column(5.0, 5.2, 5.5)] * 96, AMERICAN)
    texts = [each.text or "" for each in root.iter(f"{SVG}text")]
    assert any(text.endswith("°F") for text in texts)
    assert not any("°C" in text for text in texts)


def test_nothing_in_a_picture_is_styled_within_it() -> None:
    root = drawn([Column(5.0, 5.2, 5.5)] * 96)
    assert not any(each.get("style") or each.get("onclick") for each in root.iter())


@given(st.lists(st.one_of(st.none(), TEMPS), min_size=1, max_size=120))
def test_curves_stay_within_the_plot(temps: list[float | None]) -> None:
    course = [None if each is None else Column(each, each, each) for each in temps]
    for path in drawn(course).iter(f"{SVG}path"):
        if "line" not in (path.get("class") or ""):
            continue
        first, _, rest = (path.get("d") or "").removeprefix("M").partition("l")
        x, y = map(int, first.split(","))
        for step in rest.split():
            dx, dy = map(int, step.split(","))
            x, y = x + dx, y + dy
            assert 0 <= y <= 200
            assert 0 <= x <= 1000
