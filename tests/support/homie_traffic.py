"""Recorded traffic of one Homie 5 device, walked by a list of 47 rules.

    findings(Recording(records, late, log, "homie", "orchard-house", client)) == []

Written from the convention's text and from nothing in the package. What a recording is:
`records` is all that passed, with the publishers' own retain flags, commands of others
among it; `late` what a subscriber is given that joins afterwards; `log` the broker's own
log with everything on; `marks` what was done to the device, and after how many records.
A rule that leans on log or marks finds nothing where there are none.

Source: as in homie_rules.py, and its sections "Device Lifecycle", "Property command
topic", "Target attribute", "Alert topic", "Logging", "Broadcast Topic", "QoS choices and
retained messages". The rules about old, wrong and repeated commands (31 to 34), restarts
(42, 43) and the will (5, 40, 41) follow from MQTT 5.0 as well.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from tests.support import homie_rules
from tests.support.homie_rules import Document, Finding
from tests.support.mosquitto import Record

RULES = range(1, 48)

STOPPED, KILLED, EMPTIED, TAKEN_OVER, REMOVED = (
    "the device was stopped",
    "the device was killed",
    "the broker lost its store",
    "somebody took the client ID over",
    "the device was removed",
)
_LEVELS = ("debug", "info", "warn", "error", "fatal")
_OLD = re.compile(
    r"\$(homie|name|nodes|extensions|implementation|properties|type|datatype|format"
    r"|settable|retained|unit|stats|fw|mac|localip)(/.*)?"
)


class Mark(NamedTuple):
    what: str
    after: int  # so many records had passed


class Recording(NamedTuple):
    records: Sequence[Record]
    late: Mapping[str, str]
    log: str = ""
    domain: str = "homie"
    device: str = "orchard-house"
    client: str = ""  # its client ID, to find it in the log
    marks: Sequence[Mark] = ()

    @property
    def root(self) -> str:
        return f"{self.domain}/5/{self.device}"

    def path(self, topic: str) -> str:
        return topic.removeprefix(f"{self.root}/")

    def of(self, what: str) -> Iterator[Mark]:
        return (mark for mark in self.marks if mark.what == what)


def findings(recording: Recording) -> list[Finding]:
    """What the convention would object to, in the order of the rules."""
    walks = (_topics, _story, _qos, _late, _commands, _targets, _marks, _broker_log)
    found = [finding for walk in walks for finding in walk(recording)]
    return sorted(dict.fromkeys(found))


# --- each message by itself ----------------------------------------------------------


def _topics(recording: Recording) -> Iterator[Finding]:
    for record in recording.records:
        topic, path = record.topic, recording.path(record.topic)
        yield from _topic(topic)
        if record.payload.startswith("\N{ZERO WIDTH NO-BREAK SPACE}") or _lone(record.payload):
            yield Finding(4, f"{path}: no plain UTF-8")
        if topic.startswith(f"{recording.domain}/5/$broadcast/"):
            continue
        if path == topic or "/" in recording.domain:
            yield Finding(1, f"outside the device: {topic}")
            continue
        levels = [level.removeprefix("$") for level in path.split("/")]
        yield from (
            Finding(2, f"{path}: {each!r} is no ID")
            for each in levels
            if each and not homie_rules.ID.fullmatch(each)
        )
        yield from _attribute(record, path)


def _topic(topic: str) -> Iterator[Finding]:
    levels = topic.split("/")
    if not all(levels) or len(topic.encode(errors="replace")) > 65_535:
        yield Finding(3, f"an empty level, or too long: {topic[:60]!r}")
    if any(sign in topic for sign in "+#") or not topic.isprintable():
        yield Finding(3, f"characters no topic may have: {topic[:60]!r}")


def _lone(text: str) -> bool:
    return any("\ud800" <= character <= "\udfff" for character in text)


def _attribute(record: Record, path: str) -> Iterator[Finding]:
    if path == "$state":
        if record.payload not in (*homie_rules.STATES, "") or not record.retain:
            yield Finding(6, f"$state is {record.payload!r}, retained: {record.retain}")
    elif path == "$description":
        if not record.retain:
            yield Finding(8, "a description that is not retained")
    elif path.startswith("$log"):
        known = path.removeprefix("$log/") in _LEVELS
        if not known or record.retain or record.qos:
            yield Finding(38, f"{path}, retained: {record.retain}, QoS {record.qos}")
    elif path.startswith("$alert/"):
        if not record.retain or path.count("/") != 1:
            yield Finding(37, f"{path}, retained: {record.retain}")
    elif any(_OLD.fullmatch(each) for each in (path, path.rsplit("/", 1)[-1])):
        yield Finding(39, f"an attribute of older versions: {path}")


# --- the story they tell -------------------------------------------------------------


class _Told:
    """What was said so far."""

    def __init__(self) -> None:
        self.state = ""
        self.document: Document | None = None
        self.text = ""
        self.since_init: set[str] = set()
        self.values: dict[str, str] = {}
        self.versions: dict[object, str] = {}

    @property
    def properties(self) -> dict[str, Document]:
        return {} if self.document is None else homie_rules.properties(self.document)


def _story(recording: Recording) -> Iterator[Finding]:
    told = _Told()
    for record in recording.records:
        path = recording.path(record.topic)
        if path == "$state":
            yield from _state(told, record.payload)
        elif path == "$description":
            yield from _description(told, record.payload)
        elif not path.startswith("$") and path.count("/") == 1:
            yield from _value(told, path, record)
    orphans = [path for path in told.values if path not in told.properties]
    yield from (Finding(44, f"{path} was dropped and not deleted") for path in orphans)


def _state(told: _Told, payload: str) -> Iterator[Finding]:
    told.state = payload
    if payload == "init":
        told.since_init = set()
    if payload != "ready":
        return
    if told.document is None:
        yield Finding(7, "ready without a description")
        return
    wanted = homie_rules.retained_properties(told.document).keys()
    if missing := sorted(wanted - told.since_init):
        yield Finding(7, f"ready without a word on {missing}")


def _description(told: _Told, payload: str) -> Iterator[Finding]:
    if not payload:
        told.document, told.text = None, ""
        return
    if payload != told.text and told.state in ("ready", "sleeping"):
        yield Finding(11, f"the description changed while {told.state}")
    try:
        told.document, told.text = homie_rules.parse(payload), payload
    except (AssertionError, ValueError) as error:
        yield Finding(8, f"no description: {error}")
        return
    yield from homie_rules.document_faults(told.document)
    version = told.document.get("version")
    if told.versions.setdefault(version, payload) != payload:
        yield Finding(10, "two descriptions share a version")


def _value(told: _Told, path: str, record: Record) -> Iterator[Finding]:
    told.since_init.add(path)
    if not record.payload:
        told.values.pop(path, None)
        return
    told.values[path] = record.payload
    fields = told.properties.get(path)
    if fields is None:
        yield Finding(19, f"{path} is in no description")
        return
    if fields.get("retained", True) and not record.retain:
        yield Finding(21, f"{path} is not retained")
    if not fields.get("retained", True) and (record.retain or record.qos):
        yield Finding(22, f"{path}, retained: {record.retain}, QoS {record.qos}")
    fault = homie_rules.payload_finding(fields, record.payload)
    if fault is not None:
        yield fault._replace(text=f"{path}: {fault.text}")


def _qos(recording: Recording) -> Iterator[Finding]:
    own = [each for each in recording.records if not each.topic.endswith("/set")]
    found = {each.qos for each in own if each.retain}
    if len(found) > 1:
        yield Finding(23, f"retained messages of QoS {sorted(found)}")
    for record in own:
        path = recording.path(record.topic)
        if not record.payload and not record.retain:
            yield Finding(28, f"{path}: zero length that deletes nothing")


def _late(recording: Recording) -> Iterator[Finding]:
    texts = [text for text in (recording.late.get(f"{recording.root}/$description"),) if text]
    properties: dict[str, Document] = {}
    for text in texts:
        properties = homie_rules.properties(_parsed(text))
    last = {each.topic: each.payload for each in recording.records if each.retain}
    for topic, payload in recording.late.items():
        path = recording.path(topic)
        if path.startswith("$alert/"):
            if last.get(topic, payload) == "":
                yield Finding(37, f"{path} was solved and is still there")
        elif path in ("$state", "$description"):
            continue
        elif path.startswith("$log"):
            yield Finding(38, f"{path} is retained")
        elif not properties.get(path, {"retained": True}).get("retained", True):
            yield Finding(22, f"{path} is retained")
        elif path.removesuffix("/$target") not in properties:
            yield Finding(20, f"retained, and in no description: {path}")


# --- commands ------------------------------------------------------------------------


def _commands(recording: Recording) -> Iterator[Finding]:
    """What became of every /set, by the values that were told after it."""
    told = _Told()
    for index, record in enumerate(recording.records):
        path = recording.path(record.topic)
        if path == "$description" and record.payload:
            told.document = _parsed(record.payload)
        elif path.endswith("/set") and path.count("/") == 2 and record.payload:
            name = path.removesuffix("/set")
            fields = told.properties.get(name, {})
            yield from _command(recording, index, name, fields, told.values.get(name))
        elif path.count("/") == 1 and not path.startswith("$"):
            told.values[path] = record.payload


def _parsed(text: str) -> Document:
    try:
        return homie_rules.parse(text)
    except (AssertionError, ValueError):
        return {}


def _command(
    recording: Recording, index: int, name: str, fields: Document, before: str | None
) -> Iterator[Finding]:
    record = recording.records[index]
    valid = bool(fields.get("settable")) and (
        homie_rules.payload_finding(fields, record.payload) is None
    )
    obeyed = _comes_true(recording, index, name, record.payload)
    stood = before is not None and _equal(before, record.payload)
    if record.retain:
        if obeyed and not stood:
            yield Finding(33, f"{name}: a retained {record.payload!r} was obeyed")
    elif not valid:
        if obeyed and not stood:
            yield Finding(32, f"{name}: {record.payload[:40]!r} was obeyed")
    elif fields.get("retained", True) and not obeyed and not stood:
        yield Finding(31, f"{name}: {record.payload!r} was not answered")


def _comes_true(recording: Recording, index: int, name: str, payload: str) -> bool:
    """Whether value or target say so later, before somebody commands the same again."""
    own = (f"{recording.root}/{name}", f"{recording.root}/{name}/$target")
    for record in recording.records[index + 1 :]:
        if record.topic in own and _equal(record.payload, payload):
            return True
        again = record.topic == f"{recording.root}/{name}/set" and not record.retain
        if again and _equal(record.payload, payload):
            return False
    return False


def _equal(one: str, other: str) -> bool:
    if one == other:
        return True
    try:
        return abs(float(one) - float(other)) < 0.005
    except ValueError:
        return False


def _targets(recording: Recording) -> Iterator[Finding]:
    """All or nothing, for each property: a target before every change of its value."""
    paths = [recording.path(each.topic) for each in recording.records]
    using = {path.removesuffix("/$target") for path in paths if path.endswith("/$target")}
    for name in using:
        target, value = None, None
        for record, path in zip(recording.records, paths, strict=True):
            if path == f"{name}/$target":
                target = record.payload
            elif path == name and record.payload != value:
                if target is None:
                    yield Finding(30, f"{name} has a target, but not before its value")
                value = record.payload


# --- what was done to it -------------------------------------------------------------


def _marks(recording: Recording) -> Iterator[Finding]:
    state = f"{recording.root}/$state"
    states = [(i, each.payload) for i, each in enumerate(recording.records) if each.topic == state]
    for mark in recording.of(STOPPED):
        after = [each for i, each in states if i >= mark.after]
        last = recording.records[-1] if recording.records else None
        if after[-1:] != ["disconnected"] or last is None or last.topic != state:
            yield Finding(40, f"stopped, and the last states were {after}")
    for mark in recording.of(KILLED):
        if "lost" not in [each for i, each in states if i >= mark.after]:
            yield Finding(41, "killed, and no lost")
            yield Finding(5, "killed, and the will did not come")
    for mark in recording.of(EMPTIED):
        yield from _emptied(recording, mark)
    for _ in recording.of(TAKEN_OVER):
        if recording.late.get(state) != "ready":
            yield Finding(43, f"taken over, and left as {recording.late.get(state)!r}")
    for mark in recording.of(REMOVED):
        gone = [each.topic for each in recording.records[mark.after :] if not each.payload]
        if gone[:1] != [state] or recording.late:
            yield Finding(45, f"removed: first {gone[:1]}, left {sorted(recording.late)[:3]}")


def _emptied(recording: Recording, mark: Mark) -> Iterator[Finding]:
    told = {each.topic for each in recording.records[mark.after :] if each.payload}
    missing = {topic for topic in recording.late if topic not in told}
    if missing or recording.late.get(f"{recording.root}/$state") != "ready":
        yield Finding(42, f"the store was lost, and not told again: {sorted(missing)[:3]}")


# --- what the broker saw -------------------------------------------------------------


def _broker_log(recording: Recording) -> Iterator[Finding]:
    if not recording.log:
        return
    yield from _connects(recording)
    yield from _subscriptions(recording)
    sent = re.findall(
        rf"Received PUBLISH from {re.escape(recording.client)} "
        r"\(d\d, q\d, r\d, m\d+, '([^']*)', \.\.\. \((\d+) bytes\)\)",
        recording.log,
    )
    for topic, size in sent:
        # Deleting a retained command of somebody's is no command.
        if (topic.endswith("/set") and size != "0") or "/$broadcast/" in topic:
            yield Finding(36, f"the device itself wrote {topic}")


def _connects(recording: Recording) -> Iterator[Finding]:
    lines = recording.log.splitlines()
    qos = {each.qos for each in recording.records if each.retain}
    for number, line in enumerate(lines):
        match = re.search(rf" as {re.escape(recording.client)} \(p\d, c(\d)", line)
        if match is None:
            continue
        if match[1] != "1":
            yield Finding(34, "a session that outlives its connection: commands wait in it")
        will = re.search(r"Will message specified \(4 bytes\) \(r1, q(\d)\)", lines[number + 1])
        if will is None or (qos and int(will[1]) not in qos):
            yield Finding(5, f"connected with: {lines[number + 1].partition(': ')[2]}")


def _subscriptions(recording: Recording) -> Iterator[Finding]:
    # The second line that the broker writes of each begins with the client's name.
    asked = re.findall(rf"\b{re.escape(recording.client)} \d (\S+)$", recording.log, re.MULTILINE)
    descriptions = [
        _parsed(each.payload)
        for each in recording.records
        if each.topic.endswith("/$description") and each.payload
    ]
    settable = {
        f"{recording.root}/{path}/set"
        for document in descriptions
        for path, fields in homie_rules.properties(document).items()
        if fields.get("settable")
    }
    for topic in asked:
        of_commands = topic.endswith("/set") or topic.endswith("#") or topic.count("/") > 4
        if of_commands and topic.startswith(recording.domain) and topic not in settable:
            yield Finding(35, f"subscribed to {topic}")
        if "$broadcast" in topic:
            yield Finding(47, f"listens to {topic}")
    for topic in sorted(settable - set(asked)):
        yield Finding(7, f"ready, and never subscribed to {topic}")
