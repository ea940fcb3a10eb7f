"""Prints what looking at contacts costs, and how much of a pulse each look sees.

Not a test: it judges nothing. gpiozero's pretend pins stand for the board's; a real read is
one ioctl more.

Run: python -m tests.bench.bench_contacts
"""

import time
from pathlib import Path

from greenkeeper.clock import SystemClock
from greenkeeper.gpio.open_lines import open_lines
from greenkeeper.pins import Board
from greenkeeper.probes.contact import GAPS_S, SAMPLES, GpioContacts
from greenkeeper.settings.switches import GpioInput

LOOKS = 20
POLL_S = 10.0
PHASES = 200


def look(inputs: int) -> tuple[float, float]:
    """Processor and wall seconds of one look at so many inputs."""
    pins = (5, 6, 12, 13, 16, 22, 24, 25)[:inputs]
    wanted = {
        f"contact-{pin}": GpioInput.model_validate(
            {"kind": "gpio", "tells": "door-open", "pin": pin, "active": "high"}
        )
        for pin in pins
    }
    contacts = GpioContacts(wanted, open_lines(Board(backend="mock"), Path.cwd()), SystemClock())
    processor_s, wall_s = time.process_time(), time.monotonic()
    for _ in range(LOOKS):
        contacts.read()
    spent = time.process_time() - processor_s, time.monotonic() - wall_s
    contacts.close()
    return spent[0] / LOOKS, spent[1] / LOOKS


def fewest(hz: float, share: float) -> int:
    """The fewest samples of a look that meet a pulse of this share, whenever the look begins."""
    moments = [sum(GAPS_S[:number]) for number in range(SAMPLES)]
    return min(
        sum((at * hz + phase / PHASES) % 1.0 < share for at in moments) for phase in range(PHASES)
    )


def main() -> None:
    print(f"{'one look at':<14}{'processor':>12}{'of a core':>12}{'wall':>10}")
    for inputs in (1, 4, 8):
        processor_s, wall_s = look(inputs)
        share = processor_s / POLL_S
        print(f"{inputs} inputs".ljust(14), end="")
        print(f"{processor_s * 1e3:>9.1f} ms{share:>12.3%}{wall_s * 1e3:>7.0f} ms")
    print(f"\nfewest of {SAMPLES} samples that meet a pulse, by its share of each turn")
    print(f"{'':<14}" + "".join(f"{share:>8.0%}" for share in (0.1, 0.2, 0.4, 0.8)))
    for hz in (50.0, 60.0, 100.0, 120.0):
        seen = "".join(f"{fewest(hz, share):>8}" for share in (0.1, 0.2, 0.4, 0.8))
        print(f"{hz:g} Hz".ljust(14) + seen)


if __name__ == "__main__":
    main()
