"""The shared port: who says nothing gets no more than a place, and nobody is locked out by it."""

from __future__ import annotations

import contextlib
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import httpx
import pytest

from dashboard.access.sharing import Sharing
from dashboard.bench.composed_bench import Bench
from dashboard.errors import NotNowError
from dashboard.server.page_server import ADDRESS, listen
from dashboard.server.shared_port import LARGEST_HEAD, Bounds, HeadInTime
from tests.counts import PATIENCE_S
from tests.dashboard.conftest import finish, origin, serving

SEVERAL_ADDRESSES = pytest.mark.skipif(
    sys.platform != "linux", reason="only Linux answers at all of 127/8"
)


@contextmanager
def shared_within(bench: Bench, bounds: Bounds) -> Iterator[tuple[str, Sharing]]:
    """A shared page; the bench's own address, and the sharing."""
    sockets = [listen(0), listen(0)]
    sharing = Sharing(ADDRESS, sockets[1].getsockname()[1])
    own = origin(sockets[0])
    with serving(bench, *sockets, sharing=sharing, bounds=bounds):
        yield own, sharing


def knock(port: int, source: str = ADDRESS) -> socket.socket:
    """Open a connection that says nothing yet."""
    return socket.create_connection((ADDRESS, port), PATIENCE_S, (source, 0))


def is_held(knocking: socket.socket) -> bool:
    """True where a stranger's request is answered; False where the connection is cut."""
    try:
        knocking.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
        return knocking.recv(100) != b""
    except ConnectionError:
        return False


@contextmanager
def half_open(port: int, sources: list[str]) -> Iterator[None]:
    """Connections whose head never ends."""
    with ExitStack() as open_ones:
        for source in sources:
            with contextlib.suppress(ConnectionError):
                made = open_ones.enter_context(knock(port, source))
                made.sendall(b"GET / HTTP/1.1\r\nHos")
        yield


@SEVERAL_ADDRESSES
def test_connections_are_counted_by_address_and_in_all(bench: Bench) -> None:
    bounds = Bounds(most=5, by_address=3)
    with shared_within(bench, bounds) as (own, sharing), ExitStack() as more:
        more.enter_context(half_open(sharing.port, [ADDRESS] * 3))
        with knock(sharing.port) as refused:
            assert not is_held(refused), "as many as one address may have"
        more.enter_context(half_open(sharing.port, ["127.0.0.2"]))
        with knock(sharing.port, "127.0.0.3") as welcome:
            assert is_held(welcome)
            with knock(sharing.port, "127.0.0.4") as refused:
                assert not is_held(refused), "as many as there may be in all"
        assert httpx.get(f"{own}/share.json").status_code == 200, "the bench's own port is apart"


def test_a_place_is_free_again_once_a_connection_ends(bench: Bench) -> None:
    with shared_within(bench, Bounds(most=2, by_address=2)) as (_, sharing):
        for _ in range(5):
            with httpx.Client(base_url=f"http://{sharing.authority}") as one:
                assert one.get("/").status_code == 403
                with httpx.Client(base_url=f"http://{sharing.authority}") as two:
                    assert two.get("/").status_code == 403


@pytest.mark.parametrize("said", [b"", b"GET / HTTP/1.1\r\nHo"])
def test_a_head_that_does_not_come_is_not_waited_for(bench: Bench, said: bytes) -> None:
    with (
        shared_within(bench, Bounds(head_within_s=0.01)) as (_, sharing),
        knock(sharing.port) as slow,
        contextlib.suppress(ConnectionError),
    ):
        slow.sendall(said)
        assert slow.recv(100) == b""


class Cycle:
    def __init__(self) -> None:
        self.response_complete = False


class Inner:
    """As much of uvicorn's protocol as is looked at."""

    cycle: Cycle | None = None

    def connection_made(self, _transport: Any) -> None:
        pass

    def data_received(self, data: bytes) -> None:
        if data.endswith(b"\r\n\r\n"):
            self.cycle = Cycle()


class Transport:
    def __init__(self) -> None:
        self.protocol: Any = None
        self.cut = False

    def get_protocol(self) -> Any:
        return self.protocol

    def abort(self) -> None:
        self.cut = True


def test_only_what_owes_a_head_is_timed() -> None:
    async def run() -> None:
        inner, transport = Inner(), Transport()
        timed = transport.protocol = HeadInTime(inner, 3600)
        timed.connection_made(transport)  # type: ignore[arg-type]
        assert timed._timer is not None
        timed.data_received(b"GET / HTTP/1.1\r\n\r\n")
        assert timed._timer is None, "it is being answered"
        assert inner.cycle is not None
        inner.cycle.response_complete = True
        timed.data_received(b"GET /slow")
        assert timed._timer is not None
        transport.protocol = object()
        timed.data_received(b"upgrade")
        assert timed._timer is None, "a web socket goes on by itself"
        transport.protocol = timed
        timed.data_received(b"x" * (LARGEST_HEAD + 1))
        assert transport.cut

    finish(run())


def test_to_stop_sharing_closes_the_port_and_to_share_again_opens_it(bench: Bench) -> None:
    with shared_within(bench, Bounds()) as (_, sharing):
        at = f"http://{sharing.authority}/"
        assert httpx.get(at).status_code == 403
        sharing.stop()
        with pytest.raises(httpx.ConnectError):
            httpx.get(at)
        sharing.again()
        assert httpx.get(at).status_code == 403
        sharing.stop()
        with listen(sharing.port), pytest.raises(NotNowError, match="another program"):
            sharing.again()
        assert sharing.state.address == ""
        sharing.again()
        assert httpx.get(at).status_code == 403


def test_most_descriptors_are_kept_for_the_bench(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dashboard.server.shared_port._descriptors", lambda: 256)
    assert Bounds.of_this_process() == Bounds(most=64, by_address=32)
    monkeypatch.setattr("dashboard.server.shared_port._descriptors", lambda: None)
    assert Bounds.of_this_process() == Bounds()


PROGRAM = """
import resource, sys
resource.setrlimit(resource.RLIMIT_NOFILE, (256, 256))
from pathlib import Path
from dashboard.demo.demo_bench import demo_bench
from dashboard.page.plan_form import read_plan
from dashboard.demo.scenario import PLAN
from dashboard.server.page_server import Share, serve
folder = Path(sys.argv[1])
bench = demo_bench(read_plan(PLAN), records_folder=folder, calibrations_folder=folder)
say = lambda text: print(text, flush=True)
serve(bench, page_port=0, open_browser=False, share=Share(name="127.0.0.1"), say=say)
"""


@SEVERAL_ADDRESSES
@pytest.mark.process
def test_half_open_connections_do_not_lock_the_bench_out_of_its_page(tmp_path: Path) -> None:
    command = [sys.executable, "-c", PROGRAM, str(tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        own, shared = (
            re.search(r"http://\S+", process.stdout.readline().decode())[0]  # type: ignore[index]
            for _ in range(2)
        )
        port = urlsplit(shared).port
        assert port is not None
        sources = [f"127.0.0.{2 + number % 20}" for number in range(400)]
        with half_open(port, sources):
            answers = [httpx.get(own, timeout=PATIENCE_S).status_code for _ in range(5)]
        process.terminate()
        process.wait(PATIENCE_S)
        assert answers == [200] * 5
