"""The pages and what each shows.

Lives here: the addresses, and gathering for each what its template needs. What cannot be
read becomes a sentence in its place, never a page that is missing. Does not live here: who
is let in (gate.py), the figures of anything.
"""

import contextlib
import hashlib
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import anyio.to_thread
import structlog
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response, StreamingResponse
from starlette.routing import Route

from greenkeeper import __version__
from greenkeeper.errors import GreenkeeperError
from greenkeeper.journal import export
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.times import HOUR_S
from greenkeeper.page import chart, courses, history, nights, outlook
from greenkeeper.page import now as now_words
from greenkeeper.page.courses import Table
from greenkeeper.page.figures import Figures
from greenkeeper.page.keeping import Kept
from greenkeeper.page.season import Season
from greenkeeper.page.sources import Sources
from greenkeeper.reports.night import Span
from greenkeeper.settings.schema import Settings

_HERE = Path(__file__).parent
_DAY_S = 24 * HOUR_S
_AT_ONCE = 4  # threads that read: a small board has no more to give
_MOST_NIGHTS = 92  # of one table
_MOST_TOLD = 60  # events of one page
_A_YEAR_S = 31_536_000
_TABLES = ("minutes", "hours", "switchings", "events")
T = TypeVar("T")

_ASSETS = (
    ("page.css", "text/css"),
    ("page.js", "text/javascript"),
    ("icon.svg", "image/svg+xml"),
)
PAGES = (("/", "Now"), ("/history", "History"), ("/outlook", "Outlook"), ("/season", "Season"))


class Asset(NamedTuple):
    content: bytes
    kind: str
    mark: str  # of its content


