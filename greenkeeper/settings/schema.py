"""The checked settings types: every key with its unit, range, default and reason.

Lives here: what one key may hold, stated once; the JSON Schema and the messages of
`check` come from here (keys.py), and a test holds config/greenkeeper.yaml to it. Does
not live here: the keys of what measures (sensors.py, damp.py), of what is wired
(switches.py), of the house (house.py) and of the page (page.py), reading files (load.py),
rules over several keys (rules.py).
Instances are frozen; attribute access costs what a plain object's does.
"""

from datetime import tzinfo
from functools import cached_property
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, Field

from greenkeeper.settings.basics import TOPIC_PATTERN, Checked, DiffK, Id, TempC
from greenkeeper.settings.damp import Airing, Hygrometer, Wetness
from greenkeeper.settings.house import House
from greenkeeper.settings.page import Page
from greenkeeper.settings.plants import Rating, minimum_c
from greenkeeper.settings.sensors import Chips, Onewire, Probe
from greenkeeper.settings.switches import Enable, Gpio, Input, Output, Vent

# Raised when what a file says would no longer mean what it meant. The CHANGELOG then has what
# to change, and `hint` in wording.py says so to whoever has the other version.
SETTINGS_VERSION = 1

TIME_PATTERN = r"^([01][0-9]|2[0-3]):[0-5][0-9]$"
CURRENCY_PATTERN = r"^\S{1,5}$"
URL_PATTERN = r"^https?://[A-Za-z0-9.:\[\]-]+/[\x21-\x7e]*$"
LINE_PATTERN = r"^[\x20-\x7e]+$"
HOST_PATTERN = r"^([^\s/]+|/\S+)$"
TIME_ZONE_WORDS = "a time zone such as 'Europe/Brussels' or 'UTC'"

# --- the place -----------------------------------------------------------------------


def _zone_known(name: Any) -> Any:
    if isinstance(name, str):
        try:
            ZoneInfo(name)
        except (KeyError, ValueError, OSError) as error:
            raise ValueError(f"expected {TIME_ZONE_WORDS}") from error
    return name


class Site(Checked):
    name: Id = Field(description="Short name of this house: names the broker device as well.")
    latitude: float | None = Field(None, ge=-90, le=90, description="Degrees north.")
    longitude: float | None = Field(None, ge=-180, le=180, description="Degrees east.")
    timezone: Annotated[str, BeforeValidator(_zone_known)] = Field(
        "UTC", description="Civil time zone of the schedules, as in the tz database."
    )
    outdoor_probe: Id | None = Field(None, description="The probe that hangs outdoors.")
    circuit_w: float | None = Field(
        None, gt=0, le=100_000, description="Most that all heaters may draw at once, in watts."
    )
    outdoor_hygrometer: Id | None = Field(None, description="The hygrometer that hangs outdoors.")
    monthly_mean_c: tuple[Annotated[TempC, Field(ge=-50, le=45)], ...] | None = Field(
        None,
        min_length=12,
        max_length=12,
        strict=False,
        description="Mean of the air outside, January to December, where no weather file is.",
    )
    clock: Literal["synchronised", "trusted"] = Field(
        "synchronised",
        description="'synchronised': day and night setpoints count only once systemd-timesyncd "
        "has set the clock. 'trusted': a battery clock or another time daemon keeps it.",
    )

    @cached_property
    def zone(self) -> tzinfo:
        return ZoneInfo(self.timezone)


class Night(Checked):
    from_: str = Field(
        "20:00", alias="from", pattern=TIME_PATTERN, description="Quoted civil time, '20:00'."
    )
    to: str = Field("07:00", pattern=TIME_PATTERN, description="Quoted civil time, '07:00'.")

    @cached_property
    def from_minute(self) -> int:
        return _minute_of_day(self.from_)

    @cached_property
    def to_minute(self) -> int:
        return _minute_of_day(self.to)


