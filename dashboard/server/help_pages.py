"""The chapters as pages of the program, with no network: served whole, running nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Route

from dashboard.help.chapters import CHAPTERS, NAMES, PLACE, chapter_title, picture, rendered
from dashboard.help.glossary import terms
from dashboard.server.page_template import FormValues, page_answer

KINDS = {"png": "image/png", "svg": "image/svg+xml"}


def help_routes() -> list[BaseRoute]:
    """Every path of the help. Whoever may see the page may read it."""
    return [
        Route(PLACE, page_answer(index_page), methods=["GET"]),
        Route(f"{PLACE}/terms.json", terms_answer, methods=["GET"]),
        Route(f"{PLACE}/pictures/{{name}}", picture_answer, methods=["GET"]),
        Route(f"{PLACE}/{{chapter}}", chapter_answer, methods=["GET"]),
    ]


def index_page(_: FormValues) -> tuple[str, Mapping[str, Any]]:
    """All chapters by their titles."""
    return "help", {"chapter": "", "content": "", "sections": _sections()}


async def chapter_answer(request: Request) -> Response:
    """One chapter, or not found."""
    chapter = request.path_params["chapter"]
    if chapter not in NAMES:
        return PlainTextResponse("Not found", 404)

    def page(_: FormValues) -> tuple[str, Mapping[str, Any]]:
        # the program's own markup, made of its own chapter
        content = Markup(rendered(chapter))  # noqa: S704
        return "help", {"chapter": chapter, "content": content, "sections": _sections()}

    return await page_answer(page)(request)


async def picture_answer(request: Request) -> Response:
    """A picture of a chapter, or not found."""
    name = request.path_params["name"]
    content = picture(name)
    if content is None:
        return PlainTextResponse("Not found", 404)
    return Response(content, media_type=KINDS[name.rpartition(".")[2]])


async def terms_answer(_: Request) -> Response:
    """What the words of the page mean, by the word in small letters."""
    return JSONResponse(terms())


def _sections() -> list[tuple[str, list[tuple[str, str]]]]:
    return [(head, [(name, chapter_title(name)) for name in names]) for head, names in CHAPTERS]
