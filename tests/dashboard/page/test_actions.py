"""One table says what a person may do; page, keys, forms and list of keys say nothing else."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import dashboard
from dashboard.access.sharing import Sharing
from dashboard.bench.composed_bench import Bench
from dashboard.page.actions.action import MAYBE_NUMBER, NUMBER, YES, Action
from dashboard.page.actions.action import perform as perform_of
from dashboard.page.actions.station_actions import STATION_TABLE
from dashboard.page.actions.table import ACTIONS, TABLE, key_rows, perform
from dashboard.page.layout import layout
from dashboard.page.station_page import station_layout
from tests.dashboard.conftest import until
from tests.wording import missing_words

HERE = Path(dashboard.__file__).parent
DOC = HERE.parent / "docs" / "first-hour.md"
SCRIPTS = {path.name: path.read_text("utf-8") for path in (HERE / "page" / "assets").glob("*.js")}


def properties(component: Any) -> Iterator[dict[str, Any]]:
    """Of a part of the page and of all in it."""
    if hasattr(component, "to_plotly_json"):
        found = component.to_plotly_json()["props"]
        yield found
        yield from properties(found.get("children"))
    elif isinstance(component, list | tuple):
        for each in component:
            yield from properties(each)


def test_every_action_is_asked_for_by_a_button_or_a_form_and_nothing_else_is(bench: Bench) -> None:
    page = [*properties(layout(bench)), *properties(station_layout(bench))]
    asked = {json.loads(each["data-action"])["do"] for each in page if "data-action" in each}
    for script in SCRIPTS.values():
        asked |= set(re.findall(r'\bdo: "([^"]+)"', script))
        either = re.findall(r'\bdo: \w+ \? "(.+?)" : "(.+?)"', script)
        asked |= {name for pair in either for name in pair}
    asked |= set(re.findall(r'\["[\w-]+", "([a-z ]+)"\]', SCRIPTS["calibrate.js"]))
    forms = (HERE / "page" / "callbacks.py").read_text("utf-8")
    asked |= set(re.findall(r'performer\.do\(\s*"([^"]+)"', forms))
    assert asked == {each.name for each in (*TABLE, *STATION_TABLE) if each.does is not None}


def test_every_key_presses_one_button_and_the_script_has_no_table_of_its_own(bench: Bench) -> None:
    keys = Counter(key for each in TABLE for key in each.keys)
    assert set(keys.values()) == {1}
    page = list(properties(layout(bench)))
    on_page = Counter(
        key
        for each in page
        for name in ("data-keys", "data-taps")
        for key in each.get(name, "").split()
    )
    assert on_page == keys
    ids = {str(each["id"]) for each in page if "id" in each}
    assert {name for each in TABLE for name in (each.while_shown, each.rather)} <= ids | {""}
    for key in keys:
        assert f'"{key}"' not in SCRIPTS["keys.js"]
        assert not re.search(rf"\b{re.escape(key)}:", SCRIPTS["keys.js"])


def test_every_action_that_has_a_key_stands_in_the_list_of_keys_and_in_the_documentation() -> None:
    assert len(ACTIONS) == len(TABLE)
    assert {bool(each.keys) for each in TABLE if each.help} == {True}
    assert {bool(each.help) for each in TABLE if each.keys} == {True}
    listed = re.findall(r"^\| (`.+`) \| (.+) \|$", DOC.read_text("utf-8"), re.MULTILINE)
    assert [(keys.replace("`", ""), words) for keys, words in listed] == key_rows()


def test_a_size_named_with_its_unit_is_refused_with_the_right_name(bench: Bench) -> None:
    refused = perform(bench, {"do": "sign off", "sizes": {"arm_a_mm": 84.5}})
    assert refused.kind == "refused"
    assert "write arm_a" in refused.words


def test_what_only_the_page_does_is_done_by_no_request(bench: Bench) -> None:
    for name in ("theme", "no such thing", ""):
        refused = perform(bench, {"do": name})
        assert refused.kind == "refused"
        assert "something unknown" in refused.words


def test_a_load_is_stated_from_14_db_and_above_46_db_with_where_that_is_from(
    bench: Bench,
) -> None:
    for asked, words in (
        ({"decibels": 10}, "14 dB"),
        ({"decibels": 50}, "where is the figure from?"),
        ({"decibels": 50, "source": " "}, "where is the figure from?"),
    ):
        refused = perform(bench, {"do": "state load", **asked})
        assert refused.kind == "refused"
        assert words in refused.words
    done = perform(bench, {"do": "state load", "decibels": 50, "source": "certificate 123"})
    assert not missing_words(done.words, "50 dB", "certificate 123")
    now = bench.snapshot().assumptions
    assert (now.load_db, now.load_source) == (50, "certificate 123")
    perform(bench, {"do": "state load", "decibels": None, "source": "certificate 123"})
    assert bench.snapshot().assumptions.load_source == ""


@pytest.mark.parametrize(
    "asked",
    [
        {"do": "bend"},
        {"do": "bend", "dimension": "arm_a", "mm": "far"},
        {"do": "bend", "dimension": "arm_a", "mm": None},
        {"do": "show hold", "hold": float("inf")},
        {"do": "state load", "decibels": [26]},
        {"do": "sign off", "sizes": 3},
        {"do": "sign off", "sizes": {"arm": "long"}},
    ],
)
def test_what_is_missing_or_is_no_figure_is_refused_in_one_sentence(
    bench: Bench, asked: dict[str, Any]
) -> None:
    outcome = perform(bench, asked)
    assert outcome.kind == "refused"
    assert not missing_words(outcome.words, "incomplete", "load it again")


def test_what_may_be_left_out_is_none_and_all_else_is_what_it_is_said_to_be() -> None:
    assert MAYBE_NUMBER.of({}, "mm") is None
    assert MAYBE_NUMBER.of({"mm": 3}, "mm") == 3.0
    assert NUMBER.of({"mm": "0.5"}, "mm") == 0.5
    assert YES.of({"gripped": 0}, "gripped") is False


def test_a_full_disk_is_refused_as_any_refusal_and_a_fault_of_the_program_is_none(
    bench: Bench,
) -> None:
    def full(_: Bench) -> None:
        raise OSError(28, "No space left on device")

    def broken(_: Bench) -> None:
        raise ZeroDivisionError

    table = {"a": Action(name="a", does=full), "b": Action(name="b", does=broken)}
    refused = perform_of(table, bench, {"do": "a"})
    assert (refused.kind, refused.words) == ("refused", "[Errno 28] No space left on device")
    with pytest.raises(ZeroDivisionError):
        perform_of(table, bench, {"do": "b"})


def test_who_looks_is_said_at_the_bench_alone(bench: Bench) -> None:
    sharing = Sharing("192.0.2.7", 8000)
    nothing = perform(bench, {"do": "stop sharing"})
    assert not missing_words(nothing.words, "nothing is shared", "--share")
    refused = perform(bench, {"do": "stop sharing"}, sharing, role=lambda: "lent")
    assert not missing_words(refused.words, "at the bench alone")
    assert sharing.state.address
    assert perform(bench, {"do": "stop sharing"}, sharing).kind == "done"
    assert not sharing.state.address


@pytest.mark.parametrize("role", ["viewer", "out"])
def test_the_role_is_asked_as_the_deed_is_done(bench: Bench, role: str) -> None:
    until(bench, lambda now: now.sequence > 0)
    refused = perform(bench, {"do": "hold"}, Sharing("192.0.2.7", 8000), role=lambda: role)
    assert refused.kind == "refused"
    assert not missing_words(refused.words, "Control", "not done")
    assert bench.snapshot().holds == ()
