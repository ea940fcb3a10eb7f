"""The page in a real browser: legible, reachable, true, with scripts and without.

axe-core asks the rendered page for WCAG 2.2 A and AA (W3C Recommendation of 2023-10-05).
"""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.page import house as houses
from tests.page.browser import browser
from tests.page.house import NOW_UTC_S, House
from tests.page.serving import Served, served

PHONE, DESK, NARROW = (390, 844), (1280, 900), (320, 640)
PATHS = ("/", "/history", "/outlook", "/season", "/history?view=moon")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as found:
        yield found


def opened(chromium: Browser, url: str, size: tuple[int, int] = PHONE, **options: object) -> Page:
    """A page in a context of its own; a word on its console fails the test."""
    context = chromium.new_context(viewport={"width": size[0], "height": size[1]}, **options)
    page = context.new_page()
    page.on("pageerror", lambda error: pytest.fail(str(error)))
    page.goto(url)
    return page


def finished_season(page: Served) -> None:
    while "is being worked out" in page.ask("/season").text:
        pass


def violations(page: Page) -> list[str]:
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": RULES}})
    return [
        f"{each['id']}: {each['help']}: {[node['html'][:160] for node in each['nodes']]}"
        for each in found.response["violations"]
    ]


@pytest.mark.parametrize(("size", "scheme"), [(PHONE, "dark"), (DESK, "light")])
def test_nothing_on_any_page_keeps_anybody_out(
    chromium: Browser, page: Served, size: tuple[int, int], scheme: str
) -> None:
    finished_season(page)
    for path in PATHS:
        shown = opened(chromium, page.url + path, size, color_scheme=scheme)
        for summary in shown.locator("summary").all():
            summary.click()
        assert violations(shown) == [], path
        shown.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_an_alarm_and_a_dead_keeper_keep_nobody_out(
    chromium: Browser, house: House, scheme: str
) -> None:
    house.write_status(houses.alarm(houses.status(house)))
    with served(house) as page:
        shown = opened(chromium, page.url, color_scheme=scheme)
        assert shown.locator(".mark").inner_text().lower() == "alarm"
        assert violations(shown) == []
        house.stop_keeper()
        shown.reload()
        assert shown.locator(".mark").inner_text().lower() == "not guarded"
        assert violations(shown) == []


@pytest.mark.parametrize("size", [NARROW, PHONE, DESK])
def test_no_page_is_wider_than_its_screen(
    chromium: Browser, page: Served, size: tuple[int, int]
) -> None:
    finished_season(page)
    for path in PATHS:
        shown = opened(chromium, page.url + path, size)
        wide = shown.evaluate("document.documentElement.scrollWidth")
        assert wide <= size[0], path
        shown.context.close()


def test_what_is_touched_is_large_enough_for_a_cold_finger(chromium: Browser, page: Served) -> None:
    for path in PATHS:
        shown = opened(chromium, page.url + path)
        for target in shown.locator("nav a, button, input, summary, .links a").all():
            box = target.bounding_box()
            assert box is not None
            # 44 by 44 CSS pixels: WCAG 2.2, 2.5.5 (AAA); AA asks for 24.
            assert box["height"] >= 44.0
            assert box["width"] >= 44.0
        shown.context.close()


def test_the_sentence_is_on_the_first_screen(chromium: Browser, page: Served) -> None:
    shown = opened(chromium, page.url)
    box = shown.locator("h1").bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < 300.0
    temperature = shown.locator(".figure").first.bounding_box()
    assert temperature is not None
    assert temperature["y"] + temperature["height"] < PHONE[1]


def test_nothing_is_asked_of_anybody_else(chromium: Browser, page: Served) -> None:
    context = chromium.new_context()
    shown = context.new_page()
    asked: list[str] = []
    shown.on("request", lambda request: asked.append(request.url))
    shown.on("console", lambda message: pytest.fail(message.text))
    for path in PATHS[:-1]:
        shown.goto(page.url + path)
    assert len(asked) > 6
    assert all(url.startswith(page.url) for url in asked)


def test_without_scripts_everything_is_there(chromium: Browser, page: Served) -> None:
    shown = opened(chromium, page.url, java_script_enabled=False)
    text = shown.locator("main").inner_text()
    assert "All plants safe." in text
    assert "The last 14 nights" in text
    assert shown.locator("svg.chart").bounding_box() is not None
    assert not shown.locator(".old").is_visible()


def test_an_open_page_without_scripts_says_that_it_has_grown_old(
    chromium: Browser, page: Served
) -> None:
    shown = opened(chromium, page.url, java_script_enabled=False)
    animation = shown.locator(".old").evaluate(
        "each => { const found = each.getAnimations()[0];"
        " found.currentTime = 181000; return getComputedStyle(each).visibility }"
    )
    assert animation == "visible"


def test_a_page_that_lies_open_learns_that_the_keeper_died(chromium: Browser, house: House) -> None:
    house.write_status(houses.status(house))
    with served(house) as page:
        shown = opened(chromium, page.url)
        assert shown.locator("h1").inner_text().startswith("All plants safe.")
        page.now_utc_s = NOW_UTC_S + 600.0
        shown.evaluate("renew()")
        shown.wait_for_function("document.querySelector('h1').innerText.startsWith('Nobody')")
        assert shown.title() == "fern-corner: alarm"
    # And now the shed itself does not answer.
    shown.evaluate("renew()")
    shown.wait_for_function("document.querySelector('.old').classList.contains('shown')")
    assert shown.locator(".old").is_visible()
    assert shown.locator(".old").inner_text().startswith("No answer from the shed since")


def test_a_picture_is_read_by_pointing_at_it(chromium: Browser, page: Served) -> None:
    shown = opened(chromium, page.url, has_touch=True)
    place = shown.locator(".reading").nth(10)
    place.scroll_into_view_if_needed()
    place.dispatch_event("pointerdown")
    told = shown.locator(".points").inner_text()
    assert "bench" in told
    assert "outdoors" in told
    assert "°C" in told
    assert "read" in (place.get_attribute("class") or "").split()


def test_the_keyboard_reaches_everything(chromium: Browser, page: Served) -> None:
    shown = opened(chromium, page.url + "/history")
    seen = set()
    for _ in range(40):
        shown.keyboard.press("Tab")
        seen.add(shown.evaluate("document.activeElement.tagName + document.activeElement.name"))
    assert {"A", "Aundefined"} & seen
    assert {"INPUTfrom", "INPUTto", "BUTTON"} <= seen


def test_whoever_wants_no_motion_gets_none(chromium: Browser, page: Served) -> None:
    shown = opened(chromium, page.url, reduced_motion="reduce")
    moving = shown.evaluate("document.getAnimations().map(each => each.animationName)")
    assert moving in ([], ["grown-old"])  # which only appears, after minutes


def test_on_paper_there_is_no_button(chromium: Browser, page: Served) -> None:
    shown = opened(chromium, page.url + "/history")
    shown.emulate_media(media="print")
    assert not shown.locator("form").is_visible()
    assert not shown.locator("header nav").is_visible()
    assert shown.locator("h1").is_visible()
