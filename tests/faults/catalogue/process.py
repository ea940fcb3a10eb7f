"""The program itself: killed, frozen, starved, flooded, started twice.

No keeper can do anything once it is dead or frozen. Those rows show the trap, the relay
that stays on, and then play what systemd does of its own accord (tests/systemd/ shows
that the unit makes it so): the watchdog's SIGABRT, and `greenkeeper safe`.
"""

import contextlib
import fcntl
import os
import signal
import time

import psutil

from tests.endtoend.shed import HEATER, LEFT, Shed
from tests.faults.fault import WHOLE, Leaves, Process
from tests.faults.house import CLOSES, ENABLE, FAN, ISOLATOR, NAMES, ON_LEVEL, OPENS, STIRRER
from tests.faults.yard import COLD_C, SPARE, WARM_C
from tests.support.waiting import eventually

AS_IT_WAS = Leaves.AS_IT_WAS
LEASE_S = 15.0  # however quick the ticks


def child(shed: Shed) -> psutil.Process:
    assert shed.process is not None
    return psutil.Process(shed.process.pid)


def safe(shed: Shed) -> None:
    done = shed.command("safe", "--settings", str(shed.file), "--state", str(shed.state))
    assert done.returncode == 0, done.stdout + done.stderr


def obeys(shed: Shed) -> None:
    """It still follows the thermometer, both ways."""
    shed.bench(WARM_C)
    shed.until(lambda: not shed.heating(), "it did not switch off")
    shed.bench(COLD_C)
    shed.until(shed.heating, "it did not switch on again")


# --- it goes on ------------------------------------------------------------------------------


def storm_of_hups(shed: Shed) -> str:
    before = child(shed).num_fds()
    for _ in range(300):
        shed.send(signal.SIGHUP)
        time.sleep(0.002)
    obeys(shed)
    eventually(lambda: child(shed).num_fds() <= before, "handles are left open")
    return "heats on"


def second_keeper(shed: Shed) -> str:
    switched = shed.lines.changes(HEATER)
    second = shed.command("run", "--settings", str(shed.file))
    assert second.returncode == 1, second.stderr
    assert "Traceback" not in second.stderr
    assert "heater" in second.stderr
    assert shed.lines.changes(HEATER) == switched, "the second touched the relay"
    seen = shed.status()["utc_s"]
    shed.until(lambda: shed.status().get("utc_s", 0.0) > seen, "the first lost its status file")
    obeys(shed)
    return "the first heats on, the second refuses"


def thawed(shed: Shed) -> str:
    """Frozen beyond every permission, and let go on."""
    before = len(shed.lines.changes(HEATER))
    shed.send(signal.SIGSTOP)
    time.sleep(LEASE_S + 1.0)
    assert shed.heating(), "a frozen program cannot have switched"
    shed.send(signal.SIGCONT)
    shed.until(
        lambda: ("write", 1) in shed.lines.changes(HEATER)[before:],
        "the permission outlived the freeze",
    )
    shed.until(shed.heating, "it did not heat again")
    return "on while frozen, off at once, then heats on"


def no_file_handles(shed: Shed) -> str:
    """It may open nothing more, not even to switch: these pins are files, real ones are not.
    That it goes off when blind is shown by no-file-handles, among the files."""
    limits = child(shed).rlimit(psutil.RLIMIT_NOFILE)
    child(shed).rlimit(psutil.RLIMIT_NOFILE, (3, limits[1]))
    seen = shed.status()["utc_s"]
    time.sleep(3.0)
    assert shed.status()["utc_s"] <= seen + 1.5, "it could open files all the same"
    child(shed).rlimit(psutil.RLIMIT_NOFILE, limits)
    obeys(shed)
    return "lives on"


def out_of_memory(shed: Shed) -> str:
    """Not one page more than it has; and a HUP, which wants some."""
    limits = child(shed).rlimit(psutil.RLIMIT_AS)
    child(shed).rlimit(psutil.RLIMIT_AS, (child(shed).memory_info().vms, limits[1]))
    shed.write_settings(setpoint="5.1", extra="# " + "x" * 900_000 + "\n")
    shed.send(signal.SIGHUP)
    shed.bench(WARM_C)
    shed.until(lambda: ended(shed) or not shed.heating(), "it did not switch off")
    if ended(shed):
        shed.end()
        safe(shed)
        return "ended itself, outputs off"
    child(shed).rlimit(psutil.RLIMIT_AS, limits)
    shed.write_settings()
    shed.send(signal.SIGHUP)
    shed.bench(COLD_C)
    shed.until(shed.heating, "it did not come back")
    return "obeys without a byte more"


def ended(shed: Shed) -> bool:
    assert shed.process is not None
    return shed.process.poll() is not None


# --- it ends -------------------------------------------------------------------------------


