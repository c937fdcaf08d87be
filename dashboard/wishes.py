"""What a person wishes by a button or a key, and who grants it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from calibration.guided.verification_session import PuttingBack, Remaking
from dashboard.bench import Bench
from dashboard.errors import NotNowError
from dashboard.sharing import Sharing

Wish = Mapping[str, Any]


def granted(bench: Bench, wish: Wish, sharing: Sharing | None = None) -> str:
    """Do what the person wishes and say what was done; empty where the page shows it anyway.

    Raises what the bench's commands raise, and NotNowError for a wish that is none.
    """
    name = str(wish.get("do"))
    if name in SHARED:
        if sharing is None:
            raise NotNowError("Nothing is shared. Start with --share.")
        return SHARED[name](sharing)
    if name not in WISHES:
        raise NotNowError("The page asked for something unknown. Load it again.")
    try:
        return WISHES[name](bench, wish) or ""
    except (KeyError, TypeError, ValueError, OverflowError) as error:
        raise NotNowError("The page asked for something incomplete. Load it again.") from error


def _lend(sharing: Sharing) -> str:
    if not sharing.lend():
        raise NotNowError("Nobody is looking yet. Let someone scan the code first.")
    return "Control is lent to the viewer who came last. You can take it back at any time."


def _stop(sharing: Sharing) -> str:
    sharing.stop()
    return "Nothing is shared any more; every viewer is out."


def _again(sharing: Sharing) -> str:
    sharing.again()
    return "Shared again, by a new code."


def _back(sharing: Sharing) -> str:
    sharing.take_back()
    return "Control is back on the bench."


SHARED: Mapping[str, Callable[[Sharing], str]] = {
    "lend control": _lend,
    "take control back": _back,
    "stop sharing": _stop,
    "share again": _again,
}


def said_done(bench: Bench, wish: Wish) -> str:
    """Note what the person says was done."""
    delta = wish.get("mm")
    words = bench.tuning.did(
        str(wish.get("dimension", "")), None if delta is None else float(delta)
    )
    return f"Noted: {words}."


WISHES: Mapping[str, Callable[[Bench, Wish], str | None]] = {
    "hold": lambda bench, wish: bench.holds.hold(str(wish.get("name", ""))),
    "show hold": lambda bench, wish: bench.holds.show(int(wish["hold"])),
    "did": said_done,
    "undo did": lambda bench, _: f"Taken back: {bench.tuning.undo()}.",
    "pigtail open": lambda bench, _: bench.plane.take_end("open"),
    "pigtail short": lambda bench, _: bench.plane.take_end("short"),
    "bare pigtail": lambda bench, _: bench.plane.use_ends("bare"),
    "kit's pigtail": lambda bench, _: bench.plane.use_ends("kit"),
    "touch test": lambda bench, _: bench.touch_test.begin(),
    "touch next": lambda bench, _: bench.touch_test.next(),
    "leave touch": lambda bench, _: bench.touch_test.leave(),
    "forget touch": lambda bench, _: bench.acceptance.forget_touch_test(),
    "grip": lambda bench, wish: bench.hands.grip(gripped=bool(wish["gripped"])),
    "undo hold": lambda bench, _: bench.holds.undo(),
    "calibrate": lambda bench, _: bench.calibration.begin(),
    "standard is on": lambda bench, _: bench.calibration.standard_is_on(),
    "redo": lambda bench, wish: bench.calibration.redo(str(wish["standard"])),
    "leave calibration": lambda bench, _: bench.calibration.leave(),
    "put back": lambda bench, wish: bench.calibration.begin_check(
        PuttingBack(str(wish["standard"]))
    ),
    "remake": lambda bench, wish: bench.calibration.begin_check(Remaking(str(wish["standard"]))),
    "transmit nearby": lambda bench, _: bench.hands.transmit_nearby(),
    "screw on": lambda bench, wish: bench.hands.screw_on(str(wish["name"])),
    "lay": lambda bench, wish: bench.hands.lay(str(wish["pigtail"])),
    "throw unfinished away": lambda bench, _: bench.acceptance.throw_unfinished_away(),
    "bend": lambda bench, wish: bench.hands.bend(str(wish["dimension"]), float(wish["mm"])),
}
