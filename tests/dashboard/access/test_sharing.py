"""Who else may look: by a one-time code, reading only, and out again at once."""

from __future__ import annotations

import asyncio
import json
import socket
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from urllib.parse import parse_qs, urlsplit

import httpx
import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from dashboard.access.access_control import (
    LARGEST_BODY,
    TOKEN,
    Door,
    Message,
    Receive,
    Scope,
    Send,
)
from dashboard.access.sharing import MOST_GUESSERS, MOST_WRONG, Sharing, own_address
from dashboard.bench.composed_bench import Bench
from dashboard.server.page_server import ADDRESS, listen
from replay.clock import AcceleratedClock
from tests.counts import PATIENCE_S
from tests.dashboard.conftest import finish, origin, serving, until
from tests.dashboard.server.test_page_server import action_call, own, token


@dataclass
class Shared:
    """A page that is shared, on this machine."""

    sharing: Sharing
    bench_url: str
    viewer_url: str

    def browser(self) -> httpx.Client:
        return httpx.Client(base_url=self.viewer_url)

    @contextmanager
    def admitted(self) -> Iterator[httpx.Client]:
        """A browser that came with the code."""
        with self.browser() as made:
            assert made.get("/", params={"code": code_of(self.sharing)}).status_code == 303
            yield made


def code_of(sharing: Sharing) -> str:
    return parse_qs(urlsplit(sharing.state.address).query)["code"][0]


@pytest.fixture
def shared(bench: Bench) -> Iterator[Shared]:
    sockets = [listen(0), listen(0)]
    sharing = Sharing(ADDRESS, sockets[1].getsockname()[1])
    with serving(bench, *sockets, sharing=sharing):
        yield Shared(sharing, *map(origin, sockets))


def test_without_the_code_nothing_is_shown_of_anything(shared: Shared) -> None:
    with shared.browser() as stranger:
        for path in ("/", "/?code=", "/?code=guess", "/_dash-layout", "/assets/main.js", "/x"):
            answer = stranger.get(path)
            assert answer.status_code == 403, path
            assert "bandwright" not in answer.text
        origin = {"origin": shared.viewer_url}
        assert stranger.post("/_dash-update-component", headers=origin, json={}).status_code == 403
    with pytest.raises(InvalidStatus), connect(feed(shared), origin=shared.viewer_url):
        pass


def feed(shared: Shared) -> str:
    return shared.viewer_url.replace("http", "ws") + "/feed"


def cookie(client: httpx.Client) -> dict[str, str]:
    (pair,) = client.cookies.items()
    return {"Cookie": "=".join(pair)}


def test_the_code_admits_one_viewer_who_sees_and_changes_nothing(
    bench: Bench, shared: Shared
) -> None:
    until(bench, lambda now: now.sequence > 0)
    code = code_of(shared.sharing)
    with shared.admitted() as viewer, shared.browser() as late:
        assert code_of(shared.sharing) != code
        assert late.get("/", params={"code": code}).status_code == 403, "it is good once"
        assert "bandwright" in viewer.get("/").text
        for method in ("POST", "PUT", "PATCH", "DELETE", "OPTIONS"):
            refused = viewer.request(
                method, "/_dash-update-component", headers=own(viewer), json=action_call("hold")
            )
            assert refused.status_code == 403, method
        # Dash would answer callbacks there, and nothing tells a change from a look on a socket.
        callbacks = feed(shared).replace("/feed", "/_dash-ws-callback")
        with (
            pytest.raises(InvalidStatus),
            connect(callbacks, origin=shared.viewer_url, additional_headers=cookie(viewer)),
        ):
            pass
        assert bench.snapshot().holds == ()
        assert viewer.get("/share.json").status_code == 404
        assert viewer.get("/share.svg").status_code == 404
        for path in ("/records", "/records/batch", "/records/x/recheck", "/records/x/report.html"):
            assert viewer.get(path).status_code == 404, path
        with connect(
            feed(shared), origin=shared.viewer_url, additional_headers=cookie(viewer)
        ) as s:
            message = s.recv(PATIENCE_S)
        assert isinstance(message, bytes)
        assert b'"role":"viewer"' in message


