"""The server: this machine's own browser may in, and it lets go of everything when it ends."""

from __future__ import annotations

import base64
import hashlib
import http.client
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import httpx
import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from dashboard.access.access_control import LARGEST_BODY, TOKEN, Door
from dashboard.bench.composed_bench import Bench
from dashboard.errors import SetupError
from dashboard.server.page_server import ADDRESS, build, listen
from dashboard.server.routes import OF_DASH
from tests.counts import PATIENCE_S
from tests.dashboard.conftest import until


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
        # Dash's own that the page does not use
        "/_reload-hash",
        "/_favicon.ico",
        "/_dash-layout/",
        "/_dash-ws-callback",
        # nor any file beside those that are served
        "/assets/../server.py",
        "/assets/%2e%2e/server.py",
        "/assets/..%2fserver.py",
        "/assets//etc/passwd",
        "/assets/",
        "/share.json",
    ):
        assert client.get(path).status_code == 404, path


def test_only_the_listed_routes_are_there(bench: Bench) -> None:
    paths = {getattr(route, "path", None) for route in build(bench).router.routes}
    scripts = "/_dash-component-suites/{package}/{path:path}"
    saving = {"/save/sweep.{form}", "/save/conditions.svg"}
    records = {"/records", "/records/compare", "/records/batch"}
    records |= {"/records.{form}", "/records/{record}/{name}"}
    records |= {"/records/{record}/recheck", "/records/{record}/delete"}
    helps = {"/help", "/help/terms.json", "/help/pictures/{name}", "/help/{chapter}"}
    own = {"/", "/feed", "/cable", "/ports.json", "/plan.json", "/bands.json", "/recent.json"}
    assert paths == {*own, scripts, *saving, *records, *helps, *OF_DASH}


def test_no_file_of_a_package_is_served_that_the_page_does_not_use(client: httpx.Client) -> None:
    for path in ("dash/dash.py", "dash/../dash.py", "os/path.py", "plotly/__init__.py", "none/x"):
        answer = client.get(f"/_dash-component-suites/{path}")
        assert answer.status_code == 404, path


def test_nothing_is_fetched_from_elsewhere(client: httpx.Client) -> None:
    index = client.get("/").text
    assert re.findall(r"(?:src|href)=\"(?!/)[^\"]*\"", index) == []
    assets = Path(__file__).parents[3] / "dashboard" / "page" / "assets"
    for path in (each for each in assets.iterdir() if each.is_file()):
        links = re.findall(r"(?:https?:)?//[a-z0-9-]+\.[a-z.]+[^\s\"']*", path.read_text("utf-8"))
        assert set(links) <= {"http://www.w3.org/2000/svg"}, path.name


def test_a_foreign_host_name_is_turned_away(client: httpx.Client) -> None:
    # A name of a stranger's own that resolves to this machine: DNS rebinding.
    for host in (
        "evil.example",
        "evil.example:8765",
        "127.0.0.1.evil.example",
        "localhost.",
        "127.0.0.1:8765:1",
        "127.0.0.1:@evil.example",
        "192.168.1.7:8765",
        "",
    ):
        headers = {"host": host, "origin": f"http://{host}"}
        assert client.get("/", headers=headers).status_code == 400
        assert client.post("/_dash-update-component", headers=headers, json={}).status_code == 400
        if host.isascii() and host.count(":") < 2 and host:
            assert refusal(client, host=host, origin=f"http://{host}") == 400


def test_what_does_not_come_from_the_page_changes_nothing(
    bench: Bench, client: httpx.Client
) -> None:
    until(bench, lambda now: now.sequence > 0)
    for origin in ("http://evil.example", f"http://{ADDRESS}:9", "null", "https://localhost", None):
        headers = {} if origin is None else {"origin": origin}
        answer = client.post("/_dash-update-component", headers=headers, json=action_call("hold"))
        assert answer.status_code == 403, origin
        assert refusal(client, origin=origin) == 403, origin
    assert bench.snapshot().holds == ()


def action_call(do: str, **takes: object) -> dict[str, object]:
    """An action as the page's own callback asks for it."""
    return {
        "output": "answer.children",
        "outputs": {"id": "answer", "property": "children"},
        "inputs": [{"id": "action", "property": "data", "value": {"do": do, "number": 1} | takes}],
        "changedPropIds": ["action.data"],
    }


