"""How a dialogue speaks and listens, and questions that are asked until they are answered.

Lives here: the two things the dialogue needs of the world outside, as protocols, and the
forms a plain question may take. Does not live here: terminal, bus and relay
(commands/setup*.py) or what is asked (guide.py).
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple, Protocol, TypeVar

from greenkeeper.pins import Level

T = TypeVar("T")


class Talk(Protocol):
    def say(self, *lines: str) -> None: ...

    def ask(self, question: str, default: str = "") -> str:
        """One line without blanks around it, the default for an empty one.

        Raises EOFError when nobody is there any more, KeyboardInterrupt when told to stop.
        """


class Trial(NamedTuple):
    """One relay, closed once for a moment."""

    pin: int
    on_level: Level
    seconds: float


class Bench(Protocol):
    """The hardware within reach."""

    def temperatures(self) -> Mapping[str, float]:
        """°C of every probe that can be read now, by its id on the bus."""

    def watch(self) -> Iterator[Mapping[str, float]]:
        """The same again and again, until patience is at its end."""

    def relay_refusal(self) -> str | None:
        """Why no relay may be tried now, in words; None: it may."""

    def try_relay(self, trial: Trial) -> str | None:
        """Close it, and open it again. None when all went well, else what did not."""


def until_understood(
    talk: Talk, question: str, understand: Callable[[str], T], default: str = ""
) -> T:
    """Ask until `understand` raises no ValueError; its words are said in between."""
    while True:
        try:
            return understand(talk.ask(question, default))
        except ValueError as error:
            talk.say(f"  {error}")


def yes(talk: Talk, question: str, *, default: bool) -> bool:
    return until_understood(talk, f"{question} (yes/no)", _yes, "yes" if default else "no")


def _yes(text: str) -> bool:
    word = text.lower()
    if word in ("y", "yes"):
        return True
    if word in ("n", "no"):
        return False
    raise ValueError("yes or no, please")


def one_of(talk: Talk, question: str, choices: Sequence[str], default: str = "") -> str:
    """One of these words. "" among them allows an empty answer."""

    def understand(text: str) -> str:
        if text in choices:
            return text
        shown = ", ".join(word or "nothing" for word in choices)
        raise ValueError(f"one of: {shown}")

    return until_understood(talk, question, understand, default)