def stopped_in_mid_tick(shed: Shed) -> str:
    """While it waits for a probe that does not answer."""
    shed.bus.hang(LEFT)
    seen = shed.status()["utc_s"]
    shed.until(lambda: shed.status().get("utc_s", 0.0) > seen, "no tick since")
    assert shed.end(signal.SIGTERM) == 0
    return "ends in order, off"


def log_blocked(shed: Shed) -> str:
    """Whoever reads the log stands still: a line written into the full pipe waits for ever."""
    read_end, write_end = os.pipe()
    fcntl.fcntl(write_end, fcntl.F_SETPIPE_SZ, 4096)
    shed.bench(COLD_C)
    shed.start(output=write_end)
    shed.until(shed.heating, "the heater did not come on")
    fill(write_end)
    os.close(write_end)
    shed.send(signal.SIGHUP)  # something to tell
    obeys(shed)
    assert shed.end(signal.SIGTERM) == 0
    os.close(read_end)
    return "heats on; ends in order, off"


def fill(pipe: int) -> None:
    os.set_blocking(pipe, False)
    with contextlib.suppress(BlockingIOError):
        while True:
            os.write(pipe, b"\n")
    os.set_blocking(pipe, True)


def log_closed(shed: Shed) -> str:
    """Whoever read the log is gone."""
    read_end, write_end = os.pipe()
    shed.bench(COLD_C)
    shed.start(output=write_end)
    os.close(write_end)
    os.close(read_end)
    shed.until(shed.heating, "the heater did not come on")
    obeys(shed)
    assert shed.end(signal.SIGTERM) == 0
    return "heats on; ends in order, off"


def stopped_at_the_start(shed: Shed) -> str:
    """At moments of the start, before and after the first claim."""
    moments_s = [0.05 * n for n in range(40)] if WHOLE else (0.0, 0.4)
    for moment_s in moments_s:
        shed.bench(COLD_C)
        shed.start()
        time.sleep(moment_s)
        assert shed.end(signal.SIGTERM) in {0, -signal.SIGTERM}
        assert not shed.heating()
    return "ends at once, off"


def killed(shed: Shed) -> str:
    shed.end(signal.SIGKILL)
    assert shed.heating(), "the trap: the kernel keeps a dead program's level"
    safe(shed)
    return "on until `safe` runs, then off"


def killed_while_settings_change(shed: Shed) -> str:
    """The heater moves to another pin, and it is killed somewhere on the way."""
    for moment_s in [0.002 * n for n in range(30)] if WHOLE else (0.0, 0.03):
        if shed.process is None:
            shed.write_settings()
            shed.start()
            shed.until(shed.heating, "the heater did not come on")
        shed.file.write_text(shed.file.read_text().replace(f"pin: {HEATER}", f"pin: {SPARE}"))
        shed.send(signal.SIGHUP)
        time.sleep(moment_s)
        shed.end(signal.SIGKILL)
        safe(shed)
        assert not shed.heating()
        assert not shed.lines.changes(SPARE) or shed.lines.level(SPARE) == 1
    return "off wherever it was, by `safe`"


def geared(shed: Shed) -> None:
    """Heats with an isolator, a fan and an enable line."""
    shed.write_settings(
        setpoint="5, with: stirrer",
        outputs=f"  isolator: {{kind: gpio, pin: {ISOLATOR}, role: isolator, settle_s: 0.2}}\n"
        f"  stirrer: {{kind: gpio, pin: {STIRRER}, min_on_s: 1, min_off_s: 1}}\n",
        extra=f"enable: {{pin: {ENABLE}}}\n",
    )
    shed.bench(COLD_C)
    shed.start()
    shed.until(lambda: on(shed) == {"heater", "isolator", "stirrer"}, "it does not heat")
    shed.until(lambda: enable_moves(shed), "the enable line does not move")


def on(shed: Shed) -> set[str]:
    """Outputs whose line is driven to its on level."""
    return {
        name
        for pin, name in NAMES.items()
        if shed.lines.changes(pin) and shed.lines.level(pin) == ON_LEVEL[pin]
    }


def enable_moves(shed: Shed) -> bool:
    before = len(shed.lines.changes(ENABLE))
    time.sleep(0.5)
    return len(shed.lines.changes(ENABLE)) > before


def frozen(shed: Shed) -> str:
    """No sign of life: the watchdog's SIGABRT, and SIGKILL for one that cannot take it."""
    geared(shed)
    shed.send(signal.SIGSTOP)
    shed.send(signal.SIGABRT)
    time.sleep(LEASE_S + 1.0 if WHOLE else 0.1)
    assert on(shed) == {"heater", "isolator", "stirrer"}, "nothing can have switched"
    assert not enable_moves(shed)
    shed.end(signal.SIGKILL)
    assert on(shed) == {"heater", "isolator", "stirrer"}
    safe(shed)
    assert on(shed) == set()
    assert shed.lines.level(ENABLE) == 0
    return "on until watchdog and `safe`, then off"


