"""An output that switches nothing and remembers everything, for rehearsals and tests.

Lives here: the whole history of one output, and failing on demand. It is strict: a
history matches only when it matches from the first entry to the last.
"""

from collections.abc import Sequence

from greenkeeper.clock import Clock
from greenkeeper.outputs import OutputError


class RecorderDriver:
    """history holds one (mono_s, on) for every time it was driven, closing included."""

    def __init__(self, name: str, clock: Clock) -> None:
        self._name = name
        self._clock = clock
        self._calls = 0
        self._fails_from: int | None = None
        self._fails_lastingly = False
        self._open = True
        self.history: list[tuple[float, bool]] = []

    @property
    def name(self) -> str:
        return self._name

    @property
    def on(self) -> bool:
        """As it was driven last; it starts off."""
        return bool(self.history) and self.history[-1][1]

    @property
    def closed(self) -> bool:
        return not self._open

    def fail_at(self, call: int, *, lasting: bool = False) -> None:
        """Refuse the call with this number; with lasting, every one from then on.

        Calls of switch and close are counted together, the first one ever being 1.
        """
        self._fails_from = call
        self._fails_lastingly = lasting

    def recover(self) -> None:
        """Refuse nothing any more."""
        self._fails_from = None

    def switch(self, *, on: bool) -> None:
        if not self._open:
            raise OutputError(f"output {self._name} is closed")
        self._count()
        self.history.append((self._clock.mono_s(), on))

    def close(self) -> None:
        if not self._open:
            return
        self._count()
        self.history.append((self._clock.mono_s(), False))
        self._open = False

    def assert_history(self, expected: Sequence[tuple[float, bool]]) -> None:
        """Raises AssertionError at the first difference, a missing or extra entry included."""
        for number, (found, wanted) in enumerate(zip(self.history, expected, strict=False), 1):
            if found != wanted:
                raise AssertionError(
                    f"{self._name}, entry {number}: expected {wanted}, found {found}"
                )
        if len(self.history) != len(expected):
            raise AssertionError(
                f"{self._name}: expected {len(expected)} entries, found {len(self.history)}: "
                f"{self.history}"
            )

    def _count(self) -> None:
        self._calls += 1
        if self._fails_from is None or self._calls < self._fails_from:
            return
        if self._fails_lastingly or self._calls == self._fails_from:
            raise OutputError(f"output {self._name} was told to fail at call {self._calls}")
