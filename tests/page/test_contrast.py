"""The inks of the page against its paper, by the formula of WCAG 2.2.

Source: W3C, Web Content Accessibility Guidelines 2.2 (5 October 2023), definitions of
"contrast ratio" and "relative luminance"; 1.4.3 asks 4.5:1 of text, 1.4.11 3:1 of what a
picture is made of.
"""

import re
from pathlib import Path

import pytest

import greenkeeper.page

SHEET = (Path(greenkeeper.page.__file__).parent / "static" / "page.css").read_text()
BLOCKS = [
    dict(re.findall(r"--([\w-]+):\s*(#\w+)", block))
    for block in re.findall(r":root \{(.*?)\}", SHEET, re.DOTALL)
]


def luminance(colour: str) -> float:
    digits = colour.lstrip("#")
    if len(digits) == 3:
        digits = "".join(digit * 2 for digit in digits)
    parts = [int(digits[i : i + 2], 16) / 255.0 for i in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_the_ends_that_the_definition_names() -> None:
    assert contrast("#000", "#fff") == pytest.approx(21.0)
    assert contrast("#fff", "#ffffff") == pytest.approx(1.0)


@pytest.mark.parametrize("inks", BLOCKS, ids=["light", "dark", "print"])
def test_every_ink_can_be_read_on_its_paper(inks: dict[str, str]) -> None:
    assert len(inks) >= 9
    for ink in ("ink", "faint", "plants", "cold", "heat", "grave"):
        assert contrast(inks[ink], inks["paper"]) >= 4.5, ink
    # At arm's length, in the dark or in sunlight: what is most read has more.
    assert contrast(inks["ink"], inks["paper"]) >= 12.0


@pytest.mark.parametrize("inks", BLOCKS[:2], ids=["light", "dark"])
def test_the_alarm_can_be_read_on_its_ground(inks: dict[str, str]) -> None:
    assert contrast(inks["on-grave"], inks["grave"]) >= 7.0
