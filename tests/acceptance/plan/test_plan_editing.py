"""A plan's text edited by a form: one thing changes, all else stays."""

from __future__ import annotations

import contextlib
import tomllib
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.bands.load import load_bands
from acceptance.errors import PlanError
from acceptance.limits.limit import Limit
from acceptance.plan import plan_editing as edit
from acceptance.plan.load import load_presets
from acceptance.plan.plan_file import parse_plan
from tests.counts import examples

GAUGE = """# for the weir
name = "gauge modem"  # of the river watch
guard = "full"
check_piece_within_hours = 24

[[band]] # the one that matters
lte = 20
return_loss_db = 10   # the maker's

# the second modem
[[band]]
nr = 3
vswr = 2.0
uplink = { vswr = 1.8 } # it sends far

[[band]]
name = "backhaul"
low_mhz = 868.0
high_mhz = 870.0
limit = "strict"
# the end
"""
BANDS = [(band.system, band.number) for band in load_bands()]
LIMITS = st.one_of(
    st.floats(0.5, 60).map(lambda value: Limit("return_loss_db", round(value, 2))),
    st.floats(1.01, 100).map(lambda value: Limit("vswr", round(value, 2))),
)
NAMES = st.text(min_size=1, max_size=20).filter(str.isprintable)


def comments(text: str) -> list[str]:
    return [line[line.index("#") :] for line in text.splitlines() if "#" in line]


TIGHTER, FINER = Limit("return_loss_db", 12), Limit("vswr", 1.5)


@pytest.mark.parametrize(
    ("change", "lines"),
    [
        (lambda text: edit.use_name(text, "weir"), {2: 'name = "weir"  # of the river watch'}),
        (
            lambda text: edit.use_limit_of(text, 0, TIGHTER),
            {8: "return_loss_db = 12   # the maker's"},
        ),
        (
            lambda text: edit.use_limit_of(text, 1, FINER, "uplink"),
            {14: "uplink = { vswr = 1.5 } # it sends far"},
        ),
        (lambda text: edit.use_limit_of(text, 0, Limit("return_loss_db", 10)), {}),
    ],
)
def test_one_line_changes_and_no_other(change: Callable[[str], str], lines: dict[int, str]) -> None:
    before, after = GAUGE.splitlines(), change(GAUGE).splitlines()
    assert {n: b for n, (a, b) in enumerate(zip(before, after, strict=True), 1) if a != b} == lines


def test_a_limit_of_another_metric_takes_the_place_of_the_former() -> None:
    bands = tomllib.loads(edit.use_limit_of(GAUGE, 2, Limit("vswr", 3)))["band"]
    assert bands[2] == {"name": "backhaul", "low_mhz": 868, "high_mhz": 870, "vswr": 3}
    made = edit.use_limit(GAUGE, Limit("return_loss_db", 9.5))
    assert [
        {key: value for key, value in band.items() if key in (*edit.LIMIT_KEYS, *edit.LINKS)}
        for band in tomllib.loads(made)["band"]
    ] == 3 * [{"return_loss_db": 9.5}]


def test_a_link_gets_a_limit_of_its_own_and_loses_it_again() -> None:
    made = edit.use_limit_of(GAUGE, 1, Limit("return_loss_db", 8), "downlink")
    assert "downlink = {return_loss_db = 8}" in made.replace("{ ", "{").replace(" }", "}")
    joined = tomllib.loads(edit.join_links(made, 1))["band"][1]
    assert joined == {"nr": 3, "vswr": 2.0}
    alone = 'name = "x"\n[[band]]\nlte = 3\nuplink.vswr = 1.7\ndownlink.vswr = 2\n'
    assert tomllib.loads(edit.join_links(alone, 0))["band"] == [{"lte": 3, "vswr": 1.7}]


@pytest.mark.parametrize("at", [0, 1, 2])
def test_a_removed_band_takes_its_own_comments_and_no_others(at: int) -> None:
    made = edit.remove_band(GAUGE, at)
    before = tomllib.loads(GAUGE)
    del before["band"][at]
    assert tomllib.loads(made) == before
    own = [["# the one that matters", "# the maker's"], ["# it sends far"], []][at]
    assert comments(made) == [each for each in comments(GAUGE) if each not in own]
    assert "# the second modem\n[[band]]\nnr = 3" in made or at == 1


def test_the_last_band_can_be_removed_and_another_put_in_its_place() -> None:
    bare = edit.remove_band('name = "x"\n[[band]]\nlte = 3\nvswr = 2\n', 0)
    assert tomllib.loads(bare) == {"name": "x"}
    made = edit.add_band(bare, "nr", 78, Limit("vswr", 2))
    assert made == 'name = "x"\n\n[[band]]\nnr = 78\nvswr = 2\n'
    assert tomllib.loads(edit.add_band("", "lte", 3, Limit("vswr", 2)))["band"][0]["lte"] == 3


def test_bands_are_replaced_and_all_else_stays() -> None:
    made = edit.use_bands(GAUGE, [("lte", 8), ("nr", 78)], Limit("vswr", 2.5))
    kept = {key: value for key, value in tomllib.loads(GAUGE).items() if key != "band"}
    assert tomllib.loads(made) == {
        **kept,
        "band": [{"lte": 8, "vswr": 2.5}, {"nr": 78, "vswr": 2.5}],
    }
    assert made.startswith(GAUGE[: GAUGE.index("[[band]]")].rstrip())


