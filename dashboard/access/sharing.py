"""Who else may look: others on the same network, by a one-time code, and only while it is wanted.

A code admits one viewer, by a press of a button, and is then another one; it is long enough that
nobody guesses it, and who tries is held up, without holding up anybody else. Viewers have names,
and those count whose page is open. They look and change nothing, until the bench lends its control
to one of them, and takes it back. Without TLS whoever is on the network can read along, and the
page says so.
"""

from __future__ import annotations

import itertools
import secrets
import socket
import threading
from collections import OrderedDict, deque
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Protocol

from acquire.clock import Clock, SystemClock
from acquire.printable_text import plain
from dashboard.errors import NotNowError

CODE_BYTES = 24
"""192 bits."""
MOST_WRONG, WITHIN_S = 10, 60.0
"""So many wrong codes from one address within so long, and none is taken from it for as long."""
MOST_GUESSERS = 1000
"""Addresses whose wrong codes are counted; of more, those that were quiet longest are forgotten."""
MOST_VIEWERS = 30
"""Who may look at once. Of more, who left longest ago makes room."""
LONGEST_NAME = 30
NOWHERE = ("192.0.2.1", 9)
"""An address of nobody's (RFC 5737): asking which way it lies sends nothing."""

NOT_SHARED = "Nothing is shared here now. Ask at the bench."
WRONG = (
    "The code is not right. Each is good once: scan the one that the bench shows now, or ask for "
    "the address shown there."
)
HELD_UP = (
    f"{MOST_WRONG} wrong codes came from your address. Wait {WITHIN_S:g} s, then scan the code "
    "that the bench shows."
)
FULL = (
    f"{MOST_VIEWERS} others are looking, as many as may at once. Try again when one has left; the "
    "code is still good."
)


@dataclass(frozen=True, slots=True)
class KnownViewer:
    """One who was let in, as the bench sees them."""

    number: int
    """Theirs for good; nobody else's even after they left."""
    name: str
    present: bool
    """False while their page is closed."""
    lent: bool
    """True for the one that control is lent to."""


@dataclass(frozen=True, slots=True)
class ShareState:
    """How the sharing stands, for the bench's own page."""

    address: str
    """With the one-time code in it; empty while nothing is shared."""
    viewers: tuple[KnownViewer, ...]
    """In the order in which they came."""


@dataclass(slots=True)
class _Session:
    secret: str
    number: int
    name: str
    seen_s: float
    """When they came, or their page closed last."""
    pages: int = 0
    """How many follow the feed now."""


