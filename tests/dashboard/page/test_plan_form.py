"""The plan form: what the page shows of a text, and the text after what a person did."""

from __future__ import annotations

import json
import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.bands.load import load_bands, load_services
from acceptance.bands.search import find_bands
from acceptance.errors import BandError, PlanError
from dashboard.demo.scenario import PLAN
from dashboard.page.plan_form import (
    EDITS,
    NEW_PLAN,
    NO_BANDS,
    edited,
    form_of,
    read_plan,
    regions,
    search,
)
from dashboard.server.plan_requests import INCOMPLETE, _edited
from tests.counts import examples


def do(text: str, name: str, **more: Any) -> str:
    return edited(text, {"edit": name, **more})


def bands(text: str) -> list[dict[str, Any]]:
    form = form_of(text)["form"]
    assert form is not None
    shown: list[dict[str, Any]] = form["bands"]
    return shown


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("20", "LTE 20"),
        ("n78", "NR n78"),
        ("LTE 3", "LTE 3"),
        ("band 8", "LTE 8"),
        ("nr n1", "NR n1"),
        ("850", "LTE 5"),
        ("1800 MHz", "LTE 3"),
        ("1.8 ghz", "LTE 3"),
        ("digital dividend", "LTE 20"),
        ("wifi", "Wi-Fi 2.4 GHz"),
        ("wi-fi", "Wi-Fi 2.4 GHz"),
        ("868-870", "868 to 870 MHz"),
        ("2.4 to 2.5 GHz", "2400 to 2500 MHz"),
        ("gps", "GNSS L5 E5 RNSS"),
    ],
)
def test_a_band_is_found_by_number_name_or_frequency(typed: str, first: str) -> None:
    found = search(typed)
    assert found[0]["title"] == first
    assert found[0]["ranges"]
    assert all(each["key"] for each in found)


def test_a_frequency_finds_every_band_that_holds_it() -> None:
    found = {each.key for each in find_bands("838.5 MHz", load_bands(), load_services())}
    held = {
        f"{band.system} {band.number}"
        for system in ("lte", "nr")
        for band, _ in load_bands().containing(838.5e6, system)
    }
    assert held <= found
    assert search("") == search("zz") == search("9999") == search("0") == []


@examples(100)
@given(st.text(max_size=30))
def test_any_search_is_answered(typed: str) -> None:
    json.dumps(search(typed), allow_nan=False)


@pytest.mark.parametrize("typed", ["20", "n78", "wifi", "868-870", "gnss"])
def test_what_is_found_can_be_put_into_a_plan_and_is_ticked_then(typed: str) -> None:
    for each in search(typed):
        text = do(NEW_PLAN, "add", key=each["key"])
        answer = form_of(text)
        assert answer["usable"], each
        assert [band["key"] for band in bands(text)] == [each["key"]]
        assert do(text, "remove", at=0) == NEW_PLAN


def test_another_band_gets_the_limit_that_the_others_have() -> None:
    text = do(do(NEW_PLAN, "add", key="lte 20"), "limit", metric="vswr", value="2.2")
    text = do(text, "add", key="nr 78")
    assert [band["limits"] for band in bands(text)] == 2 * [
        [{"link": "", "metric": "vswr", "value": 2.2, "preset": ""}]
    ]
    assert form_of(text)["form"]["limit"] == {"metric": "vswr", "value": 2.2}
    text = do(text, "limit of", at=0, link="", metric="return_loss_db", value=-8)
    assert form_of(text)["form"]["limit"] is None
    assert bands(text)[0]["limits"][0]["value"] == 8
    assert bands(do(text, "add", key="lte 3"))[2]["limits"][0]["value"] == 2.2


def test_each_link_gets_a_limit_of_its_own() -> None:
    text = do(do(NEW_PLAN, "add", key="lte 20"), "split", at=0)
    text = do(text, "limit of", at=0, link="downlink", metric="vswr", value=3)
    limits = {target.link: target.limit.words for target in read_plan(text).targets}
    assert limits == {"uplink": "return loss at least 10 dB", "downlink": "VSWR at most 3"}
    assert [each["link"] for each in bands(text)[0]["limits"]] == ["uplink", "downlink"]
    assert len(bands(do(text, "join", at=0))[0]["limits"]) == 1
    tdd = do(NEW_PLAN, "add", key="nr 78")
    assert not bands(tdd)[0]["splits"]


@pytest.mark.parametrize("region", [each["name"] for each in regions()])
def test_every_region_makes_a_plan_that_can_be_used(region: str) -> None:
    text = do(do(NEW_PLAN, "limit", metric="vswr", value=2), "region", region=region)
    plan = read_plan(text)
    assert "not a statement of what is licensed" in text
    assert plan.name == next(each["label"] for each in regions() if each["name"] == region)
    again = do(text, "region", region=region)
    assert read_plan(again).targets == plan.targets
    assert again.count("licensed") == 1


def test_a_region_leaves_name_and_limit_of_one_s_own() -> None:
    text = do(PLAN, "limit", metric="vswr", value=2.5)
    plan = read_plan(do(text, "region", region="japan"))
    assert plan.name == read_plan(PLAN).name
    assert {target.limit.value for target in plan.targets} == {2.5}
    with pytest.raises(BandError, match="atlantis"):
        do(PLAN, "region", region="atlantis")


