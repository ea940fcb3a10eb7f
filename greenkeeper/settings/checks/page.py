"""The page: an address that is one, and who can read it there."""

from collections.abc import Iterator
from ipaddress import ip_address

from greenkeeper.settings.checks.finding import Finding, is_written
from greenkeeper.settings.page import ADDRESS_PATTERN
from greenkeeper.settings.schema import Settings


def faults(settings: Settings) -> Iterator[Finding]:
    if not is_an_address(settings.page.address):
        from greenkeeper.settings.wording import PATTERN_WORDS  # sound settings need none of it

        yield Finding(("page", "address"), settings.page.address, PATTERN_WORDS[ADDRESS_PATTERN])


def remarks(settings: Settings) -> Iterator[Finding]:
    page = settings.page
    if not is_written(page, "address") or ip_address(page.address).is_loopback:
        return
    if page.access_word_file is None:
        hint = "That is fine at home; page.access_word_file asks for a word."
        yield Finding(("page", "address"), "everybody in the network can read the page", hint=hint)


def is_an_address(text: str) -> bool:
    try:
        ip_address(text)
    except ValueError:
        return False
    return True
