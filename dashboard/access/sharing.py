"""Who else may look: others on the same network, by a one-time code, and only while it is wanted.

A code admits one viewer and is then another one; it is long enough that nobody guesses it, and who
tries is held up, without holding up anybody else. Viewers look and change nothing, until the bench
lends its control to one of them, and takes it back. Without TLS whoever is on the network can read
along, and the page says so.
"""

from __future__ import annotations

import secrets
import socket
import threading
from collections import OrderedDict, deque
from dataclasses import dataclass

from acquire.clock import Clock, SystemClock

CODE_BYTES = 24
"""192 bits."""
MOST_WRONG, WITHIN_S = 10, 60.0
"""So many wrong codes from one address within so long, and none is taken from it for as long."""
MOST_GUESSERS = 1000
"""Addresses whose wrong codes are counted; of more, those that were quiet longest are forgotten."""
MOST_VIEWERS = 30
NOWHERE = ("192.0.2.1", 9)
"""An address of nobody's (RFC 5737): asking which way it lies sends nothing."""


@dataclass(frozen=True, slots=True)
class ShareState:
    """How the sharing stands, for the bench's own page."""

    address: str
    """With the one-time code in it; empty while nothing is shared."""
    viewers: int
    lent: bool


class Sharing:
    """The sharing of one page. Safe to use from several threads."""

    def __init__(
        self, host: str, port: int, clock: Clock | None = None, *, private: bool = False
    ) -> None:
        """host, port : where others reach it. private : by TLS, so nobody reads along."""
        self.host, self.port, self.private = host, port, private
        self._clock: Clock = SystemClock() if clock is None else clock
        self._lock = threading.Lock()
        self._code = secrets.token_urlsafe(CODE_BYTES)
        self._open = True
        self._sessions: list[str] = []
        self._lent: str | None = None
        self._wrong: OrderedDict[str, deque[float]] = OrderedDict()

    @property
    def authority(self) -> str:
        """Host and port, as a browser names them."""
        return f"{self.host}:{self.port}"

    @property
    def state(self) -> ShareState:
        """How it stands."""
        scheme = "https" if self.private else "http"
        with self._lock:
            address = f"{scheme}://{self.authority}/?code={self._code}" if self._open else ""
            return ShareState(address, len(self._sessions), self._lent is not None)

    def redeem(self, code: str, who: str = "") -> str | None:
        """A new viewer's session for the code, which is spent by it; None where it is not right.

        who : the network address that asks.
        """
        now = self._clock.monotonic()
        with self._lock:
            held_up = self._held_up(who, now)
            right = secrets.compare_digest(code.encode(), self._code.encode())
            if not right:
                self._note_wrong(who, now)
            if not self._open or held_up or not right or len(self._sessions) >= MOST_VIEWERS:
                return None
            self._code = secrets.token_urlsafe(CODE_BYTES)
            session = secrets.token_urlsafe(CODE_BYTES)
            self._sessions.append(session)
            return session

    def _held_up(self, who: str, now: float) -> bool:
        wrong = self._wrong.get(who, deque())
        return len(wrong) == MOST_WRONG and now - wrong[0] < WITHIN_S

    def _note_wrong(self, who: str, now: float) -> None:
        self._wrong.setdefault(who, deque(maxlen=MOST_WRONG)).append(now)
        self._wrong.move_to_end(who)
        if len(self._wrong) > MOST_GUESSERS:
            self._wrong.popitem(last=False)

    def admits(self, session: str) -> bool:
        """True for a viewer's session."""
        with self._lock:
            return self._open and _among(session, self._sessions)

    def may_control(self, session: str) -> bool:
        """True for the one viewer that control was lent to."""
        with self._lock:
            return self._open and self._lent is not None and _among(session, [self._lent])

    def lend(self) -> bool:
        """Lend control to the viewer that came last; False where there is none."""
        with self._lock:
            self._lent = self._sessions[-1] if self._sessions else None
            return self._lent is not None

    def take_back(self) -> None:
        """Take control back."""
        with self._lock:
            self._lent = None

    def stop(self) -> None:
        """Let nobody look any more: every viewer is out at once, and no code is taken."""
        with self._lock:
            self._open, self._lent = False, None
            self._sessions.clear()

    def again(self) -> None:
        """Share again, by a new code."""
        with self._lock:
            self._open = True
            self._code = secrets.token_urlsafe(CODE_BYTES)


def _among(session: str, known: list[str]) -> bool:
    return any(secrets.compare_digest(session.encode(), each.encode()) for each in known)


def privacy(sharing: Sharing) -> str:
    """Who can read along on the way, in one sentence."""
    if sharing.private:
        return "It goes by TLS, so nobody on the way can read along."
    return "Without TLS everyone on this network can read along, the code included."


def own_address() -> str:
    """This machine's address on the network, as far as can be told; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(NOWHERE)
            return str(asking.getsockname()[0])
        except OSError:
            return "127.0.0.1"
