"""Nothing that is read is ever run, and nothing goes online: read off the sources, and tried."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.counts import PATIENCE_S
from tests.guards.house import syntax_tree

TOP = Path(__file__).parents[2]
SOURCES = sorted(
    path
    for package in ("acquire", "calibration", "acceptance", "replay", "dashboard")
    for path in (TOP / package).rglob("*.py")
)
SCRIPTS = sorted((TOP / "dashboard" / "page" / "assets").glob("*.js"))

RUNS_DATA = {"pickle", "cPickle", "dill", "cloudpickle", "joblib", "marshal", "shelve", "yaml"}
GOES_ONLINE = {
    "aiohttp", "ftplib", "http.client", "httpx", "imaplib", "poplib", "requests", "smtplib",
    "telnetlib", "urllib.request", "urllib3", "xmlrpc", "websockets.client", "websockets.sync",
}  # fmt: skip
RUNS_TEXT = {"eval", "exec", "compile", "__import__"}
RUNS_A_SHELL = {"system", "popen", "getoutput", "getstatusoutput", "startfile"}
MAY_RUN_A_PROGRAM = {"dashboard/files/signing.py"}
"""ssh-keygen, by a list of arguments."""
MAY_CONNECT = {
    "dashboard/server/page_server.py",
    "dashboard/server/shared_port.py",
    "dashboard/access/sharing.py",
    "replay/virtual_analyzer/hosting.py",
}
"""The page's own ports, and the virtual analyzer's on 127.0.0.1. An analyzer that the user names is
reached through pyserial."""
MARKUP = re.compile(
    r"\b(innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval|new Function|srcdoc)\b"
)


def imported(node: ast.AST) -> list[str]:
    """What a statement imports, by full name."""
    match node:
        case ast.Import(names=names):
            return [alias.name for alias in names]
        case ast.ImportFrom(module=str(module), names=names):
            return [module, *(f"{module}.{alias.name}" for alias in names)]
        case _:
            return []


def within(name: str, modules: set[str]) -> bool:
    """True for one of the modules, and what lies in it."""
    return any(name == each or name.startswith(f"{each}.") for each in modules)


def offences(tree: ast.AST, place: str) -> list[str]:
    """Name every place where data could become code, or something could go online."""
    found: list[str] = []
    for node in ast.walk(tree):
        for name in imported(node):
            if within(name, RUNS_DATA | GOES_ONLINE):
                found.append(f"line {node.lineno}: imports {name}")  # type: ignore[attr-defined]
            if within(name, {"subprocess"}) and place not in MAY_RUN_A_PROGRAM:
                found.append(f"line {node.lineno}: imports {name}")  # type: ignore[attr-defined]
            if within(name, {"socket"}) and place not in MAY_CONNECT:
                found.append(f"line {node.lineno}: imports {name}")  # type: ignore[attr-defined]
        match node:
            case ast.Call(func=ast.Name(id=name)) if name in RUNS_TEXT:
                found.append(f"line {node.lineno}: {name}()")
            case ast.Call(func=ast.Attribute(attr=name)) if name in RUNS_A_SHELL:
                found.append(f"line {node.lineno}: .{name}()")
            case ast.keyword(arg="shell" | "allow_pickle", value=ast.Constant(value=False)):
                pass
            case ast.keyword(arg="shell" | "allow_pickle" as name):
                found.append(f"line {node.lineno}: {name}=")
            case _:
                pass
    return found


def test_a_module_runs_no_data_and_goes_nowhere() -> None:
    places = {path.relative_to(TOP).as_posix(): path for path in SOURCES}
    assert len(places) > 300
    assert {
        place: found
        for place, path in places.items()
        if (found := offences(syntax_tree(path), place))
    } == {}


def test_a_script_of_the_page_makes_elements_of_data_and_no_markup() -> None:
    assert SCRIPTS
    for path in SCRIPTS:
        text = re.sub(r"^\s*//.*$", "", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
        assert MARKUP.findall(text) == [], path


def test_the_guard_sees_what_it_is_there_to_see() -> None:
    source = (
        "import pickle\nimport yaml\nfrom urllib.request import urlopen\nimport subprocess\n"
        "from urllib import request\nimport socket\neval('1')\nos.system('x')\n"
        "run('x', shell=True)\nload(f, allow_pickle=True)\nload(f, allow_pickle=False)\n"
    )
    found = offences(ast.parse(source), "dashboard/page/layout.py")
    assert {int(each.split(":")[0].split()[1]) for each in found} == set(range(1, 11))
    excused = ast.parse("import subprocess\nimport urllib.parse\n")
    assert offences(excused, "dashboard/files/signing.py") == []
    assert MARKUP.search("element.innerHTML = name")


def test_the_files_that_are_excused_are_there() -> None:
    assert [name for name in MAY_RUN_A_PROGRAM | MAY_CONNECT if not (TOP / name).exists()] == []


WATCHED = """
import sys

def watch(event, arguments):
    if event in ("socket.connect", "socket.sendto"):
        address = arguments[1]
    elif event in ("socket.getaddrinfo", "socket.gethostbyname"):
        address = arguments
    else:
        return
    host = address[0] if isinstance(address, tuple) else address
    if host not in ("127.0.0.1", "localhost", "::1"):
        sys.stderr.write(f"went online: {event} {address}\\n")
        raise PermissionError(f"{event} {address}")

sys.addaudithook(watch)
import threading
from dashboard.command_line.main import main

class Page:
    def __call__(self, text=""):
        print(text, flush=True)
        if "The page is at" in text:
            import http.client, re, signal, os
            port = int(re.search(r":(\\d+)/", text)[1])
            def look():
                asking = http.client.HTTPConnection("127.0.0.1", port, timeout=300)
                for path in ("/", "/_dash-layout", "/_dash-dependencies"):
                    asking.request("GET", path)
                    print(path, asking.getresponse().read()[:0], flush=True)
                asking.close()
                signal.raise_signal(signal.SIGINT)
            threading.Thread(target=look).start()

import dashboard.terminal.output
dashboard.terminal.output.say = Page() if sys.argv[1] == "demo" else dashboard.terminal.output.say
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.process
@pytest.mark.parametrize(
    "arguments",
    [
        ["check", "tests/guards/example.s1p", "--plan", "tests/guards/example.toml"],
        ["bands", "20"],
        ["tour", "--folder", "FOLDER"],
        ["demo", "--no-open", "--page-port", "0"],
    ],
    ids=lambda arguments: arguments[0],
)
def test_a_command_connects_to_nothing_beyond_this_machine(
    tmp_path: Path, arguments: list[str]
) -> None:
    given = [str(tmp_path / "tour") if each == "FOLDER" else each for each in arguments]
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, *given],
        cwd=TOP,
        env=os.environ | {"XDG_DATA_HOME": str(tmp_path)},
        capture_output=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert "went online" not in done.stderr.decode()
    assert done.returncode in (0, 1), done.stderr.decode()


@pytest.mark.process
def test_the_watch_sees_what_goes_online() -> None:
    program = WATCHED.partition("import threading")[0] + (
        "import socket\nsocket.create_connection(('192.0.2.1', 9), timeout=1)\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=False)
    assert b"went online: socket." in done.stderr
    assert done.returncode == 1
