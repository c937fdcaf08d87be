"""Advice: which way, how much, how sure; learned from what was done; and when to stop."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.bands.load import load_bands
from acceptance.errors import RecipeError
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import Recipe, parse_recipe
from acceptance.tuning.advice import Advice, band_name, how_right, resistance_words
from acceptance.tuning.dimension_effect import DimensionEffects, Estimate, expected
from acceptance.tuning.dip_tracking import DipTracker, Tracked
from acceptance.tuning.dips import Dip, find_dips, ripple_seen
from acceptance.tuning.scaling_advice import by_scaling
from acceptance.tuning.shifted_curve import Curve
from acceptance.tuning.trim_advice import advise, expected_after
from acquire.sweep import ComplexArray
from benchmarks.tuning import study
from dashboard.demo.scenario import RECIPE
from replay.virtual_bench.antenna import GOOD_SETTING, BentStrip
from replay.virtual_bench.pigtails import PIGTAILS
from tests.counts import LONG
from tests.wording import missing_words

F = np.linspace(0.65e9, 1.05e9, 161)
ONE_ARM = """
name = "one arm"
[[dimension]]
name = "arm"
label = "the arm"
length_mm = 80.0
moves = 1
cut = true
[[dimension]]
name = "gap"
label = "the feed gap"
step_mm = 0.2
more = "Widen"
less = "Narrow"
"""


@pytest.fixture
def recipe() -> Recipe:
    return parse_recipe(ONE_ARM, "recipe.toml")


def plan(limit: str = "return_loss_db = 8", band: str = "lte = 20") -> Plan:
    return parse_plan(f'name = "x"\n[[band]]\n{band}\n{limit}\n', "plan.toml", load_bands())


def resonance(f0: float, q: float = 6.0, ohm: float = 45.0) -> ComplexArray:
    z = ohm * (1 + 1j * q * (F / f0 - f0 / F))
    reflection: ComplexArray = (z - 50) / (z + 50)
    return reflection


def curve(reflection: ComplexArray, wanted: Plan, tracker: DipTracker | None = None) -> Curve:
    dips = (tracker or DipTracker()).add(find_dips(F, reflection, 1e-3))
    return Curve.of(F, reflection, np.full(F.size, 0.01), wanted.targets, dips)


def test_a_dip_above_its_band_asks_for_a_longer_arm_by_scaling(recipe: Recipe) -> None:
    """df/f = -dL/L [derived]: 896 to about 827 MHz is 8 % of 80 mm, not more than 6.4 mm."""
    found = advise(curve(resonance(0.896e9), plan()), DimensionEffects(recipe))
    assert found.dimension == "arm"
    assert found.delta_mm is not None
    assert 1 < found.delta_mm < 6.5
    assert found.action.startswith("Lengthen the arm by")
    assert not missing_words(found.reason, "dip is at 896 MHz", "band 20", "needs it near 8")
    assert found.text == f"{found.action} {found.reason}"
    assert "A small first step, to learn" in found.aside


def test_what_was_learned_makes_the_next_step_surer_and_nearer(recipe: Recipe) -> None:
    """The arm moves the dip by half of what scaling says; after one bend that is known."""
    effects, tracker, wanted = DimensionEffects(recipe), DipTracker(), plan()
    before = curve(resonance(0.896e9), wanted, tracker)
    first = advise(before, effects)
    assert first.delta_mm is not None
    moved = 0.896e9 * (1 - 0.5 * first.delta_mm / 80)
    after = curve(resonance(moved), wanted, tracker)
    effects.learn("arm", first.delta_mm, [(1, before.dips[0].dip, after.dips[0].dip)])
    estimate = effects.effect("arm", 1).shift
    assert estimate.mean == pytest.approx(-0.5 / 80, rel=0.25)
    assert estimate.sd < 0.3 * abs(estimate.mean)
    second = advise(after, effects)
    assert second.kind == "bend"
    assert second.low_mm is not None
    assert second.high_mm is not None
    assert second.delta_mm is not None
    assert second.low_mm <= second.delta_mm <= second.high_mm
    assert not missing_words(second.aside, "Probably", "to", "mm in all")
    reached = moved * np.exp(-0.5 * second.delta_mm / 80)
    assert advise(curve(resonance(reached), wanted, tracker), effects).kind == "good"


def test_a_cut_stops_short_by_its_own_uncertainty_and_says_so(recipe: Recipe) -> None:
    """With 97.5 % the dip does not pass its target: 1 / (|s| + 1.96 sd) [derived]."""
    effects = DimensionEffects(recipe)
    found = advise(curve(resonance(0.74e9), plan()), effects)
    assert found.delta_mm is not None
    assert found.delta_mm < 0
    assert "Shorten the arm by" in found.text
    assert not missing_words(found.aside, "small first cut", "always cut more")
    estimate = expected(recipe.find("arm"), 1).shift
    fastest = abs(estimate.mean) + 1.96 * estimate.sd
    assert found.target_hz is not None
    assert 0.74e9 * np.exp(fastest * abs(found.delta_mm)) <= found.target_hz * 1.002


def test_what_was_cut_too_short_is_not_lengthened_by_cutting(recipe: Recipe) -> None:
    found = advise(curve(resonance(0.90e9), plan()), DimensionEffects(recipe))
    assert found.delta_mm is not None
    assert found.delta_mm > 0
    assert "solder a piece on, or cut the next one longer" in found.aside


def test_good_stops_and_says_what_is_left_to_gain(recipe: Recipe) -> None:
    found = advise(curve(resonance(0.825e9, ohm=50), plan()), DimensionEffects(recipe))
    assert found.kind == "good"
    assert found.action == "Done. Every band passes."
    assert not missing_words(found.reason, "tightest, band 20", "measurement error")
    assert not missing_words(found.aside, "gain less than 0.05 dB")


def test_a_dip_too_narrow_for_both_links_says_that_it_cannot_reach_them(recipe: Recipe) -> None:
    found = advise(
        curve(resonance(0.825e9, q=30), plan("return_loss_db = 12")), DimensionEffects(recipe)
    )
    assert found.kind == "cannot"
    assert "cannot reach band 20" in found.text
    assert "dB would be missing at best" in found.aside
    assert found.delta_mm is None


def test_the_right_frequency_but_too_shallow_tries_what_may_deepen_it(recipe: Recipe) -> None:
    effects = DimensionEffects(recipe)
    shallow = curve(resonance(0.826e9, q=4, ohm=130), plan("return_loss_db = 9"))
    found = advise(shallow, effects)
    assert found.kind == "try"
    assert "too shallow for band 20" in found.text
    assert found.dimension == "gap"
    # widening by 0.4 mm made it worse: now the other way is known to help
    before = shallow.dips[0].dip
    worse = find_dips(F, resonance(0.826e9, q=4, ohm=150), 1e-3)[0]
    effects.learn("gap", 0.4, [(1, before, worse)])
    learned = advise(shallow, effects)
    assert learned.dimension == "gap"
    assert learned.delta_mm is not None
    assert learned.delta_mm < 0
    assert "Narrow the feed gap" in learned.text


def test_where_the_plane_is_the_feed_s_the_resistance_is_called_high_or_low(
    recipe: Recipe,
) -> None:
    """A series circuit shows its resistance at resonance; elsewhere nothing is said of it."""
    for ohm, words in ((130, "130 ohm, is too high"), (20, "20 ohm, is too low")):
        g = resonance(0.826e9, q=4, ohm=ohm)
        wanted = plan("return_loss_db = 9")
        dips = DipTracker().add(find_dips(F, g, 1e-3))
        none = np.full(F.size, 0.01)
        declared = Curve.of(F, g, none, wanted.targets, dips, at_feed=True)
        assert words in advise(declared, DimensionEffects(recipe)).text
        unknown = Curve.of(F, g, none, wanted.targets, dips)
        assert "ohm" not in advise(unknown, DimensionEffects(recipe)).text


def test_a_first_cut_is_at_most_two_of_the_hand_s_steps(recipe: Recipe) -> None:
    """Nobody knows yet which way it works, and cut metal does not come back."""
    found = advise(curve(resonance(0.74e9), plan()), DimensionEffects(recipe))
    assert found.kind == "try"
    assert found.delta_mm is not None
    assert -2 * recipe.find("arm").step_mm <= found.delta_mm < 0


def test_a_dimension_without_a_length_is_not_bent_by_half_a_metre(recipe: Recipe) -> None:
    """Learned: a millimetre of gap moves the dip by 1e-4. 8 % would take 800 mm."""
    effects, wanted = DimensionEffects(recipe), plan()
    now = curve(resonance(0.896e9), wanted)
    before = now.dips[0].dip
    after = Dip(before.frequency_hz * (1 - 4e-5), 1.0, before.reflection, 0.88e9, 0.91e9)
    effects.learn("gap", 0.4, [(1, before, after)])
    for reflection in (resonance(0.896e9), resonance(0.76e9), resonance(0.826e9, ohm=130)):
        found = advise(curve(reflection, wanted), effects)
        if found.dimension == "gap":
            assert abs(found.delta_mm or 0) <= 20 * recipe.find("gap").step_mm


def test_where_the_doubt_is_the_reading_s_bending_is_not_blamed(recipe: Recipe) -> None:
    """|G| .40 is allowed by 8 dB; a doubt of .25 takes 63 % of it [derived]."""
    g, wanted = resonance(0.826e9, ohm=50), plan()
    dips = DipTracker().add(find_dips(F, g, 1e-3))
    found = advise(
        Curve.of(F, g, np.full(F.size, 0.25), wanted.targets, dips), DimensionEffects(recipe)
    )
    assert not missing_words(found.text, "Stop bending", "Band 20", "reads within its limit")
    assert "takes 63 % of what the limit allows" in found.aside
    assert found.delta_mm is None


def test_no_dip_and_a_dip_out_of_sight_are_told_apart(recipe: Recipe) -> None:
    flat = np.full(F.size, 0.9 + 0j)
    nothing = advise(curve(flat, plan()), DimensionEffects(recipe))
    assert not missing_words(nothing.text, "antenna is connected", "No dip is in sight")
    beyond = advise(curve(resonance(1.12e9, q=5), plan()), DimensionEffects(recipe))
    assert "lies above 1050 MHz, outside what is swept" in beyond.reason
    assert beyond.action.startswith("Lengthen the arm")


def test_two_bands_of_which_one_has_no_dip(recipe: Recipe) -> None:
    both = parse_plan(
        'name = "x"\n[[band]]\nlte = 20\nvswr = 3\n[[band]]\nnr = 3\nvswr = 2\n',
        "plan.toml",
        load_bands(),
    )
    f = np.r_[F, np.linspace(1.5e9, 2e9, 80)]
    g = np.r_[resonance(0.825e9, ohm=50), np.full(80, 0.9 + 0j)]
    dips = DipTracker().add(find_dips(f, g, 1e-3))
    found = advise(Curve.of(f, g, np.zeros(f.size), both.targets, dips), DimensionEffects(recipe))
    assert "No dip is in sight for band n3" in found.text


TEN_BANDS = "".join(
    f"[[band]]\nlte = {number}\nvswr = 2\n" for number in (1, 3, 5, 7, 8, 20, 28, 38, 40, 41)
)


@pytest.mark.parametrize("dip_hz", [0.79e9, 0.86e9, 0.93e9])
@pytest.mark.parametrize("high_hz", [1.69e9, 1.98e9, 2.3e9, 2.563e9])
def test_of_ten_bands_the_one_is_named_that_the_move_helps(dip_hz: float, high_hz: float) -> None:
    """A dip at 2563 MHz is not too low for band 1, 2110 to 2170 MHz: it is above it."""
    wanted = parse_plan(f'name = "x"\n{TEN_BANDS}', "plan.toml", load_bands())
    f = np.linspace(0.65e9, 2.8e9, 861)
    z = np.ones(f.size, dtype=complex)
    for f0, q in ((dip_hz, 8.0), (high_hz, 9.0)):
        one = 45.0 * (1 + 1j * q * (f / f0 - f0 / f))
        z = z * (one - 50) / (one + 50)
    dips = DipTracker().add(find_dips(f, z, 1e-3))
    seen = Curve.of(f, z, np.full(f.size, 0.01), wanted.targets, dips)
    found = advise(seen, DimensionEffects(parse_recipe(ONE_ARM, "x")))
    scaled = by_scaling(seen)
    assert scaled is not None or dip_hz == 0.86e9, "one dip may be where it should be, not both"
    for each in (scaled, found):
        if each is None or each.target_hz is None:
            continue
        dip = next(one.dip for one in dips if one.number == each.target_dip)
        named = [one for one in wanted.targets if band_name(one) in each.reason]
        assert named, each.reason
        middle = np.sqrt(named[-1].low_hz * named[-1].high_hz)
        assert abs(each.target_hz - middle) < abs(dip.frequency_hz - middle), each.reason


def test_the_curve_expected_after_a_step_is_the_curve_slid(recipe: Recipe) -> None:
    """One dip: |G| after is |G| before at f exp(-shift) [derived]."""
    now = curve(resonance(0.896e9), plan())
    found = advise(now, DimensionEffects(recipe))
    assert found.after is not None
    (dip,) = now.dips
    lowest = found.after[np.nanargmin(found.after[:, 1]), 0]
    assert lowest == pytest.approx(found.expected[0].frequency_hz, rel=0.005)
    assert np.nanmin(found.after[:, 1]) == pytest.approx(dip.dip.reflection, abs=0.02)
    still = now.moved({})
    assert np.allclose(still[:, 1], now.size)
    assert np.isnan(now.moved({dip.number: (0.05, 0.0)})[0, 1]), "nothing was swept below"


def test_a_dry_joint_is_named_where_its_ripple_hides_the_dips(recipe: Recipe) -> None:
    """1.5 m of a velocity factor of 0.695 turn once every 69 MHz [derived]."""
    f = np.linspace(690e6, 2200e6, 400)
    reflection = PIGTAILS["bad-joint"].seen(GOOD_SETTING.reflection(f), f)
    assert find_dips(f, reflection, 1e-3) == []
    ripple = ripple_seen(f, reflection, 1e-3)
    assert ripple is not None
    assert ripple.spacing_hz == pytest.approx(69e6, rel=0.15)
    wanted = plan()
    seen = Curve.of(f, reflection, np.full(f.size, 0.01), wanted.targets, (), ripple=ripple)
    found = advise(seen, DimensionEffects(recipe))
    assert found.kind == "cable"
    assert not missing_words(found.text, "cable", "joint", "ripples", f"{ripple.count} times")
    assert ripple_seen(f, GOOD_SETTING.reflection(f), 1e-3) is None


@given(mean=st.floats(-0.03, 0.03), sd=st.floats(1e-4, 0.02), cause=st.floats(0.1, 10))
def test_an_observation_never_makes_a_belief_less_sure(
    mean: float, sd: float, cause: float
) -> None:
    before = Estimate(mean, sd)
    after = before.updated(cause, 0.01 * cause, 1e-4)
    assert after.sd <= before.sd
    assert abs(after.mean - 0.01) <= abs(before.mean - 0.01) + 1e-12


def test_a_very_sure_observation_is_believed() -> None:
    """Kalman's gain tends to 1 / cause [derived]."""
    assert Estimate(0.0, 1.0).updated(2.0, 0.5, 1e-9).mean == pytest.approx(0.25)
    assert Estimate(0.1, 1.0).updated(0.0, 0.5, 1e-9) == Estimate(0.1, 1.0)


