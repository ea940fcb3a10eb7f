"""One relay, closed once for a moment, in a process of its own.

Lives here: claim it at off, drive it on for at most so long, drive it off, let go. It
ends early when its standard input does, which is how it learns that whoever started it was
killed or lost the terminal: then the relay goes off as well. Started with a session of its
own, so that Ctrl-C reaches the one who asked, and not this.

At the end the pin is an input with the pull it has after power-on. The level that means
off is not sure yet, and at that every board has to be off, as it is at each boot.

Prints one word for each step: `off`, `on`, `off`.
"""

import argparse
import os
import select
import signal
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greenkeeper.gpio.lines import Lines

STEPS = ("off", "on")
LONGEST_S = 10.0
BEFORE_S = 2.0  # at rest first: a board whose levels are the other way round shows it now
_PULLED_DOWN_FROM = 9  # BCM2835 ARM Peripherals, p. 102: GPIO0 to 8 pull up, 9 to 27 down


class Patience:
    """Waits, unless told that it is enough: by the end of standard input, or a signal.

    Signals only write into a pipe: an exception in the middle of a claim could leave a
    line behind that nobody knows of.
    """

    def __init__(self) -> None:
        self._woken, waker = os.pipe()
        os.set_blocking(waker, False)
        signal.set_wakeup_fd(waker)
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        for number in (signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, lambda _number, _frame: None)

    def wait(self, seconds: float) -> bool:
        """True: the time is over. False: it is enough."""
        ready, _, _ = select.select([sys.stdin, self._woken], [], [], seconds)
        return not ready


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("pin", type=int)
    parser.add_argument("on_level", choices=("high", "low"))
    parser.add_argument("seconds", type=float)
    parser.add_argument("runtime", type=Path)
    args = parser.parse_args()
    patience = Patience()
    from greenkeeper.errors import GreenkeeperError
    from greenkeeper.gpio.open_lines import open_lines
    from greenkeeper.pins import Board

    try:
        with closing(open_lines(Board(), args.runtime)) as lines:
            seconds = min(args.seconds, LONGEST_S)
            close_once(lines, args.pin, args.on_level == "high", seconds, patience.wait)
    except GreenkeeperError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


def close_once(
    lines: "Lines", pin: int, on_is_high: bool, seconds: float, wait: Callable[[float], bool]
) -> None:
    """Off, on for so long, off; and let go. Off in any case. Raises LineError."""
    lines.claim(pin, not on_is_high)
    try:
        print("off", flush=True)
        if wait(BEFORE_S):
            lines.drive(pin, on_is_high)
            print("on", flush=True)
            wait(seconds)
    finally:
        rest(lines, pin, on_is_high)
    print("off", flush=True)


def rest(lines: "Lines", pin: int, on_is_high: bool) -> None:
    """Off, and then as after power-on. Raises LineError."""
    try:
        lines.drive(pin, not on_is_high)
    finally:
        lines.release(pin)
        lines.claim_input(pin, "down" if pin >= _PULLED_DOWN_FROM else "up")


if __name__ == "__main__":
    sys.exit(main())
