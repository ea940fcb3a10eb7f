"""Nobody who is merely told may end the loop.

Lives here: the one place where an exception of a bystander ends (journal, broker, status
file, keepsakes, inbox, log, screen, service manager), and what becomes of it: a trace in
the log when it begins, and a Condition for as long as that call fails. By their contracts
none of them raises; this is for their bugs, and for a machine without memory or file
handles. Does not live here: probes, control and outputs. What those raise ends the keeper,
with every output off, because going on without them would be a guess.
"""

from collections.abc import Callable
from typing import ParamSpec, TypeVar

from greenkeeper.lean import structlog
from greenkeeper.model import Condition

FAILED = "part-failed"

P = ParamSpec("P")
T = TypeVar("T")


class Shield:
    """Calls others and lets none of their exceptions through. For one thread."""

    def __init__(self) -> None:
        self._failing: dict[tuple[str, str], Condition] = {}
        self._traced: set[tuple[str, str, type[Exception]]] = set()

    def call(
        self, part: str, act: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs
    ) -> T | None:
        """What act gives; None when it raises, which conditions() tells until it works again.

        part: whose call it is, as people know it.
        """
        deed = getattr(act, "__name__", "call")
        try:
            answer = act(*args, **kwargs)
        except Exception as error:  # noqa: BLE001 - this is what the class is for
            self._note(part, deed, error)
            return None
        if self._failing:
            self._failing.pop((part, deed), None)
        return answer

    def conditions(self) -> tuple[Condition, ...]:
        return tuple(self._failing.values())

    def _note(self, part: str, deed: str, error: Exception) -> None:
        condition = Condition(FAILED, part, f"{part} {deed}: {error!r}")
        self._failing[part, deed] = condition
        # Once for each kind: a call that fails every tick must not fill the card's log.
        kind = (part, deed, type(error))
        if kind not in self._traced:
            self._traced.add(kind)
            _trace(condition, error)


def _trace(condition: Condition, error: Exception) -> None:
    try:
        structlog.get_logger().error(
            condition.code, subject=condition.subject, text=condition.text, exc_info=error
        )
    except Exception:  # noqa: BLE001 - the log itself may be what fails; conditions() has it
        return
