"""The touch test: does the reading change when a hand grips the feed cable?

A current on the outside of the cable's shield makes the cable part of the antenna; a hand on it
then moves dips and return loss, which it cannot where there is none [practice]. Each dip and each
band is held against what comes back when the hand lets go: that is how well the bench repeats.
What changes and does not come back shows neither a current nor that there is none.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from acceptance.tuning.dip_tracking import Tracked
from acceptance.tuning.shifted_curve import Curve

REPEAT_FACTOR = 3.0
"""So many times what repeats is no accident."""
LEAST_SHARE, LEAST_DB = 0.001, 0.3
"""What matters to nobody: a tenth of a per cent, three tenths of a decibel."""
STRONG_SHARE, STRONG_DB = 0.006, 1.5
SHALLOWEST_DIP = 0.7
"""|G| at the bottom of a dip, 3 dB: a shallower one may come and go with the noise."""
BACK_SHARE = 0.02
"""A dip that vanished is back where one lies so near, as a part of its frequency."""
AMPLE_MARGIN_DB = 10.0
"""Beyond so much to spare a decibel more or less is nobody's business."""

CHOKE = (
    "A choke helps: ferrite on the cable close to the feed, a quarter-wave sleeve, or a balun. "
    "Then touch again."
)
RETEST = "Tighten the connector, let the cable lie still, and do the touch test again."
Current = Literal["none", "unclear", "some", "strong"]
SEVERITY: tuple[Current, ...] = ("none", "unclear", "some", "strong")
"""From nothing on; a change that repeats outweighs another one that does not."""


@dataclass(frozen=True, slots=True)
class Touch:
    """What a hand on the cable did."""

    current: Current
    """How much of it flows on the outside of the shield, by the dip and the band that show most;
    "unclear" where the most that changed did not come back."""
    shift_mhz: float
    """Of that dip; 0 where there is none, or it vanished."""
    shift_repeats_mhz: float
    """How far the same dip was from where it began, once the hand had let go."""
    change_db: float
    """Of that band's worst margin."""
    change_repeats_db: float
    text: str

    def __post_init__(self) -> None:
        if self.current not in SEVERITY:
            raise ValueError(f"a touch test shows {', '.join(SEVERITY)}, and no other current")

    @property
    def tells(self) -> bool:
        """False where it has to be done again."""
        return self.current != "unclear"


@dataclass(frozen=True, slots=True)
class _Change:
    """What the hand did to one dip, or to one band."""

    current: Current
    size: float
    """By which the largest of several counts, where they show alike."""
    by: float
    back: float
    words: str


NO_DIP = _Change("none", 0.0, 0.0, 0.0, "No dip was there to be watched")
NO_BAND = _Change("none", 0.0, 0.0, 0.0, "no band was")
NOTHING = (
    "Unclear: neither a dip nor a band was there to be watched. Sweep the wanted bands, then do "
    "the touch test again."
)


def touch(before: Curve, gripped: Curve, after: Curve) -> Touch:
    """Judge three looks at one antenna: hands off, a hand round the cable, hands off again."""
    dips, bands = list(_dips(before, gripped, after)), list(_bands(before, gripped, after))
    if not dips and not bands:
        return Touch("unclear", 0.0, 0.0, 0.0, 0.0, NOTHING)
    dip, band = _most(dips, NO_DIP), _most(bands, NO_BAND)
    current: Current = max((dip.current, band.current), key=SEVERITY.index)
    both = f"{dip.words}; {band.words}."
    text = {
        "none": f"Gripping the cable changes nothing to speak of. {both}",
        "unclear": f"Unclear: what changed did not come back when the hand let go. {both} {RETEST}",
        "some": f"The cable is a little part of the antenna. {both} {CHOKE}",
        "strong": f"The cable is part of the antenna: its shield carries current. {both} {CHOKE}",
    }[current]
    return Touch(current, dip.by, dip.back, band.by, band.back, text)


def _most(changes: Sequence[_Change], nothing: _Change) -> _Change:
    return max(changes, key=lambda one: (SEVERITY.index(one.current), one.size), default=nothing)


def _judged(by: float, back: float, least: float, strong: float) -> Current:
    """By how much something changed, and by how much it was still changed once let go."""
    if max(abs(by), abs(back)) <= least:
        return "none"
    if abs(by) <= REPEAT_FACTOR * abs(back):
        return "unclear"
    return "strong" if abs(by) > strong else "some"


def _dips(before: Curve, gripped: Curve, after: Curve) -> Iterable[_Change]:
    under = {each.number: each for each in gripped.dips if not each.dip.beyond}
    again = {each.number: each for each in after.dips if not each.dip.beyond}
    for one in before.dips:
        if one.dip.beyond:
            continue
        back = again.get(one.number) or _nearest(one, after)
        if (two := under.get(one.number)) is not None:
            if back is not None:
                yield _moved(one, two, back)
            elif one.dip.reflection <= SHALLOWEST_DIP:
                yield _vanished(one, None, "vanishes as the hand lets go")
        elif one.dip.reflection <= SHALLOWEST_DIP:
            yield _vanished(one, back, "vanishes under the hand")


def _nearest(one: Tracked, after: Curve) -> Tracked | None:
    """A dip that was waited for too long comes back under another number."""
    away = {each.number: _share(one, each) for each in after.dips if not each.dip.beyond}
    near = [each for each in after.dips if away.get(each.number, 1.0) <= BACK_SHARE]
    return min(near, key=lambda each: away[each.number], default=None)


def _share(one: Tracked, other: Tracked) -> float:
    return abs(other.dip.frequency_hz / one.dip.frequency_hz - 1)


def _moved(one: Tracked, two: Tracked, three: Tracked) -> _Change:
    by, back = ((each.dip.frequency_hz - one.dip.frequency_hz) / 1e6 for each in (two, three))
    mhz = one.dip.frequency_hz / 1e6
    return _Change(
        _judged(by, back, LEAST_SHARE * mhz, STRONG_SHARE * mhz),
        abs(by) / mhz,
        by,
        back,
        _signed(
            f"The dip at {mhz:.0f} MHz moves by {by:+.1f} MHz (it repeats within {abs(back):.1f})"
        ),
    )


def _vanished(one: Tracked, back: Tracked | None, how: str) -> _Change:
    mhz = one.dip.frequency_hz / 1e6
    if back is None:
        return _Change("unclear", 1.0, 0.0, 0.0, f"The dip at {mhz:.0f} MHz {how}")
    away = back.dip.frequency_hz / 1e6 - mhz
    words = f"The dip at {mhz:.0f} MHz {how} and comes back (within {abs(away):.1f} MHz)"
    return _Change("strong", 1.0, 0.0, away, words)


def _bands(before: Curve, gripped: Curve, after: Curve) -> Iterable[_Change]:
    one, two, three = (
        dict(zip(each.targets, each.margins.values(), strict=True))
        for each in (before, gripped, after)
    )
    for target, margin in one.items():
        if target in two and target in three:
            least = min(margin, AMPLE_MARGIN_DB)
            by, back = (min(each[target], AMPLE_MARGIN_DB) - least for each in (two, three))
            yield _of_band(by, back)


def _of_band(by: float, back: float) -> _Change:
    words = _signed(f"the worst margin changes by {by:+.1f} dB (repeats within {abs(back):.1f})")
    return _Change(_judged(by, back, LEAST_DB, STRONG_DB), abs(by), by, back, words)


def _signed(words: str) -> str:
    return words.replace("-", "−")
