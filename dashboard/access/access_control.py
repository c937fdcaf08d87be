"""Who may talk to the page: this machine's own browser, from the page itself, and nobody else,
unless the bench shares it.

A server on 127.0.0.1 can be reached by any web site open in the same browser: by a name of the
site's own that resolves to it (DNS rebinding), or by requests sent across origins. So the host name
must be this machine's; what a browser says about where a request comes from must be the page
itself; and whatever changes something must carry a token that is made anew at every start and
stands only in the page, where no other origin can read it. docs/threats.md says what each is for.
"""

from __future__ import annotations

import asyncio
import re
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from contextvars import ContextVar
from typing import Any
from urllib.parse import parse_qs

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse, RedirectResponse

from dashboard.access.join_page import JOIN, LARGEST_FORM, join_page
from dashboard.access.sharing import NOT_SHARED, Sharing
from dashboard.errors import NotNowError

HOST = re.compile(r"(127\.0\.0\.1|localhost)(:[0-9]{1,5})?")
"""The names of this machine; whatever the port, for it may have been forwarded."""
TOKEN = "x-bandwright-token"  # noqa: S105 - a header's name
FORM_TOKEN = "token"  # noqa: S105 - a field's name
TOKEN_BYTES = 32
LARGEST_BODY = 8 * 2**20
"""Bytes; a certificate's file of 20,000 points takes a quarter of it."""
BODY_WITHIN_S = 10.0
"""How long a body may take to come in."""
SAFE = ("GET", "HEAD")
ROLE = "bandwright.role"
"""Where a connection's role stands in its scope: what returns "bench", "viewer" or "lent"."""
NAME = "bandwright.name"
"""Where a viewer's name stands in it."""
PAGE_TOKEN = "bandwright.token"  # noqa: S105 - a key's name
"""Where the token stands in the scope that the page is to carry."""
STALE = "This page is from before a restart. Load it again."
ONLY_LOOKS = "Viewers look and change nothing."
_TOO_LARGE = f"This is larger than {LARGEST_BODY // 2**20} MB."
_TOO_SLOW = "This did not come in in time. Ask again."
ASK = (
    "This page is shared by a one-time code. Scan the code on the bench's screen, or ask for the "
    "address shown there."
)
PUT_OUT = (
    "You are not let in any more: sharing was stopped, or your place went to somebody else while "
    "your page was closed. Scan the code that the bench shows now."
)

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]


_ROLE: ContextVar[Callable[[], str]] = ContextVar("role", default=lambda: "bench")
"""The same, for what is called with no scope in its hands."""


def role_now() -> str:
    """Whose request is being served: "bench", "viewer" or "lent"; "out" for one put out since."""
    return _ROLE.get()()


