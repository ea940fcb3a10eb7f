"""Weather files: read as other readers read them, and refused as a whole where they are wrong."""

import math
import statistics
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.house.records import sky
from greenkeeper.house.records.faults import WeatherError
from greenkeeper.house.records.read import parse
from greenkeeper.house.records.record import Columns, Place, Record
from greenkeeper.house.records.summary import monthly_means_c, summary
from tests.support.weatherfiles import (
    GREENSBORO,
    SAND_POINT,
    epw_of_greensboro,
    german_csv,
    german_rows,
)


@cache
def greensboro() -> Record:
    return parse(GREENSBORO.read_bytes(), "greensboro.csv")


def utc_s(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


# --- as others read them -----------------------------------------------------------------------


def test_a_tmy3_year_is_the_one_pvlib_reads() -> None:
    theirs, meta = pvlib.iotools.read_tmy3(GREENSBORO, map_variables=True)
    ours = greensboro()
    assert ours.columns.outdoor_c == list(theirs["temp_air"])
    assert ours.columns.sun_w_m2 == list(theirs["ghi"])
    assert ours.columns.diffuse_w_m2 == list(theirs["dhi"])
    assert ours.columns.wind_m_s == list(theirs["wind_speed"])
    assert ours.place is not None
    assert ours.place[1:] == (meta["latitude"], meta["longitude"], meta["TZ"])


def test_an_epw_year_is_the_one_pvlib_reads(tmp_path: Path) -> None:
    file = tmp_path / "year.epw"
    file.write_text(epw_of_greensboro())
    theirs, meta = pvlib.iotools.read_epw(file)
    ours = parse(file.read_bytes(), "year.epw")
    assert ours.columns.outdoor_c == list(theirs["temp_air"])
    assert ours.columns.sun_w_m2 == list(theirs["ghi"])
    assert ours.columns.wind_m_s == list(theirs["wind_speed"])
    assert ours.columns.sky_c is None  # 9999 all the year: not given
    assert ours.place is not None
    assert ours.place[1:] == (meta["latitude"], meta["longitude"], meta["TZ"])


# Worked out apart from this program, from the same files, when they were chosen.
@pytest.mark.parametrize(
    ("file", "lowest", "highest", "mean", "frost_h", "below_h", "degree_hours"),
    [
        (GREENSBORO, -16.7, 35.6, 14.42, 792, 1591, 9605),
        (SAND_POINT, -10.6, 19.4, 4.42, 1640, 4778, 21335),
    ],
)
def test_a_years_figures_are_the_known_ones(
    file: Path, lowest: float, highest: float, mean: float,
    frost_h: int, below_h: int, degree_hours: float,
) -> None:  # fmt: skip
    found = summary(parse(file.read_bytes(), file.name), base_c=5.0)
    assert (found.lowest_c, found.highest_c) == (lowest, highest)
    assert found.mean_c == pytest.approx(mean, abs=0.005)
    assert (found.frost_h, found.below_h) == (frost_h, below_h)
    assert found.degree_hours_kh == pytest.approx(degree_hours, abs=0.5)


@pytest.mark.parametrize(("region", "mean", "degree_hours"), [(5, 10.36, 7038), (13, 8.59, 16833)])
def test_a_german_year_comes_through_plain_csv(
    region: int, mean: float, degree_hours: float
) -> None:
    found = summary(parse(german_csv(region).encode(), "year.csv", Place("Essen", 51.4, 6.97, 0)))
    assert found.mean_c == pytest.approx(mean, abs=0.005)
    assert found.degree_hours_kh == pytest.approx(degree_hours, abs=0.5)


def test_monthly_means_are_those_of_the_files_own_months() -> None:
    frame, _ = pvlib.iotools.read_tmy3(GREENSBORO, map_variables=True)
    ours = monthly_means_c(greensboro())
    rows = list(frame["temp_air"])
    assert ours[2025, 1] == pytest.approx(statistics.fmean(rows[: 31 * 24]))
    assert ours[2025, 12] == pytest.approx(statistics.fmean(rows[-31 * 24 :]))
    assert len(ours) == 12


@pytest.mark.parametrize("region", [3, 5, 13])
def test_a_sky_worked_out_from_clouds_is_near_the_measured_one(region: int) -> None:
    """Against the long-wave radiation of German test years, whose dew point follows from
    their relative humidity (WMO-No. 8, annex 4.B). Clear skies, which cool, come nearer."""
    errors: list[tuple[float, float]] = []  # eighths of cloud, how much too warm
    for row in german_rows(region):
        eighths, temp_c, humidity = float(row[5]), float(row[8]), float(row[11])
        if eighths > 8.0:
            continue  # 9: the sky could not be seen
        e = math.log(humidity / 100.0) + 17.62 * temp_c / (243.12 + temp_c)
        (ours,) = sky.from_clouds_c([temp_c], [243.12 * e / (17.62 - e)], [eighths * 1.25])
        (measured,) = sky.temperatures_c([float(row[16])])
        errors.append((eighths, ours - measured))
    assert abs(statistics.fmean(error for _, error in errors)) < 4.0
    assert abs(statistics.fmean(error for cloud, error in errors if cloud <= 1.0)) < 2.0


# --- between the rows ---------------------------------------------------------------------------


def test_at_a_rows_moment_the_air_is_the_rows() -> None:
    record = greensboro()
    for row in (0, 1, 844, 4000, 8758, 8759):
        assert record.at(record.row_utc_s(row)).outdoor_c == pytest.approx(
            record.columns.outdoor_c[row]
        )


def test_half_way_between_two_rows_it_is_half_way() -> None:
    record = greensboro()
    between = record.at(record.row_utc_s(100) + 1800.0)
    before, after = record.columns.outdoor_c[100:102]
    assert between.outdoor_c == pytest.approx((before + after) / 2.0)


def test_an_hours_sun_stands_in_the_middle_of_its_hour() -> None:
    record = greensboro()
    noon = 12 + 24 * 40
    assert record.columns.sun_w_m2 is not None
    found = record.at(record.row_utc_s(noon) - 1800.0)
    assert found.sun_w_m2 == pytest.approx(record.columns.sun_w_m2[noon])


def test_a_years_sun_keeps_its_energy_between_the_rows() -> None:
    record = greensboro()
    assert record.columns.sun_w_m2 is not None
    begins = record.row_utc_s(0)
    quarter_hours = [record.at(begins + 900.0 * i + 450.0).sun_w_m2 for i in range(365 * 96)]
    assert sum(quarter_hours) / 4.0 == pytest.approx(sum(record.columns.sun_w_m2), rel=1e-3)


@given(year=st.integers(1990, 2040), row=st.integers(0, 8759))
def test_a_typical_year_comes_again_every_year(year: int, row: int) -> None:
    record = greensboro()
    moment = record.row_utc_s(row, year)
    assert record.at(moment).outdoor_c == pytest.approx(record.columns.outdoor_c[row])
    local = datetime.fromtimestamp(moment - 5 * 3600.0 - 1.0, UTC)
    assert local.year == year
    assert (local.month, local.day) != (2, 29)


def test_a_typical_years_29_february_is_like_the_day_before() -> None:
    record = greensboro()
    assert record.at(utc_s("2028-02-29T17:00Z")) == record.at(utc_s("2028-02-28T17:00Z"))._replace(
        ground_c=record.at(utc_s("2028-02-29T17:00Z")).ground_c
    )


def test_a_leap_years_own_29_february_is_kept() -> None:
    lines = epw_of_greensboro().splitlines(keepends=True)
    head, rows = lines[:8], lines[8:]
    at = 59 * 24  # before 1 March
    day = [
        ",".join(["1988", "2", "29", str(hour), "60", "A7", "-9.9", *rows[0].split(",")[7:]])
        for hour in range(1, 25)
    ]
    record = parse("".join([*head, *rows[:at], *day, *rows[at:]]).encode(), "leap.epw")
    assert len(record) == 366 * 24
    assert record.at(utc_s("2028-02-29T17:00Z")).outdoor_c == pytest.approx(-9.9)
    assert record.at(utc_s("2027-03-01T17:00Z")).outdoor_c == pytest.approx(
        greensboro().at(utc_s("2027-03-01T17:00Z")).outdoor_c
    )


def test_the_soil_a_metre_down_is_warmest_after_summer_and_hardly_freezes() -> None:
    record = greensboro()
    months = [record.at(utc_s(f"2025-{month:02d}-15T12:00Z")).ground_c for month in range(1, 13)]
    assert months.index(max(months)) + 1 in (8, 9)
    assert months.index(min(months)) + 1 in (2, 3)
    air = monthly_means_c(record).values()
    assert max(months) - min(months) < max(air) - min(air)


def test_a_measured_span_ends_where_it_ends() -> None:
    record = Record(Columns([1.0] * 30), place=None, first_utc_s=0.0)
    assert record.span == (0.0, 29 * 3600.0)
    with pytest.raises(ValueError, match="does not reach"):
        record.at(30 * 3600.0)


# --- what is refused, and how ----------------------------------------------------------------


def table(*, hours: int = 48, head: str = "time,outdoor_c") -> list[str]:
    begins = utc_s("2031-01-14T00:00Z")
    stamps = (datetime.fromtimestamp(begins + 3600.0 * i, UTC) for i in range(hours))
    return [
        head,
        *(f"{stamp:%Y-%m-%dT%H:%M}Z,{-3.0 + i / 10:.1f}" for i, stamp in enumerate(stamps)),
    ]


def refused(content: str | bytes, place: Place | None = None) -> str:
    raw = content.encode() if isinstance(content, str) else content
    with pytest.raises(WeatherError) as error:
        parse(raw, "year.csv", place)
    return str(error.value)


def changed_epw(change: Callable[[list[str]], None]) -> str:
    lines = epw_of_greensboro().splitlines()
    change(lines)
    return "\n".join(lines)


def set_cell(line: int, column: int, text: str) -> Callable[[list[str]], None]:
    def change(lines: list[str]) -> None:
        cells = lines[line - 1].split(",")
        cells[column - 1] = text
        lines[line - 1] = ",".join(cells)

    return change


@pytest.mark.parametrize(
    "content",
    ["", "\n", "site: {name: house}\n", "<html>no</html>", "a,b,c\n1,2,3\n", '{"time": 1}'],
)
def test_what_is_no_weather_is_told_so(content: str) -> None:
    told = refused(content)
    assert "no weather file" in told
    assert "EPW" in told
    assert "TMY3" in told
    assert "time,outdoor_c" in told


def test_a_packed_file_is_told_so() -> None:
    assert "Unpack it first?" in refused(b"PK\x03\x04\0\0\0\0")


TABLE = "time,outdoor_c\n2031-01-14T00:00Z,3.5\n"


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("date,low_c,high_c\n2031-01-14,-3,4\n", "greenkeeper season takes it as it is"),
        (TABLE.replace(",", ";"), "Put commas between its columns, and points into its numbers"),
        (TABLE.replace("3.5", "3,5"), "Numbers have a point, not a comma: 3.5"),
        (TABLE.encode("utf-16"), "Save it as CSV in UTF-8."),
        (TABLE, "Was the file cut short?"),
        (TABLE.replace("3.5", ""), "Each row wants one: nothing is guessed."),
        (TABLE.replace("3.5", "nan"), "Each row wants one: nothing is guessed."),
    ],
)
def test_a_table_from_a_spreadsheet_is_told_what_to_do_about_it(
    content: str | bytes, told: str
) -> None:
    assert told in refused(content)


