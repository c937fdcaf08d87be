"""The page behind a scanned code: a name to be called by, and the button that spends the code.

Only to open an address must spend nothing: programs that show a preview of a link open it too.
It runs nothing and fetches nothing, for whoever sees it was not let in yet.
"""

from __future__ import annotations

from html import escape
from string import Template

from starlette.responses import HTMLResponse

from dashboard.access.sharing import LONGEST_NAME

JOIN = "/join"
"""Where the button leads."""
LARGEST_FORM = 4096
"""Bytes of what the button sends."""

_PAGE = Template("""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex">
<title>Look at a bench</title>
<style>
:root { color-scheme: light dark; font: 1.1rem/1.5 system-ui, sans-serif; }
body { max-width: 26rem; margin: 15vh auto 0; padding: 0 1.25rem; }
form { display: grid; gap: 1rem; }
label { display: grid; gap: 0.25rem; }
input, button { font: inherit; padding: 0.7rem 0.8rem; border-radius: 8px; border: 1px solid; }
button { font-weight: 600; cursor: pointer; }
</style>
</head>
<body>
<form method="post" action="$join">
<h1>Look at a bench</h1>
<p>You see what is measured there and change nothing. Your name is shown at the bench.</p>
<input type="hidden" name="code" value="$code">
<label>Your name
<input name="name" maxlength="$longest" autocomplete="name" autofocus></label>
<button type="submit">Look</button>
</form>
</body>
</html>
""")


def join_page(code: str) -> HTMLResponse:
    """Make the page for a code that would let somebody in."""
    text = _PAGE.substitute(code=escape(code), join=JOIN, longest=LONGEST_NAME)
    # same-origin: by no referrer at all browsers would not say where the form comes from
    headers = {"Cache-Control": "no-store", "Referrer-Policy": "same-origin"}
    return HTMLResponse(text, headers=headers)
