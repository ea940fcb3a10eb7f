"""Names: everything referred to exists, and what exists is referred to."""

from tests.settings.examples import changed, remarks, said


def test_a_zone_names_a_probe_that_is_not_there() -> None:
    assert said(changed(("probes: [left, right]", "probes: [left, rigth]"))) == [
        "house.yaml:16:20  zones.bench.probes[2]: found rigth;"
        " allowed a name under probes (left, outdoors, right)\n    Did you mean right?"
    ]


def test_the_outdoor_probe_is_not_there() -> None:
    assert said(changed(("outdoor_probe: outdoors", "outdoor_probe: porch"))) == [
        "house.yaml:4:18  site.outdoor_probe: found porch;"
        " allowed a name under probes (left, outdoors, right)"
    ]


def test_heat_and_cool_name_outputs_that_are_not_there() -> None:
    text = changed(("output: heater", "output: heatr"), ("output: fan", "output: fam"))
    assert said(text) == [
        "house.yaml:18:15  zones.bench.heat.output: found heatr;"
        " allowed a name under outputs (fan, heater)\n    Did you mean heater?",
        "house.yaml:21:15  zones.bench.cool.output: found fam;"
        " allowed a name under outputs (fan, heater)\n    Did you mean fan?",
    ]


def test_an_output_is_named_where_none_is_defined() -> None:
    text = changed(
        ("outputs:\n  heater: {kind: gpio, pin: 17}\n  fan: {kind: gpio, pin: 23}\n", ""),
        ("    cool:\n      output: fan\n      setpoint_c: 26\n", ""),
    )
    assert said(text) == [
        "house.yaml:15:15  zones.bench.heat.output: found heater; allowed one you define"
    ]


def test_a_plant_stands_in_a_zone_that_is_not_there() -> None:
    assert said(changed(("zone: bench", "zone: bensh"))) == [
        "house.yaml:25:28  plants[plumbago].zone: found bensh;"
        " allowed a name under zones (bench)\n    Did you mean bench?"
    ]


def test_many_names_are_listed_short() -> None:
    more = "".join(f"  probe-{n}: {{kind: onewire, rom: 28-00000000001{n}}}\n" for n in range(6))
    text = changed(("  left: {", f"{more}  left: {{"), ("[left, right]", "[left, nothing-like-it]"))
    assert "(left, outdoors, probe-0, probe-1, probe-2, probe-3, …)" in said(text)[0]


DAMP = "hygrometers: {{{name}: {{kind: kernel, chip: bme280, beside: {beside}}}}}\noutputs:"


def test_a_hygrometer_hangs_beside_a_probe_that_is_not_there() -> None:
    assert said(changed(("outputs:", DAMP.format(name="damp", beside="lefd")))) == [
        "house.yaml:10:58  hygrometers.damp.beside: found lefd;"
        " allowed a name under probes (left, outdoors, right)\n    Did you mean left?"
    ]


def test_a_hygrometer_has_a_name_of_its_own() -> None:
    (told,) = said(changed(("outputs:", DAMP.format(name="left", beside="left"))))
    assert "hygrometers.left: found left, which is a probe's name too" in told


def test_a_probe_is_named_twice_in_one_zone() -> None:
    assert said(changed(("probes: [left, right]", "probes: [left, left]"))) == [
        "house.yaml:16:20  zones.bench.probes[2]: found left again;"
        " allowed each probe once in a zone"
    ]


def test_an_output_can_not_heat_and_cool() -> None:
    assert said(changed(("output: fan", "output: heater"))) == [
        "house.yaml:21:15  zones.bench.cool.output: found heater, which zones.bench heats with;"
        " allowed an output that only cools"
    ]


def test_two_zones_may_share_a_heater() -> None:
    porch = "  porch: {probes: [right], heat: {output: heater, setpoint_c: 3}}\nplants:"
    assert said(changed(("plants:", porch))) == []


def test_an_output_no_zone_uses_is_remarked() -> None:
    text = changed(("outputs:", "outputs:\n  mat: {kind: gpio, pin: 27}"))
    assert remarks(text) == ["outputs.mat: no zone uses it: it stays off"]


def test_a_probe_without_a_place_is_remarked() -> None:
    text = changed(("  outdoor_probe: outdoors\n", ""))
    assert remarks(text) == [
        "probes.outdoors: in no zone, and not site.outdoor_probe"
        " | It is recorded, and counts for the ceilings of every zone, no more."
    ]


def test_a_zone_that_is_only_watched_is_remarked() -> None:
    text = changed(("plants:", "  ridge: {probes: [right]}\nplants:"))
    assert remarks(text) == ["zones.ridge: neither heat nor cool: it is only watched"]


def test_the_outdoor_probe_in_a_zone_is_remarked() -> None:
    text = changed(("probes: [left, right]", "probes: [left, right, outdoors]"))
    assert remarks(text) == [
        "zones.bench.probes[3]: outdoors is the outdoor probe, and this zone's too"
        " | Heat would follow the air outside."
    ]


def test_the_sound_house_gives_no_remark() -> None:
    assert remarks(changed()) == []


def test_a_zone_names_a_hygrometer_that_is_not_there() -> None:
    text = changed(
        ("outputs:", DAMP.format(name="damp", beside="left")),
        ("    ceiling_c: 40", "    hygrometer: damb\n    ceiling_c: 40"),
    )
    (told,) = said(text)
    assert "zones.bench.hygrometer: found damb; allowed a name under hygrometers (damp)" in told


def test_what_is_written_about_damp_and_has_no_effect_is_remarked() -> None:
    lone = "hygrometers: {damp: {kind: kernel, chip: bme280}}\noutputs:"
    assert "hygrometers.damp: in no zone | It is recorded, no more." in remarks(
        changed(("outputs:", lone))
    )
    with_zone = ("    ceiling_c: 40", "    hygrometer: damp\n    ceiling_c: 40")
    (told,) = [
        each for each in remarks(changed(("outputs:", lone), with_zone)) if "hygrometers" in each
    ]
    assert told.startswith("hygrometers.damp: has no dew point")
    (told,) = [
        each
        for each in remarks(changed(("    ceiling_c: 40", "    damp: {wet_pct: 85}")))
        if "damp" in each
    ]
    assert told == "zones.bench.damp: counts only with a hygrometer"
