"""Settings that are wrong, gone, unreadable, or changed again and again."""

import threading
from collections.abc import Callable
from pathlib import Path

from greenkeeper import assembly
from greenkeeper.settings.load import MOST_BYTES, load
from greenkeeper.settings.schema import Settings
from tests.faults.fault import End, Fault, Heat, Record
from tests.faults.house import BREAKS_S, HEATER, MENDS_S, Course, House

# Nine levels of ten aliases each: a thousand million words from a few hundred bytes.
LAUGHS = "a0: &a0 [ha, ha]\n" + "".join(
    f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]\n" for n in range(1, 10)
)


def at_start(text: str | bytes) -> Callable[[House], None]:
    def inject(house: House) -> None:
        house.file.write_bytes(text.encode() if isinstance(text, str) else text)

    return inject


def at_reload(change: Callable[[House], object]) -> Callable[[House], None]:
    """Changed and a HUP; once mended, another HUP."""

    def inject(house: House) -> None:
        sound = house.file.read_text(encoding="utf-8")
        house.at(BREAKS_S, change, house)
        house.at(BREAKS_S, house.reload)

        def mend() -> None:
            if house.file.is_dir():
                house.file.rmdir()
            house.file.write_text(sound, encoding="utf-8")

        house.at(MENDS_S, mend)
        house.at(MENDS_S + 1.0, house.reload)

    return inject


def becomes(text: str | bytes) -> Callable[[House], None]:
    return at_reload(lambda house: at_start(text)(house))


