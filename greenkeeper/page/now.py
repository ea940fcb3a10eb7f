"""How things are, as the page says it: the status document in the reader's figures.

Lives here: which words stand where. Does not live here: the words (reports/words.py), and
how it looks (templates/now.html).
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from greenkeeper.errors import Level
from greenkeeper.page.figures import Figures
from greenkeeper.reports import words
from greenkeeper.status import StatusDocument

LEVEL_WORDS = {Level.NOTICE: "Notice", Level.WARNING: "Warning", Level.ALARM: "Alarm"}


class Measured(NamedTuple):
    """A probe or hygrometer. age: how old what it says is; empty where it says nothing."""

    name: str
    said: str
    age: str
    sound: bool


class Zone(NamedTuple):
    name: str
    temperature: str
    margin: str
    below: bool  # colder than the tenderest plant's minimum
    wants: str
    airing: str
    probes: Sequence[Measured]


class Output(NamedTuple):
    name: str
    mode: str
    on: bool
    said: str  # "on since 21:40"
    reason: str
    life: str


class Alarm(NamedTuple):
    level: str
    grave: bool
    title: str
    subject: str
    text: str
    since: str
    seen: bool
    name: str


class Contact(NamedTuple):
    name: str
    said: str
    since: str
    detail: str


class Now(NamedTuple):
    """The head of the page. Without a status, what follows the sentence is empty."""

    alive: bool
    grave: bool
    sentence: str
    told: str  # when the keeper said so
    last_said: str  # by a keeper that is silent now
    alarms: Sequence[Alarm]
    latches: Sequence[str]
    zones: Sequence[Zone]
    outputs: Sequence[Output]
    free: Sequence[Measured]  # probes of no zone, and hygrometers
    contacts: Sequence[Contact]


def now(status: StatusDocument | None, figures: Figures, now_utc_s: float) -> Now:
    stands = words.standing(status, now_utc_s)
    sentence = figures.text(stands.sentence)
    grave = stands.level >= Level.ALARM
    if status is None:
        return Now(stands.alive, grave, sentence, "", "", (), (), (), (), (), ())
    lag_s = max(0.0, now_utc_s - status["utc_s"])
    clock = "" if status["clock_trusted"] else ", by a clock that nobody has set"
    return Now(
        alive=stands.alive,
        grave=grave,
        sentence=sentence,
        told=f"{figures.moment(status['utc_s'])}, {words.duration(lag_s)} ago{clock}",
        last_said="" if stands.alive else figures.text(words.headline(status)),
        alarms=tuple(_alarms(status, figures, now_utc_s)),
        latches=tuple(status["latches"]),
        zones=tuple(_zones(status, figures, lag_s)),
        outputs=tuple(_outputs(status, figures, now_utc_s)),
        free=tuple(_free(status, figures, lag_s)),
        contacts=tuple(_contacts(status, figures, now_utc_s)),
    )


def _alarms(status: StatusDocument, figures: Figures, now_utc_s: float) -> Iterator[Alarm]:
    for alarm in status["alarms"]:
        yield Alarm(
            LEVEL_WORDS[Level(alarm["level"])],
            alarm["level"] >= Level.ALARM,
            alarm["title"],
            alarm["subject"],
            figures.text(alarm["text"]),
            figures.since(alarm["since_utc_s"], now_utc_s),
            alarm["seen"],
            alarm["name"],
        )


def _zones(status: StatusDocument, figures: Figures, lag_s: float) -> Iterator[Zone]:
    for name, zone in status["zones"].items():
        coldest_c, minimum_c = zone["coldest_c"], zone["minimum_c"]
        yield Zone(
            name,
            figures.text(words.temperature(coldest_c)),
            figures.text(words.margin(zone)),
            coldest_c is not None and minimum_c is not None and coldest_c < minimum_c,
            figures.text(words.zone_wants(zone, status["timezone"])),
            figures.text(words.airing(zone)),
            tuple(_probe(probe, status, figures, lag_s) for probe in zone["probes"]),
        )


def _probe(name: str, status: StatusDocument, figures: Figures, lag_s: float) -> Measured:
    probe = status["probes"][name]
    age = "" if probe["age_s"] is None else words.duration(probe["age_s"] + lag_s)
    return Measured(name, figures.text(words.probe(probe)), age, probe["temp_c"] is not None)


def _free(status: StatusDocument, figures: Figures, lag_s: float) -> Iterator[Measured]:
    in_zones = {probe for zone in status["zones"].values() for probe in zone["probes"]}
    for name in sorted(status["probes"], key=lambda each: each != status["outdoor_probe"]):
        if name not in in_zones:
            yield _probe(name, status, figures, lag_s)
    for name, damp in status["hygrometers"].items():
        told = [words.hygrometer(damp), words.dew_point(damp)]
        said = figures.text(", ".join(filter(None, told)))
        age = "" if damp["age_s"] is None else words.duration(damp["age_s"] + lag_s)
        yield Measured(name, said, age, damp["rh_pct"] is not None)


def _outputs(status: StatusDocument, figures: Figures, now_utc_s: float) -> Iterator[Output]:
    for name, output in status["outputs"].items():
        life = words.life_used(output)
        yield Output(
            name,
            output["mode"],
            output["on"],
            f"{words.switch(output)} since {figures.since(output['since_utc_s'], now_utc_s)}",
            figures.text(output["reason"]),
            "" if life is None else f"{life} of its relay's rated life used",
        )


def _contacts(status: StatusDocument, figures: Figures, now_utc_s: float) -> Iterator[Contact]:
    for name, contact in status["contacts"].items():
        since = figures.since(contact["since_utc_s"], now_utc_s)
        yield Contact(name, words.contact(contact), since, contact["detail"])
