"""A crowd of viewers in a process of its own, so that its work is not taken for the server's.

    python -m benchmarks.crowd URL COUNT

The last one is frozen: it connects and never reads. It says "here" once all are connected, and ends
with its standard input.
"""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def crowd(url: str, count: int) -> Iterator[None]:
    """So many more viewers of the page at url, while the block runs."""
    with subprocess.Popen(
        [sys.executable, "-m", "benchmarks.crowd", url, str(count)],
        cwd=Path(__file__).parents[1],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as others:
        assert others.stdin is not None
        assert others.stdout is not None
        assert others.stdout.readline().strip() == "here"
        yield
        others.stdin.close()


def look(url: str, connected: threading.Semaphore, ended: threading.Event, *, frozen: bool) -> None:
    """Follow the feed as a page does; a frozen one is dropped, as it should be."""
    from websockets.sync.client import connect

    with (
        contextlib.suppress(Exception),
        connect(url.replace("http", "ws") + "feed", origin=url.rstrip("/")) as there,  # type: ignore[arg-type]
    ):
        connected.release()
        while not ended.is_set():
            if frozen:
                ended.wait()
                return
            heard = there.recv(5)
            if isinstance(heard, bytes):
                size = int.from_bytes(heard[:4], "little")
                number = json.loads(heard[4 : 4 + size])["message"]
                there.send(json.dumps({"drawn": number, "crowd": True}))


def main(url: str, count: int) -> None:
    """Look until standard input ends."""
    connected, ended = threading.Semaphore(0), threading.Event()
    threads = [
        threading.Thread(
            target=look, args=(url, connected, ended), kwargs={"frozen": n == count - 1}
        )
        for n in range(count)
    ]
    for each in threads:
        each.start()
    for _ in threads:
        connected.acquire()
    print("here", flush=True)
    sys.stdin.read()
    ended.set()
    for each in threads:
        each.join(6)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
