"""Who else may look: by a one-time code, reading only, and out again at once."""

from __future__ import annotations

import asyncio
import json
import socket
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager, suppress
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
from dashboard.access.sharing import (
    LONGEST_NAME,
    MOST_GUESSERS,
    MOST_VIEWERS,
    MOST_WRONG,
    Sharing,
    own_address,
)
from dashboard.bench.composed_bench import Bench
from dashboard.demo.scenario import PLAN
from dashboard.errors import NotNowError
from dashboard.feed.viewer_feed import PUT_OUT
from dashboard.server.page_server import ADDRESS, listen
from replay.clock import AcceleratedClock
from tests.counts import PATIENCE_S
from tests.dashboard.conftest import finish, origin, serving, until
from tests.dashboard.server.test_page_server import action_call, own, token
from tests.wording import missing_words


@dataclass
class Shared:
    """A page that is shared, on this machine."""

    sharing: Sharing
    bench_url: str
    viewer_url: str

    def browser(self) -> httpx.Client:
        return httpx.Client(base_url=self.viewer_url)

    @contextmanager
    def admitted(self, name: str = "") -> Iterator[httpx.Client]:
        """A browser that came with the code."""
        with self.browser() as made:
            assert join(made, code_of(self.sharing), name).status_code == 303
            yield made


def join(client: httpx.Client, code: str, name: str = "") -> httpx.Response:
    """Press the button behind a code."""
    return client.post("/join", data={"code": code, "name": name}, headers=from_page(client))


def from_page(client: httpx.Client) -> dict[str, str]:
    return {"origin": str(client.base_url).rstrip("/")}


def lend_to_the_last(sharing: Sharing) -> None:
    sharing.lend(sharing.state.viewers[-1].number)


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
        assert join(late, code).status_code == 403, "it is good once"
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


def test_a_viewer_sees_the_plan_and_edits_it_only_with_control(
    bench: Bench, shared: Shared
) -> None:
    change = {"edit": "remove", "at": 0}
    with shared.admitted() as viewer:
        shown = viewer.get("/plan.json").json()
        assert shown["text"] == PLAN
        assert shown["form"]["bands"][0]["title"] == "LTE 20"
        assert viewer.get("/bands.json?find=n78").json()["found"][0]["title"] == "NR n78"
        asked = {"text": PLAN, "change": change}
        refused = viewer.post("/plan.json", headers=own(viewer), json=asked)
        assert refused.status_code == 403
        assert viewer.get("/recent.json").status_code == 404
        lend_to_the_last(shared.sharing)
        edited = viewer.post("/plan.json", headers=own(viewer), json=asked)
        assert len(edited.json()["form"]["bands"]) == len(shown["form"]["bands"]) - 1
        assert viewer.get("/recent.json").json()["recipe"] == "bent strip"
        assert viewer.post("/plan.json", headers=own(viewer), content=b"x").status_code == 400
    now = bench.snapshot()
    assert now.plan is not None
    assert now.plan.text == PLAN  # an edit is no plan in use


def test_control_is_lent_to_one_and_taken_back(bench: Bench, shared: Shared) -> None:
    until(bench, lambda now: now.sequence > 0)
    with shared.admitted() as first, shared.admitted() as last:
        lend_to_the_last(shared.sharing)

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


