"""Probes held against each other: who stands still, who stands apart, and what that does."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.control import carried_over, fresh, make_plan
from greenkeeper.control.neighbours import Around, _left_alone, compare
from greenkeeper.model import Bad, Fault, Good, NeighbourMemory, Now, OutputMemory, Tick, Verdict
from tests.control import houses
from tests.control.houses import ONE_ZONE, START, Player, codes, on, reason

STEP_K = 1 / 16
FROZEN_S = 7200.0
DISAGREE_S = 900.0


def house(probes: int = 3, *, probe: dict[str, Any] | None = None, **changes: Any) -> Player:
    """One zone with this many probes (a, b, c …), one at the ridge, one outdoors."""
    names = "abcdefgh"[:probes]
    kind = {"kind": "modelled", "place": "bench", **(probe or {})}
    return Player(
        make_plan(
            houses.settings(
                probes={
                    **{name: kind for name in names},
                    "ridge": {"kind": "modelled", "place": "ridge"},
                    "outdoors": {"kind": "modelled", "place": "outdoors"},
                },
                zones=houses.zone(probes=list(names), **changes),
            )
        )
    )


def live(player: Player, temps: dict[str, float], for_s: float, every_s: float = 10.0) -> Tick:
    """A while in which nothing changes."""
    for _ in range(round(for_s / every_s)):
        tick = player.tick(temps, after_s=every_s)
    return tick


def fault(tick: Tick, probe: str) -> Fault | None:
    verdict = tick.verdicts[probe]
    return verdict.fault if isinstance(verdict, Bad) else None


# --- standing still --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("moved_k", "frozen"), [(1.0 - STEP_K, False), (1.0, False), (1.0 + STEP_K, True)]
)
@pytest.mark.parametrize("sign", [1, -1])
def test_a_probe_is_frozen_once_a_neighbour_has_moved_by_more_than_the_limit(moved_k, frozen, sign):
    player = house(2)
    live(player, {"a": 8.0, "b": 8.0}, 20.0)
    tick = live(player, {"a": 8.0, "b": 8.0 + sign * moved_k}, FROZEN_S)
    assert (fault(tick, "a") is Fault.FROZEN) is frozen
    assert fault(tick, "b") is None


@pytest.mark.parametrize(("short_s", "frozen"), [(10.0, False), (0.0, True)])
def test_it_must_have_stood_still_for_its_whole_time(short_s, frozen):
    player = house(2)
    live(player, {"a": 8.0, "b": 8.0}, 20.0)
    began_s = player.now.mono_s - 10.0  # its first reading but one
    live(player, {"a": 8.0, "b": 10.0}, 3600.0)
    while player.now.mono_s < began_s + 10.0 + FROZEN_S - short_s:
        tick = player.tick({"a": 8.0, "b": 10.0})
    assert (fault(tick, "a") is Fault.FROZEN) is frozen


def test_the_message_says_where_it_stands_for_how_long_and_who_moved():
    player = house(2)
    live(player, {"a": 8.0, "b": 8.0}, 20.0)
    tick = live(player, {"a": 8.0, "b": 10.0}, FROZEN_S)
    assert tick.verdicts["a"] == Bad(
        Fault.FROZEN, "exactly 8.0 °C for 2.0 h, while b went from 8.0 °C to 10.0 °C"
    )
    live(player, {"a": 8.0, "b": 10.0}, 120.0)
    assert ("probe-frozen", "a") in player.memory.alarms


def test_it_ends_with_the_first_step_and_the_time_begins_anew():
    player = house(2)
    live(player, {"a": 8.0, "b": 8.0}, 20.0)
    live(player, {"a": 8.0, "b": 10.0}, FROZEN_S)
    assert fault(player.tick({"a": 8.0 + STEP_K, "b": 10.0}), "a") is None
    assert fault(live(player, {"a": 8.0, "b": 12.0}, FROZEN_S - 20.0), "a") is None
    assert fault(live(player, {"a": 8.0, "b": 12.0}, 20.0), "a") is None  # b moved before a did
    assert fault(player.tick({"a": 8.0, "b": 10.5}), "a") is Fault.FROZEN


def test_a_neighbour_that_comes_back_to_where_it_was_does_not_end_it():
    player = house(2)
    live(player, {"a": 8.0, "b": 8.0}, 20.0)
    live(player, {"a": 8.0, "b": 10.0}, FROZEN_S)
    assert fault(live(player, {"a": 8.0, "b": 8.0}, 600.0), "a") is Fault.FROZEN


def test_a_house_in_which_all_is_at_rest_is_never_frozen():
    player = house(3)
    live(player, {"a": 8.0, "b": 8.5, "c": 9.0, "ridge": 9.0}, 20.0)
    for hour in range(1, 13):
        temps = {"a": 8.0, "b": 8.5, "c": 9.0, "ridge": 9.0 + hour / 4, "outdoors": hour / 4}
        tick = live(player, temps, 3600.0, every_s=40.0)
        assert not any(fault(tick, name) for name in "abc")


@pytest.mark.parametrize(("hours", "gone_k", "frozen"), [(5, 4.75, False), (5, 5.25, True)])
def test_one_alone_in_its_zone_must_have_followed_what_went_far_for_long(hours, gone_k, frozen):
    """25 K and hours: an inner cover stands within a step for as long as that."""
    player = house(1)
    live(player, {"a": 8.0, "ridge": 8.0}, 20.0)
    tick = live(player, {"a": 8.0, "ridge": 8.0 + gone_k}, hours * 3600.0, every_s=40.0)
    assert (fault(tick, "a") is Fault.FROZEN) is frozen
    if frozen:
        assert tick.zones[0].coldest_c is None
        assert ("zone-blind", "bench") in player.memory.alarms


def test_a_calm_tent_is_not_held_against_the_air_outdoors():
    player = house(1)
    live(player, {"a": 8.0, "ridge": 8.0, "outdoors": 6.0}, 20.0)
    temps = {"a": 8.0, "ridge": 8.5, "outdoors": -4.0}
    assert fault(live(player, temps, 12 * 3600.0, every_s=40.0), "a") is None


def test_heat_that_never_pauses_must_move_the_one_probe_that_asks_for_it():
    player = house(1)
    assert on(live(player, {"a": 4.0, "ridge": 6.0}, FROZEN_S), "heater")
    tick = live(player, {"a": 4.0, "ridge": 6.0}, 100.0)
    assert tick.verdicts["a"] == Bad(
        Fault.FROZEN, "exactly 4.0 °C for 2.0 h, while heater was on without a pause"
    )
    assert not on(tick, "heater")


def alone(temps: dict[str, float], hours: float, around: Around, probe: str = "a") -> Verdict:
    """What becomes of one probe when nothing moves, looked at each minute. a: alone in its zone."""
    plan, memory = house(1).plan, NeighbourMemory({}, {})
    verdicts: dict[str, Verdict] = {name: Good(temp_c, 0.0) for name, temp_c in temps.items()}
    for minute in range(round(hours * 60.0) + 1):
        found = compare(plan, verdicts, memory, minute * 60.0, around)
        memory = found.memory
    return found.verdicts[probe]


RESTS = {"heater": OutputMemory(False, -86_400.0, None, "")}
DARK = Around(-86_400.0, RESTS)


def test_what_stands_above_all_others_in_the_dark_unheated_must_fall():
    warmest = {"a": 14.0, "ridge": 8.0, "outdoors": 1.0}
    assert isinstance(alone(warmest, 3.0, DARK), Good)
    assert isinstance(alone(warmest, 3.5, DARK), Bad)  # 5 K and 1.25 h beyond the first two
    heated = {"heater": RESTS["heater"]._replace(on=True, since_s=3 * 3600.0)}
    for around in (Around(None, RESTS), Around(-86_400.0, heated)):
        assert isinstance(alone(warmest, 4.0, around), Good)


def test_what_stands_below_all_others_must_rise_by_day_and_night():
    coldest = {"a": 2.0, "ridge": 8.0, "outdoors": 9.0}
    assert isinstance(alone(coldest, 3.0, Around(None, RESTS)), Good)
    assert isinstance(alone(coldest, 3.5, Around(None, RESTS)), Bad)


def test_one_of_no_zone_may_be_the_coldest_of_all_for_ever_since_it_may_hang_outdoors():
    temps = {"a": 8.0, "ridge": -2.0, "outdoors": 5.0}
    assert isinstance(alone(temps, 48.0, DARK, "ridge"), Good)


def test_what_stands_between_the_others_may_stand_still_for_ever():
    assert isinstance(alone({"a": 5.0, "ridge": 8.0, "outdoors": 1.0}, 48.0, DARK), Good)


def test_one_with_neighbours_in_its_zone_is_not_held_against_the_rest():
    player = house(2)
    live(player, {"a": 8.0, "b": 8.0, "outdoors": 8.0}, 20.0)
    tick = live(player, {"a": 8.0, "b": 8.0, "outdoors": -5.0}, 2 * FROZEN_S)
    assert fault(tick, "a") is None


def test_the_outdoor_probe_is_never_frozen():
    player = house(2)
    for step in range(40):
        tick = live(player, {"a": 8.0 + step, "b": 8.0 + step, "outdoors": 0.0}, 600.0)
    assert fault(tick, "outdoors") is None


def test_a_probe_in_no_zone_is_judged_because_it_guards_the_ceiling():
    player = house(2)
    live(player, {"a": 8.0, "b": 8.0, "ridge": 9.0}, 20.0)
    tick = live(player, {"a": 13.0, "b": 13.0, "ridge": 9.0}, 5.1 * 3600.0, every_s=40.0)
    assert fault(tick, "ridge") is Fault.FROZEN


def test_an_owner_can_switch_it_off_or_choose_other_limits():
    for probe in ({"frozen_s": 0.0}, {"frozen_s": 20_000.0}, {"frozen_k": 5.0}):
        player = house(2, probe=probe)
        live(player, {"a": 8.0, "b": 8.0}, 20.0)
        assert fault(live(player, {"a": 8.0, "b": 10.0}, FROZEN_S), "a") is None


def test_a_neighbour_that_was_lost_counts_from_its_return_on():
    player = house(2)
    live(player, {"a": 8.0}, 20.0)
    live(player, {"a": 8.0}, FROZEN_S)
    live(player, {"a": 8.0, "b": 12.0}, 60.0)
    assert fault(live(player, {"a": 8.0, "b": 12.5}, 60.0), "a") is None
    assert fault(live(player, {"a": 8.0, "b": 13.5}, 60.0), "a") is Fault.FROZEN


def test_a_probe_that_was_lost_begins_anew():
    player = house(2)
    live(player, {"a": 8.0, "b": 8.0}, FROZEN_S / 2)
    live(player, {"b": 8.0}, 60.0)
    assert fault(live(player, {"a": 8.0, "b": 10.0}, FROZEN_S - 60.0), "a") is None


def test_a_jump_that_was_an_error_is_a_movement_all_the_same():
    player = house(2)
    live(player, {"a": 8.0, "b": 8.0}, FROZEN_S / 2)
    player.tick({"a": 30.0, "b": 8.0})
    assert fault(live(player, {"a": 8.0, "b": 10.0}, FROZEN_S - 60.0), "a") is None


def test_no_frozen_probe_proves_another_frozen():
    """All stand still but c; then c is lost: a and b prove nothing of each other."""
    player = house(3)
    live(player, {"a": 8.0, "b": 8.0, "c": 8.0}, 20.0)
    tick = live(player, {"a": 8.0, "b": 8.0, "c": 8.0}, 2 * FROZEN_S)
    assert not any(fault(tick, name) for name in "abc")


def test_what_was_known_outlives_new_settings_but_not_what_they_no_longer_name():
    player = house(3)
    live(player, {"a": 8.0, "b": 8.0, "c": 16.0}, 20.0)
    live(player, {"a": 8.0, "b": 10.0, "c": 18.0}, FROZEN_S)
    player.memory = carried_over(player.memory, player.plan, player.now)
    assert fault(player.tick({"a": 8.0, "b": 10.0, "c": 18.0}), "a") is Fault.FROZEN
    smaller = house(1).plan
    left = carried_over(player.memory, smaller, player.now).neighbours
    assert set(left.still) == {"a"}
    assert set(left.apart) == {"bench"}


# --- standing apart --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("apart_k", "told"), [(3.0 - STEP_K, False), (3.0, False), (3.0 + STEP_K, True)]
)
def test_two_further_apart_than_the_limit_are_told_of_and_both_believed(apart_k, told):
    player = house(2)
    tick = live(player, {"a": 8.0, "b": 8.0 + apart_k}, DISAGREE_S + 30.0)
    assert (("zone-disagrees", "bench") in player.memory.alarms) is told
    assert fault(tick, "a") is fault(tick, "b") is None
    assert (tick.zones[0].coldest_c, tick.zones[0].warmest_c) == (8.0, 8.0 + apart_k)


def test_the_message_names_both_with_what_they_say():
    player = house(2)
    live(player, {"a": 8.0, "b": 11.5}, DISAGREE_S + 30.0)
    alarm = player.memory.alarms["zone-disagrees", "bench"].alarm
    assert alarm.text == "a 8.0 °C but b 11.5 °C"


def test_it_is_told_after_its_time_and_not_a_tick_before():
    player = house(2)
    live(player, {"a": 8.0, "b": 12.0}, 10.0)
    live(player, {"a": 8.0, "b": 12.0}, 10.0)  # from here on both are believed
    assert ("zone-disagrees", "raised") not in codes(live(player, {"a": 8.0, "b": 12.0}, 890.0))
    assert ("zone-disagrees", "raised") in codes(live(player, {"a": 8.0, "b": 12.0}, 10.0))


def test_it_must_last_without_a_break():
    player = house(2)
    live(player, {"a": 8.0, "b": 12.0}, DISAGREE_S - 60.0)
    live(player, {"a": 8.0, "b": 11.0}, 10.0)
    live(player, {"a": 8.0, "b": 12.0}, DISAGREE_S - 60.0)
    assert ("zone-disagrees", "bench") not in player.memory.alarms


def test_it_is_cleared_some_time_after_they_agree_again():
    player = house(2)
    live(player, {"a": 8.0, "b": 12.0}, DISAGREE_S + 30.0)
    assert ("zone-disagrees", "cleared") in codes(live(player, {"a": 8.0, "b": 9.0}, 310.0))


def test_limit_and_time_are_the_zones_own():
    player = house(2, disagree_k=1.0, disagree_s=60.0)
    live(player, {"a": 8.0, "b": 9.0 + STEP_K}, 90.0)
    assert ("zone-disagrees", "bench") in player.memory.alarms


APART = {"a": 8.0, "b": 8.5, "c": 0.0}


@pytest.mark.parametrize(
    ("temps", "lone"),
    [
        ({"a": 8.0, "b": 8.0, "c": 4.0}, "c"),
        ({"a": 8.0, "b": 8.0, "c": 12.0}, "c"),
        ({"a": 8.0, "b": 8.0, "c": 5.0}, None),  # at the limit: agrees
        ({"a": 8.0, "b": 8.0, "c": 5.0 - STEP_K}, "c"),
        ({"a": 8.0, "b": 11.0, "c": 4.0}, "c"),  # the others just agree
        ({"a": 8.0, "b": 11.0 + STEP_K, "c": 4.0}, None),  # they do not
        ({"a": 8.0, "b": 12.0, "c": 4.0}, None),  # each for itself
        ({"a": 8.0, "b": 8.0, "c": 4.0, "d": 4.0}, None),  # two against two
        ({"a": 8.0, "b": 8.0, "c": 4.0, "d": 12.0}, None),  # two strangers
        ({"a": 8.0, "b": 8.5, "c": 9.0, "d": 4.0}, "d"),
    ],
)
def test_the_one_that_stands_alone_is_named_and_nobody_else(temps, lone):
    player = house(len(temps))
    tick = live(player, temps, DISAGREE_S + 30.0)
    named = {subject for code, subject in player.memory.alarms if code == "probe-disagrees"}
    assert named == ({lone} if lone else set())
    apart = max(temps.values()) - min(temps.values()) > 3.0
    zone_told = ("zone-disagrees", "bench") in player.memory.alarms
    assert zone_told is (apart and lone is None)
    assert not any(fault(tick, name) for name in temps)


def test_its_message_says_what_it_and_all_others_read():
    player = house(3)
    live(player, APART, DISAGREE_S + 30.0)
    alarm = player.memory.alarms["probe-disagrees", "c"].alarm
    assert alarm.text == "0.0 °C but a 8.0 °C, b 8.5 °C"


def test_a_cold_one_that_stands_alone_goes_on_asking_for_heat():
    """It may be the one corner with the broken pane."""
    player = house(3)
    tick = live(player, APART, DISAGREE_S + 30.0)
    assert tick.zones[0].coldest_probe == "c"
    assert tick.zones[0].coldest_c == 0.0
    assert on(tick, "heater")
    assert reason(tick, "heater") == "c (alone) 0.0 °C is at or below 5.0 °C"
    assert ("below-minimum", "bench") in player.memory.alarms


def test_but_it_cannot_cook_the_house():
    """It counts as no more than 10 K colder than the others: heat ends when they are warm."""
    player = house(3)
    live(player, APART, DISAGREE_S + 30.0)
    for warm_c in (10.0, 13.0, 15.5):  # setpoint 5.0 and hysteresis 0.5 above 10 K
        tick = live(player, {"a": warm_c, "b": warm_c + 0.5, "c": 0.0}, 60.0)
        assert on(tick, "heater") is (warm_c < 15.5)
    tick = live(player, {"a": 15.0 + STEP_K, "b": 15.5, "c": 0.0}, 120.0)
    assert not on(tick, "heater")
    assert tick.zones[0].coldest_c == 5.0 + STEP_K
    assert on(live(player, {"a": 15.0, "b": 15.5, "c": 0.0}, 10.0), "heater")


def test_before_it_is_known_to_stand_alone_it_counts_in_full():
    player = house(3)
    tick = live(player, {"a": 20.0, "b": 20.0, "c": 0.0}, DISAGREE_S - 30.0)
    assert tick.zones[0].coldest_c == 0.0
    assert live(player, {"a": 20.0, "b": 20.0, "c": 0.0}, 60.0).zones[0].coldest_c == 10.0


def test_a_hot_one_that_stands_alone_cools_no_house_that_is_ten_kelvin_colder():
    player = house(3)
    temps = {"a": 14.0, "b": 14.5, "c": 39.0}
    assert on(live(player, temps, DISAGREE_S - 60.0), "fan")
    tick = live(player, temps, 120.0)
    assert not on(tick, "fan")
    assert tick.zones[0].warmest_c == 24.5
    assert on(live(player, {"a": 15.5, "b": 16.0, "c": 39.0}, 60.0), "fan")


def test_and_the_ceiling_takes_it_at_its_word():
    player = house(3)
    for hot_c in (30.0, 33.0, 36.0, 39.0):
        live(player, {"a": 8.0, "b": 8.5, "c": hot_c}, 10.0)
    live(player, {"a": 8.0, "b": 8.5, "c": 40.0}, DISAGREE_S + 30.0)
    assert ("probe-disagrees", "c") in player.memory.alarms
    assert not player.memory.latches
    live(player, {"a": 8.0, "b": 8.5, "c": 40.0 + STEP_K}, 20.0)
    assert "over-ceiling-bench" in player.memory.latches


def test_of_the_two_that_are_left_when_one_is_lost_neither_is_doubted():
    player = house(3)
    live(player, {"a": 20.0, "b": 20.0, "c": 0.0}, DISAGREE_S + 30.0)
    tick = live(player, {"a": 20.0, "c": 0.0}, 60.0)
    assert tick.zones[0].coldest_c == 0.0
    assert ("zone-disagrees", "bench") in player.memory.alarms


def test_a_frozen_probe_has_no_vote():
    player = house(3)
    live(player, {"a": 8.0, "b": 8.0, "c": 8.0}, 20.0)
    live(player, {"a": 8.0, "b": 10.0, "c": 14.0}, FROZEN_S)  # a is frozen, b and c are two
    assert ("zone-disagrees", "bench") in player.memory.alarms


def test_a_probe_of_two_zones_may_stand_alone_in_one_of_them():
    zones = {
        "bench": {**houses.zone(probes=["a", "b", "c"])["bench"]},
        "corner": {"probes": ["c"], "heat": {"output": "heater", "setpoint_c": 5.0}},
    }
    probes = {name: ONE_ZONE["probes"]["ridge"] for name in ("a", "b", "c", "outdoors")}
    player = Player(make_plan(houses.settings(zones=zones, probes=probes, plants=[])))
    tick = live(player, {"a": 20.0, "b": 20.0, "c": 0.0}, DISAGREE_S + 30.0)
    assert [view.coldest_c for view in tick.zones] == [10.0, 0.0]


@pytest.mark.parametrize(
    ("changes", "alone_k"),
    [
        ({}, 10.0),
        ({"ceiling_c": 20.0, "cool": None}, 9.5),  # 20 less 5 of release less heat-off at 5.5
        ({"ceiling_c": 12.0 + 8.5, "cool": None}, 10.0),
        ({"cool": {"output": "fan", "setpoint_c": 12.0, "hysteresis_k": 1.0}}, 6.5),
        ({"cool": {"output": "fan", "setpoint_c": 9.0, "hysteresis_k": 1.0}}, 3.5),
        ({"ceiling_c": 15.0, "disagree_k": 5.0, "cool": None}, 5.0),
        ({"disagree_k": 12.0}, 12.0),
        ({"heat": None}, 10.0),
    ],
)
def test_how_far_a_lone_one_counts_depends_on_where_the_others_may_go(changes, alone_k):
    assert house(3, **changes).plan.zones[0].alone_k == pytest.approx(alone_k)


# --- whatever comes --------------------------------------------------------------------

PLAN = make_plan(
    houses.settings(
        probes={n: {"kind": "modelled", "place": "bench"} for n in ("a", "b", "c", "d", "e")},
        site={"name": "fern-corner"},
        zones={
            **houses.zone(probes=["a", "b", "c"]),
            "shelf": {"probes": ["c", "d"], "disagree_s": 60.0},
            "floor": {"probes": ["e"]},
        },
        plants=[],
    )
)
sixteenths = st.integers(-160, 640).map(lambda n: n / 16)
verdicts = st.one_of(
    st.builds(Good, st.one_of(st.sampled_from([5.0, 8.0]), sixteenths), st.just(0.0)),
    st.builds(Bad, st.sampled_from(Fault), st.just("")),
)
rounds = st.fixed_dictionaries(
    {"after_s": st.sampled_from([10.0, 600.0, 7200.0]), "said": st.fixed_dictionaries(
        {name: verdicts for name in PLAN.probes}
    )}
)  # fmt: skip


@given(st.lists(rounds, max_size=30))
def test_no_comparison_blinds_a_zone_or_invents_a_number(course):
    memory, now_s = NeighbourMemory(), 0.0
    for each in course:
        now_s += each["after_s"]
        said: dict[str, Verdict] = each["said"]
        compared = compare(PLAN, said, memory, now_s)
        memory = compared.memory
        for name, verdict in compared.verdicts.items():
            frozen = isinstance(verdict, Bad) and verdict.fault is Fault.FROZEN
            assert verdict == said[name] or (frozen and isinstance(said[name], Good))
        for zone in PLAN.zones:
            left = [n for n in zone.probes if isinstance(compared.verdicts[n], Good)]
            # What froze them all was seen to move: here, or in a zone that has one of them too.
            here = set(zone.probes)
            air = here.union(*(z.probes for z in PLAN.zones if here.intersection(z.probes)))
            seeing = [n for n in air if isinstance(said[n], Good)]
            all_frozen = not any(isinstance(compared.verdicts[n], Good) for n in air)
            assert not all_frozen or len(air) == 1 or len(seeing) < len(air)
            lone = compared.alone.get(zone.name)
            assert lone is None or (lone in left and len(left) >= 3)
        assert memory.still.keys() <= PLAN.probes.keys()
        assert memory.apart.keys() <= {zone.name for zone in PLAN.zones}


temps_near = st.floats(-5.0, 25.0).map(lambda t: round(t * 16) / 16)


@given(st.lists(temps_near, min_size=1, max_size=4), st.data())
def test_one_more_healthy_probe_never_makes_heat_believe_a_warmer_value(temps, data):
    """While no two are further apart than a lone one counts; beyond, nobody here is cold."""
    small, large = (house(len(temps) + more, disagree_s=60.0) for more in (0, 1))
    low_c, high_c = min(temps), max(temps)
    healthy_c = data.draw(st.sampled_from([low_c, high_c, (low_c + high_c) / 2]))
    names = "abcdefgh"
    few = live(small, dict(zip(names, temps, strict=False)), 90.0)
    many = live(large, dict(zip(names, [*temps, healthy_c], strict=False)), 90.0)
    before_c, after_c = few.zones[0].coldest_c, many.zones[0].coldest_c
    assert before_c is not None
    assert after_c is not None
    alone_k, heat_off_c = large.plan.zones[0].alone_k, 5.5
    if after_c > before_c:
        assert high_c - low_c > alone_k
        others_c = sorted([*temps, healthy_c])[1]
        assert others_c - alone_k == after_c
        assert on(many, "heater") or others_c > 5.0 + alone_k
    assert heat_off_c + alone_k <= large.plan.zones[0].ceiling_c - 5.0


@given(st.lists(temps_near, min_size=2, max_size=5))
def test_whoever_stands_alone_heat_believes_none_of_the_others_less(temps):
    """The rest of the zone is never believed warmer for a vote than without one."""
    player = house(len(temps), disagree_s=60.0)
    tick = live(player, dict(zip("abcdefgh", temps, strict=False)), 90.0)
    view = tick.zones[0]
    assert view.coldest_c is not None
    assert view.warmest_c is not None
    assert min(temps) <= view.coldest_c <= sorted(temps)[1]
    assert sorted(temps)[-2] <= view.warmest_c <= max(temps)


def test_a_comparison_in_which_nothing_happens_hands_the_same_memory_on():
    now = Now(1000.0, 1.8e9, True)
    said = {name: Good(8.0, 0.0) for name in PLAN.probes}
    memory = compare(PLAN, said, NeighbourMemory(), now.mono_s).memory
    assert compare(PLAN, said, memory, now.mono_s + 10.0).memory is memory


def test_a_second_heater_warms_a_probe_as_the_first_does_and_accuses_none() -> None:
    bench = houses.ONE_ZONE["zones"]["bench"]["heat"]
    zones = houses.zone(heat={**bench, "second_output": "second"})
    outputs = {**houses.ONE_ZONE["outputs"], "second": houses.ONE_ZONE["outputs"]["heater"]}
    plan = make_plan(houses.settings(zones=zones, outputs=outputs))
    probe = plan.probes["bench-left"]
    assert probe.warmed_by == ("heater", "second")
    assert probe.heated_by == ("heater",)
    assert plan.probes["ridge"].warmed_by == ("heater", "second")
    assert plan.probes["ridge"].heated_by == ()
    off = fresh(plan, START).outputs
    long_off = {name: each._replace(since_s=-1e6) for name, each in off.items()}
    assert _left_alone(probe, START.mono_s, Around(-1e6, long_off))
    just_off = {**long_off, "second": off["second"]}
    assert not _left_alone(probe, START.mono_s, Around(-1e6, just_off))
