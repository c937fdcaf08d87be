"""Touchstone files that can be read: every unit, format and parameter, and odd but certain text."""

from __future__ import annotations

import contextlib
import itertools

import numpy as np
import pytest

from acquire.errors import TouchstoneError
from acquire.sweep import Reading
from acquire.touchstone.reader import parse_touchstone, parse_two_port
from acquire.touchstone.writer import format_touchstone
from tests.wording import missing_words


def reflection(text: str, name: str = "a.s1p") -> list[complex]:
    return [complex(value) for value in parse_touchstone(text, name).reading.reflection]


def test_the_sample_of_the_format_s_own_document_reads_as_printed():
    # IBIS Touchstone 1.1, page 4 [read, reproduced]; four digits are printed.
    text = "# MHz S MA R 50\n100 0.99 -4\n200 0.80 -22\n300 0.707 -45\n"
    file = parse_touchstone(text, "sample.s1p")
    assert file.reading.frequency_hz.tolist() == [100e6, 200e6, 300e6]
    expected = [0.9876 - 0.0691j, 0.7417 - 0.2997j, 0.4999 - 0.4999j]
    np.testing.assert_allclose(file.reading.reflection, expected, atol=5e-5)
    assert file.remarks == ()


@pytest.mark.parametrize(
    ("unit", "number"), [("Hz", "1100000000"), ("kHz", "1100000"), ("MHz", "1100"), ("GHz", "1.1")]
)
def test_every_unit_gives_the_same_whole_number_of_hertz(unit, number):
    file = parse_touchstone(f"# {unit} S RI R 50\n{number} 0.1 0\n", "a.s1p")
    assert file.reading.frequency_hz.tolist() == [1.1e9]
    assert file.unit == unit


@pytest.mark.parametrize(
    "form", ["RI 0.3 -0.4", "MA 0.5 -53.13010235415598", "DB -6.020599913 306.8698976"]
)
def test_every_format_gives_the_same_reflection(form):
    name, first, second = form.split()
    assert reflection(f"# GHz S {name} R 50\n1 {first} {second}\n") == [
        pytest.approx(0.3 - 0.4j, abs=1e-9)
    ]


@pytest.mark.parametrize(
    "option",
    [
        "# MHz RI S R 50",
        "# R 50 MHz S RI",
        "#ri mhz",
        "# r 50.0 s mhz ri",
        "  # MHZ  S\tRI  R 50 ! why",
    ],
)
def test_an_option_line_may_come_in_any_order_and_case(option):
    file = parse_touchstone(f"{option}\n700 0.5 0.25\n", "a.s1p")
    assert file.reading.frequency_hz.tolist() == [700e6]
    assert file.reading.reflection.tolist() == [0.5 + 0.25j]


def test_what_the_option_line_leaves_out_is_the_format_s_default_and_remarked():
    file = parse_touchstone("#\n0.7 0.5 90\n", "a.s1p")
    assert file.reading.frequency_hz.tolist() == [0.7e9]
    assert file.reading.reflection[0] == pytest.approx(0.5j)
    assert "unit GHz, parameter S, format MA, reference 50 ohm" in " ".join(file.remarks)


def test_a_second_option_line_is_ignored_and_remarked():
    file = parse_touchstone("# MHz S RI R 50\n# GHz S MA R 75\n700 0.5 0\n", "a.s1p")
    assert file.reading.frequency_hz.tolist() == [700e6]
    assert any("further option line (line 2)" in remark for remark in file.remarks)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_byte_order_marks_and_foreign_comments_do_not_matter(end):
    text = end.join(
        ["! Antenne près du mât", "# MHz S RI R 50", "", "700\t0.5  0 ! é", "800 0.4 0"]
    )
    for content in (
        text.encode("latin-1"),
        text.encode(),
        b"\xef\xbb\xbf" + text.encode(),
        text.encode("utf-16"),
        text,
        "\ufeff" + text,
    ):
        file = parse_touchstone(content, "a.s1p")
        assert file.reading.reflection.tolist() == [0.5, 0.4]
        assert file.remarks == ()