def _minute_of_day(text: str) -> int:
    hour, minute = text.split(":")
    return int(hour) * 60 + int(minute)


# --- zones ---------------------------------------------------------------------------


class Heat(Checked):
    output: Id = Field(description="The output that switches the heater.")
    second_output: Id | None = Field(
        None, description="A second heater, which joins when the first alone is not enough."
    )
    take_turns: bool = Field(
        True, description="Which of the two is first goes by wear; false: output is first."
    )
    setpoint: Literal["from-plants"] | None = Field(
        None, description="'from-plants': the highest minimum among the zone's plants + margin_k."
    )
    setpoint_c: TempC | None = Field(None, ge=-10, le=35, description="On at or below this.")
    night_setpoint_c: TempC | None = Field(
        None, ge=-10, le=35, description="At night instead of setpoint_c."
    )
    margin_k: DiffK = Field(0.5, ge=0, le=10, description="Above the tenderest plant's minimum.")
    hysteresis_k: DiffK = Field(0.5, ge=0.1, le=5, description="Off this far above the setpoint.")
    strategy: Literal["hysteresis", "proportion"] = Field(
        "hysteresis",
        description="How heat is metered; 'proportion': in short pulses, for the least energy.",
    )
    anticipate: bool = Field(
        False, description="true: hysteresis reckons with the warmth that is still on its way."
    )
    ahead_in_cheap_hours: bool = Field(
        False,
        description="true: warmer in a tariff's cheap hours, where that spares more than it costs.",
    )
    leave_dawn_to_sun: bool = Field(
        False,
        description="true: a little colder before a sunrise that the forecast has in a clear sky.",
    )
    with_: Id | None = Field(
        None, alias="with", description="An output that runs with the heater: a fan inside."
    )
    with_required: bool = Field(
        False, description="true: no heat while that output cannot be switched."
    )
    run_on_s: float = Field(60.0, ge=0, le=1800, description="How long it runs on after the heat.")
    independent_limit: bool = Field(
        False, description="true: a thermostat of its own, in series, limits this heater."
    )
    blind_duty: float = Field(
        0.0, ge=0, le=0.5, description="Share of the time to heat in frost without a probe."
    )
    blind_longest_s: float = Field(
        28_800.0, ge=600, le=172_800, description="Heating time without a probe, altogether."
    )
    response_within_s: float | None = Field(
        None, ge=300, le=28_800, description="For this heater, instead of watch's: a weak mat."
    )
    response_rise_k: DiffK | None = Field(
        None, ge=0.2, le=5, description="The same: the least effect that shows its heat arrives."
    )


class Cool(Checked):
    output: Id = Field(description="The output that switches the fan, or a vent's name.")
    setpoint_c: TempC = Field(ge=0, le=50, description="On at or above this.")
    night_setpoint_c: TempC | None = Field(
        None, ge=0, le=50, description="At night instead of setpoint_c."
    )
    hysteresis_k: DiffK = Field(1.5, ge=0.1, le=10, description="Off this far below the setpoint.")


class Zone(Checked):
    probes: tuple[Id, ...] = Field(
        min_length=1, strict=False, description="Probes at plant height; heat believes the coldest."
    )
    heat: Heat | None = Field(None, description="How the zone is kept from freezing.")
    cool: Cool | None = Field(None, description="How the zone is kept from cooking.")
    air: Airing | None = Field(None, description="How damp is let out of it.")
    hygrometer: Id | None = Field(None, description="The hygrometer among its plants.")
    damp: Wetness = Field(
        default_factory=lambda: Wetness(), description="When wet leaves are told."
    )
    deadband_k: DiffK = Field(
        3.0, ge=0.5, le=30, description="Least gap between heat-off and cool-on."
    )
    disagree_k: DiffK = Field(
        3.0, ge=0.5, le=20, description="Its probes further apart than this: a warning."
    )
    disagree_s: float = Field(
        900.0, ge=60, le=86_400, description="How long they must be that far apart."
    )
    ceiling_c: TempC = Field(
        40.0, ge=15, le=60, description="Any trusted probe above this locks every heater out."
    )
    ceiling_clears: Literal["by-hand", "by-itself"] = Field(
        "by-hand",
        description="After a ceiling trip, once 5 K below: wait for `greenkeeper clear`, or go on.",
    )