def half(house: House) -> None:
    text = house.file.read_text(encoding="utf-8")
    house.file.write_text(text[: len(text) // 2], encoding="utf-8")


def a_folder(house: House) -> None:
    house.file.unlink()
    house.file.mkdir()


def other_folders(house: House) -> None:
    text = house.file.read_text(encoding="utf-8")
    house.file.write_text(text.replace(str(house.state), str(house.state / "other")))


def storm(house: House) -> None:
    """Five in the time of every tick; the settings are the same each time."""
    for after_s in range(int(BREAKS_S) + 1, int(MENDS_S), 2):
        house.at(after_s, house.reload)


def storm_of_changes(house: House) -> None:
    """Every part made anew a dozen times: probes, outputs, journal."""
    for number, after_s in enumerate(range(int(BREAKS_S), int(MENDS_S), 30)):
        poll_s = 10.0 if number % 2 else 9.0
        house.at(after_s, lambda poll_s=poll_s: house.write_settings(poll_s=poll_s))
        house.at(after_s, house.reload)
    house.at(MENDS_S, house.write_settings)
    house.at(MENDS_S, house.reload)


def a_bug_in_reading(house: House) -> None:
    def broken(path: Path) -> Settings:
        if house.clock.after_s < MENDS_S:
            raise RecursionError("a bug in the settings' reader")
        return load(path)

    at_reload(lambda house: None)(house)
    house.at(BREAKS_S - 1.0, house.patch.setattr, assembly, "load", broken)


def no_room_for_threads(house: House) -> None:
    """Making the parts anew meets it once: the old ones are made again."""
    start = threading.Thread.start
    met: list[bool] = []

    def first_fails(thread: threading.Thread) -> None:
        if not met and house.clock.after_s >= BREAKS_S:
            met.append(True)
            raise RuntimeError("can't start new thread")
        start(thread)

    house.patch.setattr(threading.Thread, "start", first_fails)
    house.at(BREAKS_S, lambda: house.write_settings(poll_s=9.0))
    house.at(BREAKS_S, house.reload)


def no_room_for_the_journal(house: House) -> None:
    start = threading.Thread.start

    def refuses(thread: threading.Thread) -> None:
        if thread.name == "journal" and house.clock.after_s < BREAKS_S:
            raise RuntimeError("can't start new thread")
        start(thread)

    house.patch.setattr(threading.Thread, "start", refuses)
    house.at(BREAKS_S, house.reload)  # makes up for it


def old_relay_stuck(house: House) -> None:
    """The heater moves to another pin, and the old relay would not go off."""
    house.at(BREAKS_S - 5.0, house.board.refuse, "write", HEATER)
    house.at(BREAKS_S, lambda: house.write_settings(pin=22))
    house.at(BREAKS_S, house.reload)


def nothing_was_claimed(house: House, _course: Course) -> None:
    assert house.board.changes(HEATER) == []


def it_names_line_and_key(house: House, course: Course) -> None:
    (told,) = course.texts("settings-refused")
    assert "house.yaml:" in told
    assert "setpoint_c" in told


def off_for_a_while(house: House, course: Course) -> None:
    assert not course.heating_at(BREAKS_S + 30.0)
    assert course.heating_at(BREAKS_S + 120.0)


def off_at_each_change(house: House, course: Course) -> None:
    assert course.heating_at(BREAKS_S - 1.0)
    assert not course.heating_at(BREAKS_S + 300.0)
    assert course.heating_at(MENDS_S + 200.0)


def told_to_the_end(house: House, _course: Course) -> None:
    assert house.keeper is not None
    assert ("output-failed", "heater") in house.keeper.memory.alarms


REFUSED = ("settings-refused", "settings-changed")
FAULTS = (
    Fault("settings-wrong-at-start", "a setpoint out of range at the start",
          lambda house: house.write_settings(setpoint="99"), Heat.NEVER, end=End.REFUSED,
          record=Record.NONE, also=nothing_was_claimed),
    Fault("settings-gone-at-start", "no settings file", lambda house: house.file.unlink(),
          Heat.NEVER, end=End.REFUSED, record=Record.NONE, also=nothing_was_claimed),
    Fault("settings-rubbish-at-start", "random bytes in it", at_start(bytes(range(256))),
          Heat.NEVER, end=End.REFUSED, record=Record.NONE, also=nothing_was_claimed),
    Fault("settings-wrong-at-reload", "HUP with a setpoint out of range",
          at_reload(lambda house: house.write_settings(setpoint="99")), Heat.GOES_ON, REFUSED,
          also=it_names_line_and_key),
    Fault("settings-gone-at-reload", "HUP, and the file is gone",
          at_reload(lambda house: house.file.unlink()), Heat.GOES_ON, REFUSED),
    Fault("settings-empty-at-reload", "HUP, and the file is empty", becomes(""),
          Heat.GOES_ON, REFUSED),
    Fault("settings-half-at-reload", "HUP, and half of the file is there", at_reload(half),
          Heat.GOES_ON, REFUSED),
    Fault("settings-unreadable", "HUP, and a folder stands in its place", at_reload(a_folder),
          Heat.GOES_ON, REFUSED),
    Fault("settings-rubbish", "HUP, and random bytes are in it", becomes(bytes(range(256))),
          Heat.GOES_ON, REFUSED),
    Fault("settings-huge", "HUP, and the file is larger than 1 MiB",
          becomes("#" * (MOST_BYTES + 1)), Heat.GOES_ON, REFUSED),
    Fault("settings-unfold", "HUP, and aliases would unfold to gigabytes", becomes(LAUGHS),
          Heat.GOES_ON, REFUSED),
    Fault("settings-nested", "HUP, and brackets are nested too deep", becomes("[" * 100_000),
          Heat.GOES_ON, REFUSED),
    Fault("settings-other-folders", "HUP, and the folders are others", at_reload(other_folders),
          Heat.GOES_ON, REFUSED),
    Fault("settings-reader-has-a-bug", "HUP, and reading raises", a_bug_in_reading,
          Heat.GOES_ON, REFUSED),
    Fault("reload-no-room-for-threads", "HUP, and no thread can be started",
          no_room_for_threads, Heat.OWN, ("settings-refused",), also=off_for_a_while),
    Fault("start-no-room-for-the-journal", "no thread for the journal", no_room_for_the_journal,
          Heat.GOES_ON, ("journal-failing", "settings-changed")),
    Fault("reload-old-relay-stuck", "HUP to another pin, the old relay stays on",
          old_relay_stuck, Heat.OWN, ("output-failed", "settings-changed"), stuck=("heater",),
          also=told_to_the_end),
    Fault("settings-storm", "two hundred HUPs, five to a tick", storm, Heat.GOES_ON,
          ("settings-changed",)),
    Fault("settings-storm-of-changes", "every part made anew, again and again",
          storm_of_changes, Heat.OWN, ("settings-changed",), also=off_at_each_change),
)  # fmt: skip
