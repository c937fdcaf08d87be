"""Pages that are served whole and run nothing: filled in from a template, all text plain.

What cannot be shown is a page with one sentence.
"""

from __future__ import annotations

import asyncio
import importlib.resources
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from typing import Any

import jinja2
from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from acceptance.pictures.svg_drawing import Drawing
from acquire.errors import BandwrightError
from acquire.printable_text import plain
from dashboard.access.access_control import PAGE_TOKEN
from dashboard.help.chapters import CHAPTER_OF_VIEW

WIDE, NARROW = (600.0, 190.0), (230.0, 150.0)
"""Of a picture, points: with letters of 7 points these are 14 on a laptop and 11 on a phone."""
PAGE_FIELD = "page_token"
"""The name under which a page is told the token that its form carries."""
Answer = Callable[[Request], Awaitable[Response]]


class FormValues:
    """What a page was asked for, every text of it plain."""

    def __init__(self, given: QueryParams) -> None:
        self._given = given

    def __getattr__(self, name: str) -> str:
        return plain(self._given.get(name, "")).strip()[:200]

    def all(self, name: str) -> list[str]:
        """Every value of one name."""
        return [plain(each) for each in self._given.getlist(name)]


@dataclass(frozen=True, slots=True)
class PicturePair:
    """A picture twice, since nothing runs here that could draw it to a window's width; SVG."""

    wide: str
    narrow: str
    """For a phone: its letters keep their size."""

    @classmethod
    def by(cls, draw: Callable[[float, float], Drawing]) -> PicturePair:
        """draw : from width and height, points."""
        return cls(draw(*WIDE).svg(), draw(*NARROW).svg())


def page_answer(page: Callable[[FormValues], tuple[str, Mapping[str, Any]]]) -> Answer:
    """Serve what a page tells: the name of its template, and what is filled in."""

    def make(form: FormValues) -> tuple[str, int]:
        try:
            return _render(*page(form)), 200
        except (BandwrightError, OSError) as error:
            return _render("refused", {"why": plain(error)}), 400

    async def serve(request: Request) -> Response:
        token = [(PAGE_FIELD, request.scope.get(PAGE_TOKEN, ""))]
        asked = [*request.query_params.multi_items(), *_path(request), *token]
        form = FormValues(QueryParams(asked))
        content, status = await asyncio.to_thread(make, form)
        # same-origin: by no referrer at all browsers would not say where a form comes from
        headers = {"Cache-Control": "no-store", "Referrer-Policy": "same-origin"}
        return HTMLResponse(content, status, headers=headers)

    return serve


def refused_page(why: str) -> HTMLResponse:
    """A page with one sentence: why what was asked for could not be done."""
    content = _render("refused", {"why": plain(why)})
    return HTMLResponse(content, 400, headers={"Cache-Control": "no-store"})


def _render(name: str, values: Mapping[str, Any]) -> str:
    template = _ENVIRONMENT.get_template(f"{name}.html.jinja")
    return template.render(here=name, help_chapter=CHAPTER_OF_VIEW.get(name, ""), **values)


def _read_template(name: str) -> str | None:
    source = importlib.resources.files("dashboard.server").joinpath("pages").joinpath(name)
    return source.read_text(encoding="utf-8") if source.is_file() else None


def _one_line(value: object) -> object:
    """Text from records without what steers a screen; what is markup already stays."""
    return plain(value) if type(value) is str else value


def _path(request: Request) -> list[tuple[str, str]]:
    return [(name, str(value)) for name, value in request.path_params.items()]


_ENVIRONMENT = jinja2.Environment(
    loader=jinja2.FunctionLoader(_read_template),
    autoescape=True,
    undefined=jinja2.StrictUndefined,
    finalize=_one_line,
    trim_blocks=True,
)