def test_a_year_cut_short_says_where_it_ends() -> None:
    whole = epw_of_greensboro()
    told = refused(whole[: whole.index("\n1988,1,31,") + 1] if "\n1988,1,31," in whole
                   else "\n".join(whole.splitlines()[: 8 + 30 * 24]))  # fmt: skip
    assert "the end before 31 Jan 01:00" in told
    assert "Was the file cut short?" in told


def test_a_row_cut_short_says_which() -> None:
    lines = epw_of_greensboro().splitlines()
    told = refused("\n".join([*lines[:100], lines[100][:30]]))
    assert told.startswith("year.csv:101: found")
    assert "columns" in told


def test_only_a_head_is_refused() -> None:
    assert "the end before 1 Jan 01:00" in refused("\n".join(epw_of_greensboro().splitlines()[:8]))
    assert "DATA PERIODS" in refused(epw_of_greensboro().splitlines()[0])
    assert "0 rows of weather" in refused("time,outdoor_c\n")


def test_a_missing_hour_says_which_and_where() -> None:
    told = refused(changed_epw(lambda lines: lines.pop(32)))
    assert told.startswith("year.csv:33  columns 2 to 4 (Month, Day, Hour): found 2 Jan 02:00")
    assert "allowed 2 Jan 01:00, the next hour" in told


