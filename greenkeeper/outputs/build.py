"""From settings to drivers: all of them, or none.

Lives here: making one driver for every output, and the enable line. Does not live here:
the modelled ones, which need the modelled house; they and the remote ones are brought along.
"""

from collections.abc import Iterable, Mapping
from pathlib import Path

from greenkeeper import pointer
from greenkeeper.clock import Clock
from greenkeeper.gpio import LineError
from greenkeeper.gpio.open_lines import open_lines
from greenkeeper.outputs import OutputDriver, OutputError
from greenkeeper.outputs.broker import BrokerSwitch, Post, Words
from greenkeeper.outputs.enable import NAME, EnableLine
from greenkeeper.outputs.gpio import GpioOutputDriver
from greenkeeper.settings.schema import Settings
from greenkeeper.settings.switches import BrokerOutput, GpioOutput

# An order is repeated with every tick, and a tick that comes a little early repeats it too.
_REPEAT_SHARE = 0.9


def build_drivers(
    settings: Settings,
    runtime: Path,
    brought: Mapping[str, OutputDriver],
) -> dict[str, OutputDriver]:
    """One driver for every output, in the settings' order, every relay claimed at off.

    runtime: a folder lgpio may write to. brought: the drivers of all outputs but relays.
    Raises OutputError, naming the output; the relays claimed so far are then off and let go.
    """
    made: dict[str, GpioOutputDriver] = {}
    try:
        _claim(settings, runtime, made)
        return {n: made[n] if n in made else _brought(n, brought) for n in settings.outputs}
    except BaseException as error:
        failures = _let_go(made.values())
        if failures:
            raise OutputError("; ".join([str(error), *failures])) from error
        raise


def build_remote(settings: Settings, post: Post, clock: Clock) -> dict[str, OutputDriver]:
    """The drivers of the switches on the broker. They listen from now on."""
    return {
        name: BrokerSwitch(
            name,
            Words(
                output.topic,
                output.order_on,
                output.order_off,
                output.answers,
                pointer.tokens(output.answer_field or ""),
                output.says_on,
                output.says_off,
                output.hold_s,
            ),
            post,
            clock,
            confirm_s=output.confirm_s,
            repeat_s=_REPEAT_SHARE * settings.poll_s,
        )
        for name, output in settings.outputs.items()
        if isinstance(output, BrokerOutput)
    }


def build_enable(settings: Settings, runtime: Path, clock: Clock) -> EnableLine | None:
    """The enable line, claimed and still, if the settings have one. Raises OutputError."""
    if settings.enable is None:
        return None
    try:
        lines = open_lines(settings.gpio.board, runtime)
    except LineError as error:
        raise OutputError(f"{NAME}: {error}") from error
    return EnableLine(settings.enable, lines, clock)


def _claim(settings: Settings, runtime: Path, made: dict[str, GpioOutputDriver]) -> None:
    """Adds to made one by one, so that what was claimed before a failure is known."""
    wanted = {n: o for n, o in settings.outputs.items() if isinstance(o, GpioOutput)}
    if not wanted:
        return
    try:
        lines = open_lines(settings.gpio.board, runtime)
    except LineError as error:
        raise OutputError(f"output {', '.join(wanted)}: {error}") from error
    for name, output in wanted.items():
        made[name] = GpioOutputDriver(name, output, lines)


def _let_go(drivers: Iterable[GpioOutputDriver]) -> list[str]:
    failures = []
    for driver in drivers:
        try:
            driver.close()
        except OutputError as error:
            failures.append(str(error))
    return failures


def _brought(name: str, brought: Mapping[str, OutputDriver]) -> OutputDriver:
    try:
        return brought[name]
    except KeyError:
        raise OutputError(f"output {name} is modelled, but there is no modelled house") from None
