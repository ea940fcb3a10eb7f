"""What the pages say, asked over a real socket."""

import csv
import io
import re
import sqlite3
from contextlib import closing

import pytest

from tests.page import house as houses
from tests.page.house import NOW_UTC_S, SETTINGS, House
from tests.page.serving import Served, served

NO_BREAK = "\N{NO-BREAK SPACE}"


def words(text: str) -> str:
    """What of a page is read: no marks, single blanks, plain blanks before units."""
    bare = re.sub(r"<(head|title)\b.*?</\1>|<[^>]*>", " ", text, flags=re.DOTALL)
    return " ".join(bare.replace(NO_BREAK, " ").replace("&#39;", "'").split())


# --- now -----------------------------------------------------------------------------------


def test_the_first_sentence_says_how_things_are(page: Served) -> None:
    text = page.text()
    assert re.search(r'<h1 id="sentence">All plants safe\. Bench 6\.1', text)
    said = words(text)
    assert "2.1 K above the tenderest plant's minimum" in said
    assert "The keeper said so on Tue 14 Jan, 21:39, 4 s ago." in said
    assert "heater off since" in said.lower()
    assert "outdoors −1.3 °C" in said


def test_the_age_of_every_reading_is_told(page: Served) -> None:
    assert (
        len(
            re.findall(
                r"(bench-left|bench-right|ridge|outdoors) −?\d\.\d °C \d+ s ago", words(page.text())
            )
        )
        == 4
    )


def test_tonight_last_night_the_fortnight_and_the_winter_follow(page: Served) -> None:
    said = words(page.text())
    assert "Lay the fleece by 17:40 to save 2.1 of 5.3 kWh." in said
    assert "lowest −4.2 °C about 05:40; −6.0 °C to −2.1 °C eight nights in ten" in said
    assert "every plant stayed 0.2 K or more above its minimum" in said
    assert len(re.findall(r"(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d+ (?:Jan|Dec) −4\.0 °C", said)) == 14
    assert "2030/31 so far" in said


def test_what_is_wrong_comes_first(house: House) -> None:
    house.write_status(houses.alarm(houses.status(house)))
    with served(house) as page:
        text = page.text()
    assert "<title>fern-corner: alarm</title>" in text
    assert text.index("What is wrong") < text.index("What runs")
    assert (
        "Alarm: bench: plants are below their minimum 3.4 °C, 0.6 K below the minimum of lemon"
        in words(text)
    )


def test_a_stopped_keeper_looks_dead(house: House) -> None:
    house.write_journal(2)
    with served(house) as page:
        text = page.text()
    assert '<h1 id="sentence">No keeper is running: nobody guards the plants.</h1>' in text
    assert "safe" not in words(text)


def test_a_silent_keeper_looks_dead_and_what_it_said_is_of_the_past(house: House) -> None:
    house.write_status(houses.status(house, at_utc_s=NOW_UTC_S - 900.0))
    with served(house) as page:
        text = page.text()
    said = words(text)
    assert (
        '<h1 id="sentence">Nobody may be guarding the plants. The keeper has said nothing for'
        in text
    )
    assert "It last said: All plants safe." in said
    assert said.index("Not guarded") < said.index("All plants safe")
    assert "Plants, as last known" in said
    assert "bench-left 6.1 °C 15 min ago" in said


@pytest.mark.parametrize("content", ["", "{", "[]", '{"format": 1}', '{"format": 2}'])
def test_a_status_file_that_makes_no_sense_is_no_sign_of_life(house: House, content: str) -> None:
    (house.runtime / "status.json").write_text(content)
    with served(house) as page:
        answer = page.ask()
    assert answer.status == 200
    assert "nobody guards the plants" in answer.text
    assert "status" in words(answer.text)


def test_the_first_day_has_no_journal_and_says_so(house: House) -> None:
    house.write_status(houses.status(house))
    with served(house) as page:
        said = words(page.text())
        assert "All plants safe." in said
        assert said.count("there is no journal; the keeper makes it when it first runs") == 1
        assert "Nothing has been worked out for the coming night." in said
        for path in ("/history", "/outlook", "/season"):
            assert page.ask(path).status == 200


def test_a_journal_without_a_row_is_an_empty_night(house: House) -> None:
    house.write_status(houses.status(house))
    house.write_journal(1)
    with closing(sqlite3.connect(house.journal)) as db:
        for table in ("minute", "hour", "output_minute", "output_hour", "event", "switching"):
            db.execute(f"DELETE FROM {table}")  # noqa: S608 - own words
        db.commit()
    with served(house) as page:
        said = words(page.text())
    assert "nothing was measured, so nobody knows" in said
    assert "no record" in said


def test_a_damaged_journal_takes_nothing_but_its_own_part(house: House) -> None:
    house.write_status(houses.status(house))
    house.journal.write_bytes(b"no database at all, but long enough to be read as one" * 50)
    with served(house) as page:
        said = words(page.text())
    assert "All plants safe." in said
    assert "is damaged or no journal at all" in said


# --- settings --------------------------------------------------------------------------------


