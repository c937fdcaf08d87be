"""Plans: what a person may write, and what is refused with file, entry, field and cure."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.bands.load import load_bands, load_regions
from acceptance.errors import BandError, PlanError
from acceptance.limits.limit import Limit
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_plan, load_presets
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.region_plan import plan_for_region, region_plan_text
from tests.counts import examples

BANDS, PRESETS = load_bands(), load_presets()

WHOLE = """
name = "gauge modem, Europe"

[[band]]
lte = 20
return_loss_db = 10          # or: vswr = 2.0

[[band]]
nr = 3
vswr = 2.0
uplink = { vswr = 1.8 }      # tighter on one link

[[band]]
name = "gauge backhaul"
low_mhz = 868.0
high_mhz = 870.0
return_loss_db = 12
"""


def plan(text: str) -> Plan:
    return parse_plan(text, "plan.toml", BANDS, PRESETS)


def one(lines: str) -> Plan:
    return plan('name = "one"\n[[band]]\n' + lines)


def test_a_whole_plan_gives_its_targets_in_order():
    read = plan(WHOLE)
    assert read.name == "gauge modem, Europe"
    assert [(t.name, t.link, t.low_hz, t.high_hz, t.limit.words) for t in read.targets] == [
        ("LTE 20", "uplink", 832e6, 862e6, "return loss at least 10 dB"),
        ("LTE 20", "downlink", 791e6, 821e6, "return loss at least 10 dB"),
        ("NR n3", "uplink", 1710e6, 1785e6, "VSWR at most 1.8"),
        ("NR n3", "downlink", 1805e6, 1880e6, "VSWR at most 2"),
        ("gauge backhaul", "both", 868e6, 870e6, "return loss at least 12 dB"),
    ]
    assert read.spans[0] == (832e6, 862e6)
    assert read.margin == 0.05
    assert read.text == WHOLE


def test_a_limit_keeps_the_metric_it_was_written_in():
    # 10 dB is 1.925:1, while 2:1 is 9.542 dB [derived].
    ten, two = Limit.return_loss(10), Limit("vswr", 2.0)
    assert ten.as_json() == {"return_loss_db": 10}
    assert two.as_json() == {"vswr": 2.0}
    assert ten.reflection < two.reflection == pytest.approx(1 / 3)
    assert two.return_loss_db == pytest.approx(9.5424, abs=1e-4)


def test_minus_ten_and_ten_decibels_are_the_same_and_echoed_alike():
    minus, plus = (one(f"lte = 20\nreturn_loss_db = {level}") for level in ("-10", "10.0"))
    assert minus.targets == plus.targets
    assert minus.targets[0].limit.words == "return loss at least 10 dB"


@pytest.mark.parametrize(
    ("lines", "names"),
    [
        ("lte = 29\nvswr = 2", ["LTE 29 downlink"]),
        ("nr = 80\nvswr = 2", ["NR n80 uplink"]),
        ("nr = 78\nvswr = 2", ["NR n78 both"]),
        ("earfcn = 6300\nvswr = 2", ["LTE 20 uplink", "LTE 20 downlink"]),
        ("earfcn = 38000\nvswr = 2", ["LTE 38 both"]),
        ("nr_arfcn = 156490\nnr = 28\nvswr = 2", ["NR n28 uplink", "NR n28 downlink"]),
        ("nr_arfcn = 370000\nnr = 2\nvswr = 2", ["NR n2 uplink", "NR n2 downlink"]),
        ("nr_arfcn = 720000\nvswr = 2", ["NR n79 both"]),
        ("nr_arfcn = 368500\nvswr = 2", ["NR n3 uplink", "NR n3 downlink"]),
    ],
)
def test_a_band_or_a_modem_s_channel_number_gives_the_band_s_links(lines, names):
    assert [f"{target.name} {target.link}" for target in one(lines).targets] == names


def test_a_preset_gives_its_limit_and_differs_by_link_where_it_says_so():
    limits = [target.limit.words for target in one('lte = 20\nlimit = "split"').targets]
    assert limits == ["VSWR at most 2.5", "VSWR at most 3.5"]
    assert one('nr = 78\nlimit = "strict"').targets[0].limit == Limit("vswr", 2.0)


@pytest.mark.parametrize(
    ("written", "rule"),
    [("", "each"), ('"each"', "each"), ("true", "each"), ('"batch"', "batch"), ("false", "none")],
)
def test_a_plan_says_when_a_standard_is_put_back(written: str, rule: str) -> None:
    assert plan((f"check_after = {written}\n" if written else "") + WHOLE).check_after == rule


def test_a_check_piece_is_wanted_where_a_plan_says_so() -> None:
    assert plan(WHOLE).check_piece_within_hours is None
    assert plan("check_piece_within_hours = 24\n" + WHOLE).check_piece_within_hours == 24
    for wrong in ('check_after = "never"', "check_after = 1.5", "check_piece_within_hours = 0"):
        with pytest.raises(PlanError, match=wrong.partition(" ")[0]):
            plan(f"{wrong}\n{WHOLE}")


def test_a_note_on_the_band_travels_with_the_target():
    assert "3450-3550" in one("nr = 77\nvswr = 2").targets[0].note


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("lte = 20\nlimit = 10", "band 1: limit = 10 has no metric. Write return_loss_db = 10 or"),
        ('lte = 20\nlimit = "10"', 'limit = "10" has no metric'),
        ('lte = 20\nlimit = "tight"', 'limit = "tight" is no preset. There are: site, strict'),
        ('nr = 78\nlimit = "split"', "differs between uplink and downlink"),
        ('lte = 20\nlimit = "strict"\nvswr = 2', "a preset and a limit are both given"),
        ("lte = 20", "band 1 (LTE 20): it has no limit. Write return_loss_db = 10, or vswr"),
        ("lte = 20\nvswr = 2\nreturn_loss_db = 10", "return_loss_db and vswr are both given"),
        ("lte = 20\nvswr = 1", "A VSWR limit of 1 cannot be meant"),
        ("lte = 20\nvswr = -2", "A VSWR limit of -2 cannot be meant"),
        ("lte = 20\nreturn_loss_db = 0", "A return loss limit of 0 dB cannot be meant"),
        ("lte = 20\nreturn_loss_db = 90", "A return loss limit of 90 dB cannot be meant"),
        ("lte = 20\nvswr = nan", "vswr = nan is no number to judge by"),
        ("lte = 20\nvswr = inf", "vswr = inf is no number to judge by"),
        ('lte = 20\nvswr = "2.0"', "band 1: vswr cannot be '2.0'"),
        ("lte = 20\nvswr = true", "band 1: vswr cannot be True"),
        ("lte = 20.0\nvswr = 2", "band 1: lte cannot be 20.0"),
        ("lte = 15\nvswr = 2", "band 1: There is no band LTE 15; the nearest are 14 and 17"),
        ("lte = 20\nnr = 3\nvswr = 2", "lte and nr are both given. Keep one"),
        ("lte = 20\nearfcn = 6300\nvswr = 2", "lte and earfcn are both given"),
        ("vswr = 2", "band 1: it names no band. Write lte, nr, earfcn or nr_arfcn"),
        ("earfcn = 4950\nvswr = 2", "No LTE band has the channel number (EARFCN) 4950"),
        ("nr_arfcn = 156490\nvswr = 2", "is 782.450 MHz, which lies in n13 (uplink), n28"),
        ("nr_arfcn = 156490\nnr = 1\nvswr = 2", "782.450 MHz, which is not in NR n1"),
        ("nr_arfcn = 10\nvswr = 2", "is 0.050 MHz, which lies in no band"),
        ("nr_arfcn = 9999999\nvswr = 2", "between 0 and 3279165"),
        ("nr = 78\nvswr = 2\nuplink = { vswr = 1.8 }", "band 1 (NR n78): a TDD band has one range"),
        ("lte = 29\nvswr = 2\nuplink = { vswr = 1.8 }", "the band has no uplink. Remove"),
        ("lte = 20\nuplink = {}\nvswr = 2", "uplink = {} has no limit"),
        ("lte = 20\nvswr = 2\nuplink = { vsvr = 1.8 }", "vsvr is not known. Did you mean vswr?"),
        ("lte = 20\nvswr = 2\nuplink = { vswr = 0 }", "uplink: A VSWR limit of 0"),
        (
            "lte = 20\nretrun_loss_db = 10",
            "retrun_loss_db is not known. Did you mean return_loss_db?",
        ),
        ('name = "x"\nlow_mhz = 868\nvswr = 2', "needs name, low_mhz and high_mhz"),
        ("low_mhz = 868\nhigh_mhz = 870\nvswr = 2", "needs name, low_mhz and high_mhz"),
        ('name = "x"\nlow_mhz = 870\nhigh_mhz = 868\nvswr = 2', "are no range"),
        ('name = "x"\nlow_mhz = 868\nhigh_mhz = 868.0001\nvswr = 2', "too narrow"),
        ('name = "x"\nlow_mhz = 868\nhigh_mhz = 870\nlte = 20\nvswr = 2', "are both given"),
        (
            'name = "x"\nlow_mhz = 868\nhigh_mhz = 870\nvswr = 2\nuplink = { vswr = 1.5 }',
            "has no uplink and downlink",
        ),
        ('name = "x\\u001b[2J"\nlow_mhz = 868\nhigh_mhz = 870\nvswr = 2', "control characters"),
        ("lte = 20\nvswr = 2\n[[band]]\nlte = 20\nvswr = 3", "band 2 (LTE 20) stands twice"),
        ("lte = 20\nvswr = 2\n[[band]]\nearfcn = 6300\nvswr = 3", "band 2 (LTE 20) stands twice"),
        ("lte = 20\nvswr = 2,0", "Numbers take a point. Did you mean 2.0"),
    ],
)
def test_an_entry_that_is_not_certain_is_refused(lines, words):
    with pytest.raises(PlanError) as refusal:
        one(lines)
    assert str(refusal.value).startswith("plan.toml: ")
    assert words in str(refusal.value)
    assert str(refusal.value).isprintable()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "plan.toml: name is missing"),
        ('name = "x"', "plan.toml: band is missing"),
        ('name = "x"\nband = []', 'Write "[[band]]"'),
        ('name = "x"\n[band]\nlte = 20', 'Write "[[band]]", with two brackets'),
        ("name = 3\n[[band]]\nlte = 20\nvswr = 2", "plan.toml: name cannot be 3"),
        ('name = "x"\nmargin_percent = -1\n[[band]]\nlte = 20\nvswr = 2', "margin_percent cannot"),
        (
            'name = "x"\nmargin_precent = 1\n[[band]]\nlte = 20\nvswr = 2',
            "Did you mean margin_percent?",
        ),
        ("name = " + "[" * 5000, "not TOML"),
        ("name = " + "9" * 5000, "not TOML"),
        ("#" * 1_000_001, "1000001 characters are more"),
    ],
)
def test_a_plan_that_is_none_is_refused(text, words):
    with pytest.raises(PlanError) as refusal:
        plan(text)
    assert words in str(refusal.value)


@pytest.mark.slow
@examples(100)
@given(
    st.one_of(st.text(max_size=80), st.lists(st.sampled_from(WHOLE.splitlines())).map("\n".join))
)
def test_any_text_is_a_plan_or_refused_in_a_sentence(text):
    outcome = _read(text)
    assert outcome.targets if isinstance(outcome, Plan) else outcome.startswith("plan.toml: ")


def _read(text):
    try:
        return plan(text)
    except PlanError as refusal:
        return str(refusal)


def test_a_region_s_plan_is_a_suggestion_that_reads_back():
    limit = Limit.return_loss(10)
    text = region_plan_text("united-kingdom", limit, load_regions())
    assert text.startswith("# A suggestion to edit")
    read = plan_for_region("united-kingdom", limit, load_regions(), BANDS)
    assert [target.limit for target in read.targets] == [limit] * len(read.targets)
    assert {"LTE 20", "NR n78"} <= {target.name for target in read.targets}
    assert "NR n28" not in {target.name for target in read.targets}  # LTE 28 says the same


def test_every_region_gives_a_plan():
    for region in {region.name for region in load_regions()}:
        assert plan_for_region(region, Limit("vswr", 2.5), load_regions(), BANDS).targets


def test_an_unknown_region_is_refused_with_the_nearest():
    with pytest.raises(BandError, match=r'"eurpe".* Did you mean "europe"'):
        region_plan_text("eurpe", Limit("vswr", 2), load_regions())


def test_a_plan_s_file_is_read_with_its_byte_order_mark(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(WHOLE, encoding="utf-8-sig")
    assert load_plan(path).targets == plan(WHOLE).targets


def test_a_plan_s_file_that_cannot_be_read_is_refused_by_name(tmp_path):
    with pytest.raises(PlanError, match=r"absent\.toml cannot be read: No such file"):
        load_plan(tmp_path / "absent.toml")
    with pytest.raises(PlanError, match="cannot be read"):
        load_plan(tmp_path)
    (tmp_path / "latin.toml").write_bytes(b'name = "M\xfchle"')
    with pytest.raises(PlanError, match="no UTF-8 text at byte 9"):
        load_plan(tmp_path / "latin.toml")


def test_a_plan_may_want_a_risk_in_place_of_a_guard_band():
    wanted = plan('name = "one"\nfalse_pass_risk = 0.025\n[[band]]\nlte = 20\nvswr = 2')
    assert (wanted.false_pass_risk, wanted.guards) == (0.025, True)
    assert "2.5 %" in wanted.guard_words
    usual = one("lte = 20\nvswr = 2")
    assert (usual.false_pass_risk, usual.guard, usual.guards) == (None, 1.0, True)


@pytest.mark.parametrize(
    ("head", "named"),
    [
        ("false_pass_risk = 0.5", "below 0.5"),
        ("false_pass_risk = 0", "above 0"),
        ('false_pass_risk = "low"', "above 0"),
        ("false_pass_risk = 0.1\nguard = 1", "Remove one"),
        ('false_pass_risk = 0.1\nguard = "full"', "Remove one"),
    ],
)
def test_a_risk_that_none_can_want_is_refused(head: str, named: str):
    with pytest.raises(PlanError, match="false_pass_risk") as refused:
        plan(f'name = "one"\n{head}\n[[band]]\nlte = 20\nvswr = 2')
    assert named in str(refused.value)
