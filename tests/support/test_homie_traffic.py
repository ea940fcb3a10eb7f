"""The walker of recorded traffic finds every kind of breach, and none where there is none."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from tests.support.homie_traffic import (
    EMPTIED,
    KILLED,
    REMOVED,
    RULES,
    STOPPED,
    TAKEN_OVER,
    Mark,
    Recording,
    findings,
)
from tests.support.mosquitto import Record

ROOT = "homie/5/orchard-house"
CLIENT = "gk1"

DOCUMENT: dict[str, Any] = {
    "homie": "5.0",
    "version": 7,
    "nodes": {
        "zone": {
            "name": "bench",
            "type": "zone",
            "properties": {
                "low": {"datatype": "float", "unit": "°C", "format": "-40:60:0.5"},
                "count": {"datatype": "integer"},
                "on": {"datatype": "boolean", "format": "off,on"},
                "state": {"datatype": "enum", "format": "ok,stale"},
                "seen": {"datatype": "datetime"},
                "up": {"datatype": "duration"},
                "why": {"datatype": "string"},
                "more": {"datatype": "json"},
                "set-me": {"datatype": "float", "format": "4:20", "settable": True},
                "nudge": {
                    "datatype": "enum", "format": "go", "settable": True, "retained": False,
                },
            },
        }
    },
}  # fmt: skip
VALUES = {
    "zone/low": "4.5", "zone/count": "3", "zone/on": "true", "zone/state": "ok",
    "zone/seen": "2025-01-12T02:40:00+00:00", "zone/up": "PT1H", "zone/why": "as it is",
    "zone/more": "{}", "zone/set-me": "5.00",
}  # fmt: skip
SET_ME, NUDGE = f"{ROOT}/zone/set-me/set", f"{ROOT}/zone/nudge/set"


def said(path: str, payload: str, *, qos: int = 1, retain: bool = True) -> Record:
    return Record(f"{ROOT}/{path}", payload, qos, retain)


def log(*more: str, connect: str = "(p5, c1, k20).", will: str = "(4 bytes) (r1, q1).") -> str:
    lines = [
        f"1: New client connected from 127.0.0.1:5 as {CLIENT} {connect}",
        f"1: Will message specified {will}",
        f"1: {CLIENT} 1 {ROOT}/$state",
        f"1: {CLIENT} 0 {ROOT}/+/+",
        f"1: {CLIENT} 1 {SET_ME}",
        f"1: {CLIENT} 1 {NUDGE}",
        *more,
    ]
    return "\n".join(lines) + "\n"


def start(document: dict[str, Any] | str = DOCUMENT) -> list[Record]:
    text = document if isinstance(document, str) else json.dumps(document)
    values = [said(path, payload) for path, payload in VALUES.items()]
    return [
        said("$state", "init"), said("$description", text), *values, said("$state", "ready"),
    ]  # fmt: skip


def recorded(
    *more: Record,
    begin: list[Record] | None = None,
    late: dict[str, str] | None = None,
    **changes: Any,
) -> Recording:
    records = [*(start() if begin is None else begin), *more]
    kept: dict[str, str] = {}
    for record in records:
        if record.retain and not record.topic.endswith("/set"):
            kept[record.topic] = record.payload
    view = {topic: payload for topic, payload in kept.items() if payload}
    given = {"log": log(), "client": CLIENT, **changes}
    return Recording(records, view | (late or {}), **given)


def described(change: Callable[[dict[str, Any]], object], **changes: Any) -> Recording:
    document = json.loads(json.dumps(DOCUMENT))
    change(document)
    return recorded(begin=start(document), **changes)


def prop(name: str, **fields: Any) -> Recording:
    return described(lambda document: of(document)[name].update(fields))


def of(document: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = document["nodes"]["zone"]["properties"]
    return found


def rules(recording: Recording) -> set[int]:
    return {finding.rule for finding in findings(recording)}


def with_mark(what: str, *more: Record, **changes: Any) -> Recording:
    return recorded(*more, marks=[Mark(what, len(start()))], **changes)


GOODBYE = [said("$state", "disconnected")]
CLEARED = [
    said("$state", ""), said("$description", ""), *(said(path, "") for path in VALUES),
]  # fmt: skip

SOUND = {
    "a start": recorded(),
    "new values": recorded(said("zone/low", "5.0"), said("zone/why", "\0")),
    "a value that is gone": recorded(said("zone/low", "")),
    "an alert that comes and goes": recorded(
        said("$alert/cold-bench", "cold"), said("$alert/cold-bench", "")
    ),
    "a word in the log": recorded(said("$log/warn", "look", qos=0, retain=False)),
    "a command that is obeyed": recorded(
        said("zone/set-me/set", "8", retain=False), said("zone/set-me", "8.00")
    ),
    "one that changes nothing": recorded(said("zone/set-me/set", "5", retain=False)),
    "a nudge": recorded(said("zone/nudge/set", "go", qos=0, retain=False)),
    "a wrong command that is not obeyed": recorded(said("zone/set-me/set", "99", retain=False)),
    "a retained command that is not obeyed": recorded(said("zone/set-me/set", "9")),
    "a broadcast": recorded(Record("homie/5/$broadcast/alert", "fire", 0, False)),
    "another description": recorded(
        said("$state", "init"),
        said("$description", json.dumps({**DOCUMENT, "version": 8, "name": "other"})),
        *start()[2:],
    ),
    "a clean stop": with_mark(STOPPED, *GOODBYE),
    "a kill": with_mark(KILLED, said("$state", "lost")),
    "an empty store": with_mark(EMPTIED, *start()),
    "a removal": with_mark(REMOVED, *CLEARED),
    "a deleted command": recorded(
        log=log(f"1: Received PUBLISH from {CLIENT} (d0, q1, r1, m4, '{SET_ME}', ... (0 bytes))")
    ),
}  # fmt: skip

BREACHES: list[tuple[int, str, Recording]] = [
    (1, "another device", recorded(Record("homie/5/neighbour/zone/low", "1", 1, True))),
    (2, "a topic level", recorded(said("$alert/Cold", "x"))),
    (2, "a node", described(lambda d: d["nodes"].update({"Zone_2": {}}))),
    (2, "a property", described(lambda d: of(d).update({"Low": {"datatype": "float"}}))),
    (3, "an empty level", recorded(said("zone//low", "1"))),
    (3, "a control character", recorded(said("zone/lo\x01w", "1"))),
    (4, "a byte order mark", recorded(said("zone/why", "\ufeffx"))),
    (5, "no will", recorded(log=log(will="").replace("Will message specified", "No will"))),
    (5, "a will of another QoS", recorded(log=log(will="(4 bytes) (r1, q0)."))),
    (5, "a will that did not come", with_mark(KILLED)),
    (6, "a word that is no state", recorded(said("$state", "alert"))),
    (6, "a state that is not retained", recorded(said("$state", "ready", retain=False))),
    (7, "ready before the values", recorded(begin=[*start()[:2], start()[-1]])),
    (7, "ready before the description", recorded(begin=[start()[-1]])),
    (7, "a command nobody listens to", recorded(log=log().replace(f" {CLIENT} 1 {SET_ME}", " -"))),
    (8, "a key twice", recorded(begin=start('{"homie":"5.0","version":1,"version":2}'))),
    (8, "null", recorded(begin=start('{"homie":"5.0","version":1,"name":null}'))),
    (8, "no JSON", recorded(begin=start("{"))),
    (8, "not retained", recorded(Record(f"{ROOT}/$description", json.dumps(DOCUMENT), 1, False))),
    (9, "another version", described(lambda d: d.update(homie="4.0"))),
    (9, "a patch level", described(lambda d: d.update(homie="5.0.1"))),
    (10, "a text as version", described(lambda d: d.update(version="7"))),
    (10, "two documents of one version", recorded(
        said("$state", "init"), said("$description", json.dumps({**DOCUMENT, "name": "x"})),
        *start()[2:])),
    (11, "a change while ready", recorded(
        said("$description", json.dumps({**DOCUMENT, "version": 8})))),
    (12, "a flag in words", prop("low", settable="no")),
    (12, "nodes as a list", described(lambda d: d.update(children="x"))),
    (12, "an unknown field", prop("low", colour="red")),
    (13, "no datatype", described(lambda d: of(d)["low"].pop("datatype"))),
    (13, "an unknown one", prop("low", datatype="number")),
    (14, "an enum without words", prop("state", format="")),
    (14, "one word twice", prop("state", format="ok,ok")),
    (14, "three labels", prop("on", format="a,b,c")),
    (15, "the least above the most", prop("low", format="9:1")),
    (15, "a step of nothing", prop("low", format="0:9:0")),
    (15, "no numbers", prop("low", format="cold:warm")),
    (16, "a schema that is none", prop("more", format="{")),
    (17, "the ordinal for the degree", prop("low", unit="\u00baC")),
    (18, "a root that has a root", described(lambda d: d.update(root="other"))),
    (19, "a value nobody described", recorded(said("zone/other", "1"))),
    (20, "a leftover", recorded(late={f"{ROOT}/old/thing": "1"})),
    (21, "a value that is not retained", recorded(said("zone/low", "5.0", retain=False))),
    (22, "a nudge that is retained", recorded(said("zone/nudge", "go"))),
    (22, "one that is in the late view", recorded(late={f"{ROOT}/zone/nudge": "go"})),
    (23, "two QoS", recorded(said("zone/low", "5.0", qos=2))),
    (24, "no float", recorded(said("zone/low", "+5.0"))),
    (24, "NaN", recorded(said("zone/low", "nan"))),
    (24, "no integer", recorded(said("zone/count", "3.0"))),
    (24, "too large", recorded(said("zone/count", "9223372036854775808"))),
    (25, "too high", recorded(said("zone/low", "60.5"))),
    (25, "off the step", recorded(said("zone/low", "5.25"))),
    (26, "a label for a truth", recorded(said("zone/on", "on"))),
    (26, "no word of the enum", recorded(said("zone/state", "OK"))),
    (27, "a date without offset", recorded(said("zone/seen", "2025-01-12T02:40:00"))),
    (27, "days in a duration", recorded(said("zone/up", "P1DT1H"))),
    (27, "an empty duration", recorded(said("zone/up", "PT"))),
    (28, "an empty text where none may be", recorded(said("zone/low", "\0"))),
    (28, "zero length that deletes nothing", recorded(said("zone/low", "", retain=False))),
    (29, "json that is a number", recorded(said("zone/more", "3"))),
    (30, "a target after the value", recorded(
        said("zone/low", "6.0"), said("zone/low/$target", "6.0"))),
    (31, "a command without an answer", recorded(said("zone/set-me/set", "8", retain=False))),
    (32, "one out of range obeyed", recorded(
        said("zone/set-me/set", "21", retain=False), said("zone/set-me", "21.00"))),
    (32, "one for what is not settable", recorded(
        said("zone/low/set", "9.0", retain=False), said("zone/low", "9.0"))),
    (33, "a retained one obeyed", recorded(
        said("zone/set-me/set", "8"), said("zone/set-me", "8.00"))),
    (34, "a session that waits", recorded(log=log(connect="(p5, c0, k20)."))),
    (35, "a subscription too many", recorded(log=log(f"1: {CLIENT} 1 {ROOT}/zone/low/set"))),
    (35, "a filter over all", recorded(log=log(f"1: {CLIENT} 1 {ROOT}/#"))),
    (36, "a command of its own", recorded(
        log=log(f"1: Received PUBLISH from {CLIENT} (d0, q1, r0, m4, '{SET_ME}', ... (2 bytes))"))),
    (37, "an alert that is not retained", recorded(said("$alert/cold", "x", retain=False))),
    (37, "an alert that stays", recorded(
        said("$alert/cold", "x"), said("$alert/cold", ""), late={f"{ROOT}/$alert/cold": "x"})),
    (38, "an unknown level", recorded(said("$log/notice", "x", qos=0, retain=False))),
    (38, "a retained word", recorded(said("$log/warn", "x", qos=0))),
    (38, "a deeper level", recorded(said("$log/warn/zone", "x", qos=0, retain=False))),
    (39, "an old attribute", recorded(said("$name", "x"))),
    (39, "an old one of a property", recorded(said("zone/low/$unit", "x"))),
    (40, "lost after a stop", with_mark(STOPPED, *GOODBYE, said("$state", "lost"))),
    (40, "a value after the goodbye", with_mark(
        STOPPED, *GOODBYE, said("zone/low", "5.0"))),
    (41, "no lost after a kill", with_mark(KILLED)),
    (42, "not told again", with_mark(EMPTIED, *start()[:2], start()[-1])),
    (43, "left as lost", with_mark(TAKEN_OVER, said("$state", "lost"))),
    (44, "a dropped value that stays", recorded(
        said("$state", "init"),
        said("$description", json.dumps({"homie": "5.0", "version": 9, "nodes": {}})),
        said("$state", "ready"))),
    (45, "the state is not the first to go", with_mark(REMOVED, *CLEARED[1:], CLEARED[0])),
    (45, "something stays", with_mark(REMOVED, *CLEARED[:-1])),
    (46, "an extension's name", described(lambda d: d.update(extensions=["org.homie.x:1.0"]))),
    (47, "it listens to broadcasts", recorded(log=log(f"1: {CLIENT} 1 homie/5/$broadcast/alert"))),
]  # fmt: skip


@pytest.mark.parametrize("recording", SOUND.values(), ids=SOUND.keys())
def test_what_is_sound_gives_no_finding(recording: Recording) -> None:
    assert findings(recording) == []


@pytest.mark.parametrize(
    ("rule", "recording"),
    [(rule, recording) for rule, _, recording in BREACHES],
    ids=[f"{rule}-{what}" for rule, what, _ in BREACHES],
)
def test_a_breach_is_found(rule: int, recording: Recording) -> None:
    assert rule in rules(recording)


def test_every_rule_of_the_list_can_be_broken() -> None:
    assert {rule for rule, _, _ in BREACHES} == set(RULES)
