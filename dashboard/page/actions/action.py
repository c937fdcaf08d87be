"""One thing that a person may do on the page: what asks for it, what it takes, and what came of it.

The table of all of them is `dashboard.page.actions.table`. However one is asked for, by a button, a
key, the foot switch or a form, `perform` does it, and every refusal has one shape.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from acquire.errors import BandwrightError
from dashboard.access.sharing import Sharing
from dashboard.bench.composed_bench import Bench
from dashboard.errors import NotNowError

ActionRequest = Mapping[str, Any]
"""What a page sends: the name of an action under "do", and what it takes beside it."""
Whose = Literal["page", "control", "bench", "sharing"]
"""Of whoever looks, done by the page itself; of the bench's page, or the one viewer that control is
lent to; of the bench's page alone; and of it alone about the sharing."""
INCOMPLETE = "The page asked for something incomplete. Load it again."


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of an action."""

    kind: Literal["done", "refused"]
    words: str = ""
    """One sentence or a few; empty where the page shows what was done anyway."""
    closes: str = ""
    """The dialog that is done with."""
    made: Any = None
    """What was made, where it takes more than words to show it."""


@dataclass(frozen=True, slots=True)
class Take:
    """One thing that an action takes."""

    read: Callable[[Any], Any]
    """Makes it from what the page sent. Raises TypeError, ValueError, OverflowError."""
    wanted: bool = True
    """False where it may be left out; it is None then."""

    def of(self, request: ActionRequest, name: str) -> Any:
        """Read it. Raises as `read`, and KeyError where it is missing."""
        value = request[name] if self.wanted else request.get(name)
        return None if value is None and not self.wanted else self.read(value)


TEXT, NUMBER, WHOLE, YES = Take(str), Take(float), Take(int), Take(bool)
MAYBE_TEXT, MAYBE_NUMBER = Take(str, wanted=False), Take(float, wanted=False)
MAYBE_YES = Take(bool, wanted=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing that a person may do."""

    name: str
    whose: Whose = "control"
    keys: tuple[str, ...] = ()
    """What presses its button, as browsers name keys; letters small."""
    shown_keys: str = ""
    """As the list of keys shows them; empty: the keys themselves."""
    help: str = ""
    """What the list of keys says of it; neighbours that say the same stand in one row."""
    while_shown: str = ""
    """The part of the page that must not be hidden, for its keys to count."""
    rather: str = ""
    """The button that its keys press instead, while that one is to be seen."""
    takes: Mapping[str, Take] = field(default_factory=dict)
    does: Callable[..., Outcome | str | None] | None = None
    """Does it, given the bench or, of the sharing, the sharing, and by name what it takes. Returns
    what to say. None where the page does it by itself. Raises BandwrightError, OSError."""


def perform(
    actions: Mapping[str, Action],
    bench: Bench,
    request: ActionRequest,
    sharing: Sharing | None = None,
    *,
    role: Callable[[], str] = lambda: "bench",
) -> Outcome:
    """Do what was asked for, and say what came of it.

    actions : by name. role : says who asks: "bench", "lent" the control, "viewer" or "out". It is
    asked as the deed is done, for control may have been taken back since the request set out.
    Whatever a person can cause ends as a refusal; what else is raised is a fault of the program.
    """
    try:
        outcome = _carry_out(actions, bench, request, sharing, role)
    except (BandwrightError, OSError) as error:
        return Outcome("refused", str(error))
    return outcome if isinstance(outcome, Outcome) else Outcome("done", outcome or "")


def _carry_out(
    actions: Mapping[str, Action],
    bench: Bench,
    request: ActionRequest,
    sharing: Sharing | None,
    role: Callable[[], str],
) -> Outcome | str | None:
    action = actions.get(str(request.get("do")))
    if action is None or action.does is None:
        raise NotNowError("The page asked for something unknown. Load it again.")
    try:
        given = {name: take.of(request, name) for name, take in action.takes.items()}
    except (KeyError, TypeError, ValueError, OverflowError) as error:
        raise NotNowError(INCOMPLETE) from error
    if action.whose == "sharing":
        if sharing is None:
            raise NotNowError("Nothing is shared. Start with --share.")
        if role() != "bench":
            raise NotNowError("Who looks is said at the bench alone. Ask there.")
        return action.does(sharing, **given)
    if action.whose == "bench" and role() != "bench":
        raise NotNowError("The analyzer's port is chosen at the bench alone. Ask there.")
    if role() not in ("bench", "lent"):
        raise NotNowError("Control was taken back, so this was not done. Ask at the bench.")
    return action.does(bench, **given)
