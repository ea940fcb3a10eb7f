"""The commissioning sheet: what is tried before the first night, and going through it.

Lives here: the tests in their order, and the walk, with a person and a record given to
it. Does not live here: the sheet for people, hardware-notes/commissioning.md, which has the
reasons and the sources and is held to these by a test.
"""

from collections.abc import Callable, Mapping
from typing import NamedTuple

from greenkeeper.setup import cautions
from greenkeeper.setup.talk import Talk, one_of

PASSED, FAILED, LATER = "passed", "failed", "later"
LONGEST_REMARK = 300


class Trial(NamedTuple):
    name: str
    do: str
    must: str
    whose: str = ""  # "electrician": mains are in it


TRIALS = (
    Trial(
        "mains-work",
        "Ask the electrician for the record of the tests: earth, RCD, fuse, tightness.",
        "All of it was measured, and is within the local code.",
        "electrician",
    ),
    Trial(
        "labels",
        "Look at the box.",
        "It says: starts by itself; isolate before opening.",
    ),
    Trial(
        "heater-alone",
        "Let the heater run for an hour while you stand by.",
        "Nothing is hot but the heater, and a metre around it is clear.",
    ),
    Trial(
        "limit-thermostat",
        "Warm the independent limit thermostat until it opens.",
        "The heater goes off, whatever the keeper wants.",
        "electrician",
    ),
    Trial(
        "frost-thermostat",
        "Unplug the Pi, and chill the frost thermostat.",
        "The heater comes on by itself.",
        "electrician",
    ),
    Trial(
        "ice",
        "Check each probe in melting ice: greenkeeper probes --ice.",
        "Each is within half a degree of 0 °C, or has its offset_k in the settings.",
    ),
    Trial(
        "blips",
        "With a lamp on each relay, power the Pi up twenty times.",
        "No lamp lights, not for a moment, until the keeper wants it.",
    ),
    Trial(
        "killed",
        "With heat on: sudo systemctl kill -s KILL greenkeeper",
        "Off within seconds; then the keeper is back, and waits its minimum off time.",
    ),
    Trial(
        "hung",
        "With heat on: sudo systemctl kill -s STOP greenkeeper",
        "Off within about a minute.",
    ),
    Trial(
        "stopped",
        "With heat on: sudo systemctl stop greenkeeper, then start it again.",
        "Off at once, and off for as long as it is stopped.",
    ),
    Trial(
        "probe-pulled",
        "With heat on, pull the plug of the zone's probes.",
        "Off within the probes' stale_s, and an alarm: no trusted probe.",
    ),
    Trial(
        "ground-pulled",
        "With heat on, pull the ground wire alone of the zone's probes.",
        "Off within the probes' stale_s, and an alarm: no trusted probe.",
    ),
    Trial(
        "supply-pulled",
        "With heat on, pull the supply wire alone of the zone's probes.",
        "Off within the probes' stale_s, and an alarm: no trusted probe.",
    ),
    Trial(
        "data-shorted",
        "With heat on, short the data wire of the zone's probes to ground.",
        "Off within the probes' stale_s, and an alarm: no trusted probe. Never 0.0 °C, and never "
        "heat for it.",
    ),
    Trial(
        "network-pulled",
        "Pull the network for ten minutes.",
        "The house is kept as before; the broker, if there is one, says that it is lost.",
    ),
    Trial(
        "date-wrong",
        "Set the date a year back (not ahead: old minutes would go), then right again.",
        "Heat as before, but for the night's setpoint; the record marks both jumps.",
    ),
    Trial(
        "rcd",
        "Press the test button of the heater's RCD.",
        "The Pi goes on, on its other circuit. It tells at once with a contact (mains-lost), "
        "without one when the heat does not arrive. Heat is back once it is reset.",
    ),
    Trial(
        "heater-dead",
        "With heat wanted, pull the heater's plug for three quarters of an hour.",
        "The message: the heat does not arrive (no-response, or mains-lost with a contact).",
    ),
    Trial(
        "relay-welded",
        "In the dark, bridge the heater's relay and let it be off for an hour.",
        "The message: heat that does not end (stuck-on); an isolator, if there is one, opens.",
        "electrician",
    ),
    Trial(
        "ceiling",
        "Warm one probe above ceiling_c.",
        "Every heater is off, and only greenkeeper clear lets it on again.",
    ),
    Trial(
        "message",
        "greenkeeper alarms --test",
        "It reaches everybody it should, where they sleep.",
    ),
)

# Writes one result down. Returns why it could not, None when it is written.
Record = Callable[[str, str], str | None]


def walk(talk: Talk, record: Record, earlier: Mapping[str, str]) -> int:
    """Go through the sheet; what was passed before is not asked again.

    earlier: the latest result of each test. Returns how many are not passed. Raises
    EOFError when the person is gone; what was answered by then is recorded.
    """
    talk.say(*cautions.COMMISSION, "")
    results = {name: text for name, text in earlier.items() if name in _NAMES}
    for number, trial in enumerate(TRIALS, 1):
        if results.get(trial.name, "").startswith(PASSED):
            talk.say(f"{number:>2}. {trial.name}: {results[trial.name]}")
            continue
        results[trial.name] = _one(talk, record, number, trial, results.get(trial.name, ""))
    return sum(not results[trial.name].startswith(PASSED) for trial in TRIALS)


_NAMES = frozenset(trial.name for trial in TRIALS)


def _one(talk: Talk, record: Record, number: int, trial: Trial, before: str) -> str:
    """What came of it: recorded, or put off."""
    talk.say("", f"{number:>2} of {len(TRIALS)}: {trial.name}")
    if trial.whose:
        talk.say(f"    A licensed {trial.whose}'s work: leave it to them.")
    talk.say(f"    Do:   {trial.do}", f"    Must: {trial.must}")
    if before:
        talk.say(f"    Before: {before}")
    result = one_of(talk, "    passed, failed or later", [PASSED, FAILED, LATER], LATER)
    if result == LATER:
        return LATER
    remark = " ".join(talk.ask("    A remark for the record; empty: none").split())
    text = f"{result}: {remark[:LONGEST_REMARK]}" if remark else result
    while (trouble := record(trial.name, text)) is not None:
        talk.say(f"    Not recorded: {trouble}")
        talk.ask("    Enter to try again, Ctrl-C to leave")
    if result == FAILED:
        talk.say("    Leave no heat to this house until that is put right.")
    return text
