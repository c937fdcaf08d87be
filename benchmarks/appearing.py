"""The first trace on the page, from a cold start, against the start of an empty Dash app.

Both are counted from the start of the process to what Chromium has drawn; the browser runs already.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager

from benchmarks.row import Goal, Row
from tests.chromium import find

EMPTY = """
import socket
import dash
app = dash.Dash()
app.layout = dash.html.Div("there", id="there")
with socket.create_server(("127.0.0.1", 0)) as free:
    port = free.getsockname()[1]
print(f"http://127.0.0.1:{port}/", flush=True)
app.run(host="127.0.0.1", port=port)
"""
DRAWN = "() => (document.querySelector('#strips path.trace')?.getAttribute('d') ?? '').length > 20"
ARGUMENTS = ("--disable-gpu", "--no-first-run", "--disable-background-networking", "--no-sandbox")


@contextmanager
def started(*command: str) -> Iterator[str]:
    """A process that says its address, at that address; ended afterwards."""
    with tempfile.TemporaryDirectory() as data:
        process = subprocess.Popen(
            [sys.executable, *command],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=os.environ | {"XDG_DATA_HOME": data},
            text=True,
        )
        assert process.stdout is not None
        try:
            addresses = (re.search(r"http://127\.0\.0\.1:\d+/", line) for line in process.stdout)
            yield next(found[0] for found in addresses if found)
        finally:
            process.kill()  # how it ends is not what is timed
            process.communicate()


def answering(url: str) -> None:
    """Wait until a server is there that said its address before it listened."""
    while True:
        try:
            with urllib.request.urlopen(url):  # noqa: S310 - our own
                return
        except OSError:
            continue


@contextmanager
def rows() -> Iterator[list[Row]]:
    """Yield the comparison, or none where there is no Chromium."""
    chromium = find()
    if chromium is None:
        print("No Chromium is here, so the page's first trace is not timed.", file=sys.stderr)
        yield []
        return
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=list(ARGUMENTS))

        def trace() -> None:
            command = ("-m", "dashboard", "demo", "--no-open", "--page-port", "0")
            with started(*command) as url, browser.new_context() as context:
                page = context.new_page()
                page.goto(url)
                page.wait_for_function(DRAWN)

        def empty() -> None:
            with started("-c", EMPTY) as url, browser.new_context() as context:
                answering(url)
                page = context.new_page()
                page.goto(url)
                page.wait_for_selector("#there")

        yield [
            Row(
                "first trace on the page, from a cold start",
                trace,
                "an empty Dash app, drawn",
                empty,
                Goal(share=1.5),
                5,
            )
        ]
        browser.close()
