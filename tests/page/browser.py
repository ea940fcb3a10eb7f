"""A real browser: the distribution's Chromium, driven by playwright.

Lives here: finding and starting it. Does not live here: what is looked at.
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, sync_playwright

# As .ci/prepare looks for them, which brings the first where there is none.
NAMES = (
    *("chromium-headless-shell", "chromium", "chromium-browser"),
    *("google-chrome", "google-chrome-stable"),
)


def program() -> str:
    """Where it lies. Without one the tests that need it fail: make test installs it."""
    for name in NAMES:
        found = shutil.which(name)
        if found is not None:
            return found
    raise FileNotFoundError(
        f"no browser: none of {', '.join(NAMES)} is found. .ci/prepare test brings one, or says how"
    )


@contextmanager
def browser() -> Iterator[Browser]:
    # Root has no sandbox to start (Debian's Chromium refuses), and a test page needs none.
    options = ["--no-sandbox"] if os.geteuid() == 0 else []
    with sync_playwright() as play:
        found = play.chromium.launch(executable_path=program(), args=options)
        yield found
        found.close()