def test_what_one_antenna_taught_is_expected_of_the_next_less_surely(recipe: Recipe) -> None:
    first = DimensionEffects(recipe)
    dips = [Dip(hz, 1e4, 0.2, hz, hz) for hz in (0.90e9, 0.88e9)]
    first.learn("arm", 4.0, [(1, dips[0], dips[1])])
    taught = first.effect("arm", 1).shift
    following = DimensionEffects(recipe, first.learned).effect("arm", 1).shift
    assert following.mean == taught.mean
    assert following.sd == pytest.approx(2 * taught.sd)
    assert following.sd < expected(recipe.find("arm"), 1).shift.sd


def test_it_says_afterwards_how_right_it_was(recipe: Recipe) -> None:
    now = curve(resonance(0.896e9), plan())
    told = expected_after(now, DimensionEffects(recipe), "arm", 4.0)
    (one,) = told
    assert one.low_hz < one.frequency_hz < one.high_hz < 0.95e9
    hit = [Tracked(1, Dip(one.frequency_hz + 1e6, 1e4, 0.1, 8e8, 9e8))]
    assert not missing_words(how_right(told, hit), "predicted", "got")
    assert " to " not in how_right(told, hit)
    missed = [Tracked(1, Dip(one.high_hz + 20e6, 1e4, 0.1, 8e8, 9e8))]
    low, high = f"{one.low_hz / 1e6:.0f}", f"{one.high_hz / 1e6:.0f}"
    assert f"({low} to {high})" in how_right(told, missed), "a surprise says what was predicted"
    assert how_right(told, [Tracked(7, hit[0].dip)]) == ""


