"""The help is served without a network: its chapters, their pictures and the glossary's lines."""

from __future__ import annotations

import httpx

from dashboard.help.chapters import NAMES


def test_every_chapter_is_served_whole_and_runs_nothing_of_its_own(client: httpx.Client) -> None:
    index = client.get("/help").text
    for name in NAMES:
        assert f'href="/help/{name}"' in index
        page = client.get(f"/help/{name}")
        assert page.status_code == 200
        assert '<article class="chapter">\n<h1 id=' in page.text
        assert page.text.count("<script") == 1  # the theme's, as on every page that is served whole


def test_the_pages_of_records_and_cable_lead_to_their_own_chapter(client: httpx.Client) -> None:
    assert 'href="/help/the-record"' in client.get("/records").text
    assert 'href="/help/cables"' in client.get("/cable").text


def test_pictures_and_terms_are_served(client: httpx.Client) -> None:
    picture = client.get("/help/pictures/bench.png")
    assert picture.headers["content-type"] == "image/png"
    assert picture.content.startswith(b"\x89PNG")
    assert "return loss" in client.get("/help/terms.json").json()


def test_nothing_else_is_served_from_there(client: httpx.Client) -> None:
    for path in ("nothing", "plans.md", "pictures/none.png", "pictures/..%2f..%2fplans.md", "a/b"):
        assert client.get(f"/help/{path}").status_code == 404, path