class Pages:
    """What the addresses answer. Its methods run in threads."""

    def __init__(self, sources: Sources) -> None:
        self._sources = sources
        self._season = Season(sources)
        self.assets = {name: _asset(_HERE / "static" / name, kind) for name, kind in _ASSETS}
        # By the hour: until it turns, no night and no winter has another hour to count.
        self._fortnight = Kept(self._ask_fortnight, self._hour)
        self._winter = Kept(self._ask_winter, self._hour)
        self._templates = Environment(
            loader=FileSystemLoader(_HERE / "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )

    # --- the four pages ------------------------------------------------------------------

    def now(self, request: Request) -> Response:
        settings, figures = self._sources.settings()
        now_utc_s = self._sources.now_utc_s()
        head, trouble = self._head(figures, now_utc_s)
        no_record = self._or_trouble(lambda _: "")  # said once, not in each part of the page
        return self._page(
            request,
            "now.html",
            now=head,
            no_record=no_record,
            troubles=[*trouble, *filter(None, [self._sources.trouble()])],
            tonight=outlook.tonight(self._sources.tonight(), figures, now_utc_s),
            day=self._or_trouble(lambda journal: self._day(journal, settings, figures, now_utc_s)),
            last_night=self._or_trouble(
                lambda journal: nights.last_night(journal, settings, figures, now_utc_s)
            ),
            fortnight=_or_trouble(self._fortnight.value),
            winter=_or_trouble(self._winter.value),
        )

    def history(self, request: Request) -> Response:
        settings, figures = self._sources.settings()
        now_utc_s = self._sources.now_utc_s()
        try:
            found = history.asked(dict(request.query_params), settings, now_utc_s)
        except history.AskedError as error:
            return self._failed(request, 400, str(error))
        return self._page(
            request,
            "history.html",
            asked=found,
            title=history.title(found, figures),
            views=history.views(found),
            neighbours=history.neighbours(found, now_utc_s),
            tables=_TABLES,
            day=self._or_trouble(lambda journal: _drawn(journal, settings, figures, found.span)),
            nights=self._or_trouble(
                lambda journal: _nights(journal, settings, figures, found, now_utc_s)
            ),
            told=self._or_trouble(lambda journal: list(_told(journal, figures, found.span))),
        )

    def outlook(self, request: Request) -> Response:
        settings, figures = self._sources.settings()
        now_utc_s = self._sources.now_utc_s()
        said = self._sources.outlooks()
        return self._page(
            request,
            "outlook.html",
            tonight=outlook.tonight(self._sources.tonight(), figures, now_utc_s),
            score=self._or_trouble(
                lambda journal: outlook.score(journal, settings, said, figures, now_utc_s)
            ),
        )

    def season(self, request: Request) -> Response:
        return self._page(request, "season.html", sheet=self._season.sheet())

    def table(self, request: Request) -> Response:
        """A table of the record, as CSV, for as long as somebody takes it."""
        settings, _ = self._sources.settings()
        name = request.query_params.get("table", "minutes")
        if name not in _TABLES:
            return self._failed(request, 400, f"table is one of {', '.join(_TABLES)}")
        try:
            asked = dict(request.query_params)
            found = history.asked(asked, settings, self._sources.now_utc_s())
            journal = self._sources.journal(handed_on=True)  # a thread for each piece
        except GreenkeeperError as error:
            return self._failed(request, 400, str(error))
        file = f"{settings.site.name}-{name}-{found.first}.csv"
        return StreamingResponse(
            _pieces(journal, name, found.span),
            media_type="text/csv; charset=utf-8",
            headers={
                "content-disposition": f'attachment; filename="{file}"',
                "cache-control": "no-store",
            },
        )

    def asset(self, request: Request) -> Response:
        asset = self.assets[request.url.path.lstrip("/")]
        headers = {"cache-control": f"max-age={_A_YEAR_S}, immutable"}
        return Response(asset.content, media_type=asset.kind, headers=headers)

    def missing(self, request: Request, error: Exception) -> Response:
        status = error.status_code if isinstance(error, HTTPException) else 404
        return self._failed(request, status, "There is no such page.")

    def broken(self, request: Request, error: Exception) -> Response:
        """What was not foreseen: told in the log, and that the log tells it."""
        structlog.get_logger().error("page-failed", path=request.url.path, error=repr(error))
        return self._failed(
            request, 500, "This page could not be made; the log of greenkeeper page says why."
        )

    # --- what they are made of -----------------------------------------------------------

    def _head(self, figures: Figures, now_utc_s: float) -> tuple[now_words.Now, list[str]]:
        try:
            return now_words.now(self._sources.status(), figures, now_utc_s), []
        except GreenkeeperError as error:
            trouble = str(error)
        except (LookupError, TypeError, ValueError, AttributeError) as error:
            # The keeper writes it whole; what is not as it writes it is no sign of life.
            trouble = f"The keeper's status file makes no sense ({error!r})."
        return now_words.now(None, figures, now_utc_s), [trouble]

    def _day(
        self, journal: Journal, settings: Settings, figures: Figures, now_utc_s: float
    ) -> dict[str, Any]:
        return _drawn(journal, settings, figures, Span(now_utc_s - _DAY_S, now_utc_s))

    def _hour(self) -> object:
        return self._sources.now_utc_s() // HOUR_S, self._sources.mark

    def _ask_fortnight(self) -> Table:
        settings, figures = self._sources.settings()
        with self._sources.journal() as journal:
            return nights.fortnight(journal, settings, figures, self._sources.now_utc_s())

    def _ask_winter(self) -> Table:
        settings, figures = self._sources.settings()
        with self._sources.journal() as journal:
            return nights.winter(journal, settings, figures, self._sources.now_utc_s())

    def warm(self) -> None:
        """Work out beforehand what takes long, so that the first caller need not wait."""
        for kept in (self._fortnight, self._winter):
            _or_trouble(kept.value)

    def _or_trouble(self, ask: Callable[[Journal], T]) -> "T | Trouble":
        def asked() -> T:
            with self._sources.journal() as journal:
                return ask(journal)

        return _or_trouble(asked)

    def _page(self, request: Request, template: str, status: int = 200, **facts: Any) -> Response:
        settings, _ = self._sources.settings()
        html = self._templates.get_template(template).render(
            site=settings.site.name,
            version=__version__,
            pages=PAGES,
            here=request.url.path,
            marks={name: asset.mark for name, asset in self.assets.items()},
            is_trouble=lambda value: isinstance(value, Trouble),
            **facts,
        )
        return HTMLResponse(html, status, headers={"cache-control": "no-store"})

    def _failed(self, request: Request, status: int, words: str) -> Response:
        return self._page(request, "failed.html", status, words=words)


class Trouble(str):
    """Why a part of the page is not there."""

    __slots__ = ()


def _or_trouble(ask: Callable[[], T]) -> "T | Trouble":
    try:
        return ask()
    except GreenkeeperError as error:
        return Trouble(error)


def _drawn(journal: Journal, settings: Settings, figures: Figures, span: Span) -> dict[str, Any]:
    """A picture, and the same as a table."""
    begins, ends = (figures.moment_in(span, utc_s) for utc_s in span)
    title = f"Temperatures and what ran, {begins} to {ends}"
    drawing = courses.drawing(journal, settings, span, title)
    return {"picture": chart.svg(drawing, figures), "table": courses.table(drawing, figures)}


def _nights(
    journal: Journal,
    settings: Settings,
    figures: Figures,
    found: history.Asked,
    now_utc_s: float,
) -> Table | None:
    evenings = history.evenings(found, now_utc_s, settings.site.zone, _MOST_NIGHTS)
    return (
        None if evenings is None else nights.table(journal, settings, figures, evenings, now_utc_s)
    )


def _told(journal: Journal, figures: Figures, span: Span) -> Iterator[tuple[str, str]]:
    """What was raised, the newest first."""
    raised = [event for event in journal.events(*span) if event.phase == "raised"]
    for event in raised[: -_MOST_TOLD - 1 : -1]:
        yield figures.moment(event.utc_s), figures.text(f"{event.subject}: {event.text}")


def _pieces(journal: Journal, name: str, span: Span) -> Iterator[str]:
    with journal:
        for piece in export.pieces(journal, name, *span, as_json=False):
            yield piece.text


def _asset(file: Path, kind: str) -> Asset:
    content = file.read_bytes()
    return Asset(content, kind, hashlib.sha256(content).hexdigest()[:12])


def application(sources: Sources) -> Starlette:
    """All of it, without the gate."""
    pages = Pages(sources)

    @contextlib.asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        anyio.to_thread.current_default_thread_limiter().total_tokens = _AT_ONCE
        async with anyio.create_task_group() as group:
            group.start_soon(anyio.to_thread.run_sync, pages.warm)
            yield

    routes = [
        Route("/", pages.now),
        Route("/history", pages.history),
        Route("/history.csv", pages.table),
        Route("/outlook", pages.outlook),
        Route("/season", pages.season),
        *(Route(f"/{name}", pages.asset) for name in pages.assets),
    ]
    handlers: dict[Any, Any] = {HTTPException: pages.missing, Exception: pages.broken}
    return Starlette(routes=routes, exception_handlers=handlers, lifespan=life)