def test_new_settings_are_taken_without_a_restart(house: House) -> None:
    house.write_status(houses.status(house))
    with served(house) as page:
        assert "2.1 K above" in words(page.text())
        house.write_settings(f"{SETTINGS}page: {{units: fahrenheit, language: de-AT}}\n")
        said = words(page.text())
    assert "Bench 43,0 °F" in said
    assert "3,8 °F above the tenderest plant's minimum" in said
    assert "Di., 14. Jän., 21:39" in said


def test_faulty_settings_are_told_and_the_old_ones_stand(house: House) -> None:
    house.write_status(houses.status(house))
    with served(house) as page:
        house.write_settings("site: {}\n")
        said = words(page.text())
        assert "The settings file has faults (greenkeeper check names them)." in said
        assert "All plants safe." in said
        house.write_settings(SETTINGS)
        assert "has faults" not in page.text()
        house.file.unlink()
        assert "cannot be read any more" in words(page.text())


# --- history -----------------------------------------------------------------------------------


def test_any_span_can_be_looked_at(page: Served) -> None:
    assert "8 Jan 2031 to 14 Jan 2031" in words(page.text("/history"))
    said = words(page.text("/history?view=night&day=2031-01-10"))
    assert "The night of 10 Jan 2031" in said
    assert "Fri 10 Jan −4.0 °C" in said
    assert "1 Jan 2031 to 31 Jan 2031" in words(page.text("/history?view=month&day=2031-01-10"))
    assert "1 Jul 2030 to 30 Jun 2031" in words(page.text("/history?view=winter"))
    assert "3 Jan 2031 to 5 Jan 2031" in words(page.text("/history?from=2031-01-03&to=2031-01-05"))


def test_what_was_told_is_told_again(page: Served) -> None:
    said = words(page.text("/history?view=day"))
    assert "Tue 14 Jan, 20:40 bench: 3.8 °C, 0.2 K below the minimum of lemon" in said


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("view=moon", "view is one of day, night, week, month, winter"),
        ("view=day&day=yesterday", "'yesterday' is no day: write it as 2031-01-14"),
        ("from=2031-01-05&to=2031-01-03", "from 2031-01-05 to 2031-01-03 runs backwards"),
        ("from=0001-01-01&to=2031-01-03", "a day from 2000 to 2200"),
        ("from=2001-01-01&to=2031-01-03", "longer than twelve years"),
        ("from=<script>alert(1)</script>", "&lt;script&gt;"),
    ],
)
def test_a_span_that_makes_no_sense_is_refused_in_words(
    page: Served, query: str, said: str
) -> None:
    answer = page.ask(f"/history?{query}".replace("<", "%3C").replace(">", "%3E"))
    assert answer.status == 400
    assert said in answer.text.replace("&#39;", "'")


def test_the_record_leaves_as_it_is_in_the_journal(page: Served, lived_in: House) -> None:
    answer = page.ask("/history.csv?table=minutes&from=2031-01-10&to=2031-01-11")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert 'filename="fern-corner-minutes-2031-01-10.csv"' in answer.headers["content-disposition"]
    rows = list(csv.DictReader(io.StringIO(answer.text, newline="")))
    with closing(sqlite3.connect(lived_in.journal)) as db:
        (count, low_c) = db.execute(
            "SELECT count(*), min(low_c) FROM minute"
            " WHERE utc_s >= strftime('%s', '2031-01-09T23:00') + 0"
            " AND utc_s < strftime('%s', '2031-01-11T23:00') + 0"
        ).fetchone()
    assert len(rows) == count > 5000
    assert min(float(row["low_c"]) for row in rows) == low_c
    assert page.ask("/history.csv?table=secrets").status == 400


# --- outlook and season ------------------------------------------------------------------------


def test_the_outlooks_are_held_against_what_came(page: Served) -> None:
    said = words(page.text("/outlook"))
    assert "The coming night" in said
    assert "outdoors, by the last nights: 12 nights, 0.2 K out on average, +0.2 K bias" in said
    assert "Mon 13 Jan −4.0 °C +0.2 K 4.2 °C −0.4 K" in said


def test_the_season_is_worked_out_and_told(page: Served) -> None:
    for _ in range(100):
        said = words(page.text("/season"))
        if "This is being worked out" not in said:
            break
    assert "winter-lining" in said
    assert "held at kWh EUR change 3.0 °C" in said
    assert "if both were a fifth better or worse" in said


def test_a_season_that_cannot_be_worked_out_says_why(house: House) -> None:
    house.write_settings(SETTINGS.replace("  monthly_mean_c", "  #monthly_mean_c"))
    with served(house) as page:
        assert "no weather: give a file" in words(page.text("/season"))


# --- size ----------------------------------------------------------------------------------------


def test_no_page_takes_long_over_a_thin_line(page: Served) -> None:
    assets = sum(len(page.ask(f"/{name}").text) for name in ("page.css", "page.js", "icon.svg"))
    for path in ("/", "/history?view=winter", "/outlook", "/season"):
        assert len(page.text(path).encode()) + assets < 60_000