class Plant(Checked):
    name: str = Field(min_length=1, max_length=80, description="As you call it.")
    zone: Id = Field(description="The zone it stands in.")
    min_c: TempC | None = Field(None, ge=-30, le=25, description="Never below this.")
    max_c: TempC | None = Field(None, ge=0, le=60, description="Never above this.")
    rating: Rating | None = Field(
        None, strict=False, description="RHS hardiness rating, instead of min_c."
    )

    @cached_property
    def lowest_c(self) -> float | None:
        """Its minimum in °C, stated or from its rating; None when it has neither."""
        if self.min_c is not None:
            return self.min_c
        return None if self.rating is None else minimum_c(self.rating)


# --- does the heat arrive? -----------------------------------------------------------


class Watch(Checked):
    """When heat that does not arrive, or does not end, is told.

    The defaults are for a house nobody described. Where `house.loss_w_per_k` is written, what
    is not written here follows the house's figures (control/watching/thresholds.py).
    """

    response_within_s: float = Field(
        1800.0, ge=300, le=14_400, description="So long on without effect: heat does not arrive."
    )
    response_rise_k: DiffK = Field(
        0.5, ge=0.2, le=5, description="The least effect, over where it was when heat came on."
    )
    stuck_after_s: float = Field(
        1800.0, ge=600, le=14_400, description="So long off before a rise is held against heat."
    )
    stuck_rise_k: DiffK = Field(
        2.0, ge=1, le=30, description="A rise in the dark without heat that means a stuck contact."
    )
    stuck_lift_k: DiffK = Field(
        24.0, ge=5, le=60, description="Above outdoors after two dark unheated hours: the same."
    )
    limit_duty: float = Field(
        0.95, ge=0.5, le=1, description="Share of the time on that counts as all a heater can do."
    )
    limit_after_s: float = Field(
        3600.0, ge=1800, le=43_200, description="So long at that, and still too cold: told."
    )
    runaway_k_per_min: float = Field(
        2.0, ge=0.5, le=20, description="A rise as fast as this locks every heater out."
    )
    runaway_for_s: float = Field(
        240.0, ge=60, le=1200, description="Once it has lasted so long; three times that by day."
    )
    displaced_k: DiffK = Field(
        1.0, ge=0.3, le=5, description="A probe this near the outdoor one reads like outdoors."
    )
    displaced_after_s: float = Field(
        3600.0, ge=1800, le=43_200, description="Once it has done so for so long."
    )
    door_fall_k: DiffK = Field(
        2.0, ge=1, le=20, description="A fall in the dark that only an open door explains."
    )
    door_within_s: float = Field(600.0, ge=120, le=1800, description="And within so long.")


# --- the rest ------------------------------------------------------------------------


class TariffHours(Night):
    """Some hours at a price of their own. Both ends '00:00': the whole day."""

    from_: str = Field(
        "00:00", alias="from", pattern=TIME_PATTERN, description="Quoted civil time, '22:00'."
    )
    to: str = Field("00:00", pattern=TIME_PATTERN, description="Quoted civil time, '06:00'.")
    days: Literal["all", "weekdays", "weekend"] = Field(
        "all", description="'weekdays': Monday to Friday; 'weekend': Saturday and Sunday."
    )
    per_kwh: float = Field(ge=0, le=100, description="Price of one kWh in these hours.")


