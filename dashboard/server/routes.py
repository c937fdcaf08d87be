"""Every path the server answers, in one place; any other is not found.

Dash brings more than the page uses, so its own are named one by one. A new path of ours is one more
line in `own_routes`. Whoever may not ask at all was turned away before
(dashboard.access.access_control); what is for the bench alone, and not for those it is shared with,
says so by `bench_only`.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from functools import partial
from pathlib import Path
from typing import Any, cast

from dash import Dash
from dash.fingerprint import check_fingerprint
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.websockets import WebSocket

from dashboard.access.access_control import PAGE_TOKEN, ROLE
from dashboard.access.share_page import picture_of, share_state
from dashboard.access.sharing import Sharing
from dashboard.bench.composed_bench import Bench
from dashboard.feed.viewer_feed import feed
from dashboard.page.layout import TOKEN_PLACE
from dashboard.server import records_page
from dashboard.server.cable_page import cable_page
from dashboard.server.downloads import conditions_picture, saved
from dashboard.server.help_pages import help_routes
from dashboard.server.plan_requests import bands_found, plan_edited, plan_in_use, recents
from dashboard.server.ports_answer import listed_ports
from dashboard.server.record_deletion import record_deletion
from dashboard.server.record_exports import list_export
from dashboard.server.report_downloads import report_of
from dashboard.server.station_label import label_of

OF_DASH = frozenset(
    {
        "/_dash-layout",
        "/_dash-dependencies",
        "/_dash-update-component",
        "/assets",
    }
)

Answer = Callable[[Request], Awaitable[Response]]


def own_routes(app: Dash, bench: Bench, sharing: Sharing | None) -> list[BaseRoute]:
    """Every path that is ours."""

    async def follow(socket: WebSocket) -> None:
        await feed(socket, bench)

    list_page: list[BaseRoute] = [
        Route("/", page_of(app), methods=["GET"]),
        Route("/_dash-component-suites/{package}/{path:path}", scripts_of(app), methods=["GET"]),
        WebSocketRoute("/feed", follow),
        Route("/save/sweep.{form}", saved(bench), methods=["GET"]),
        Route("/save/conditions.svg", bench_only(conditions_picture(bench)), methods=["GET"]),
    ]
    if bench.station is not None:
        label = bench_only(label_of(bench.station))
        return [*list_page[:3], Route("/station/{record}/label.svg", label, methods=["GET"])]
    list_page += [
        Route("/plan.json", plan_in_use(bench), methods=["GET"]),
        Route("/plan.json", plan_edited, methods=["POST"]),
        Route("/bands.json", bands_found, methods=["GET"]),
        Route("/recent.json", bench_only(recents(bench), lent=True), methods=["GET"]),
    ]

    def of_records(make: Callable[[Path], Answer]) -> Answer:
        async def serve(request: Request) -> Response:
            return await make(bench.records_folder)(request)  # it moves with the analyzer's port

        return bench_only(serve)

    for path, page in (
        ("/records", records_page.list_page),
        ("/records/compare", records_page.comparison_page),
        ("/records/batch", records_page.batch_page),
        ("/records/{record}/recheck", records_page.recheck_page),
        ("/records/{record}/delete", records_page.delete_page),
    ):
        answer = of_records(partial(records_page.page_of, page=page))
        list_page.append(Route(path, answer, methods=["GET"]))
    deleting = of_records(record_deletion)
    list_page.append(Route("/records/{record}/delete", deleting, methods=["POST"]))
    exported = of_records(list_export)
    list_page.append(Route("/records.{form}", exported, methods=["GET"]))
    list_page.append(Route("/cable", bench_only(cable_page(bench)), methods=["GET"]))
    list_page += help_routes()
    report = of_records(report_of)
    list_page.append(Route("/records/{record}/{name}", report, methods=["GET"]))
    list_page.append(Route("/ports.json", bench_only(listed_ports(bench)), methods=["GET"]))
    if sharing is not None:
        list_page += [
            Route("/share.svg", bench_only(picture_of(sharing)), methods=["GET"]),
            Route("/share.json", bench_only(share_state(sharing)), methods=["GET"]),
        ]
    return list_page


def page_of(app: Dash) -> Answer:
    """Serve the page, with the token by which it may change something."""

    async def serve(request: Request) -> Response:
        page: str = cast(Any, app).index()
        page = page.replace(TOKEN_PLACE, request.scope[PAGE_TOKEN])
        return HTMLResponse(page, headers={"Cache-Control": "no-store"})

    return serve


def scripts_of(app: Dash) -> Answer:
    """Serve the scripts of Dash's packages that the page names; Dash fails at any other path."""

    named: Any = check_fingerprint
    backend: Any = app.backend

    async def serve(request: Request) -> Response:
        package, path = request.path_params["package"], request.path_params["path"]
        if named(path)[0] not in app.registered_paths.get(package, ()):
            return PlainTextResponse("Not found", 404)
        answer: Response = backend.serve_component_suites(app, package, path, request)
        return answer

    return serve


def bench_only(answer: Answer, *, lent: bool = False) -> Answer:
    """Make a path that exists for the bench's own page alone.

    lent : and for the one viewer that control is lent to.
    """

    async def serve(request: Request) -> Response:
        if request.scope[ROLE]() not in (("bench", "lent") if lent else ("bench",)):
            return PlainTextResponse("Not found", 404)
        return await answer(request)

    return serve


def of_dash(route: BaseRoute) -> bool:
    """True for a path of Dash's that the page uses."""
    return getattr(route, "path", None) in OF_DASH
