"""The tariff's hours, and what is said where they do not fit together."""

from greenkeeper.settings import load
from tests.settings.examples import FILE, changed, said


def with_hours(*hours: str) -> str:
    lines = "".join(f"    - {{{each}}}\n" for each in hours)
    tariff = f"tariff:\n  per_kwh: 0.36\n  hours:\n{lines}"
    return changed(("journal: {keep_days: 3650}\n", tariff))


def test_hours_that_meet_are_sound() -> None:
    assert (
        said(
            with_hours(
                "from: '22:00', to: '06:00', days: weekdays, per_kwh: 0.24",
                "from: '06:00', to: '07:00', per_kwh: 0.3",
                "from: '07:00', to: '06:00', days: weekend, per_kwh: 0.24",
            )
        )
        == []
    )


def test_an_hour_has_one_price() -> None:
    assert said(
        with_hours(
            "from: '22:00', to: '06:00', per_kwh: 0.24",
            "from: '05:30', to: '09:00', days: weekend, per_kwh: 0.3",
        )
    ) == [
        "house.yaml:30:7  tariff.hours[2]: found 05:30 to 06:00, Saturday and Sunday, "
        "a second time;"
        " allowed hours that tariff.hours[1] does not have"
    ]


def test_the_same_hours_on_other_days_are_others() -> None:
    times = "from: '22:00', to: '06:00', per_kwh: 0.2"
    assert said(with_hours(f"{times}, days: weekdays", f"{times}, days: weekend")) == []


def test_hours_without_a_length() -> None:
    assert said(with_hours("from: '22:00', to: '22:00', per_kwh: 0.24")) == [
        "house.yaml:29:27  tariff.hours[1].to: found '22:00' twice;"
        " allowed two different times, or '00:00' twice for the whole day"
    ]


def test_a_price_out_of_range_and_an_unknown_day_are_named() -> None:
    first, second = said(with_hours("days: sundays, per_kwh: 0.24", "per_kwh: 240"))
    assert first.startswith("house.yaml:29:14  tariff.hours[1].days: found sundays; allowed all, ")
    assert second.startswith(
        "house.yaml:30:17  tariff.hours[2].per_kwh: found 240; allowed 0 to 100"
    )


def test_a_price_that_never_holds_is_remarked() -> None:
    (remark,) = load.parse_placed(with_hours("per_kwh: 0.24"), FILE).remarks()
    assert "tariff.per_kwh" in str(remark)
    assert "a price that never holds: hours names every hour" in str(remark)