class Tariff(Checked):
    currency: str = Field("EUR", pattern=CURRENCY_PATTERN, description="Shown beside every cost.")
    per_kwh: float = Field(ge=0, le=100, description="Price of one kWh, in hours not listed.")
    hours: tuple[TariffHours, ...] = Field(
        (), strict=False, max_length=24, description="Hours at another price."
    )


class Tls(Checked):
    ca_file: str | None = Field(
        None, min_length=1, description="The broker's own authority; without it, the system's."
    )
    cert_file: str | None = Field(
        None, min_length=1, description="This keeper's certificate, where the broker wants one."
    )
    key_file: str | None = Field(
        None,
        min_length=1,
        description="The certificate's key; a relative name is a systemd credential.",
    )


class Commands(Checked):
    """What may be ordered over the broker: nothing that is not named here."""

    setpoints: tuple[Id, ...] = Field(
        (), strict=False, description="Zones whose heat setpoint may be changed for a while."
    )
    switches: tuple[Id, ...] = Field(
        (), strict=False, description="Zones that may be switched off for a while."
    )
    lowest_c: TempC = Field(3.0, ge=-5, le=30, description="No such setpoint below this.")
    highest_c: TempC = Field(20.0, ge=-5, le=35, description="None above this.")
    lasts_s: float = Field(
        43_200.0, ge=600, le=172_800, description="How long an order holds, unless renewed."
    )


class Broker(Checked):
    host: str = Field(
        pattern=HOST_PATTERN,
        max_length=253,
        description="The broker's name or address; or the path of its socket on this machine.",
    )
    port: int = Field(1883, ge=1, le=65535, description="1883 in the clear, 8883 with TLS.")
    username: str | None = Field(
        None, min_length=1, description="Who this keeper is to the broker."
    )
    password_file: str | None = Field(
        None,
        min_length=1,
        description="A file with the password alone; a relative name is a systemd credential.",
    )
    tls: Tls | None = Field(None, description="Present, even as {}: the link is encrypted.")
    domain: Id = Field("homie", description="First level of every topic.")
    device: Id | None = Field(None, description="Device ID; without it, the site's name.")
    keepalive_s: int = Field(
        20, ge=5, le=600, description="A broker that hears nothing for 1.5 times this says 'lost'."
    )
    commands: Commands | None = Field(
        None, description="Without it, nothing on the broker can order anything."
    )

    @property
    def is_socket(self) -> bool:
        """The broker is on this machine, behind a file."""
        return self.host.startswith("/")


class Journal(Checked):
    file: str | None = Field(
        None, min_length=1, description="Without it: journal.db in the state folder."
    )
    keep_days: int = Field(3650, ge=30, le=36500, description="Hours are kept this long.")
    minutes_days: int = Field(400, ge=7, le=3650, description="Minutes are kept this long.")
    batch_s: float = Field(
        600.0, ge=10, le=3600, description="Minutes reach the card together, this often."
    )


class Forecast(Checked):
    url: str | None = Field(
        None,
        pattern=URL_PATTERN,
        max_length=500,
        description="Where it is fetched; {latitude} and {longitude} in it become the site's.",
    )
    identity: str | None = Field(
        None,
        min_length=8,
        max_length=200,
        pattern=LINE_PATTERN,
        description="Who asks, and how to be reached: services refuse who hides.",
    )
    topic: str | None = Field(
        None,
        pattern=TOPIC_PATTERN,
        max_length=200,
        description="Where on the broker somebody else leaves it, retained; asked first.",
    )


class Quiet(Night):
    from_: str = Field(
        "22:00", alias="from", pattern=TIME_PATTERN, description="Quoted civil time, '22:00'."
    )


