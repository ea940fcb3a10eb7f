"""What a slip was most likely meant to be, and choices as people list them.

Lives here: the little that the checks of sound settings need of words. Does not live here:
wording faults (wording.py), which is loaded once there are some.
"""

from typing import Any

_LONGEST_GUESS = 60  # difflib's effort grows with the square of the length


def either(choices: Any) -> str:
    """'a', 'a or b', 'a, b or c'."""
    *firsts, last = choices
    return f"{', '.join(firsts)} or {last}" if firsts else str(last)


def nearest(name: str, known: Any) -> str | None:
    """The known name a misspelt one most likely meant."""
    if len(name) > _LONGEST_GUESS:
        return None
    # Here and not above: only a slip needs it.
    from difflib import get_close_matches

    small = {candidate.lower(): candidate for candidate in known}
    matches = get_close_matches(name.lower(), small, n=1, cutoff=0.6)
    return small[matches[0]] if matches else None


def did_you_mean(name: str | None) -> str:
    return f"Did you mean {name}?" if name else ""
