"""Draws the page's portrait for README, of the invented house.

Run: python -m tests.page.portrait hardware-notes/page.png
"""

import sys
import tempfile
from pathlib import Path

from tests.page import house as houses
from tests.page.browser import browser
from tests.page.house import House
from tests.page.serving import served

_WIDE, _HIGH = 390, 780  # of a telephone, in CSS pixels
_VIEWS = (("light", 0), ("light", 1010), ("dark", 0))  # scheme, and how far down


def main() -> None:
    target = Path(sys.argv[1])
    with tempfile.TemporaryDirectory() as name:
        house = House(Path(name))
        house.write_journal()
        house.write_status(houses.status(house))
        house.write_outlooks(houses.outlook())
        with served(house) as page, browser() as chromium:
            strips = []
            for scheme, top in _VIEWS:
                context = chromium.new_context(
                    viewport={"width": _WIDE, "height": _HIGH},
                    color_scheme="dark" if scheme == "dark" else "light",
                )
                shown = context.new_page()
                shown.goto(page.url)
                shown.evaluate(f"window.scrollTo(0, {top})")
                strips.append(shown.screenshot())
                context.close()
    _side_by_side(strips, target)


def _side_by_side(strips: list[bytes], target: Path) -> None:
    """matplotlib's own library of pictures does it."""
    import io

    from PIL import Image

    gap = 16
    whole = Image.new("RGB", (len(strips) * (_WIDE + gap) - gap, _HIGH), "#8a8a80")
    for i, strip in enumerate(strips):
        whole.paste(Image.open(io.BytesIO(strip)), (i * (_WIDE + gap), 0))
    whole.quantize(64).save(target, optimize=True)


if __name__ == "__main__":
    main()