def power_cut(shed: Shed) -> str:
    """All lines undriven, all relays dropped; then the power is back."""
    geared(shed)
    shed.end(signal.SIGKILL)
    (shed.lines.folder / "lines.json").unlink()
    assert on(shed) == set()
    assert not enable_moves(shed)
    shed.start()
    shed.until(lambda: on(shed) == {"heater", "isolator", "stirrer"}, "it does not heat again")
    for pin in (HEATER, ISOLATOR, STIRRER):
        assert shed.lines.changes(pin)[0] == ("output", 1 - ON_LEVEL[pin]), "it starts on"
    assert shed.end() == 0
    return "off; starts with all off, then heats on"


def vent_killed(shed: Shed) -> str:
    """Under way to its closed end, as after every start."""
    text = shed.file.read_text(encoding="utf-8")
    text = text.replace(
        f"  fan: {{kind: gpio, pin: {FAN}, min_on_s: 1, min_off_s: 1}}\n",
        f"  roof-open: {{kind: gpio, pin: {OPENS}}}\n  roof-close: {{kind: gpio, pin: {CLOSES}}}\n",
    ).replace("output: fan", "output: roof")
    vents = "vents: {roof: {open: roof-open, close: roof-close, run_s: 600}}\n"
    shed.file.write_text(text + vents, encoding="utf-8")
    shed.bench(COLD_C)
    shed.start()
    shed.until(lambda: on(shed) == {"roof-close"}, "the vent does not move")
    shed.send(signal.SIGSTOP)
    assert on(shed) == {"roof-close"}
    shed.end(signal.SIGKILL)
    assert on(shed) == {"roof-close"}
    safe(shed)
    assert on(shed) == set()
    return "the relay is on until `safe`, then off"


def no_memory_at_start(shed: Shed) -> str:
    """Less than it needs: it may fail anywhere between the first import and the first tick."""
    shed.bench(COLD_C)
    for megabytes in range(20, 400, 10) if WHOLE else (40, 120, 200):
        shed.start(memory=megabytes * 2**20)
        shed.until(lambda: ended(shed) or shed.status(), "it neither runs nor ends")
        shed.end()
        if shed.heating():
            safe(shed)
    return "ends itself, or runs; off either way"


FAULTS = (
    Process("storm-of-hups", "300 SIGHUPs in a second", storm_of_hups, ("settings-changed",)),
    Process("second-keeper", "the keeper is started twice", second_keeper),
    Process("frozen-and-thawed", "SIGSTOP beyond its permission, then SIGCONT",
            thawed, ("tick-late",), heavy=True),
    Process("no-handles-at-all", "RLIMIT_NOFILE: no file can be opened", no_file_handles,
            may=("status-failing", "probe-flaky", "journal-failing", "output-failed"),
            heavy=True),
    Process("out-of-memory", "RLIMIT_AS: not a byte more, and new settings", out_of_memory,
            may=("settings-refused", "settings-changed", "keeper-failed", "part-failed")),
    Process("stopped-in-mid-tick", "SIGTERM while a probe does not answer", stopped_in_mid_tick,
            may=("probe-flaky",)),
    Process("killed", "kill -9 while heating", killed, leaves={"heater": AS_IT_WAS}),
    Process("killed-while-settings-change", "kill -9 in the middle of a reload",
            killed_while_settings_change, may=("settings-changed",), heavy=True),
    Process("frozen-whole", "SIGSTOP, and nobody lets it go on", frozen, starts_itself=True,
            leaves={"heater": AS_IT_WAS, "isolator": AS_IT_WAS, "stirrer": AS_IT_WAS,
                    "enable": Leaves.STILL}),
    Process("vent-frozen-and-killed", "SIGSTOP and kill -9 while a vent moves", vent_killed,
            starts_itself=True, leaves={"vent": AS_IT_WAS}),
    Process("power-cut", "the power is cut while heating, and comes back", power_cut,
            starts_itself=True,
            leaves={"heater": Leaves.OFF, "isolator": Leaves.OFF, "stirrer": Leaves.OFF,
                    "enable": Leaves.STILL}),
    Process("log-reader-stands-still", "the log's pipe is full, nobody reads", log_blocked,
            starts_itself=True),
    Process("log-reader-gone", "the log's pipe is closed", log_closed, starts_itself=True,
            heavy=True),
    Process("stopped-at-the-start", "SIGTERM at moments of the start", stopped_at_the_start,
            starts_itself=True),
    Process("no-memory-at-start", "RLIMIT_AS below what it needs", no_memory_at_start,
            starts_itself=True, heavy=True),
)  # fmt: skip