def test_control_is_lent_to_one_and_taken_back(bench: Bench, shared: Shared) -> None:
    until(bench, lambda now: now.sequence > 0)
    with shared.admitted() as first, shared.admitted() as last:
        assert shared.sharing.lend()

        def holds(client: httpx.Client) -> int:
            return client.post(
                "/_dash-update-component", headers=own(client), json=action_call("hold")
            ).status_code

        assert (holds(first), holds(last)) == (403, 200)
        assert len(bench.snapshot().holds) == 1
        foreign = {"origin": "http://evil.example"}
        answer = last.post("/_dash-update-component", headers=foreign, json=action_call("hold"))
        assert answer.status_code == 403
        shared.sharing.take_back()
        assert holds(last) == 403


@pytest.mark.parametrize("ended_by", ["Take it back", "Stop sharing"])
def test_a_request_held_back_is_not_done_once_control_is_gone(
    bench: Bench, shared: Shared, ended_by: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    until(bench, lambda now: now.sequence > 0)
    with shared.admitted() as viewer:
        assert shared.sharing.lend()
        asked_once, go_on = threading.Event(), threading.Event()
        may_control = shared.sharing.may_control

        def noted(session: str) -> bool:
            may = may_control(session)
            asked_once.set()
            return may

        def slowly() -> Iterator[bytes]:
            body = json.dumps(action_call("hold")).encode()
            yield body[:40]
            assert go_on.wait(PATIENCE_S)
            yield body[40:]

        length = str(len(json.dumps(action_call("hold")).encode()))
        headers = own(viewer) | {"content-length": length, "content-type": "application/json"}
        monkeypatch.setattr(shared.sharing, "may_control", noted)
        with ThreadPoolExecutor(1) as pool:
            asked = pool.submit(
                viewer.post, "/_dash-update-component", headers=headers, content=slowly()
            )
            assert asked_once.wait(PATIENCE_S)
            if ended_by == "Stop sharing":
                shared.sharing.stop()
            else:
                shared.sharing.take_back()
            go_on.set()
            with suppress(httpx.TransportError):  # its connection may be gone with the sharing
                assert asked.result(PATIENCE_S).status_code == 403
    assert bench.snapshot().holds == ()


def body_door(reached: list[bytes], *, within_s: float = 10.0) -> Door:
    """A door to something that notes what bodies reach it."""

    async def app(_scope: Scope, receive: Receive, _send: Send) -> None:
        reached.append((await receive())["body"])

    return Door(app, body_within_s=within_s)


def put_through(door: Door, messages: list[Message], length: int) -> list[Message]:
    """What a door answers to a change whose body comes in these pieces, and then no more."""
    headers = [
        (b"host", b"127.0.0.1:1"),
        (b"origin", b"http://127.0.0.1:1"),
        (b"content-length", str(length).encode()),
        (TOKEN.encode(), door._bench_token.encode()),
    ]
    scope = {"type": "http", "method": "POST", "path": "/", "scheme": "http", "headers": headers}
    sent: list[Message] = []

    async def receive() -> Message:
        if messages:
            return messages.pop(0)
        return await asyncio.Future()  # nothing more, ever

    async def send(message: Message) -> None:
        sent.append(message)

    finish(door(scope, receive, send))
    return sent


def piece(body: bytes, *, more: bool) -> Message:
    return {"type": "http.request", "body": body, "more_body": more}


def test_a_body_reaches_the_page_only_whole() -> None:
    reached: list[bytes] = []
    assert not put_through(body_door(reached), [piece(b"a", more=True), piece(b"b", more=False)], 2)
    assert reached == [b"ab"]


def test_a_body_that_does_not_come_is_not_waited_for() -> None:
    reached: list[bytes] = []
    answer = put_through(body_door(reached, within_s=0.001), [piece(b"a", more=True)], 2)
    assert answer[0]["status"] == 408
    assert reached == []


def test_a_body_is_bounded_whatever_it_said_of_itself() -> None:
    reached: list[bytes] = []
    large = piece(b"x" * (LARGEST_BODY + 1), more=False)
    assert put_through(body_door(reached), [large], 1)[0]["status"] == 413
    assert not put_through(body_door(reached), [{"type": "http.disconnect"}], 1)
    assert reached == []


def test_whoever_control_is_lent_to_cannot_stop_the_sharing(bench: Bench, shared: Shared) -> None:
    bench.wait_for(lambda now: now.sequence > 0, 20)
    at = "/_dash-update-component"
    with shared.admitted() as viewer, httpx.Client(base_url=shared.bench_url) as itself:
        assert shared.sharing.lend()
        reply = viewer.post(at, headers=own(viewer), json=action_call("stop sharing"))
        assert "at the bench alone" in reply.text
        assert viewer.post(at, headers=own(viewer), json=action_call("hold")).status_code == 200
        assert len(bench.snapshot().holds) == 1
        itself.post(at, headers=own(itself), json=action_call("stop sharing"))
        assert shared.sharing.state.address == ""


def test_a_viewer_s_page_holds_no_token_of_the_bench(shared: Shared) -> None:
    with shared.admitted() as viewer, httpx.Client(base_url=shared.bench_url) as bench:
        assert token(viewer) != token(bench)
        headers = own(bench) | {TOKEN: token(viewer)}
        answer = bench.post("/_dash-update-component", headers=headers, json=action_call("hold"))
        assert answer.status_code == 409


def test_only_to_open_the_page_spends_the_code(shared: Shared) -> None:
    code = code_of(shared.sharing)
    with shared.browser() as early:
        assert early.head("/", params={"code": code}).status_code == 403
        assert early.get("/assets/main.js", params={"code": code}).status_code == 403
        assert code_of(shared.sharing) == code
        answer = early.get("/", params={"code": code})
    assert answer.status_code == 303
    assert code not in answer.headers["location"]
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert "secure" not in cookie, "a browser would not send it back without TLS"


def test_to_stop_sharing_puts_every_viewer_out_at_once(bench: Bench, shared: Shared) -> None:
    until(bench, lambda now: now.sequence > 0)
    with shared.admitted() as viewer:
        headers = cookie(viewer)
        with connect(feed(shared), origin=shared.viewer_url, additional_headers=headers) as s:
            s.recv(PATIENCE_S)
            shared.sharing.stop()
            with pytest.raises(ConnectionClosed):
                _ = [s.recv(PATIENCE_S) for _ in range(100)]
        assert viewer.get("/").status_code == 403
        assert shared.sharing.state.address == ""
        shared.sharing.again()
        assert viewer.get("/").status_code == 403, "the old session is not good any more"
        with shared.admitted() as anew:
            assert anew.get("/").status_code == 200


def test_the_bench_itself_sees_the_code_as_a_picture(shared: Shared) -> None:
    with httpx.Client(base_url=shared.bench_url) as own:
        assert own.get("/share.json").json()["address"] == shared.sharing.state.address
        picture = own.get("/share.svg")
        assert picture.headers["content-type"].startswith("image/svg")
        assert b"<svg" in picture.content
        shared.sharing.stop()
        assert own.get("/share.svg").status_code == 404


def test_another_host_name_is_turned_away_on_the_shared_port_too(shared: Shared) -> None:
    with shared.admitted() as viewer:
        assert viewer.get("/", headers={"host": "evil.example"}).status_code == 400


def test_who_guesses_is_held_up_even_with_the_right_code() -> None:
    clock = AcceleratedClock()
    sharing = Sharing("192.0.2.7", 8000, clock)
    for _ in range(MOST_WRONG):
        assert sharing.redeem("guess") is None
    assert sharing.redeem(code_of(sharing)) is None
    clock.advance(61)
    assert sharing.redeem(code_of(sharing)) is not None
    assert len(code_of(sharing)) >= 128 / 6


def test_who_guesses_holds_up_nobody_else_and_fills_no_memory() -> None:
    sharing = Sharing("192.0.2.7", 8000, AcceleratedClock())
    for number in range(2 * MOST_GUESSERS):
        assert sharing.redeem("guess", f"192.0.2.{number}") is None
    for _ in range(MOST_WRONG):
        assert sharing.redeem("guess", "198.51.100.9") is None
    assert sharing.redeem(code_of(sharing), "198.51.100.9") is None
    assert len(sharing._wrong) <= MOST_GUESSERS
    assert sharing.redeem(code_of(sharing), "198.51.100.10") is not None


def test_nobody_is_lent_control_who_is_not_there() -> None:
    sharing = Sharing("192.0.2.7", 8000)
    assert not sharing.lend()
    assert not sharing.may_control("")
    assert not sharing.admits("")


def test_this_machine_s_own_address_is_one() -> None:
    assert socket.inet_aton(own_address())