@pytest.mark.parametrize("ended_by", ["Take control back", "Stop sharing"])
def test_a_request_held_back_is_not_done_once_control_is_gone(
    bench: Bench, shared: Shared, ended_by: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    until(bench, lambda now: now.sequence > 0)
    with shared.admitted() as viewer:
        lend_to_the_last(shared.sharing)
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


HANGS_S = 5.0
"""How late nothing more has come; far beyond what the door below is told to wait."""


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
        await asyncio.sleep(HANGS_S)
        raise AssertionError("It waits for a body that does not come.")

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
        lend_to_the_last(shared.sharing)
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


def test_only_the_button_spends_the_code(shared: Shared) -> None:
    code = code_of(shared.sharing)
    with shared.browser() as early:
        assert early.head("/", params={"code": code}).status_code == 403
        assert early.get("/assets/main.js", params={"code": code}).status_code == 403
        for _ in range(3):  # as programs do that show a preview of a link
            offered = early.get("/", params={"code": code})
            assert offered.status_code == 200
            assert "set-cookie" not in offered.headers
        assert code in offered.text
        assert '<form method="post" action="/join">' in offered.text
        # by no referrer at all a browser would not say where the form comes from
        assert offered.headers["referrer-policy"] == "same-origin"
        assert code_of(shared.sharing) == code
        assert shared.sharing.state.viewers == ()
        answer = join(early, code)
    assert answer.status_code == 303
    assert code not in answer.headers["location"]
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert "secure" not in cookie, "a browser would not send it back without TLS"


def test_no_other_page_presses_the_button(shared: Shared) -> None:
    code = code_of(shared.sharing)
    with shared.browser() as victim:
        for origin in ("http://evil.example", "null", shared.bench_url):
            answer = victim.post("/join", data={"code": code}, headers={"origin": origin})
            assert answer.status_code == 403, origin
        assert victim.post("/join", data={"code": code}).status_code == 403
        large = {"code": code, "name": "x" * 10_000}
        assert victim.post("/join", data=large, headers=from_page(victim)).status_code == 413
    assert code_of(shared.sharing) == code


def test_who_was_let_in_already_spends_no_code(shared: Shared) -> None:
    with shared.admitted() as viewer:
        code = code_of(shared.sharing)
        assert viewer.get("/", params={"code": code}).headers["location"] == "/#wall"
        assert code_of(shared.sharing) == code


def test_words_fit_the_cause(shared: Shared) -> None:
    with shared.browser() as stranger, shared.admitted() as viewer:
        assert not missing_words(stranger.get("/").text, "shared", "code")
        assert not missing_words(join(stranger, "guess").text, "not right", "once")
        for _ in range(MOST_WRONG):
            held_up = stranger.get("/", params={"code": "guess"})
        assert not missing_words(held_up.text, "wrong codes", "60 s")
        shared.sharing.stop()
        assert not missing_words(viewer.get("/").text, "not let in any more", "stopped")
        assert not missing_words(stranger.get("/").text, "Nothing is shared")


def test_viewers_are_those_who_look() -> None:
    clock = AcceleratedClock()
    sharing = Sharing("192.0.2.7", 8000, clock)
    first, second = (sharing.redeem(code_of(sharing), name=name) for name in ("Ana", "Bo"))
    with sharing.page_open(first):
        sharing.lend(2)
        for number in range(MOST_VIEWERS - 1):  # they came, and left without a word
            clock.advance(1)
            sharing.redeem(code_of(sharing), f"192.0.2.{number}")
        assert sharing.admits(first), "who looks keeps the place"
        assert not sharing.admits(second), "who left longest ago makes room"
        assert not any(each.lent for each in sharing.state.viewers)
        assert [each.name for each in sharing.state.viewers if each.present] == ["Ana"]
    assert not any(each.present for each in sharing.state.viewers)


def test_where_all_look_the_next_one_waits_and_keeps_the_code() -> None:
    sharing = Sharing("192.0.2.7", 8000, AcceleratedClock())
    sessions = [sharing.redeem(code_of(sharing)) for _ in range(MOST_VIEWERS)]
    with ExitStack() as pages:
        for session in sessions:
            pages.enter_context(sharing.page_open(session))
        code = code_of(sharing)
        with pytest.raises(NotNowError) as full:
            sharing.redeem(code)
        assert not missing_words(str(full.value), "30", "looking", "still good")
    assert sharing.redeem(code)


def test_names_are_plain_bounded_and_each_is_one_viewers() -> None:
    sharing = Sharing("192.0.2.7", 8000)
    for name in ("Ana", " ana ", "", "x" * 500, "Bo\u202e\x1b[2J"):
        sharing.redeem(code_of(sharing), name=name)
    names = [each.name for each in sharing.state.viewers]
    assert names[:3] == ["Ana", "ana (2)", "Viewer 3"]
    assert all(name.isprintable() and len(name) <= LONGEST_NAME for name in names)
    assert len(set(names)) == len(names)


def test_a_viewer_s_name_is_on_both_screens(bench: Bench, shared: Shared) -> None:
    until(bench, lambda now: now.sequence > 0)
    with shared.admitted("Ana") as viewer, httpx.Client(base_url=shared.bench_url) as itself:
        headers = cookie(viewer)
        with connect(feed(shared), origin=shared.viewer_url, additional_headers=headers) as s:
            message = s.recv(PATIENCE_S)
            assert isinstance(message, bytes)
            assert b'"name":"Ana"' in message
            (seen,) = itself.get("/share.json").json()["viewers"]
            assert (seen["name"], seen["present"], seen["lent"]) == ("Ana", True, False)
            at = "/_dash-update-component"
            lend = action_call("lend control", viewer=seen["number"])
            answer = itself.post(at, headers=own(itself), json=lend)
            assert "Ana now has control" in answer.text
            lend = action_call("lend control", viewer=99)
            assert "has left" in itself.post(at, headers=own(itself), json=lend).text


def test_two_benches_on_one_host_put_nobody_out(bench: Bench, shared: Shared) -> None:
    sockets = [listen(0), listen(0)]
    other = Sharing(ADDRESS, sockets[1].getsockname()[1])
    with serving(bench, *sockets, sharing=other), shared.admitted() as browser:
        at = origin(sockets[1])
        headers = {"origin": at}
        assert (
            browser.post(f"{at}/join", data={"code": code_of(other)}, headers=headers).status_code
            == 303
        )
        assert browser.get(f"{at}/").status_code == 200
        assert browser.get("/").status_code == 200, "the first bench's viewer is still let in"


def test_to_stop_sharing_puts_every_viewer_out_at_once(bench: Bench, shared: Shared) -> None:
    until(bench, lambda now: now.sequence > 0)
    with shared.admitted() as viewer:
        headers = cookie(viewer)
        with connect(feed(shared), origin=shared.viewer_url, additional_headers=headers) as s:
            s.recv(PATIENCE_S)
            shared.sharing.stop()
            with pytest.raises(ConnectionClosed) as closed:
                _ = [s.recv(PATIENCE_S) for _ in range(100)]
        assert closed.value.rcvd is not None
        assert closed.value.rcvd.code == PUT_OUT, "it is told apart from a program that fails"
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


def refused(sharing: Sharing, code: str, who: str = "") -> str:
    """Why nobody is let in."""
    with pytest.raises(NotNowError) as why:
        sharing.redeem(code, who)
    return str(why.value)


def test_who_guesses_is_held_up_even_with_the_right_code() -> None:
    clock = AcceleratedClock()
    sharing = Sharing("192.0.2.7", 8000, clock)
    for _ in range(MOST_WRONG):
        assert "not right" in refused(sharing, "guess")
    assert "wrong codes" in refused(sharing, code_of(sharing))
    clock.advance(61)
    assert sharing.redeem(code_of(sharing))
    assert len(code_of(sharing)) >= 128 / 6


def test_who_guesses_holds_up_nobody_else_and_fills_no_memory() -> None:
    sharing = Sharing("192.0.2.7", 8000, AcceleratedClock())
    for number in range(2 * MOST_GUESSERS):
        assert refused(sharing, "guess", f"192.0.2.{number}")
    for _ in range(MOST_WRONG):
        assert refused(sharing, "guess", "198.51.100.9")
    assert "wrong codes" in refused(sharing, code_of(sharing), "198.51.100.9")
    assert len(sharing._wrong) <= MOST_GUESSERS
    assert sharing.redeem(code_of(sharing), "198.51.100.10")


def test_nobody_is_lent_control_who_is_not_there() -> None:
    sharing = Sharing("192.0.2.7", 8000)
    with pytest.raises(NotNowError, match="has left"):
        sharing.lend(1)
    assert not sharing.may_control("")
    assert not sharing.admits("")


def test_this_machine_s_own_address_is_one() -> None:
    assert socket.inet_aton(own_address())
