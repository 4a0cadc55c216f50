"""The pages and their addresses; what goes wrong becomes a page with a next step."""

from __future__ import annotations

import tempfile
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from pipeline.digest.words import day, plural
from pipeline.errors import CinderlotError, StoreBusy, WrongUse
from pipeline.page.asked import Pairs
from pipeline.page.cells import cell_view
from pipeline.page.comparing import compare_view
from pipeline.page.downloads import download
from pipeline.page.guard import Guard
from pipeline.page.listing import lots_view, results_view
from pipeline.page.lots import lot_view
from pipeline.page.site import PATIENCE, Site
from pipeline.store import Store

# What a page is drawn from: the name of its template and what stands in it.
View = tuple[str, dict[str, Any]]
Work = Callable[[Site, Store, Pairs], View]
Answer = Callable[[Request], Response]
_PAGES: dict[str, Work] = {
    "/": compare_view,
    "/results": results_view,
    "/lots": lots_view,
    "/lot": lot_view,
    "/cell": cell_view,
}


@dataclass(frozen=True)
class Fault:
    """A page that could not be given: status, what is wrong, and what to do next."""

    status: int
    said: str
    then: str
    retry: str | None = None


@cache
def _templates() -> Environment:
    pages = Environment(
        loader=PackageLoader("pipeline.page"),
        autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=StrictUndefined,
    )  # fmt: skip
    pages.filters |= {"day": day, "plural": plural}
    return pages


def render(name: str, context: dict[str, Any], status: int = 200) -> HTMLResponse:
    """Draw a page from its template; all that stands in it is escaped."""
    return HTMLResponse(_templates().get_template(f"{name}.html.j2").render(context), status)


def _refuse(fault: Fault) -> Response:
    context = {"fault": fault, "title": "Not shown", "here": "", "store": None}
    response = render("fault", context, fault.status)
    if fault.status == 503:
        response.headers["retry-after"] = "5"
    return response


def _explain(error: Exception, request: Request) -> Fault:
    here = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    if isinstance(error, WrongUse):
        said = f"This address asks for something unknown: {error}"
        return Fault(400, said if said.endswith("?") else f"{said}.", "Start again.")
    if isinstance(error, StoreBusy):
        return Fault(503, f"{error}.", "A load is short: try again in a moment.", here)
    if isinstance(error, CinderlotError):
        return Fault(503, f"{error}.", "Then try again.", here)
    with tempfile.NamedTemporaryFile(
        "w", prefix="cinderlot-", suffix=".log", encoding="utf-8", delete=False
    ) as log:
        log.write("".join(traceback.format_exception(error)))
    kind = type(error).__name__
    return Fault(500, f"An unexpected {kind}; details are in {log.name}.", "Start again.", here)


def _answer(site: Site, give: Callable[[Store, Request], Response]) -> Answer:
    """Open the store for one answer only, so that a load waits no longer than that."""

    def answer(request: Request) -> Response:
        try:
            with Store(site.store, read_only=True, wait=PATIENCE) as store, site.busy(store):
                return give(store, request)
        except Exception as error:
            return _refuse(_explain(error, request))

    return answer


def _page(site: Site, work: Work, store: Store, request: Request) -> Response:
    name, context = work(site, store, request.query_params.multi_items())
    loaded = site.remember("loaded", lambda: site.browse(store).loaded())
    return render(
        name, {"here": request.url.path, "store": site.store.name, "loaded": loaded, **context}
    )


def _download(site: Site, store: Store, request: Request) -> Response:
    return download(site, store, request.path_params["name"], request.query_params.multi_items())


def _missing(request: Request, _: Exception) -> Response:
    return _refuse(Fault(404, "There is no such page.", "Start again."))


def make_app(site: Site) -> Starlette:
    """Make the web application of one store; it only reads, and answers only on loopback."""
    routes: list[Any] = [
        Route(path, _answer(site, partial(_page, site, work))) for path, work in _PAGES.items()
    ]
    routes += [
        Route("/download/{name}", _answer(site, partial(_download, site))),
        Mount("/static", StaticFiles(packages=[("pipeline.page", "static")])),
    ]
    app = Starlette(routes=routes, exception_handlers={404: _missing})
    app.add_middleware(Guard, refuse=lambda status, said, then: _refuse(Fault(status, said, then)))
    return app
