"""Which probe is the one in the warm hand? Pure.

Lives here: telling one rising probe from a house that grows warmer as a whole.
"""

from collections.abc import Mapping

# A hand at 30 °C or more moves a steel probe by a degree within half a minute; a bench in
# the sun moves all probes, and so the next one must lie well behind. From common practice,
# no source.
RISE_K = 1.0
AHEAD_K = 0.75


class Warming:
    """Looks at one round of temperatures after another, all in °C, by ROM."""

    def __init__(self) -> None:
        self._first: dict[str, float] = {}

    def look(self, temps_c: Mapping[str, float]) -> str | None:
        """The ROM that rises alone; None while nobody or more than one does.

        A probe that cannot be read now is not in temps_c, and stays what it was.
        """
        for rom, temp_c in temps_c.items():
            self._first.setdefault(rom, temp_c)
        rises = sorted(
            ((temp_c - self._first[rom], rom) for rom, temp_c in temps_c.items()), reverse=True
        )
        if not rises or rises[0][0] < RISE_K:
            return None
        alone = len(rises) == 1 or rises[0][0] - rises[1][0] >= AHEAD_K
        return rises[0][1] if alone else None

    def rise_k(self, rom: str, temps_c: Mapping[str, float]) -> float:
        return temps_c[rom] - self._first[rom]