def test_resistance_is_called_high_or_low() -> None:
    """A quarter wave over ground is near 36 ohm at resonance [practice]."""
    assert not missing_words(resistance_words(36), "resistance", "36 ohm", "too low")
    assert resistance_words(120).endswith("is too high.")
    assert resistance_words(50).endswith("is right.")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name = 3", "name is 3. Write what this kind of antenna is called"),
        ('name = "x"', "dimension is missing"),
        ('name = "x"\n[[dimension]]\nname = "Arm A"', "small letters"),
        ('name = "x"\n[[dimension]]\nname = "a"\nlenght_mm = 3', "Did you mean length_mm"),
        ('name = "x"\n[[dimension]]\nname = "a"\nlength_mm = -3', "length_mm is -3"),
        ('name = "x"\n[[dimension]]\nname = "a_mm"', "a_mm is the size a, in mm as all sizes are"),
        ('name = "x"\n[[dimension]]\nname = "a"\n[[dimension]]\nname = "a"', "stands twice"),
        ("name = ", "line 1: name has no value"),
    ],
)
def test_a_bad_recipe_is_one_sentence(text: str, words: str) -> None:
    with pytest.raises(RecipeError) as caught:
        parse_recipe(text, "r.toml")
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_dimension_that_is_none_is_refused(recipe: Recipe) -> None:
    with pytest.raises(RecipeError, match=r"has no tail\. It has: arm, gap"):
        DimensionEffects(recipe).learn("tail", 1.0, [])


