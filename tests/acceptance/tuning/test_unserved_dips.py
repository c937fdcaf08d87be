"""A dip that serves no wanted band is named, with the band that would need it."""

from __future__ import annotations

import numpy as np

from acceptance.bands.load import load_bands
from acceptance.plan.plan_file import parse_plan
from acceptance.tuning.dips import find_dips
from acceptance.tuning.unserved_dips import unserved_dips
from acceptance.verdict.plan_verdict import judge
from acquire.sweep import Plane, Reading, Source
from tests.acceptance.made import resonance
from tests.wording import missing_words

F = np.linspace(700e6, 2000e6, 1301)


def named(reflection: np.ndarray, *entries: str) -> tuple[str, ...]:
    text = 'name = "own"\n' + "".join(f"[[band]]\n{each}\nreturn_loss_db = 9\n" for each in entries)
    wanted = parse_plan(text, "plan", load_bands())
    verdict = judge(wanted, Reading(F, reflection), Plane.CONNECTOR, Source("file", "", "", ""))
    return unserved_dips(verdict.bands, find_dips(F, reflection))


def parallel(*f0_hz: float, q: float = 20.0) -> np.ndarray:
    """Resonances side by side, as arms of one antenna are."""
    admittance = sum((1 - g) / (1 + g) / 50 for g in (resonance(f, q, f=F) for f in f0_hz))
    return (1 - 50 * admittance) / (1 + 50 * admittance)


def test_the_dip_beside_the_band_is_named_with_it() -> None:
    (sentence,) = named(parallel(905e6), "lte = 3")
    assert not missing_words(
        sentence, "905 MHz", "no wanted band", "LTE 3 uplink", "1710 to 1785 MHz"
    )


def test_a_dip_in_its_band_is_not_named() -> None:
    assert named(parallel(847e6), "lte = 20") == ()


def test_another_dip_is_named_while_a_band_fails_and_not_while_all_are_served() -> None:
    two, own = parallel(847e6, 1100e6), 'name = "own"\nlow_mhz = 842\nhigh_mhz = 852'
    assert named(two, own) == ()
    (sentence,) = named(two, own, "lte = 3")
    assert not missing_words(sentence, "1097 MHz", "LTE 3 uplink")