def test_an_hour_twice_is_refused() -> None:
    told = refused(changed_epw(lambda lines: lines.insert(32, lines[31])))
    assert "found 1 Jan 24:00; allowed 2 Jan 01:00" in told


@pytest.mark.parametrize(
    ("column", "text", "told"),
    [
        (7, "283.2", "column 7 (Dry Bulb Temperature): found '283.2'; allowed -75 to 60 °C"),
        (7, "abc", "column 7 (Dry Bulb Temperature): found 'abc'"),
        (7, "nan", "found 'nan'; allowed -75 to 60 °C"),
        (7, "99.9", "column 7 (Dry Bulb Temperature): found nothing ('99.9'), the first of 1"),
        (14, "3600", "Is it kJ/m² or J/cm² in an hour?"),
        (14, "-200", "allowed -15 to 1500 W/m²"),
        (22, "120", "Is it in km/h or knots?"),
        (22, "", "the first of 1"),
    ],
)
def test_a_wrong_value_says_line_column_and_what_is_allowed(
    column: int, text: str, told: str
) -> None:
    found = refused(changed_epw(set_cell(500, column, text)))
    assert found.startswith("year.csv:500  ")
    assert told in found


def test_29_february_of_a_year_that_has_none_is_refused() -> None:
    lines = GREENSBORO.read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("03/01/"))
    lines[at] = "02/29/1990" + lines[at][10:]
    told = refused("\n".join(lines))
    assert f"year.csv:{at + 1}" in told
    assert "an hour of a year" in told


