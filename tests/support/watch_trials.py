"""Watch on trial: what a sound house is accused of, and when a broken one is caught.

Lives here: the faults, from when on each could be noticed, and one trial. Does not live
here: the houses, the player, the table (bench_watch.py).

A delay is counted from the first moment at which the fault could be noticed by anybody
who sees only temperatures and commands. A dead element in an idle heater looks like an
idle heater; a welded contact while heat is wanted does what it should; by day the sun
may do anything. For each fault that moment is stated beside it in TRIALS. A trial in which
the moment never comes within the trial's days is counted apart, as "never showed"; from
that moment on the keeper has as many days again.

What is told beside the true verdict is wrong, unless it follows from the same fault: a
fallen probe makes the heater run on, so that its heat "does not arrive" where it hangs.
"""

from collections.abc import Callable
from random import Random
from typing import NamedTuple

from greenkeeper.errors import CATALOGUE
from greenkeeper.house.faults import WHOLE, Faults
from greenkeeper.model import Event, Phase, Request
from tests.support.drawn_houses import DrawnHouse
from tests.support.rehearsal import Run

VERDICTS = frozenset(
    {
        *("no-response", "stuck-on", "runaway", "heater-at-limit", "displaced", "door-open"),
        *("mains-lost", "contact-failed"),
    }
)
assert frozenset(CATALOGUE) >= VERDICTS

DAY_S = 86_400.0
_DARK_DEG = -2.0
_VISIT_TOLD_S = 1200.0
_WARMED_UP_S = 4.0 * 3600.0  # before that watch remembers too little for some verdicts


class Accusation(NamedTuple):
    """What watch said of a house."""

    day: float  # since the beginning of the season
    code: str
    text: str


class Season(NamedTuple):
    """A sound house through a season."""

    days: float
    heated_share: float
    accusations: tuple[Accusation, ...]
    outcomes: tuple["Outcome", ...]


class Trial(NamedTuple):
    name: str
    breaks: Callable[[Run, Random], Faults]
    shows: Callable[[Run], bool]  # it could be noticed now
    caught_by: frozenset[str]
    beside: frozenset[str] = frozenset()  # what may be told as well
    fits: Callable[[DrawnHouse], bool] = lambda house: True
    begins: Callable[[Run], bool] = lambda run: True  # a moment at which it can happen
    days: float = 3.0
    grows: Callable[[float], Faults] | None = None  # what it is so many seconds later
    poll_s: float | None = None  # for what does not wait a minute
    wired: bool = False  # with contacts


class Outcome(NamedTuple):
    trial: str
    house: str
    showed: bool
    caught_by: str | None
    delay_s: float | None
    short_k: float  # how far below the setpoint the bench has been by then
    wrong: tuple[Accusation, ...]


def _dead(run: Run, chance: Random) -> Faults:
    return Faults(element_share=0.0)


def _breaker_out(run: Run, chance: Random) -> Faults:
    return Faults(breaker_out=True)


def _weak(run: Run, chance: Random) -> Faults:
    return Faults(element_share=chance.uniform(0.25, 0.5))


def _welded(run: Run, chance: Random) -> Faults:
    return Faults(welded_w=run.drawn.heater_w)


def _run_away(run: Run, chance: Random) -> Faults:
    """As much heat as lets the air begin to rise by 6 to 20 K a minute."""
    return Faults(welded_w=chance.uniform(6.0, 20.0) / 60.0 * run.drawn.truth.air_j_per_k)


def _burning(burnt_s: float) -> Faults:
    """Growing with the square of time: the slowest class of NFPA 92, 1055 kW after 600 s.

    From memory.
    """
    return Faults(welded_w=1_055_000.0 * (burnt_s / 600.0) ** 2)


def _fallen(run: Run, chance: Random) -> Faults:
    return Faults(fallen_outdoors=frozenset({("bench", 0)}))


def _door(run: Run, chance: Random) -> Faults:
    """A doorway of 1.2 m2 with both its halves at work lets 0.1 m3/s and more through."""
    return Faults(door_w_per_k=chance.uniform(120.0, 300.0))


def heats(run: Run) -> bool:
    return run.heater_on