class Listener(Protocol):
    """What viewers come in by."""

    def open(self) -> None: ...
    def close(self) -> None: ...


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
        self._sessions: list[_Session] = []
        self._numbers = itertools.count(1)
        self._lent: _Session | None = None
        self._wrong: OrderedDict[str, deque[float]] = OrderedDict()
        self._listener: Listener | None = None

    def at(self, listener: Listener) -> None:
        """Have something listen while it is shared, and only then."""
        self._listener = listener

    @property
    def authority(self) -> str:
        """Host and port, as a browser names them."""
        return f"{self.host}:{self.port}"

    @property
    def open(self) -> bool:
        """True while it is shared."""
        return self._open

    @property
    def cookie(self) -> str:
        """Name of the cookie that holds a session.

        Browsers share cookies between the ports of a host: by one name for all, two benches of
        one machine would put each other's viewers out.
        """
        return f"bandwright-viewer-{self.port}"

    @property
    def state(self) -> ShareState:
        """How it stands."""
        scheme = "https" if self.private else "http"
        with self._lock:
            address = f"{scheme}://{self.authority}/?code={self._code}" if self._open else ""
            viewers = (
                KnownViewer(each.number, each.name, each.pages > 0, each is self._lent)
                for each in self._sessions
            )
            return ShareState(address, tuple(viewers))

    def require_right(self, code: str, who: str = "") -> None:
        """Say whether a code would let somebody in, without spending it.

        who : the network address that asks.
        Raises NotNowError, in words that fit the cause, where it would not.
        """
        with self._lock:
            self._require_right(code, who)

    def redeem(self, code: str, who: str = "", name: str = "") -> str:
        """Make a new viewer's session for the code, which is spent by it.

        who : the network address that asks. name : what the viewer wants to be called.
        Raises NotNowError, in words that fit the cause, where nobody is let in.
        """
        with self._lock:
            self._require_right(code, who)
            if len(self._sessions) >= MOST_VIEWERS:
                self._forget(min((each for each in self._sessions if not each.pages), key=_seen))
            self._code = secrets.token_urlsafe(CODE_BYTES)
            number = next(self._numbers)
            session = _Session(
                secrets.token_urlsafe(CODE_BYTES),
                number,
                self._name_of_its_own(name, number),
                self._clock.monotonic(),
            )
            self._sessions.append(session)
            return session.secret

    def _require_right(self, code: str, who: str) -> None:
        now = self._clock.monotonic()
        held_up = self._held_up(who, now)
        right = secrets.compare_digest(code.encode(), self._code.encode())
        if not right:
            self._note_wrong(who, now)
        if not self._open:
            raise NotNowError(NOT_SHARED)
        if held_up:
            raise NotNowError(HELD_UP)
        if not right:
            raise NotNowError(WRONG)
        if len(self._sessions) >= MOST_VIEWERS and all(each.pages for each in self._sessions):
            raise NotNowError(FULL)

    def _forget(self, session: _Session) -> None:
        self._sessions.remove(session)
        if self._lent is session:
            self._lent = None

    def _name_of_its_own(self, wanted: str, number: int) -> str:
        name = plain(" ".join(wanted.split()))[:LONGEST_NAME].strip() or f"Viewer {number}"
        taken = {each.name.casefold() for each in self._sessions}
        return f"{name} ({number})" if name.casefold() in taken else name

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
            return self._of(session) is not None

    def may_control(self, session: str) -> bool:
        """True for the one viewer that control was lent to."""
        with self._lock:
            return self._lent is not None and self._of(session) is self._lent

    def name_of(self, session: str) -> str:
        """What a viewer is called; empty for nobody's session."""
        with self._lock:
            found = self._of(session)
            return "" if found is None else found.name

    @contextmanager
    def page_open(self, session: str) -> Iterator[None]:
        """Count a viewer as one who looks, for as long as their page follows the feed."""
        with self._lock:
            found = self._of(session)
            if found is not None:
                found.pages += 1
        try:
            yield
        finally:
            with self._lock:
                if found is not None:
                    found.pages -= 1
                    found.seen_s = self._clock.monotonic()

    def lend(self, number: int) -> str:
        """Lend control to one viewer, and to nobody else any more; what that one is called.

        Raises NotNowError where there is no such viewer any more.
        """
        with self._lock:
            for each in self._sessions:
                if each.number == number:
                    self._lent = each
                    return each.name
        raise NotNowError("That viewer has left. Lend control to one who is looking.")

    def take_back(self) -> None:
        """Take control back."""
        with self._lock:
            self._lent = None

    def stop(self) -> None:
        """Let nobody look any more: every viewer is out at once, and no code is taken."""
        with self._lock:
            self._open, self._lent = False, None
            self._sessions.clear()
        if self._listener is not None:
            self._listener.close()

    def again(self) -> None:
        """Share again, by a new code. Raises NotNowError where the port was taken meanwhile."""
        if self._listener is not None:
            self._listener.open()
        with self._lock:
            self._open = True
            self._code = secrets.token_urlsafe(CODE_BYTES)

    def _of(self, secret: str) -> _Session | None:
        # each is compared with, whichever is right: how long it takes tells nothing
        right = [
            each
            for each in self._sessions
            if secrets.compare_digest(secret.encode(), each.secret.encode())
        ]
        return right[0] if self._open and right else None


def _seen(session: _Session) -> float:
    return session.seen_s


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