def test_the_page_itself_gets_its_actions_and_its_feed(bench: Bench, client: httpx.Client) -> None:
    until(bench, lambda now: now.sequence > 0)
    answer = client.post("/_dash-update-component", headers=own(client), json=action_call("hold"))
    assert answer.status_code == 200
    assert len(bench.snapshot().holds) == 1
    port = client.base_url.port
    with connect(f"ws://{ADDRESS}:{port}/feed", origin=own(client)["origin"]) as socket:
        message = socket.recv(PATIENCE_S)
    assert isinstance(message, bytes)
    assert b'"sentence"' in message


def test_bytes_on_the_feed_close_it_with_a_code(client: httpx.Client) -> None:
    at = f"ws://{ADDRESS}:{client.base_url.port}/feed"
    with connect(at, origin=own(client)["origin"]) as socket:
        socket.send(b"\x00\x01")
        with pytest.raises(ConnectionClosed) as closed:
            _ = [socket.recv(PATIENCE_S) for _ in range(100)]
    assert closed.value.rcvd is not None
    assert closed.value.rcvd.code == 1003


def own(client: httpx.Client) -> dict[str, str]:
    """What the page's own script sends along: its origin and this start's token."""
    return {"origin": str(client.base_url).rstrip("/"), TOKEN: token(client)}


def token(client: httpx.Client) -> str:
    """The token that stands in the page, and nowhere else."""
    found = re.search(r'<meta name="bandwright-token" content="([\w-]+)">', client.get("/").text)
    assert found is not None
    return found[1]


def test_a_kit_is_chosen_by_its_name_and_no_file_is_read_for_it(
    client: httpx.Client, tmp_path: Path
) -> None:
    secret = tmp_path / "secret.toml"
    secret.write_text("password = 'open sesame'")
    callbacks = client.get("/_dash-dependencies").json()
    (output,) = (each["output"] for each in callbacks if each["inputs"][0]["id"] == "kit")
    for name in (str(secret), "../secret.toml", "/etc/passwd", "none", 3, ["x"], {"a": 1}):
        chosen = {
            "output": output,
            "outputs": {"id": "answer", "property": output.partition(".")[2]},
            "inputs": [{"id": "kit", "property": "value", "value": name}],
            "changedPropIds": ["kit.value"],
        }
        answer = client.post("/_dash-update-component", headers=own(client), json=chosen)
        assert "sesame" not in answer.text
        assert answer.status_code == 200
        assert "no longer in its folder" in answer.text


def test_an_action_that_cannot_be_done_is_answered_in_one_sentence(client: httpx.Client) -> None:
    answers = [
        client.post("/_dash-update-component", headers=own(client), json=action_call(do)).json()
        for do in ("undo hold", "standard is on", "no such thing", "bend")
    ]
    for answer in answers:
        props = answer["response"]["answer"]["children"]["props"]
        assert props["data-kind"] == "refused"
        assert props["children"].endswith(".")
        assert "Traceback" not in props["children"]


def test_a_change_needs_the_token_of_this_start(bench: Bench, client: httpx.Client) -> None:
    until(bench, lambda now: now.sequence > 0)
    mine = own(client)
    for wrong in ("", "guess", mine[TOKEN][:-1], mine[TOKEN].swapcase(), "µ"):
        headers = mine | {TOKEN: wrong.encode()}  # type: ignore[operator]
        answer = client.post("/_dash-update-component", headers=headers, json=action_call("hold"))
        assert answer.status_code == 409, wrong
    assert bench.snapshot().holds == ()
    assert len(mine[TOKEN]) >= 128 / 6


def test_every_start_has_a_token_of_its_own(bench: Bench, client: httpx.Client) -> None:
    other = Door(lambda *_: None)  # type: ignore[arg-type, return-value]
    assert token(client) not in (other._bench_token, other._viewer_token)


def test_what_a_foreign_page_embeds_is_turned_away(client: httpx.Client) -> None:
    def status(site: str, mode: str, dest: str, path: str = "/", **more: str) -> int:
        marks = {"sec-fetch-site": site, "sec-fetch-mode": mode, "sec-fetch-dest": dest}
        return client.get(path, headers=marks | more).status_code

    for site in ("cross-site", "same-site"):  # another port of this machine is the same site
        for mode, dest, path in (
            ("no-cors", "image", "/assets/bandwright.svg"),
            ("no-cors", "script", "/assets/theme.js"),
            ("cors", "empty", "/_dash-layout"),
            ("navigate", "iframe", "/"),
            ("navigate", "embed", "/"),
        ):
            assert status(site, mode, dest, path) == 403, (site, dest)
        assert status(site, "navigate", "document") == 200, "a link to the page only shows it"
    assert status("same-origin", "no-cors", "script", "/assets/theme.js") == 200
    assert status("none", "navigate", "document") == 200
    assert status("same-origin", "cors", "empty", origin="http://evil.example") == 403