@pytest.mark.slow
def test_following_the_advice_tunes_random_antennas() -> None:
    """The tuning study's claims, on 25 antennas here and on 200 in the long run."""
    outcomes = study(200 if LONG else 25)
    can = [each for each in outcomes if each.reachable]
    assert len(can) > 0.6 * len(outcomes)
    reached = [each for each in can if each.passed]
    assert len(reached) >= 0.9 * len(can)
    assert np.median([each.steps if each.passed else 99 for each in can]) <= 4
    cuts = sum(each.cuts for each in outcomes)
    assert cuts > 0
    assert sum(each.overshot for each in outcomes) <= 0.05 * cuts
    predicted = sum(each.predicted for each in outcomes)
    # 95 % on 200; of some 80 in the short run, two standard deviations fewer
    assert sum(each.held for each in outcomes) >= (0.93 if LONG else 0.88) * predicted > 0
    for each in outcomes:
        if not each.reachable:
            assert not each.passed
            assert isinstance(each.last, Advice)


def test_the_study_s_recipe_is_the_bent_strip_s() -> None:
    recipe = parse_recipe(RECIPE, "study")
    assert [each.name for each in recipe.dimensions] == list(GOOD_SETTING.dimensions_mm)
    assert isinstance(GOOD_SETTING, BentStrip)
