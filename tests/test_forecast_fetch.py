"""The forecast is asked for seldom and politely, of a real server on this machine."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from greenkeeper.forecast_fetch import FILE_NAME, MOST_BYTES, fetched
from greenkeeper.outlook.forecast import ForecastError
from greenkeeper.settings.schema import Forecast
from tests.support.weatherservice import IDENTITY, MODIFIED, NOW_S, Service, serving

PLACE = (50.812345, 4.412345)


@pytest.fixture
def service() -> Iterator[Forecast]:
    with serving() as settings:
        yield settings


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / FILE_NAME


def test_it_says_who_asks_and_no_more_of_the_place_than_four_decimals(
    service: Forecast, file: Path
) -> None:
    assert fetched(service, PLACE, file, NOW_S) == b'{"first": 1}'
    assert Service.asked == [("/compact?lat=50.8123&lon=4.4123", IDENTITY, None)]


def test_it_does_not_ask_again_before_the_answer_expires(service: Forecast, file: Path) -> None:
    fetched(service, PLACE, file, NOW_S)
    assert fetched(service, PLACE, file, NOW_S + 7000.0) == b'{"first": 1}'
    assert len(Service.asked) == 1


def test_afterwards_it_asks_only_for_what_has_changed(service: Forecast, file: Path) -> None:
    fetched(service, PLACE, file, NOW_S)
    assert fetched(service, PLACE, file, NOW_S + 7300.0) == b'{"first": 1}'
    assert Service.asked[-1][2] == MODIFIED
    fetched(service, PLACE, file, NOW_S + 7300.0 + 1700.0)
    assert len(Service.asked) == 2, "an answer that nothing changed is kept for half an hour"


def test_of_another_place_or_address_nothing_is_kept(service: Forecast, file: Path) -> None:
    fetched(service, PLACE, file, NOW_S)
    fetched(service, (51.0, 4.4), file, NOW_S + 1.0)
    assert Service.asked[-1] == ("/compact?lat=51.0000&lon=4.4000", IDENTITY, None)


@pytest.mark.parametrize(
    ("status", "why"),
    [
        (403, "refuses the identity"),
        (404, "is the address right"),
        (429, "too often"),
        (500, "500"),
    ],
)
def test_a_refusal_is_told_and_what_was_kept_goes_on(
    service: Forecast, file: Path, monkeypatch: pytest.MonkeyPatch, status: int, why: str
) -> None:
    monkeypatch.setattr(Service, "status", status)
    with pytest.raises(ForecastError, match=why):
        fetched(service, PLACE, file, NOW_S)
    monkeypatch.setattr(Service, "status", 200)
    fetched(service, PLACE, file, NOW_S)
    monkeypatch.setattr(Service, "status", status)
    assert fetched(service, PLACE, file, NOW_S + 7300.0) == b'{"first": 1}'


def test_nobody_there_is_told_and_what_was_kept_goes_on(service: Forecast, file: Path) -> None:
    nobody = service.model_copy(update={"url": "http://127.0.0.1:9/compact"})
    with pytest.raises(ForecastError, match="does not answer"):
        fetched(nobody, PLACE, file, NOW_S)


def test_an_endless_answer_is_not_read_to_its_end(
    service: Forecast, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Service, "body", b"x" * (MOST_BYTES + 10))
    with pytest.raises(ForecastError, match="larger than"):
        fetched(service, PLACE, file, NOW_S)


@pytest.mark.parametrize("spoilt", ["", "{}", "[" * 1000, '{"url": 1}'])
def test_a_spoilt_file_is_as_none(service: Forecast, file: Path, spoilt: str) -> None:
    file.write_text(spoilt)
    assert fetched(service, PLACE, file, NOW_S) == b'{"first": 1}'


def test_a_clock_that_was_ahead_keeps_nothing_fresh_for_years(
    service: Forecast, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Service, "expires_s", NOW_S + 3 * 365 * 86_400.0)
    fetched(service, PLACE, file, NOW_S)
    fetched(service, PLACE, file, NOW_S + 60.0)
    assert len(Service.asked) == 2


def test_a_card_that_takes_no_file_costs_only_the_asking(service: Forecast, tmp_path: Path) -> None:
    nowhere = tmp_path / "missing" / FILE_NAME
    assert fetched(service, PLACE, nowhere, NOW_S) == b'{"first": 1}'


@pytest.mark.parametrize("identity", ["short", "two\nlines of it", "ünlike anything"])
def test_an_identity_is_one_plain_line(identity: str) -> None:
    with pytest.raises(ValueError, match="identity"):
        Forecast(url="https://weather.example/compact", identity=identity)
