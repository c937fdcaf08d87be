"""The server: this machine's own browser may in, and it lets go of everything when it ends."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

from dashboard.bench import Bench
from dashboard.errors import SetupError
from dashboard.server import ADDRESS, listen, make_server


@pytest.fixture
def served(bench: Bench) -> Iterator[str]:
    """The page on a port of its own, from a thread; its origin."""
    listening = listen(0)
    ready = threading.Event()
    server = make_server(bench, ready.set)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    assert ready.wait(20)
    yield f"http://{ADDRESS}:{listening.getsockname()[1]}"
    server.should_exit = True
    thread.join(20)
    assert not thread.is_alive()
    listening.close()


@pytest.fixture
def client(served: str) -> Iterator[httpx.Client]:
    """A browser of sorts, that can be made to lie."""
    with httpx.Client(base_url=served) as made:
        yield made


def refusal(client: httpx.Client, *, host: str = "", origin: str | None = None) -> int:
    """The status with which the feed turns a connection away."""
    port = client.base_url.port
    uri = f"ws://{host or f'{ADDRESS}:{port}'}/feed"
    with (
        socket.create_connection((ADDRESS, port)) as there,
        pytest.raises(InvalidStatus) as refused,
        connect(uri, sock=there, origin=origin),
    ):
        pass
    return int(refused.value.response.status_code)


def test_the_page_and_its_parts_are_served(client: httpx.Client) -> None:
    index = client.get("/")
    assert index.status_code == 200
    assert "bandwright" in index.text
    for path in ("/_dash-layout", "/_dash-dependencies", "/assets/main.js", "/assets/page.css"):
        assert client.get(path).status_code == 200, path


def test_an_unknown_path_is_not_found(client: httpx.Client) -> None:
    for path in (
        "/docs",
        "/redoc",
        "/openapi.json",
        "/nothing",
        "/assets/none.js",
        "/feed",
        "/a/b",
    ):
        assert client.get(path).status_code == 404, path


def test_nothing_is_fetched_from_elsewhere(client: httpx.Client) -> None:
    index = client.get("/").text
    assert re.findall(r"(?:src|href)=\"(?!/)[^\"]*\"", index) == []
    assets = Path(__file__).parents[2] / "dashboard" / "assets"
    for path in assets.iterdir():
        links = re.findall(r"(?:https?:)?//[a-z0-9-]+\.[a-z.]+[^\s\"']*", path.read_text("utf-8"))
        assert set(links) <= {"http://www.w3.org/2000/svg"}, path.name


def test_a_foreign_host_name_is_turned_away(client: httpx.Client) -> None:
    # A name of a stranger's own that resolves to this machine: DNS rebinding.
    for host in ("evil.example", "evil.example:8765", "127.0.0.1.evil.example"):
        headers = {"host": host, "origin": f"http://{host}"}
        assert client.get("/", headers=headers).status_code == 400
        assert client.post("/_dash-update-component", headers=headers, json={}).status_code == 400
        assert refusal(client, host=host, origin=f"http://{host}") == 400


def test_what_does_not_come_from_the_page_changes_nothing(
    bench: Bench, client: httpx.Client
) -> None:
    bench.wait_for(lambda now: now.sequence > 0, 20)
    for origin in ("http://evil.example", f"http://{ADDRESS}:9", "null", "https://localhost", None):
        headers = {} if origin is None else {"origin": origin}
        answer = client.post("/_dash-update-component", headers=headers, json=wish("hold"))
        assert answer.status_code == 403, origin
        assert refusal(client, origin=origin) == 403, origin
    assert bench.snapshot().holds == ()


def wish(do: str) -> dict[str, object]:
    """A wish as the page's own callback sends it."""
    return {
        "output": "answer.children",
        "outputs": {"id": "answer", "property": "children"},
        "inputs": [{"id": "wish", "property": "data", "value": {"do": do, "number": 1}}],
        "changedPropIds": ["wish.data"],
    }


def test_the_page_itself_gets_its_wishes_and_its_feed(bench: Bench, client: httpx.Client) -> None:
    bench.wait_for(lambda now: now.sequence > 0, 20)
    answer = client.post("/_dash-update-component", headers=own(client), json=wish("hold"))
    assert answer.status_code == 200
    assert len(bench.snapshot().holds) == 1
    port = client.base_url.port
    with connect(f"ws://{ADDRESS}:{port}/feed", origin=own(client)["origin"]) as socket:
        message = socket.recv(20)
    assert isinstance(message, bytes)
    assert b'"sentence"' in message


def own(client: httpx.Client) -> dict[str, str]:
    """The page's own origin, as a browser sends it."""
    return {"origin": f"http://{ADDRESS}:{client.base_url.port}"}


def test_a_wish_that_cannot_be_granted_is_answered_in_one_sentence(client: httpx.Client) -> None:
    answers = [
        client.post("/_dash-update-component", headers=own(client), json=wish(do)).json()
        for do in ("undo hold", "standard is on", "no such thing", "bend")
    ]
    for answer in answers:
        said = answer["response"]["answer"]["children"]["props"]
        assert said["data-kind"] == "refused"
        assert said["children"].endswith(".")
        assert "Traceback" not in said["children"]


def test_every_answer_carries_headers_that_keep_strangers_out(client: httpx.Client) -> None:
    headers = client.get("/").headers
    assert headers["x-frame-options"] == "DENY"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


def test_a_port_that_is_taken_is_named_with_the_cure() -> None:
    with listen(0) as taken:
        port = taken.getsockname()[1]
        assert taken.getsockname()[0] == ADDRESS
        with pytest.raises(SetupError, match=rf"port {port}.*--page-port"):
            listen(port)


PROGRAM = """
import sys
from pathlib import Path
from dashboard.benches import demo_bench
from dashboard.planning import read_plan
from dashboard.scenario import PLAN
from dashboard.server import serve
folder = Path(sys.argv[1])
bench = demo_bench(read_plan(PLAN), records_folder=folder, calibrations_folder=folder)
serve(bench, page_port=0, open_browser=False, say=lambda text: print(text, flush=True))
print("ended", flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such signals to send")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_ends_it_in_order_and_frees_the_port(tmp_path: Path, number: int) -> None:
    command = [sys.executable, "-c", PROGRAM, str(tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        line = process.stdout.readline().decode()
        port = int(re.search(r":(\d+)/", line)[1])  # type: ignore[index]
        assert httpx.get(f"http://{ADDRESS}:{port}/").status_code == 200
        process.send_signal(number)
        assert process.wait(20) == 0
        assert process.stdout.read().decode() == "ended\n"
        assert process.stderr.read().decode() == ""
    with socket.socket() as again:
        again.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        again.bind((ADDRESS, port))
