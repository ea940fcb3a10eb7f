"""The few sentences at the head of a rehearsal: what came of it, and what to do."""

from greenkeeper.commands.rehearse_verdict import paragraphs
from greenkeeper.rehearsal.ledger import Hour, Result, Told, ZoneFigures
from greenkeeper.settings.schema import Settings
from tests.rehearsal.houses import settings

PLUMBAGO_C = 4.0  # the demo's tenderest plant


def hour(low_c: float, *, heated: float = 0.5, locked: bool = False) -> Hour:
    below_s = 3600.0 if low_c < PLUMBAGO_C else 0.0
    return Hour(0.0, low_c, low_c + 1.0, low_c + 2.0, -5.0, 0.4, heated, 0.0, None, below_s, locked)


def result(*hours: Hour, high_c: float = 20.0, above_s: float = 0.0, **more: object) -> Result:
    low_c = min(each.low_c for each in hours)
    below_s = sum(each.below_s for each in hours)
    zone = ZoneFigures(
        "bench", PLUMBAGO_C, 30.0, low_c, 0.0, 6.0, high_c, 0.0, below_s, 1.0, above_s, 1.0, low_c,
        hours,
    )  # fmt: skip
    found = Result(0.0, 1.0, 1, (zone,), (), 1.0, (), None, frozenset(), 0.0)
    return found._replace(**more)


def told(found: Result, of: Settings | None = None) -> str:
    return " ".join(paragraphs(found, of or settings()))


def changed(**heat: object) -> Settings:
    found = settings()
    zone = found.zones["bench"]
    assert zone.heat is not None
    heated = zone.model_copy(update={"heat": zone.heat.model_copy(update=heat)})
    return found.model_copy(update={"zones": {**found.zones, "bench": heated}})


def test_plants_that_were_kept_are_told_with_the_one_that_came_nearest() -> None:
    said = told(result(hour(6.0), hour(4.3)))
    assert said.startswith("Every plant was kept. plumbago in bench came nearest")
    assert "0.3 K above it" in said


def test_dips_ask_for_a_higher_setpoint_and_say_how_high() -> None:
    said = told(result(hour(5.0), hour(3.35)), changed(setpoint="from-plants", margin_k=0.5))
    assert said.startswith(
        "NOT KEPT: bench was below the 4.0 °C of plumbago for 1 h 00 min, by up to"
    )
    assert "zones.bench.heat.margin_k: 1.2" in said
    assert "strategy: proportion" in said
    said = told(result(hour(3.35)), changed(setpoint=None, setpoint_c=4.0))
    assert "raise the setpoints of zones.bench.heat by 0.7 K" in said


def test_who_has_proportion_already_is_not_told_to_take_it() -> None:
    assert "let heat come" not in told(result(hour(3.35)), changed(strategy="proportion"))


def test_a_heater_at_its_limit_is_no_matter_of_the_setpoint() -> None:
    said = told(result(hour(5.0, heated=1.0), hour(3.0, heated=1.0)))
    assert "1 h 00 min of that the heater ran without a pause and was not enough" in said
    assert "margin_k" not in said
    assert "setpoint" not in said


def test_hours_of_a_lock_out_are_told_apart_from_dips() -> None:
    hours = hour(1.0, locked=True), hour(1.5), hour(5.0), hour(3.9)
    said = told(result(*hours, told=(Told("over-ceiling", "bench", 1, 0.0, "hot"),), cleared=1))
    assert "2 h 00 min of that all heat was locked out" in said  # and the hour after it
    assert "In 1 h 00 min of that the air dips" in said
    assert "margin_k: 1.1" in said
    assert "All heat was locked out once" in said
    assert "zones.bench.ceiling_clears" in said


def test_a_house_too_warm_is_told_by_whom() -> None:
    plants = tuple(plant.model_copy(update={"max_c": 30.0}) for plant in settings().plants)
    hot = settings().model_copy(update={"plants": plants})
    said = told(result(hour(9.0), high_c=33.0, above_s=5400.0), hot)
    assert "TOO WARM: bench was above the 30.0 °C" in said
    assert "for 1 h 30 min, by up to 3.0 K" in said