def test_lines_around_the_data_that_are_no_data_are_passed_over_and_remarked():
    text = "BEGIN\n#48066!dump\n!note\n# Hz S RI R 50\nfreq re im\n7e8 0.5 0\n8e8 0.4 0\n\nEND\n"
    file = parse_touchstone(text, "dump.s1p")
    assert file.reading.reflection.tolist() == [0.5, 0.4]
    (remark,) = file.remarks
    assert not missing_words(remark, "passed over", "no data", "lines 1-2, 5 and 9")


def test_s11_of_a_two_port_is_taken_whichever_way_its_rows_are_broken():
    whole = "# GHz S RI R 50\n1 .1 .2 .3 .4 .5 .6 .7 .8\n2 .2 .2 .3 .4 .5 .6 .7 .8\n"
    broken = "# GHz S RI R 50\n1 .1 .2 .3 .4\n .5 .6 .7 .8\n2 .2 .2\n.3 .4 ! S21\n.5 .6 .7 .8\n"
    for text in (whole, broken):
        for name in ("a.s2p", "a.dat"):
            file = parse_touchstone(text, name)
            assert file.ports == 2
            assert file.reading.reflection.tolist() == [0.1 + 0.2j, 0.2 + 0.2j]


def test_noise_data_behind_a_two_port_is_passed_over_and_remarked():
    text = "# GHz S RI R 50\n1 0 0 10 0 0 0 0 0\n2 0 0 10 0 0 0 0 0\n1 .5 0 134 .1\n2 1 0 134 .1\n"
    file = parse_touchstone(text, "amp.s2p")
    assert file.reading.frequency_hz.tolist() == [1e9, 2e9]
    assert any(not missing_words(each, "noise data", "lines 4-5") for each in file.remarks)


def test_a_name_that_contradicts_the_rows_is_remarked():
    file = parse_touchstone("# GHz S RI R 50\n1 .1 .2 .3 .4 .5 .6 .7 .8\n", "a.s1p")
    assert any("name says 1 port(s), the rows say 2" in remark for remark in file.remarks)


def test_data_referred_to_75_ohm_is_converted_and_remarked():
    # 75 ohm seen from 75 ohm is no reflection; seen from 50 ohm it is 25/125 [derived].
    file = parse_touchstone("# GHz S RI R 75\n1 0 0\n2 1 0\n3 -1 0\n", "a.s1p")
    np.testing.assert_allclose(file.reading.reflection, [0.2, 1, -1], atol=1e-15)
    assert file.reference_ohm == (75.0,)
    assert any("referred to 75 ohm were converted" in remark for remark in file.remarks)


def test_version_1_divides_impedances_by_the_reference_and_version_2_does_not():
    # The same 74.25 ohm, as the 2.0 document's pair of examples writes it [memory].
    one = "# MHz Z MA R 75\n100 0.99 -4\n"
    two = (
        "[Version] 2.0\n# MHz Z MA R 75\n[Number of Ports] 1\n[Network Data]\n100 74.25 -4\n[End]\n"
    )
    impedance = 74.25 * np.exp(-1j * np.deg2rad(4))
    expected = (impedance - 50) / (impedance + 50)
    for text in (one, two):
        np.testing.assert_allclose(reflection(text), [expected], rtol=1e-12)


def test_a_version_2_file_with_every_keyword_is_read():
    text = """! by hand
[Version] 2.1
# GHz S RI R 50
[Number of Ports] 2
[Two-Port Data Order] 12_21
[Number of Frequencies] 2
[Number of Noise Frequencies] 1
[Reference] 50
75
[Matrix Format] Lower
[Begin Information]
[Made up] anything 1 2 3
1 2 3
[End Information]
[Network Data]
1 0.1 0 0.5 0 0.2 0
2 0.2 0 0.5 0 0.2 0
[Noise Data]
1 0.5 0.3 10 0.2
[End]
"""
    file = parse_touchstone(text, "a.ts")
    assert file.reference_ohm == (50.0, 75.0)
    end = (50 - 75) / (50 + 75)
    np.testing.assert_allclose(
        file.reading.reflection,
        [s11 + 0.25 * end / (1 - 0.2 * end) for s11 in (0.1, 0.2)],
        rtol=1e-14,
    )
    assert not any("[End]" in remark for remark in file.remarks)