class Door:
    """Lets in by the port a connection came through: the bench's own, or the shared one."""

    def __init__(
        self,
        app: Application,
        sharing: Sharing | None = None,
        *,
        body_within_s: float = BODY_WITHIN_S,
    ) -> None:
        self._app = app
        self._body_within_s = body_within_s
        self._sharing = sharing
        # One each: what a viewer's page carries is of no use at the bench's own port.
        self._bench_token = secrets.token_urlsafe(TOKEN_BYTES)
        self._viewer_token = secrets.token_urlsafe(TOKEN_BYTES)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection (ASGI)."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        sharing = self._sharing
        came_by = (scope.get("server") or ("", 0))[1]
        if sharing is not None and came_by == sharing.port:
            await self._viewer(sharing, scope, receive, send)
            return
        if not HOST.fullmatch(Headers(scope=scope).get("host", "")):
            await turn_away(scope, receive, send, "Invalid host header.", 400)
            return
        scope[ROLE] = lambda: "bench"
        scope[PAGE_TOKEN] = self._bench_token
        await self._own_pages_only(scope, receive, send)

    async def _viewer(self, sharing: Sharing, scope: Scope, receive: Receive, send: Send) -> None:
        headers = Headers(scope=scope)
        if headers.get("host") != sharing.authority:
            await turn_away(scope, receive, send, "Invalid host header.", 400)
            return
        session = cookies(headers).get(sharing.cookie, "")
        admitted = sharing.admits(session)
        if scope["type"] == "http" and (scope["method"], scope["path"]) == ("POST", JOIN):
            await self._join(sharing, scope, receive, send)
            return
        if scope["type"] == "http" and (scope["method"], scope["path"]) == ("GET", "/"):
            code = first_of(scope.get("query_string", b"")).get("code", "")
            if code:
                await _offer(sharing, code, scope, receive, send, admitted=admitted)
                return
        if not admitted:
            why = ASK if sharing.open else NOT_SHARED
            await turn_away(scope, receive, send, PUT_OUT if session else why, 403)
            return
        if changes(scope) and not sharing.may_control(session):
            await turn_away(scope, receive, send, ONLY_LOOKS, 403)
            return

        def role() -> str:
            if not sharing.admits(session):
                return "out"
            return "lent" if sharing.may_control(session) else "viewer"

        scope[ROLE] = role
        scope[NAME] = sharing.name_of(session)
        scope[PAGE_TOKEN] = self._viewer_token
        if scope["type"] == "websocket":
            with sharing.page_open(session):
                await self._own_pages_only(scope, receive, send)
            return
        await self._own_pages_only(scope, receive, send)

    async def _join(self, sharing: Sharing, scope: Scope, receive: Receive, send: Send) -> None:
        """Let somebody in who pressed the button."""
        refusal = foreign(scope) or _length_refused(scope, LARGEST_FORM)
        if refusal:
            await turn_away(scope, receive, send, *refusal)
            return
        whole = await self._taken_in(scope, receive, send)
        if whole is None:
            return
        form = first_of((await whole())["body"])
        who = (scope.get("client") or ("", 0))[0]
        try:
            session = sharing.redeem(form.get("code", ""), who, form.get("name", ""))
        except NotNowError as error:
            await turn_away(scope, receive, send, str(error), 403)
            return
        answer = RedirectResponse("/#wall", 303)
        # Lax, not strict: a link in somebody's messages is a foreign page, and its redirect too.
        answer.set_cookie(
            sharing.cookie, session, httponly=True, samesite="lax", secure=sharing.private, path="/"
        )
        await answer(scope, receive, send)

    async def _own_pages_only(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let through what comes from the page itself, or opens it."""
        _ROLE.set(scope[ROLE])
        refusal = foreign(scope)
        by_form = changes(scope) and sent_by_form(scope)
        if not refusal and by_form:
            refusal = _length_refused(scope, LARGEST_FORM)
        elif not refusal and changes(scope):
            refusal = self._unwanted(scope)
        if refusal:
            await turn_away(scope, receive, send, *refusal)
            return
        if changes(scope):
            # All of it first: one that comes in late must not be done by the role of long ago.
            whole = await self._taken_in(scope, receive, send)
            if whole is None:
                return
            receive = whole
            if by_form:
                body = (await whole())["body"]
                given = first_of(body).get(FORM_TOKEN, "").encode()
                if not secrets.compare_digest(given, scope[PAGE_TOKEN].encode()):
                    await turn_away(scope, receive, send, STALE, 409)
                    return
                receive = _handing_on(body, receive)
            if scope[ROLE]() not in ("bench", "lent"):
                await turn_away(scope, receive, send, ONLY_LOOKS, 403)
                return
        await self._app(scope, receive, send)

    async def _taken_in(self, scope: Scope, receive: Receive, send: Send) -> Receive | None:
        """What hands on a request's whole body; None where it was turned away, or left."""
        try:
            return await _whole_body(receive, self._body_within_s)
        except TimeoutError:
            await turn_away(scope, receive, send, _TOO_SLOW, 408)
        except _TooLargeError:
            await turn_away(scope, receive, send, _TOO_LARGE, 413)
        except _LeftError:
            pass
        return None

    @staticmethod
    def _unwanted(scope: Scope) -> tuple[()] | tuple[str, int]:
        """Why what would change something is not wanted; empty if it is."""
        headers = Headers(scope=scope)
        given = headers.get(TOKEN, "").encode("latin-1")
        if not secrets.compare_digest(given, scope[PAGE_TOKEN].encode()):
            return STALE, 409
        return _length_refused(scope, LARGEST_BODY)


class _TooLargeError(Exception):
    """More came than may."""


class _LeftError(Exception):
    """Whoever asked left before all of it had come."""


async def _whole_body(receive: Receive, within_s: float) -> Receive:
    """Take in a request's whole body, and return what hands it on.

    Raises TimeoutError where it does not come within so many seconds, _TooLargeError, _LeftError.
    """
    body = bytearray()
    async with asyncio.timeout(within_s):
        while True:
            message = await receive()
            if message["type"] != "http.request":
                raise _LeftError
            body += message.get("body", b"")
            if len(body) > LARGEST_BODY:
                raise _TooLargeError
            if not message.get("more_body", False):
                break
    return _handing_on(bytes(body), receive)


def _handing_on(body: bytes, receive: Receive) -> Receive:
    """What hands on a body that was taken in, and then whatever else comes."""
    whole: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def handed_on() -> Message:
        return whole.pop() if whole else await receive()

    return handed_on


async def _offer(
    sharing: Sharing, code: str, scope: Scope, receive: Receive, send: Send, *, admitted: bool
) -> None:
    """Show the button that spends a code; to open an address alone spends nothing."""
    refusal = foreign(scope)
    if refusal:
        await turn_away(scope, receive, send, *refusal)
        return
    if admitted:
        await RedirectResponse("/#wall", 303)(scope, receive, send)
        return
    try:
        sharing.require_right(code, (scope.get("client") or ("", 0))[0])
    except NotNowError as error:
        await turn_away(scope, receive, send, str(error), 403)
        return
    await join_page(code)(scope, receive, send)


def _length_refused(scope: Scope, most: int) -> tuple[()] | tuple[str, int]:
    """Why a request's body is not read, by what it says of its length; empty if it is."""
    length = Headers(scope=scope).get("content-length", "")
    if not length.isdecimal():
        return "The length of this request is not stated.", 411
    # of digits without end none is made a number
    if len(length) > 15 or int(length) > most:
        return (_TOO_LARGE if most == LARGEST_BODY else "This is too large."), 413
    return ()


def sent_by_form(scope: Scope) -> bool:
    """True for what a page that runs no script sends: it carries the token in its form."""
    headers = Headers(scope=scope)
    kind = headers.get("content-type", "").partition(";")[0].strip().lower()
    return kind == "application/x-www-form-urlencoded" and TOKEN not in headers


def changes(scope: Scope) -> bool:
    """True for a request that may change something."""
    return scope["type"] == "http" and scope["method"] not in SAFE


def foreign(scope: Scope) -> tuple[()] | tuple[str, int]:
    """Why a request does not come from the page itself, with a status; empty if it does.

    An origin that is named must be the page's own. Browsers name one wherever something may be
    changed and for every web socket, so there one must be named. Whatever else a foreign page
    embeds (pictures, scripts, frames) they mark as such (Fetch Metadata, W3C), but for a link to
    the page, which only shows it.
    """
    headers = Headers(scope=scope)
    origin = headers.get("origin")
    host = headers.get("host", "")
    wanted = scope["type"] == "websocket" or changes(scope)
    if origin is None and wanted:
        return "This request does not come from the page.", 403
    if origin is not None and origin != f"{page_scheme(scope)}://{host}":
        return "This request does not come from the page.", 403
    if headers.get("sec-fetch-site", "none") in ("none", "same-origin"):
        return ()
    opens = headers.get("sec-fetch-mode") == "navigate" and not wanted
    if opens and headers.get("sec-fetch-dest") == "document":
        return ()
    return "This request does not come from the page.", 403


def page_scheme(scope: Scope) -> str:
    """Scheme of the page that a connection belongs to."""
    return "https" if scope.get("scheme") in ("https", "wss") else "http"


async def turn_away(scope: Scope, receive: Receive, send: Send, why: str, status: int) -> None:
    """Answer a request, or what asks for a web socket, with a sentence and a status."""
    if scope["type"] == "websocket":
        await receive()
        if "websocket.http.response" not in scope.get("extensions", {}):
            await send({"type": "websocket.close", "code": 1008})
            return
        start = {"type": "websocket.http.response.start", "status": status, "headers": []}
        await send(start)
        await send({"type": "websocket.http.response.body", "body": why.encode()})
        return
    await PlainTextResponse(why, status)(scope, receive, send)


def first_of(form: bytes) -> dict[str, str]:
    """The first value of each name in a query or a form."""
    return {name: values[0] for name, values in parse_qs(form.decode("latin-1")).items()}


def cookies(headers: Headers) -> dict[str, str]:
    """The cookies a browser sent."""
    pairs = (part.partition("=") for part in headers.get("cookie", "").split(";"))
    return {name.strip(): value.strip() for name, _, value in pairs}
