"""The dialogue: from nothing to Answers, one plain question after the other.

Lives here: what is asked and in which order, and what an answer leads to. Does not live
here: how it is shown (talk.Talk), what is wired (talk.Bench), the file (writing.py).
The cautions come before anything else, and those about relays before the first of them.
"""

import re
from collections.abc import Callable, Collection, Iterator
from typing import Any

from greenkeeper import units
from greenkeeper.pins import Level
from greenkeeper.settings.basics import ID_PATTERN
from greenkeeper.settings.checks import place
from greenkeeper.settings.schema import TIME_ZONE_WORDS, Plant, Site, Tariff
from greenkeeper.setup import cautions
from greenkeeper.setup.answers import USUAL_COOL_C, USUAL_HEAT_C, Answers, Begun, Relay, Zone
from greenkeeper.setup.header import PIN_OF_HEADER, relay_pin
from greenkeeper.setup.talk import Bench, Talk, Trial, one_of, until_understood, yes
from greenkeeper.setup.warming import Warming

UNITS = "°C, or with a unit: 41 °F"


class Guide:
    """One person's way through it. answers() raises EOFError when they are gone."""

    def __init__(
        self,
        talk: Talk,
        bench: Bench,
        *,
        trial_s: float,
        timezone: str,
        begun: Begun | None = None,
        keep: Callable[[Begun], None] = lambda _: None,
    ) -> None:
        """trial_s: how long a relay is closed. timezone: the machine's own, as a suggestion.
        begun: what was answered in an earlier start. keep: told after every part."""
        self._talk = talk
        self._earlier = begun
        self._begun = Begun()
        self._keep = keep
        self._bench = bench
        self._trial_s = trial_s
        self._timezone = timezone

    def answers(self) -> Answers:
        self._talk.say(*cautions.FIRST, "")
        until_understood(self._talk, "Write 'read' once you have read it", _read)
        self._resume()
        site = self._begun.site or self._site()
        probes = self._probes()
        outdoors = self._outdoors(list(probes), site)
        indoors = [name for name in probes if name != outdoors]
        outputs = self._outputs()
        zones, plants = self._zones(indoors, list(outputs))
        return Answers(
            cautions="read",
            site=site.model_copy(update={"outdoor_probe": outdoors}),
            probes=probes,
            outputs=outputs,
            zones=zones,
            plants=tuple(plants),
            tariff=self._tariff(),
        )

    def _resume(self) -> None:
        """Relays that were named are not tried again: their trial is over."""
        begun = self._earlier
        if begun is None:
            return
        self._talk.say("", "An earlier setup was left in the middle. Of it are kept:")
        self._talk.say(*(f"  {part}: {', '.join(names)}" for part, names in _parts(begun) if names))
        if yes(self._talk, "Go on from there? No begins anew", default=True):
            self._begun = begun

    def _note(self, **parts: object) -> None:
        self._begun = Begun.model_validate({**dict(self._begun), **parts})
        self._keep(self._begun)

    # --- the place ---

    def _site(self) -> Site:
        site = Site.model_validate(self._place())
        self._note(site=site)
        return site

    def _place(self) -> dict[str, Any]:
        self._section("The place")
        name = self._name("A short name for this house", "greenhouse", ())
        zone = until_understood(
            self._talk, "Time zone, as in Europe/Brussels", _time_zone, self._timezone
        )
        found: dict[str, Any] = {"name": name, "timezone": zone}
        while True:
            latitude = self._number("Degrees north, empty if you would rather not say", -90, 90)
            longitude = None if latitude is None else self._number("Degrees east", -180, 180)
            if longitude is None:
                return found
            there = found | {"latitude": latitude, "longitude": longitude}
            astray = list(place.of_site(Site.model_validate(there)))
            if not astray:
                return there
            self._talk.say(*(f"  {each.found}. {each.hint}" for each in astray))

    # --- probes ---

    def _probes(self) -> dict[str, str]:
        self._section("The probes")
        named = dict(self._begun.probes)
        waiting = dict(self._bench.temperatures())
        while not waiting and not named:
            self._talk.say(
                "No probe can be read on the 1-Wire bus. `greenkeeper probes` says more about it,",
                "hardware-notes/wiring.md how they are wired.",
            )
            self._talk.ask("Enter to look again, Ctrl-C to leave")
            waiting = dict(self._bench.temperatures())
        self._talk.say(*(f"  {rom}  {units.shown_c(temp_c)}" for rom, temp_c in waiting.items()))
        for name, known in named.items():
            self._talk.say(f"  {known} is {name}")
            waiting.pop(known, None)
        while waiting:
            rom = self._which(waiting, named)
            if rom is None:
                break
            del waiting[rom]
            named[self._name(f"A name for {rom}", _usual_probe(named), named)] = rom
            self._note(probes=named)
        return named

    def _which(self, waiting: dict[str, float], named: dict[str, str]) -> str | None:
        """The next probe to be named; None: the rest stays out of the settings."""
        if len(waiting) == 1 and not named:
            return next(iter(waiting))
        while True:
            left = f"{len(waiting)} left; or 'enough'" if named else f"{len(waiting)} found"
            word = self._talk.ask(f"Take one probe in your warm hand and press Enter ({left})")
            if word == "enough" and named:
                return None
            if word in waiting:  # whoever knows it already may write it
                return word
            warmed = self._warmed(waiting)
            if warmed is not None:
                return warmed
            self._talk.say("  None of them rose alone. Hold just one, tightly, by its tip.")

    def _warmed(self, waiting: dict[str, float]) -> str | None:
        warming = Warming()
        self._talk.say("  Watching which one rises. Hold it; half a minute is usual.")
        for temps_c in self._bench.watch():
            # All of them are looked at: the one in the hand may have its name already.
            rom = warming.look(temps_c)
            if rom is None:
                continue
            self._talk.say(f"  {rom} rose by {warming.rise_k(rom, temps_c):.1f} K.")
            if rom in waiting:
                return rom
            self._talk.say("  That one has its name. Let it cool, and take another.")
            return None
        return None

    def _outdoors(self, names: list[str], site: Site) -> str | None:
        if len(names) < 2:
            return None
        if site.outdoor_probe is not None or self._begun.zones:
            return site.outdoor_probe  # it was asked before the first zone
        likely = "outdoors" if "outdoors" in names else ""
        found = one_of(self._talk, "Which one hangs outdoors? Empty: none", ["", *names], likely)
        self._note(site=site.model_copy(update={"outdoor_probe": found or None}))
        return found or None

    # --- relays ---

    def _outputs(self) -> dict[str, Relay]:
        self._section("The relays")
        self._talk.say(*cautions.RELAY, "")
        found = dict(self._begun.outputs)
        for name, relay in found.items():
            self._talk.say(f"  {name} is GPIO{relay.pin}")
        while True:
            name = self._name(
                "A name for a relay, such as heater or fan; empty: no more", "", found, empty=True
            )
            if not name:
                return found
            found[name] = self._relay(name, {relay.pin for relay in found.values()})
            self._note(outputs=found)

    def _relay(self, name: str, taken: Collection[int]) -> Relay:
        pin = until_understood(
            self._talk, f"GPIO of {name}, its BCM number", lambda text: relay_pin(text, taken)
        )
        self._talk.say(f"  That is pin {PIN_OF_HEADER[pin]} of the header.")
        word = one_of(
            self._talk,
            "Which level switches it on? Many ready-made boards want low",
            ["high", "low"],
            "high",
        )
        level = self._tried(pin, Level(word))
        power_w = self._number(f"Power of what {name} switches, in watts; empty: unknown", 1, 20000)
        return Relay(pin=pin, on_level=level, power_w=power_w)

    def _tried(self, pin: int, level: Level) -> Level:
        """The level that switches on, after trying if the person likes."""
        refusal = self._bench.relay_refusal()
        if refusal is not None:
            self._talk.say(f"  It cannot be tried now: {refusal}")
            return level
        while yes(
            self._talk,
            f"Mains are away from it. Close GPIO{pin} for {self._trial_s:g} s now?",
            default=False,
        ):
            trouble = self._bench.try_relay(Trial(pin, level, self._trial_s))
            if trouble is not None:
                self._talk.say(f"  {trouble}")
                continue
            seen = one_of(
                self._talk,
                "When was the relay's light on: beside 'on', beside 'off', or never?",
                ["on", "off", "never"],
            )
            if seen == "on":
                break
            if seen == "off":
                level = Level.LOW if level is Level.HIGH else Level.HIGH
                self._talk.say(f"  Then it switches on with {level.value}. Try that.")
            else:
                self._talk.say("  Look at the pin, the board's supply, its ground and its jumper.")
        return level

    # --- zones and plants ---

    def _zones(self, probes: list[str], outputs: list[str]) -> tuple[dict[str, Zone], list[Plant]]:
        self._section("What stands where")
        zones, plants = dict(self._begun.zones), list(self._begun.plants)
        while not zones or yes(self._talk, "Another zone?", default=False):
            name = self._name("A name for the zone", "bench" if not zones else "", zones)
            own = self._zone_plants(name)
            plants += own
            tender = any(plant.lowest_c is not None for plant in own)
            zones[name] = self._zone(probes, outputs, tender=tender)
            self._note(zones=zones, plants=tuple(plants))
        return zones, plants

    def _zone_plants(self, zone: str) -> list[Plant]:
        self._talk.say("Its plants, each with the temperature it must never fall below.")
        found: list[Plant] = []
        while True:
            name = self._talk.ask("  A plant; empty: no more")
            if not name:
                return found
            lowest = until_understood(self._talk, f"  Minimum of {name} ({UNITS})", _in(-30, 25))
            found.append(Plant(name=name[:80], zone=zone, min_c=lowest))

    def _zone(self, probes: list[str], outputs: list[str], *, tender: bool) -> Zone:
        inside = until_understood(
            self._talk,
            f"Its probes at plant height, of {', '.join(probes)}",
            lambda text: _some_of(text, probes),
            " ".join(probes),
        )
        choices = ["", *outputs]
        heater = one_of(
            self._talk, "The relay of its heater; empty: none", choices, _likely(outputs, "heat")
        )
        heat_c = USUAL_HEAT_C
        if heater and not tender:
            heat_c = until_understood(
                self._talk, f"Heat at or below ({UNITS})", _in(-10, 35), f"{USUAL_HEAT_C:g}"
            )
        rest = ["", *(name for name in outputs if name != heater)]
        fan = one_of(self._talk, "The relay that cools it; empty: none", rest, _likely(rest, "fan"))
        cool_c = USUAL_COOL_C
        if fan:
            cool_c = until_understood(
                self._talk, f"Cool at or above ({UNITS})", _in(0, 50), f"{USUAL_COOL_C:g}"
            )
        return Zone(
            probes=inside, heater=heater or None, heat_c=heat_c, fan=fan or None, cool_c=cool_c
        )

    # --- the rest ---

    def _tariff(self) -> Tariff | None:
        self._section("The price")
        price = self._number("Price of a kilowatt-hour; empty: no cost is worked out", 0, 100)
        if price is None:
            return None
        currency = until_understood(self._talk, "In which currency", _currency, "EUR")
        return Tariff(currency=currency, per_kwh=price)

    def _section(self, title: str) -> None:
        self._talk.say("", title, "-" * len(title))

    def _name(
        self, question: str, default: str, taken: Collection[str], *, empty: bool = False
    ) -> str:
        def understand(text: str) -> str:
            if empty and not text:
                return ""
            if re.fullmatch(ID_PATTERN, text) is None or len(text) > 40:
                raise ValueError("small letters, digits and single hyphens, such as bench-left")
            if text in taken:
                raise ValueError(f"there is a {text} already")
            return text

        return until_understood(self._talk, question, understand, default)

    def _number(self, question: str, lowest: float, highest: float) -> float | None:
        def understand(text: str) -> float | None:
            return None if not text else _in(lowest, highest, float)(text)

        return until_understood(self._talk, question, understand)