def test_conditions_are_ordered_and_the_last_decides_without_a_line() -> None:
    text = do(PLAN, "conditions", conditions=["bare", "boxed"], judged=[])
    assert [each["judged"] for each in form_of(text)["form"]["conditions"]] == [False, True]
    assert "judged" not in text
    text = do(text, "conditions", conditions=["bare", "boxed"], judged=["bare", "boxed"])
    assert read_plan(text).judged == ("bare", "boxed")
    assert do(text, "conditions", conditions=["finished"], judged=["finished"]) == PLAN


def test_what_is_wrong_stands_beside_its_band_and_the_others_can_be_changed() -> None:
    text = (
        'name = "x"\n[[band]]\nlte = 20\n\n[[band]]\nlte = 9999\nvswr = 2\n\n'
        '[[band]]\nnr = 78\nvswr = 2\nuplink = { vswr = 1.8 }\n[[band]]\nlte = "20"\nvswr = 2\n'
    )
    problems = [band["problem"] for band in bands(text)]
    assert "it has no limit" in problems[0]
    assert "no band LTE 9999" in problems[1]
    assert "one range for both links" in problems[2]
    assert "lte" in problems[3]
    assert not form_of(text)["usable"]
    for _ in range(3):
        text = do(text, "remove", at=1)
    assert form_of(do(text, "limit", metric="vswr", value=2))["usable"]


def test_a_text_that_cannot_be_read_says_where_and_why() -> None:
    answer = form_of('name = "x"\n\n[[band]]\nlte = 2O\nvswr = 2\n')
    assert answer["form"] is None
    assert answer["problem"] == "Line 4: 2O is not a number. Did you type the letter O?"
    assert form_of("band = 3")["form"] is None
    assert form_of(NEW_PLAN)["problem"] == NO_BANDS
    twice = do(do(NEW_PLAN, "add", key="lte 20"), "add", key="lte 20")
    assert "stands twice" in form_of(twice)["problem"]
    doubtful = do(do(NEW_PLAN, "add", key="lte 20"), "limit", metric="return_loss_db", value=2)
    assert form_of(doubtful)["usable"]
    assert "Did you mean vswr = 2?" in form_of(doubtful)["doubts"][0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"edit": "limit", "metric": "vswr", "value": 0.5}, "cannot be meant"),
        ({"edit": "limit", "metric": "vswr", "value": "nan"}, INCOMPLETE),
        ({"edit": "limit", "metric": "gain", "value": 3}, INCOMPLETE),
        (
            {"edit": "limit of", "at": 77, "link": "", "metric": "vswr", "value": 2},
            "not in the plan",
        ),
        ({"edit": "limit of", "at": 0, "link": "x", "metric": "vswr", "value": 2}, INCOMPLETE),
        ({"edit": "add", "key": "tv 5"}, "names no band"),
        ({"edit": "add", "key": "range x"}, INCOMPLETE),
        ({"edit": "fly"}, INCOMPLETE),
        ([], INCOMPLETE),
        (3, INCOMPLETE),
    ],
)
def test_what_cannot_be_done_is_said_and_the_text_stays(change: Any, words: str) -> None:
    answer = _edited(PLAN, change)
    assert words in answer["refused"]
    assert answer["text"] == PLAN


@examples(60)
@given(
    st.lists(
        st.sampled_from([f"{each.system} {each.number}" for each in load_bands()]), max_size=8
    ),
    st.sampled_from(sorted(EDITS)),
    st.integers(-1, 9),
    st.sampled_from(["", "uplink", "downlink"]),
    st.sampled_from(["return_loss_db", "vswr"]),
    st.floats(-70, 110),
)
def test_a_form_and_its_text_always_say_the_same(  # noqa: PLR0917 - drawn one by one
    keys: list[str], name: str, at: int, link: str, metric: str, value: float
) -> None:
    text = NEW_PLAN
    for key in dict.fromkeys(keys):
        text = do(text, "add", key=key)
    change = {
        "edit": name, "at": at, "link": link, "metric": metric, "value": value, "key": "nr 1",
        "region": "japan", "name": "another", "conditions": ["bare", "wet"], "judged": ["bare"],
    }  # fmt: skip
    answer = _edited(text, change)
    assert answer["text"] == text or not answer["refused"]
    written = tomllib.loads(answer["text"])
    shown = answer["form"]["bands"]
    assert len(shown) == len(written.get("band", []))
    if answer["usable"]:
        plan = read_plan(answer["text"])
        limits = [
            (each["metric"], each["value"])
            for band in shown
            for each in (band["limits"] * (len(band["ranges"]) // len(band["limits"])))
        ]
        assert limits == [(each.limit.metric, each.limit.value) for each in plan.targets]


def test_a_plan_that_the_form_wrote_is_refused_by_nobody() -> None:
    with pytest.raises(PlanError):
        do("name = ", "add", key="lte 20")
    assert read_plan(do("", "add", key="lte 20")).name == "my plan"
