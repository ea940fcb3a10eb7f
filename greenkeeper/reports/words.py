"""One wording for every state, used by terminal and page alike.

Lives here: sentences and short phrases from the status document. Does not live here:
layout (board.py) and colour.
"""

from datetime import UTC, datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from greenkeeper.errors import Level
from greenkeeper.status import (
    ContactStatus,
    HygrometerStatus,
    OutputStatus,
    ProbeStatus,
    StatusDocument,
    ZoneStatus,
)
from greenkeeper.units import shown_c, shown_pct

NO_READING = "no reading"
NOTHING = "\N{EN DASH}"  # in a table, where there is no figure
_DAYLONG_S = 20 * 3600.0  # from then on a time of the day alone may be taken for today's

# What a contact says when what it tells is so, and when it is not.
_CONTACTS = {
    "door-open": ("open", "shut"),
    "mains-present": ("mains present", "no mains"),
    "contactor-closed": ("closed", "open"),
    "heater-current": ("current flows", "no current"),
}


def headline(status: StatusDocument) -> str:
    """One sentence that says how things are."""
    worst = status["alarms"][0] if status["alarms"] else None
    if worst is not None and worst["level"] >= Level.ALARM:
        return f"{_capital(worst['subject'])}: {worst['title']}. {_capital(worst['text'])}."
    zones = "; ".join(_zone_phrase(name, zone) for name, zone in status["zones"].items())
    start = _plants(status) + ("" if worst is None else ", but see below")
    return f"{start}. {_capital(zones)}, {_doing(status)}."


def _doing(status: StatusDocument) -> str:
    """What runs and since when; where nothing runs, since when there has been no heat."""
    running = [
        f"{name} on since {since(output['since_utc_s'], status)}"
        for name, output in status["outputs"].items()
        if output["on"]
    ]
    if running:
        return " and ".join(running)
    ended = [each["since_utc_s"] for each in status["outputs"].values() if each["mode"] == "heat"]
    return f"heat off since {since(max(ended), status)}" if ended else "nothing running"


def since(utc_s: float, status: StatusDocument) -> str:
    """A time of the day, with its day where that is not this one's."""
    with_day = status["utc_s"] - utc_s > _DAYLONG_S
    return moment(utc_s, status["timezone"], with_day=with_day)


def _plants(status: StatusDocument) -> str:
    """How they are, as far as is known: an alarm comes only once its cause has lasted."""
    zones = status["zones"].items()
    cold = [name for name, zone in zones if _is_below(zone)]
    if cold:
        return f"Plants below their minimum in {' and '.join(cold)}"
    unseen = [name for name, zone in zones if zone["coldest_c"] is None]
    return f"No reading in {' and '.join(unseen)}" if unseen else "All plants safe"


def _is_below(zone: ZoneStatus) -> bool:
    coldest_c, minimum_c = zone["coldest_c"], zone["minimum_c"]
    return coldest_c is not None and minimum_c is not None and coldest_c < minimum_c


def _zone_phrase(name: str, zone: ZoneStatus) -> str:
    off = ", switched off" if zone["off_until_utc_s"] is not None else ""
    return f"{name} {temperature(zone['coldest_c'])}{off}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def temperature(temp_c: float | None) -> str:
    return NO_READING if temp_c is None else shown_c(temp_c)


def probe(status: ProbeStatus) -> str:
    """A probe's temperature, or what is wrong with it."""
    if status["temp_c"] is not None:
        return shown_c(status["temp_c"])
    detail = f" ({status['detail']})" if status["detail"] else ""
    return f"{status['fault']}{detail}"


def hygrometer(status: HygrometerStatus) -> str:
    """The air's relative humidity, or what is wrong with its measurement."""
    if status["rh_pct"] is not None:
        return shown_pct(status["rh_pct"])
    detail = f" ({status['detail']})" if status["detail"] else ""
    return f"{status['fault']}{detail}"


def dew_point(status: HygrometerStatus) -> str:
    """From which temperature on things get wet; empty while nobody knows."""
    return "" if status["dew_point_c"] is None else f"dew point {shown_c(status['dew_point_c'])}"


