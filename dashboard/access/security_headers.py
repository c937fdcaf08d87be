"""What the page may do in a browser, said in the headers of every answer.

The content policy begins with nothing and allows what the page uses: its own scripts, styles,
pictures and feed, Dash's one inline script by its hash, and the style elements that Dash and plotly
make as they start. Nothing may frame the page, and it may send nothing elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence

from starlette.datastructures import MutableHeaders

from dashboard.access.access_control import Application, Message, Receive, Scope, Send

CONTENT_POLICY = "Content-Security-Policy"
UNUSED = (
    "accelerometer", "autoplay", "camera", "clipboard-read", "display-capture", "fullscreen",
    "geolocation", "gyroscope", "hid", "magnetometer", "microphone", "midi", "payment",
    "publickey-credentials-get", "screen-wake-lock", "serial", "usb", "xr-spatial-tracking",
)  # fmt: skip
"""What a browser could lend a page, and this one never asks for."""


def content_policy(scripts: Sequence[str]) -> str:
    """The content policy's text (CSP Level 3, W3C).

    scripts : hashes of inline scripts, as the policy writes them.
    """
    return "; ".join(
        (
            "default-src 'none'",
            " ".join(("script-src 'self'", *scripts)),
            "style-src 'self' 'unsafe-inline'",  # elements: those that Dash and plotly make
            "style-src-attr 'none'",
            "img-src 'self' data:",
            "font-src 'self'",
            "connect-src 'self'",
            "worker-src 'none'",
            "base-uri 'none'",
            "form-action 'self'",  # the search of the records
            "frame-ancestors 'none'",
        )
    )


RUNS_NOTHING = "; ".join(
    (
        "sandbox",  # an origin of its own: nothing of the bench's page can be read from it
        "default-src 'none'",
        "style-src 'unsafe-inline'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
"""The policy of a page that tells and does nothing; an answer may ask for it in place of ours."""


class Policy:
    """Adds the headers to every answer of an application."""

    def __init__(self, app: Application, scripts: Sequence[str]) -> None:
        self._app = app
        self._headers = {
            CONTENT_POLICY: content_policy(scripts),
            "X-Content-Type-Options": "nosniff",
            "X-Frame-Options": "DENY",
            "Cross-Origin-Opener-Policy": "same-origin",
            "Cross-Origin-Resource-Policy": "same-origin",
            "Permissions-Policy": ", ".join(f"{feature}=()" for feature in UNUSED),
        }

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection (ASGI)."""

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                runs_nothing = headers.get(CONTENT_POLICY) == RUNS_NOTHING
                headers.update(self._headers)
                if runs_nothing:
                    headers[CONTENT_POLICY] = RUNS_NOTHING
                    # a browser shows no sandboxed page that asks for a group of its own, too
                    headers["Cross-Origin-Opener-Policy"] = "unsafe-none"
                headers.setdefault("Referrer-Policy", "no-referrer")
                # After an update the page must not run with the scripts of the version before.
                headers.setdefault("Cache-Control", "no-cache")
            await send(message)

        await self._app(scope, receive, sending if scope["type"] == "http" else send)