def test_half_a_29_february_is_refused() -> None:
    lines = epw_of_greensboro().splitlines()
    at = 8 + 59 * 24
    half = [lines[8].replace("1988,01,01,1", "1988,2,29,1")]
    told = refused("\n".join([*lines[:at], *half, *lines[at:]]))
    assert "found 1 Mar 01:00; allowed 29 Feb 02:00" in told


def test_the_wrong_hemisphere_is_noticed() -> None:
    told = refused(epw_of_greensboro(latitude=-36.1))
    assert "June to August as the warmest season at latitude -36.1" in told
    assert "latitude's sign" in told


def test_a_winter_in_fahrenheit_is_noticed() -> None:
    """Two months of an inland winter: 27 to 50 in °F are figures that °C knows too."""
    hours = [38.0 + 11.0 * math.sin(hour / 24.0 * math.tau) for hour in range(59 * 24)]
    begins = datetime(2026, 1, 1, tzinfo=UTC)
    rows = [
        f"{(begins + timedelta(hours=hour)).isoformat()},{temp:.1f}"
        for hour, temp in enumerate(hours)
    ]
    text = "\n".join(["time,outdoor_c", *rows])
    assert "Fahrenheit" in refused(text, Place("", 51.4, 7.0, 0.0))
    assert parse(text.encode(), "year.csv", Place("", -33.9, 151.2, 0.0)), "a hot southern summer"


def test_the_wrong_side_of_greenwich_is_noticed() -> None:
    told = refused(epw_of_greensboro(longitude=79.95))
    assert "of the sun's energy while the sun is down" in told
    assert "longitude's sign" in told


def test_a_csv_is_held_against_the_houses_own_place() -> None:
    assert "longitude's sign" in refused(german_csv(5), Place("", 51.4, -150.0, 0.0))


@pytest.mark.parametrize("bad", ["LOCATION,x", "LOCATION,a,b,c,d,e,f,g,h,i"])
def test_a_place_that_is_none_is_refused(bad: str) -> None:
    assert "year.csv:1" in refused(changed_epw(lambda lines: lines.__setitem__(0, bad)))


def test_a_place_off_the_earth_is_refused() -> None:
    assert "-90 to 90" in refused(epw_of_greensboro(latitude=361.0))


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda rows: rows.pop(7), "120 minutes after the row before; allowed 60 minutes"),
        (lambda rows: rows.insert(7, rows[6]), "0 minutes after the row before"),
        (lambda rows: rows.__setitem__(7, "2031-01-14T06:00,1"), "UTC offset"),
        (lambda rows: rows.__setitem__(7, "2031-02-29T06:00Z,1"), "29 February"),
        (lambda rows: rows.__setitem__(7, rows[7][:17]), "1 columns; allowed 2"),
        (lambda rows: rows.__setitem__(7, "2031-01-14T06:00Z,"), "found nothing; allowed -75"),
        (lambda rows: rows.__setitem__(7, "2031-01-14T06:00Z,250"), "kelvin or tenths"),
        (lambda rows: rows.__setitem__(0, "time,outdoor"), "found 'outdoor'; allowed time,"),
        (lambda rows: rows.__setitem__(0, "time,wind_m_s"), "one of outdoor_c and outdoor_f"),
        (lambda rows: rows.__setitem__(2, "2031-01-15T00:00Z,1"), "1 to 60 minutes"),
    ],
)  # fmt: skip
def test_a_table_that_is_wrong_says_where(change: Callable[[list[str]], None], told: str) -> None:
    rows = table()
    change(rows)
    assert told in refused("\n".join(rows))


def test_fahrenheit_that_says_so_is_taken() -> None:
    rows = [line.replace(line.split(",")[1], "23.0") if i else "time,outdoor_f"
            for i, line in enumerate(table())]  # fmt: skip
    assert parse("\n".join(rows).encode(), "year.csv").columns.outdoor_c[0] == pytest.approx(-5.0)


def test_reading_a_year_takes_no_longer_than_a_breath() -> None:
    began = time.process_time()
    parse(GREENSBORO.read_bytes(), "greensboro.csv")
    assert time.process_time() - began < 10.0  # only against something quadratic