def _parts(begun: Begun) -> Iterator[tuple[str, list[str]]]:
    yield "house", [begun.site.name] if begun.site is not None else []
    yield "probes", list(begun.probes)
    yield "relays", list(begun.outputs)
    yield "zones", list(begun.zones)


def _read(text: str) -> None:
    if text.lower() != "read":
        raise ValueError("It takes ten minutes, and this program waits.")


def _in(
    lowest: float, highest: float, number: Callable[[str], float] = units.temperature_c
) -> Callable[[str], float]:
    """What makes a number between these out of a text, or says what it should be."""

    def understand(text: str) -> float:
        try:
            found = number(text)
        except ValueError:
            raise ValueError(f"a number from {lowest:g} to {highest:g}, with a point") from None
        if not lowest <= found <= highest:
            raise ValueError(f"a number from {lowest:g} to {highest:g}")
        return found

    return understand


def _some_of(text: str, names: Collection[str]) -> tuple[str, ...]:
    found = tuple(dict.fromkeys(re.split(r"[,\s]+", text)))
    if not found or not set(found) <= set(names):
        raise ValueError(f"names from {', '.join(names)}, with a blank between them")
    return found


def _time_zone(text: str) -> str:
    try:
        return Site(name="x", timezone=text).timezone
    except ValueError:
        raise ValueError(f"expected {TIME_ZONE_WORDS}") from None


def _currency(text: str) -> str:
    try:
        return Tariff(currency=text, per_kwh=0.0).currency
    except ValueError:
        raise ValueError("up to five signs, such as EUR") from None


def _usual_probe(named: Collection[str]) -> str:
    return next((each for each in ("bench", "outdoors", "ridge") if each not in named), "")


def _likely(names: Collection[str], part: str) -> str:
    return next((name for name in names if part in name), "")