class Alarms(Checked):
    addresses_file: str | None = Field(
        None,
        min_length=1,
        description="Who is written to: an absolute path, or the name of a systemd credential.",
    )
    tell_from: Literal["notice", "warning", "alarm"] = Field(
        "warning", description="The lowest level anybody is told of."
    )
    quiet: Quiet | None = Field(None, description="Hours in which only an alarm may disturb.")
    gather_s: float = Field(
        300.0, ge=0, le=3600, description="What is less than an alarm waits so long for company."
    )
    repeat_s: float = Field(
        3600.0, ge=600, le=86400, description="An unseen alarm is told again this often."
    )
    over_after_s: float = Field(
        1800.0, ge=60, le=86400, description="What has been gone for so long is told as over."
    )
    most_an_hour: int = Field(
        6, ge=1, le=60, description="Messages; an alarm's first word is never held back."
    )
    heartbeat_file: str | None = Field(
        None,
        min_length=1,
        description="Holds the address that is called while the keeper lives; as above.",
    )
    heartbeat_s: float = Field(300.0, ge=60, le=86400, description="How often it is called.")


class Folders(Checked):
    state: str | None = Field(
        None,
        min_length=1,
        description="Kept over a restart. Without it: systemd's, or /var/lib/greenkeeper.",
    )
    runtime: str | None = Field(
        None, min_length=1, description="In memory. Without it: systemd's, or /run/greenkeeper."
    )


class Settings(Checked):
    settings_version: int = Field(
        SETTINGS_VERSION,
        ge=SETTINGS_VERSION,
        le=SETTINGS_VERSION,
        description="The version of the settings this file was written for.",
    )
    site: Site = Field(description="The place.")
    poll_s: float = Field(10.0, ge=1, le=60, description="Seconds from tick to tick.")
    probes: dict[Id, Probe] = Field(min_length=1, description="What measures, by names you choose.")
    hygrometers: dict[Id, Hygrometer] = Field(
        default_factory=dict, description="What measures the air's damp, by names you choose."
    )
    onewire: Onewire = Field(
        default_factory=lambda: Onewire(), description="The bus of the 1-Wire probes."
    )
    chips: Chips = Field(
        default_factory=lambda: Chips(), description="The chips that the kernel reads."
    )
    outputs: dict[Id, Output] = Field(
        default_factory=dict, description="What switches, by names you choose."
    )
    vents: dict[Id, Vent] = Field(
        default_factory=dict, description="Vents moved by a motor, by names you choose."
    )
    enable: Enable | None = Field(None, description="The line that says the keeper is well.")
    inputs: dict[Id, Input] = Field(
        default_factory=dict, description="Contacts that tell how things are, by names you choose."
    )
    gpio: Gpio = Field(default_factory=lambda: Gpio(), description="How the board's pins are held.")
    night: Night = Field(
        default_factory=lambda: Night.model_validate({}), description="When night setpoints hold."
    )
    zones: dict[Id, Zone] = Field(
        min_length=1, description="What is kept between limits, by names you choose."
    )
    plants: tuple[Plant, ...] = Field(
        (), strict=False, description="Who lives there, and what each can stand."
    )
    watch: Watch = Field(
        default_factory=lambda: Watch(), description="When missing or unending heat is told."
    )
    house: House = Field(
        default_factory=lambda: House(), description="The modelled house, for playing it through."
    )
    tariff: Tariff | None = Field(None, description="Without it, no cost is shown.")
    broker: Broker | None = Field(None, description="Without it, nothing is published.")
    forecast: Forecast | None = Field(
        None, description="Without it, the coming night is reckoned from those before."
    )
    alarms: Alarms | None = Field(None, description="Without it, nobody is written to.")
    page: Page = Field(default_factory=lambda: Page(), description="What the phone shows.")
    journal: Journal = Field(default_factory=lambda: Journal(), description="The record.")
    folders: Folders = Field(default_factory=lambda: Folders(), description="Where files go.")

    @cached_property
    def lease_s(self) -> float:
        """How long an ON holds without being renewed: three ticks, and 15 s at least.

        One late tick must not drop the heat; three mean that the loop is ill.
        """
        return max(3.0 * self.poll_s, 15.0)