def _rests_in_the_dark(run: Run) -> bool:
    return not run.heater_on and run.sun_deg() < _DARK_DEG


def _heated_apart(run: Run) -> bool:
    return run.heater_on and run.lift_k >= 4.0


def _dark_and_warm(run: Run) -> bool:
    return run.sun_deg() < _DARK_DEG - 6.0 and run.lift_k >= 10.0


def _cold(run: Run) -> bool:
    return run.heater_on and run.lift_k >= 10.0


def _overtaxed(run: Run) -> bool:
    """Half an hour of heat without a pause, and the bench is 1 K too cold."""
    heat = run.plan.zones[0].heat
    long = run.on_since_s is not None and run.now.mono_s - run.on_since_s >= 1800.0
    return long and heat is not None and run.house.state.bench_c < heat.night_c - 1.0


def at_once(run: Run) -> bool:
    return True


def _knows_outdoors(house: DrawnHouse) -> bool:
    return house.settings.site.outdoor_probe is not None


def _rests(run: Run) -> bool:
    return not run.heater_on


def _wired(
    name: str, breaks: Callable[[Run, Random], Faults], begins: Callable[[Run], bool], code: str
) -> Trial:
    """Counted from when it breaks, which it does at a moment at which it could be noticed."""
    return Trial(
        f"{name}, contact",
        breaks,
        at_once,
        frozenset({code}),
        _NO_HEAT | {"door-open"},  # visitors, and a contact that tells of them
        begins=begins,
        days=0.1,
        poll_s=10.0,
        wired=True,
    )


_NO_HEAT = frozenset({"no-response", "heater-at-limit"})

TRIALS = (
    # Counted from the next time heat is asked for.
    Trial("element dead", _dead, heats, frozenset({"no-response"}), _NO_HEAT),
    Trial("breaker out", _breaker_out, heats, frozenset({"no-response"}), _NO_HEAT),
    # A quarter to a half of its power is left, from a moment at which it holds the bench 10 K
    # above outdoors. Counted from when it has been on for half an hour and the bench is 1 K
    # too cold.
    Trial("heater too weak", _weak, _overtaxed, _NO_HEAT, begins=_cold),
    # Counted from the next moment in the dark at which the heater should be off. Until then
    # the ceiling may have been reached, which does the same.
    Trial(
        "relay welded",
        _welded,
        _rests_in_the_dark,
        frozenset({"stuck-on", "over-ceiling"}),
        frozenset({"runaway"}),
        fits=_knows_outdoors,
    ),
    # The same house of which nobody knows how cold it is outdoors: not all of them are seen.
    Trial(
        "the same, none outdoors",
        _welded,
        _rests_in_the_dark,
        frozenset({"stuck-on", "over-ceiling"}),
        frozenset({"runaway"}),
        fits=lambda house: not _knows_outdoors(house),
    ),
    # Counted from the moment it begins. The ceiling may be quicker, and does the same; or the
    # probes leave the range of believable numbers within a few readings, and the zone is blind:
    # heat is off, and an alarm is told.
    Trial(
        "heat runs away",
        _run_away,
        at_once,
        frozenset({"runaway", "over-ceiling", "zone-blind"}),
        frozenset({"stuck-on"}),
        days=0.25,
        poll_s=10.0,
    ),
    Trial(
        "fire",
        lambda run, chance: WHOLE,
        at_once,
        frozenset({"runaway", "over-ceiling", "zone-blind"}),
        frozenset({"stuck-on"}),
        days=0.25,
        poll_s=10.0,
        grows=_burning,
    ),
    # Counted from the next moment at which heat is on and the bench 4 K above outdoors.
    Trial(
        "probe fallen outdoors",
        _fallen,
        _heated_apart,
        frozenset({"displaced", "no-response"}),
        frozenset({"heater-at-limit"}),
        fits=_knows_outdoors,
    ),
    # Opened at a dark moment at which the bench stands 10 K above outdoors; counted from when
    # the heater no longer makes good for it, as above.
    Trial(
        "door left open",
        _door,
        _overtaxed,
        frozenset({"door-open", "no-response", "heater-at-limit"}),
        begins=_dark_and_warm,
    ),
)