def zone_wants(zone: ZoneStatus, timezone: str) -> str:
    """Between which temperatures a zone is kept just now."""
    if zone["off_until_utc_s"] is not None:
        return f"OFF until {moment(zone['off_until_utc_s'], timezone, with_day=False)}, as ordered"
    parts = []
    if zone["heat_setpoint_c"] is not None:
        parts.append(f"heat at {shown_c(zone['heat_setpoint_c'])}")
    if zone["ordered_until_utc_s"] is not None:
        until = moment(zone["ordered_until_utc_s"], timezone, with_day=False)
        parts[-1:] = [f"{part} as ordered until {until}" for part in parts[-1:]]
    if zone["cool_setpoint_c"] is not None:
        parts.append(f"cool at {shown_c(zone['cool_setpoint_c'])}")
    return ", ".join([*parts, zone["period"]])


def margin(zone: ZoneStatus) -> str:
    """How far the coldest plant is from its minimum."""
    if zone["coldest_c"] is None or zone["minimum_c"] is None:
        return ""
    spare_k = zone["coldest_c"] - zone["minimum_c"]
    side = "above" if spare_k >= 0 else "below"
    return f"{abs(spare_k):.1f} K {side} the tenderest plant's minimum"


def airing(zone: ZoneStatus) -> str:
    """Whether a zone is aired and why or why not, and what it cost; empty where none is."""
    if zone["airing"] is None:
        return ""
    cost = f" ({zone['let_out_wh']:.0f} Wh of heat let out in 24 h, estimate)"
    return zone["airing"] + (cost if zone["let_out_wh"] else "")


def switch(output: OutputStatus) -> str:
    return "ON" if output["on"] else "off"


def contact(status: ContactStatus) -> str:
    if status["active"] is None:
        return "unknown"
    so, not_so = _CONTACTS[status["tells"]]
    return so if status["active"] else not_so


def life_used(output: OutputStatus) -> str | None:
    """How much of its relay's life is spent; None for what has no relay."""
    rated = output["rated_operations"]
    return None if rated is None else f"{100.0 * output['operations'] / rated:.0f} %"


def figure(value: float, decimals: int) -> str:
    """A sum that is worked out: three figures of it, and no more decimals than these."""
    size = max((edge for edge in (1, 2) if abs(value) >= 10.0**edge), default=0)
    return f"{value:.{max(0, min(decimals, 2 - size))}f}"


def count(number: float, noun: str) -> str:
    """A whole number of things: '1 day', '12 days'."""
    whole = round(number)
    return f"{whole} {noun}" if whole == 1 else f"{whole} {noun}s"


def duration(seconds: float) -> str:
    """A length of time for people: the largest unit that fits, two at most."""
    whole = int(max(0.0, seconds))
    days, rest = divmod(whole, 86_400)
    hours, rest = divmod(rest, 3600)
    minutes, secs = divmod(rest, 60)
    if days:
        return f"{days} d {hours} h"
    if hours:
        return f"{hours} h {minutes:02d} min"
    if minutes:
        return f"{minutes} min"
    return f"{secs} s"


def moment(utc_s: float, timezone: str, *, with_day: bool = True, with_year: bool = False) -> str:
    """Local civil time. Seconds are left out."""
    local = datetime.fromtimestamp(utc_s, UTC).astimezone(ZoneInfo(timezone))
    if with_year:
        return local.strftime("%-d %b %Y %H:%M")
    return local.strftime("%a %-d %b %H:%M" if with_day else "%H:%M")


class Standing(NamedTuple):
    """What a person must know before anything else."""

    alive: bool  # somebody guards the plants
    level: int  # of the worst alarm, 0 without; a keeper that is not there is an alarm
    sentence: str


def standing(status: StatusDocument | None, now_utc_s: float) -> Standing:
    """None: there is no status, as a stopped keeper leaves it."""
    if status is None:
        return Standing(False, Level.ALARM, "No keeper is running: nobody guards the plants.")
    quiet = silence(status, now_utc_s)
    if quiet is not None:
        return Standing(False, Level.ALARM, f"Nobody may be guarding the plants. {quiet}")
    worst = max((alarm["level"] for alarm in status["alarms"]), default=0)
    level = Level.ALARM if any(map(_is_below, status["zones"].values())) else worst
    return Standing(True, level, headline(status))


def silence(status: StatusDocument, now_utc_s: float) -> str | None:
    """What to say of a keeper that has not spoken for too long; None: it has."""
    quiet_s = now_utc_s - status["utc_s"]
    if quiet_s <= max(3.0 * status["poll_s"], 30.0):
        return None
    return (
        f"The keeper has said nothing for {duration(quiet_s)}. What follows is what it last knew."
    )