def test_no_foreign_page_is_ever_allowed_to_read(client: httpx.Client) -> None:
    asked = {
        "origin": "http://evil.example",
        "access-control-request-method": "POST",
        "access-control-request-headers": TOKEN,
    }
    before = client.options("/_dash-update-component", headers=asked)
    assert before.status_code == 403
    for answer in (before, client.get("/"), client.get("/_dash-layout")):
        assert not [name for name in answer.headers if name.startswith("access-control")]


def test_what_is_too_large_or_of_unknown_length_is_refused_unread(client: httpx.Client) -> None:
    large = http.client.HTTPConnection(ADDRESS, client.base_url.port, timeout=PATIENCE_S)
    headers = own(client) | {"Content-Length": str(LARGEST_BODY + 1)}
    large.request("POST", "/_dash-update-component", headers=headers)
    assert large.getresponse().status == 413
    large.close()
    pieces = iter([b"{", b"}"])
    unknown = client.post("/_dash-update-component", headers=own(client), content=pieces)
    assert unknown.status_code == 411


def test_nonsense_in_place_of_an_action_is_refused_without_a_traceback(
    client: httpx.Client, caplog: pytest.LogCaptureFixture
) -> None:
    for content in (b"", b"{", b"[]", b"{}", b"\xff", b"[" * 10_000, b'{"output": 1}'):
        answer = client.post("/_dash-update-component", headers=own(client), content=content)
        assert answer.status_code >= 400, content[:20]
        assert "Traceback" not in answer.text
        assert ".py" not in answer.text


def test_every_answer_carries_headers_that_keep_strangers_out(client: httpx.Client) -> None:
    foreign = {"host": "evil.example"}
    for answer in (
        client.get("/"),
        client.get("/assets/main.js"),
        client.get("/nothing"),
        client.get("/", headers=foreign),
        client.post("/_dash-update-component", json={}),
    ):
        headers = answer.headers
        assert headers["x-frame-options"] == "DENY"
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["cross-origin-resource-policy"] == "same-origin"
        assert headers["cross-origin-opener-policy"] == "same-origin"
        assert "camera=()" in headers["permissions-policy"]
        assert "server" not in headers


def test_the_content_policy_allows_no_script_but_the_pages_own(client: httpx.Client) -> None:
    answer = client.get("/")
    policy = dict(
        part.split(" ", 1) for part in answer.headers["content-security-policy"].split("; ")
    )
    assert policy["default-src"] == policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert policy["form-action"] == "'self'"
    assert policy["connect-src"] == "'self'"
    inline = re.findall(
        r"<script(?![^>]*\bsrc=)(?![^>]*application/json)[^>]*>(.+?)</script>",
        answer.text,
        re.DOTALL,
    )
    hashes = [base64.b64encode(hashlib.sha256(each.encode()).digest()).decode() for each in inline]
    assert len(hashes) == 1
    assert policy["script-src"] == f"'self' 'sha256-{hashes[0]}'"


def test_a_port_that_is_taken_is_named_with_the_cure() -> None:
    with listen(0) as taken:
        port = taken.getsockname()[1]
        assert taken.getsockname()[0] == ADDRESS
        with pytest.raises(SetupError, match=rf"port {port}.*--page-port"):
            listen(port)


PROGRAM = """
import sys
from pathlib import Path
from dashboard.demo.demo_bench import demo_bench
from dashboard.page.plan_form import read_plan
from dashboard.demo.scenario import PLAN
from dashboard.server.page_server import serve
folder = Path(sys.argv[1])
bench = demo_bench(read_plan(PLAN), records_folder=folder, calibrations_folder=folder)
serve(bench, page_port=0, open_browser=False, say=lambda text: print(text, flush=True))
print("ended", flush=True)
"""


@pytest.mark.process
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
        assert process.wait(PATIENCE_S) == 0
        assert process.stdout.read().decode() == "ended\n"
        assert process.stderr.read().decode() == ""
    with socket.socket() as again:
        again.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        again.bind((ADDRESS, port))