def test_a_version_2_file_without_its_end_is_remarked():
    text = "[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 1\n[Network Data]\n1 0 0\n"
    remarks = parse_touchstone(text, "a.ts").remarks
    assert any(not missing_words(each, "[End] is missing", "cut short") for each in remarks)


WORDS = ["nan", "NaN", "inf", "+Infinity", "1.#QNAN", "-1.#IND", "1.#INF"]


@pytest.mark.parametrize(
    ("form", "word"),
    [
        *((form, word) for form in ("RI", "MA", "DB") for word in WORDS),
        ("RI", "-inf"),
        ("DB", "-inf"),
    ],
)
def test_a_number_that_is_none_is_kept_as_not_measured_and_remarked(form, word):
    file = parse_touchstone(f"# GHz S {form} R 50\n1 0 0\n2 {word} 0\n3 0 {word}\n", "a.s1p")
    assert np.isnan(file.reading.reflection).tolist() == [False, True, True]
    assert any("2 of 3 points" in remark and "line 3" in remark for remark in file.remarks)


def test_minus_infinite_decibels_are_not_a_perfect_match():
    file = parse_touchstone("# GHz S DB R 50\n1 -inf 0\n2 -20 0\n", "a.s1p")
    assert np.isnan(file.reading.reflection[0])
    assert any("perfect match, which nobody measures" in remark for remark in file.remarks)


def test_nan_elsewhere_in_a_two_port_leaves_its_s11_alone():
    file = parse_touchstone("# GHz S RI R 50\n1 .1 .2 nan nan nan nan 0 0\n", "a.s2p")
    assert file.reading.reflection.tolist() == [0.1 + 0.2j]


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("# GHz S DB R 50\n1 10 0\n", "|S11| reaches 3.162"),
        ("# GHz S RI R 50\n700 0 0\n900 0 0\n", "The highest frequency is 900 GHz"),
        ("# Hz S RI R 50\n700 0 0\n2700 0 0\n", "The highest frequency is 2700 Hz"),
    ],
)
def test_what_is_probably_a_mistake_is_remarked(text, part):
    assert part in " ".join(parse_touchstone(text, "a.s1p").remarks)


def test_a_written_file_states_its_form_and_keeps_every_digit():
    reading = Reading(
        np.array([0.0, 863.1e6, 2.1e9 + 0.125]), np.array([1 / 3 - 1e-17j, complex("nan"), -1])
    )
    text = format_touchstone(reading, ["weir-3, antenna 2", "two\nlines", "Wehr Mühle"])
    assert text.splitlines() == [
        "! weir-3, antenna 2",
        "! two",
        "! lines",
        "! Wehr M\\xfchle",
        "! nan: this point was not measured",
        "# Hz S RI R 50",
        "0 0.3333333333333333 -1e-17",
        "863100000 nan nan",
        "2100000000.125 -1.0 0.0",
    ]
    assert text.isascii()


@pytest.mark.parametrize("parameter", list("SYZHG"))
@pytest.mark.parametrize("form", ["RI", "MA", "DB"])
@pytest.mark.parametrize("ohm", ["50", "1e-3", "1e6"])
def test_no_number_makes_numpy_warn(parameter: str, form: str, ohm: str) -> None:
    """What it would warn of is refused, or counts as not measured; warnings are errors here."""
    odd = ["0", "-1", "1e308", "-1e308", "1e-320", "inf", "nan", "-400", "50"]
    rng = np.random.default_rng(5)
    for ports, last in itertools.product((1, 2), ("2000", "1e308")):
        for _ in range(20):
            rows = [" ".join(rng.choice(odd, 2 * ports**2)) for _ in range(2)]
            text = f"# GHz {parameter} {form} R {ohm}\n1 {rows[0]}\n{last} {rows[1]}\n"
            for read in (parse_touchstone, parse_two_port):
                with contextlib.suppress(TouchstoneError):
                    read(text, "a.s1p")
