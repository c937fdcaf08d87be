"""Files of other people, odd but legal, against scikit-rf where that reads them.

Published under BSD-3-Clause and MIT licences: test data of scikit-rf (github.com/scikit-rf),
ZiadHatab/srm-calibration, edges-collab/edges-analysis. Not part of this project:
BANDWRIGHT_MEASURED names the folder they were put into.
"""

from __future__ import annotations

import os
import warnings
from pathlib import Path

import numpy as np
import pytest
import skrf

from acquire.errors import TouchstoneError
from acquire.touchstone.reader import parse_touchstone
from tests.wording import missing_words

FOLDER = Path(os.environ.get("BANDWRIGHT_MEASURED", "absent"))
NAMES = [
    "touchstone/filter_lowpass_MHz_DB.s2p",
    "touchstone/odd_Z_MA_R75.s1p",
    "touchstone/odd_bom.s2p",
    "touchstone/odd_comment_between_rows.s1p",
    "touchstone/odd_latin1.s2p",
    "touchstone/odd_leading_space_option.s2p",
    "touchstone/odd_no_R_impedance_comments.s1p",
    "touchstone/odd_noise_block.s2p",
    "touchstone/odd_one_point_MHz_MA.s1p",
    *(
        f"coax_mismatch_offset_short/{name}"
        for name in (
            "answer_mismatch.s1p",
            "answer_offsetshort.s1p",
            "raw_match.s2p",
            "raw_mismatch.s2p",
            "raw_offsetshort.s2p",
            "raw_open.s2p",
            "raw_short.s2p",
            "std_match.s1p",
            "std_open.s1p",
            "std_short.s1p",
        )
    ),
]

needs_files = pytest.mark.skipif(
    not FOLDER.is_dir(),
    reason="BANDWRIGHT_MEASURED is not set: the files are published in the repositories "
    "scikit-rf/scikit-rf, ZiadHatab/srm-calibration and edges-collab/edges-analysis",
)


@needs_files
@pytest.mark.parametrize("name", NAMES)
def test_a_real_file_reads_as_scikit_rf_reads_it(name):
    path = FOLDER / name
    file = parse_touchstone(path.read_bytes(), path.name)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        network = skrf.Network(str(path))
        if "impedance_comments" not in name:  # it takes those from comments; the format does not
            network.renormalize(50)
    np.testing.assert_allclose(file.reading.frequency_hz, network.f, rtol=1e-12)
    np.testing.assert_allclose(file.reading.reflection, network.s[:, 0, 0], rtol=1e-9, atol=1e-12)


@needs_files
@pytest.mark.parametrize("name", ["O", "S", "L", "ant", "amb", "hot", "open", "short"])
def test_a_raw_dump_with_a_wrapper_and_a_junk_line_is_read_and_remarked(name):
    path = FOLDER / f"radiometer_antenna_2022/raw_{name}.s1p"
    file = parse_touchstone(path.read_bytes(), path.name)
    assert file.reading.frequency_hz.size == 151
    assert file.reading.frequency_hz[[0, -1]].tolist() == [40e6, 200e6]
    (remark,) = file.remarks
    assert not missing_words(remark, "passed over", "lines 1-2 and 166")


def test_the_dump_s_form_and_first_rows_are_read_without_the_folder_too():
    # Three rows of edges-analysis, tests/data/alanmode, raw antenna (MIT, 2020 Raul Monsalve).
    text = (
        "BEGIN\n#48066!xxx\n!xxxx\n# Hz S DB R 50\n"
        "40000000\t-0.616765775027932\t-55.8675355146382\n"
        "41066666.6666667\t-0.819108594509502\t-66.112815223133\n"
        "200000000\t-6.76007529832263\t74.7052194426814\n\nEND\n"
    )
    file = parse_touchstone(text, "raw_ant.s1p")
    level = 20 * np.log10(np.abs(file.reading.reflection))
    np.testing.assert_allclose(level, [-0.616765775, -0.819108595, -6.760075298], atol=1e-9)


@needs_files
def test_a_complex_reference_is_refused_by_name():
    path = FOLDER / "touchstone/odd_two_option_lines.s2p"
    with pytest.raises(TouchstoneError, match=r"line 2: .*\(10\+10j\).* not a resistance"):
        parse_touchstone(path.read_bytes(), path.name)


def test_port_impedances_in_comments_are_not_used_but_never_passed_in_silence():
    # The form of scikit-rf's test file of a simulator's export (BSD-3-Clause).
    text = "# GHz S RI\n29.5 -0.354 -0.254\n! Port Impedance 30.0 -10.0\n37.0 -0.24 0.63\n"
    remarks = parse_touchstone(text, "a.s1p").remarks
    assert any("port impedance other than the reference (line 3)" in r for r in remarks)
    same = text.replace("30.0 -10.0", "50.0 0.0")
    assert not any("port impedance" in r for r in parse_touchstone(same, "a.s1p").remarks)