# The same with contacts, at the usual poll of 10 s: no darkness is needed, and no half hour.
WIRED = (
    _wired("element dead", _dead, heats, "no-response"),
    _wired("breaker out", _breaker_out, at_once, "mains-lost"),
    _wired("relay welded", _welded, _rests, "stuck-on"),
    _wired("door left open", _door, at_once, "door-open"),
)

IN_SUMMER = tuple(
    each for each in TRIALS if each.name in ("relay welded", "heat runs away", "fire")
)


def season(
    house: DrawnHouse, utc_s: float, days: float, trials: tuple[Trial, ...] = (), moments: int = 0
) -> Season:
    """A sound house through its season, and branches of it in which it breaks.

    moments: so many random ones for each trial. A false latch is cleared at once, so that
    the season goes on.
    """
    run = Run(house, utc_s)
    began_s = run.now.mono_s
    chance = Random(f"{house.name}/{utc_s}")
    end_s = began_s + days * DAY_S
    pending = sorted(
        (
            (chance.uniform(began_s + _WARMED_UP_S, end_s), trial)
            for trial in trials
            if trial.fits(house)
            for _ in range(moments)
        ),
        key=lambda moment: moment[0],
        reverse=True,
    )
    accusations: list[Accusation] = []
    outcomes: list[Outcome] = []
    heated_s = 0.0
    requests: tuple[Request, ...] = ()
    waiting: list[Trial] = []
    while run.now.mono_s < end_s:
        tick = run.tick(*requests)
        requests = ()
        heated_s += house.settings.poll_s * run.heater_on
        for event in tick.events:
            if event.code in VERDICTS and event.phase is Phase.RAISED:
                if event.code == "door-open" and run.now.mono_s - run.visited_s < _VISIT_TOLD_S:
                    continue  # a door was open
                accusations.append(_accusation(event, began_s))
        if tick.memory.latches:
            requests = tuple(Request(clear=name) for name in tick.memory.latches)
        while pending and pending[-1][0] <= run.now.mono_s:
            waiting.append(pending.pop()[1])
        if waiting and not (run.now.mono_s - began_s) % 60.0:
            for trial in tuple(waiting):
                if trial.begins(run):
                    waiting.remove(trial)
                    outcomes.append(tried(run, trial, chance, began_s))
    return Season(days, heated_s / (days * DAY_S), tuple(accusations), tuple(outcomes))


def tried(run: Run, trial: Trial, chance: Random, season_began_s: float) -> Outcome:
    """What becomes of a run if this breaks now."""
    broken = run.branch(trial.poll_s, wired=trial.wired)
    broken.break_down(trial.breaks(broken, chance))
    began_s = broken.now.mono_s
    end_s = began_s + trial.days * DAY_S
    shows_s: float | None = None
    short_k = 0.0
    wrong: list[Accusation] = []
    requests: tuple[Request, ...] = ()
    setpoint_c = broken.plan.zones[0].heat.night_c  # type: ignore[union-attr]  # every drawn house is heated
    while broken.now.mono_s < end_s:
        tick = broken.tick(*requests)
        now_s = broken.now.mono_s
        # A sunny day's lock-out, which a person clears once the house has cooled.
        requests = tuple(Request(clear=name) for name in tick.memory.latches)
        if trial.grows is not None:
            broken.break_down(trial.grows(now_s - began_s))
        if shows_s is None and trial.shows(broken):
            shows_s = now_s
            end_s = now_s + trial.days * DAY_S
        short_k = max(short_k, setpoint_c - broken.house.state.bench_c)
        for event in tick.events:
            if event.phase is not Phase.RAISED:
                continue
            if event.code in trial.caught_by:
                delay_s = 0.0 if shows_s is None else now_s - shows_s
                return Outcome(
                    trial.name, run.drawn.name, True, event.code, delay_s, short_k, tuple(wrong)
                )
            if event.code in VERDICTS and event.code not in trial.beside:
                wrong.append(_accusation(event, season_began_s))
    return Outcome(
        trial.name, run.drawn.name, shows_s is not None, None, None, short_k, tuple(wrong)
    )


def _accusation(event: Event, began_s: float) -> Accusation:
    return Accusation(
        (event.mono_s - began_s) / DAY_S, event.code, f"{event.subject}: {event.text}"
    )
