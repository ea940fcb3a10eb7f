"""Whatever was answered, the file that is written can be used and says just that."""

from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.pins import Level
from greenkeeper.settings.load import parse_placed
from greenkeeper.settings.switches import GpioOutput
from greenkeeper.setup.answers import Answers
from greenkeeper.setup.writing import settings_text

# Quiet ones, in any number a house may have.
PINS = (16, 17, 22, 23, 24, 25, 26, 27)

# Among them words that are no text in YAML, and such as look like numbers.
NAMES = st.one_of(
    st.sampled_from(["true", "null", "5", "1e5", "on", "no", "bench"]),
    st.from_regex(r"[a-z0-9]+(-[a-z0-9]+)?", fullmatch=True).filter(lambda text: len(text) < 20),
)


TENTHS = st.integers(-50, 200).map(lambda tenths: tenths / 10)


@st.composite
def houses(draw: st.DrawFn) -> Answers:
    probes = draw(st.lists(NAMES, min_size=1, max_size=4, unique=True))
    outputs = draw(st.lists(NAMES, min_size=2, max_size=4, unique=True))
    zone = draw(NAMES)
    plants = draw(
        st.lists(
            st.tuples(st.text(min_size=1, max_size=20).filter(_printable), TENTHS),
            max_size=3,
        )
    )
    return Answers.model_validate(
        {
            "cautions": "read",
            "site": {"name": draw(NAMES), "timezone": "Europe/Brussels"},
            "probes": {name: f"28-{number:012x}" for number, name in enumerate(probes)},
            "outputs": {
                name: {
                    "pin": pin,
                    "on_level": draw(st.sampled_from(Level)),
                    "power_w": draw(st.none() | st.integers(1, 20_000).map(float)),
                }
                for name, pin in zip(outputs, PINS, strict=False)
            },
            "zones": {
                zone: {
                    "probes": probes,
                    "heater": outputs[0],
                    "heat_c": draw(TENTHS),
                    "fan": draw(st.none() | st.just(outputs[1])),
                    "cool_c": 30.0,
                }
            },
            "plants": [{"name": name, "zone": zone, "min_c": low} for name, low in plants],
            "tariff": {"currency": draw(st.sampled_from(["EUR", "£", "kr"])), "per_kwh": 0.3},
        }
    )


def _printable(text: str) -> bool:
    return text.isprintable() and bool(text.strip())


@settings(max_examples=40, deadline=None)
@given(houses())
def test_every_house_that_can_be_answered_is_written_as_settings_that_hold(house: Answers) -> None:
    found = parse_placed(settings_text(house), "written").settings
    assert found.site == house.site
    assert {name: probe.model_dump()["rom"] for name, probe in found.probes.items()} == house.probes
    assert found.plants == house.plants
    assert found.tariff == house.tariff
    for name, relay in house.outputs.items():
        output = found.outputs[name]
        assert isinstance(output, GpioOutput)
        assert (output.pin, output.on_level) == (relay.pin, relay.on_level)
    ((name, zone),) = house.zones.items()
    heat, cool = found.zones[name].heat, found.zones[name].cool
    assert heat is not None
    assert heat.output == zone.heater
    assert (heat.setpoint == "from-plants") is bool(house.plants)
    assert (None if cool is None else cool.output) == zone.fan


def test_nobody_is_said_to_have_a_limit_thermostat_who_did_not_say_so() -> None:
    text = settings_text(
        Answers.model_validate(
            {
                "cautions": "read",
                "site": {"name": "lean-to"},
                "probes": {"bench": "28-0316a2795a01"},
                "outputs": {"heater": {"pin": 17}},
                "zones": {"bench": {"probes": ["bench"], "heater": "heater"}},
            }
        )
    )
    heat = parse_placed(text, "written").settings.zones["bench"].heat
    assert heat is not None
    assert not heat.independent_limit
    assert "independent_limit" in text  # but how to say it stands there