def test_conditions_are_put_in_order_and_left_out_where_none_are_named() -> None:
    made = edit.use_conditions(GAUGE, ["bare", "boxed"], ["boxed"])
    parsed = parse_plan(made, "plan", load_bands(), load_presets())
    assert (parsed.conditions, parsed.judged) == (("bare", "boxed"), ("boxed",))
    assert tomllib.loads(edit.use_conditions(made, [], [])) == tomllib.loads(GAUGE)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name = ", "line 1: name has no value"),
        ('name = "x"\nband = 3\n', "Change it in the plan file"),
        ('name = "x"\n', "not in the plan any more"),
        ('name = "x"\n[sweeps]\nmany = 3\n[[band]]\nlte = 3\n', ""),
    ],
)
def test_what_the_form_cannot_change_is_said(text: str, words: str) -> None:
    if words:
        with pytest.raises(PlanError, match=words):
            edit.remove_band(text, 0)
    else:  # odd, and changed all the same
        assert tomllib.loads(edit.remove_band(text, 0)) == {"name": "x", "sweeps": {"many": 3}}


@pytest.mark.parametrize(
    "text", ['name = "x"\nband = [{ lte = 3, vswr = 2 }]\n', 'name = "x"\nband = [{lte=3,vswr=2},]']
)
def test_bands_that_stand_on_one_line_are_changed_there(text: str) -> None:
    made = edit.use_limit_of(text, 0, Limit("return_loss_db", 9), "uplink")
    made = edit.add_range(made, "own", 868, 870.5, Limit("vswr", 2))
    assert tomllib.loads(made)["band"] == [
        {"lte": 3, "vswr": 2, "uplink": {"return_loss_db": 9}},
        {"name": "own", "low_mhz": 868, "high_mhz": 870.5, "vswr": 2},
    ]


@st.composite
def edits(draw: st.DrawFn) -> list[Callable[[str], str]]:
    """What a person may do with the form, in any order."""
    at, limit = st.integers(0, 4), LIMITS
    kinds = {
        "add": st.tuples(st.sampled_from(BANDS), limit),
        "own": st.tuples(NAMES, st.floats(100, 5000), st.floats(1, 300), limit),
        "remove": at,
        "all": limit,
        "one": st.tuples(at, limit, st.sampled_from(["", "uplink", "downlink"])),
        "join": at,
        "name": NAMES,
        "conditions": st.lists(st.sampled_from(["bare", "boxed", "own-one"]), unique=True),
    }

    def one(kind: str, given: Any) -> Callable[[str], str]:
        return {
            "add": lambda text: edit.add_band(text, given[0][0], given[0][1], given[1]),
            "own": lambda text: edit.add_range(
                text, given[0], given[1], given[1] + given[2], given[3]
            ),
            "remove": lambda text: edit.remove_band(text, given),
            "all": lambda text: edit.use_limit(text, given),
            "one": lambda text: edit.use_limit_of(text, given[0], given[1], given[2]),
            "join": lambda text: edit.join_links(text, given),
            "name": lambda text: edit.use_name(text, given),
            "conditions": lambda text: edit.use_conditions(text, given, given[-1:]),
        }[kind]  # fmt: skip

    chosen = draw(st.lists(st.sampled_from(sorted(kinds)), min_size=1, max_size=8))
    return [one(kind, draw(kinds[kind])) for kind in chosen]


@examples(60)
@given(st.sampled_from([GAUGE, "", 'name = "x"\n']), edits())
def test_whatever_is_done_with_the_form_stays_toml_and_keeps_the_comments(
    text: str, done: list[Callable[[str], str]]
) -> None:
    removed = text != GAUGE
    for change in done:
        before = text
        with contextlib.suppress(PlanError):  # a band that is not there
            text = change(text)
        after = tomllib.loads(text)
        for key in ("guard", "check_piece_within_hours"):
            assert after.get(key) == tomllib.loads(before).get(key)
        removed |= len(after.get("band", [])) < len(tomllib.loads(before).get("band", []))
    if not removed:
        kept = [line for line in GAUGE.splitlines() if line.startswith("#")]
        assert [line for line in text.splitlines() if line in kept] == kept
    assert set(tomllib.loads(text)) <= {
        "name", "guard", "check_piece_within_hours", "band", "conditions", "judged"
    }  # fmt: skip


@examples(60)
@given(st.lists(st.sampled_from(BANDS), min_size=1, max_size=12, unique=True), LIMITS, NAMES)
def test_any_plan_that_the_form_writes_is_a_plan(
    bands: list[tuple[Any, int]], limit: Limit, name: str
) -> None:
    text = edit.use_name("", name)
    for system, number in bands:
        text = edit.add_band(text, system, number, limit)
    made = parse_plan(text, "plan", load_bands(), load_presets())
    assert made.name == name
    assert {target.limit for target in made.targets} == {limit}
    assert (
        parse_plan(edit.use_bands(text, bands, limit), "plan", load_bands()).targets == made.targets
    )
