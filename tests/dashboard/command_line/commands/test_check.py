"""`bandwright check` as a person sees it, and as a program does."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.wording import missing_words

TOP = Path(__file__).parents[4]

# |reflection| 0.1 but for 0.12 at 845 MHz and 0.11 at 800 MHz: return loss 20 dB, 18.42 dB and
# 19.17 dB, -20 log10 |G| [derived].
FLAT = "! invented data\n# MHz S MA R 50\n" + "".join(
    f"{megahertz} {({845: 0.12, 800: 0.11}).get(megahertz, 0.1)} 10\n"
    for megahertz in range(785, 866)
)

TABLE = """\
                                                         worst
band            state           limit                   (95 %)   margin  average
────────────────────────────────────────────────────────────────────────────────
LTE 20          ▲ pass          ≥ 10 dB     18.4 dB at 845 MHz  +8.4 dB  19.9 dB
uplink                                       (14.5 to 23.3 dB)
LTE 20          ▲ pass          ≥ 10 dB     19.2 dB at 800 MHz  +9.2 dB  20.0 dB
downlink                                     (15.4 to 24.7 dB)
NR n3           □ not measured  VSWR ≤ 1.8                   -        -        -
uplink
NR n3           □ not measured  VSWR ≤ 2                     -        -        -
downlink
gauge backhaul  □ not measured  ≥ 12 dB                      -        -        -

NR n3 uplink: 1710-1785 MHz not covered: the readings run from 785 to 865 MHz. Sweep the whole band.
NR n3 downlink: 1805-1880 MHz not covered: the readings run from 785 to 865 MHz. Sweep the whole band.
gauge backhaul: 868-870 MHz not covered: the readings run from 785 to 865 MHz. Sweep the whole band.
Trust floor: 25.6 to 25.7 dB; a reading deeper than that is all uncertainty.
Risk of a false pass, if what was stated of the standards holds: below 0.1 % for one band, below 0.1 % for any of them.
The file does not say at which plane it holds; the connector is assumed. Say otherwise with --plane.
A verdict on the match only, not gain or pattern.
Nothing is known of the file's calibration: a load of 26 dB of unknown phase is assumed. Say better with --load-db.
gauge modem, Europe: □ not measured, at the end of the calibrated cable
"""  # noqa: E501 - as it is printed


@pytest.fixture
def flat(tmp_path: Path) -> Path:
    """An antenna measured around LTE band 20 only."""
    path = tmp_path / "flat.s1p"
    path.write_text(FLAT, encoding="utf-8")
    return path


def test_the_table_is_printed_so_and_fits_80_columns(
    bandwright: Any, flat: Path, plan: Path
) -> None:
    run = bandwright("check", flat, "--plan", plan)
    assert [line.rstrip() for line in run.out.splitlines()] == TABLE.splitlines()
    assert run.status == 1
    assert run.err == ""


def test_every_band_passing_ends_with_0(bandwright: Any, antenna: Path, plan: Path) -> None:
    run = bandwright("check", antenna, "--plan", plan)
    assert (run.status, run.err) == (0, "")
    assert run.out.rstrip().endswith(
        "gauge modem, Europe: ▲ pass, at the end of the calibrated cable"
    )
    assert "match only, not gain or pattern" in run.out


def test_json_is_the_object_that_was_agreed(bandwright: Any, flat: Path, plan: Path) -> None:
    run = bandwright("check", flat, "--plan", plan, "--json")
    assert run.status == 1
    verdict = run.json
    assert set(verdict) == {
        "overall",
        "plan",
        "plane",
        "source",
        "bands",
        "notes",
        "guard",
        "false_pass_risk_wanted",
        "false_pass_risk",
    }
    assert verdict["guard"] == 1.0
    assert verdict["false_pass_risk_wanted"] is None
    assert 0 <= verdict["false_pass_risk"] < 0.001
    assert verdict["overall"] == "not measured"
    assert verdict["plan"] == "gauge modem, Europe"
    assert verdict["plane"] == "connector"
    assert verdict["source"]["kind"] == "file"
    assert verdict["source"]["measured"] is False
    assert all(
        set(band)
        == {
            "name",
            "link",
            "state",
            "limit",
            "worst_return_loss_db",
            "worst_frequency_hz",
            "margin_db",
            "interval_db",
            "trust_floor_db",
            "better_than_db",
            "false_pass_risk",
            "narrowest_seen_hz",
        }
        for band in verdict["bands"]
    )
    first, last = verdict["bands"][0], verdict["bands"][-1]
    assert (first["name"], first["link"], first["state"]) == ("LTE 20", "uplink", "pass")
    assert first["limit"] == {"return_loss_db": 10.0}
    assert math.isclose(first["worst_return_loss_db"], -20 * math.log10(0.12), abs_tol=1e-9)
    assert math.isclose(first["worst_frequency_hz"], 845e6)
    assert math.isclose(first["margin_db"], -20 * math.log10(0.12) - 10, abs_tol=1e-9)
    assert verdict["bands"][2]["limit"] == {"vswr": 1.8}
    # What is not known is null, never 0.
    assert last["worst_return_loss_db"] is None
    assert last["margin_db"] is None


def test_remarks_never_mix_with_the_json(bandwright: Any, flat: Path, plan: Path) -> None:
    run = bandwright("check", flat, "--plan", plan, "--json")
    assert "the connector is assumed" in run.err
    assert "the connector is assumed" not in run.out


def test_a_load_that_is_stated_narrows_the_interval_and_is_no_longer_remarked(
    bandwright: Any, flat: Path, plan: Path
) -> None:
    default = bandwright("check", flat, "--plan", plan, "--json")
    stated = bandwright("check", flat, "--plan", plan, "--load-db", 40, "--json")
    assert "a load of 26 dB of unknown phase is assumed" in " ".join(default.json["notes"])
    assert "unknown phase" not in " ".join(stated.json["notes"])
    wide, narrow = (run.json["bands"][0] for run in (default, stated))
    assert wide["interval_db"][0] < narrow["interval_db"][0] < narrow["worst_return_loss_db"]
    assert narrow["trust_floor_db"] > wide["trust_floor_db"] + 10


def test_a_load_that_no_interval_holds_behind_is_refused_and_a_very_good_one_asked_about(
    bandwright: Any, flat: Path, plan: Path
) -> None:
    common = ("check", flat, "--plan", plan, "--load-db")
    assert "14 dB" in bandwright(*common, 10).refused()
    assert "where is the figure from?" in bandwright(*common, 50).refused()
    told = bandwright(*common, 50, "--load-source", "certificate 123", "--json").json
    assert told["bands"][0]["trust_floor_db"] > 40


def test_a_reading_beyond_the_trust_floor_is_called_better_than(
    bandwright: Any, tmp_path: Path, plan: Path
) -> None:
    """54 dB read: behind a 26 dB load no more is proven than -20 log10(.002 + .05) [derived]."""
    path = tmp_path / "deep.s1p"
    rows = "".join(f"{megahertz} 0.002 10\n" for megahertz in range(785, 866))
    path.write_text("# MHz S MA R 50\n" + rows, encoding="utf-8")
    run = bandwright("check", path, "--plan", plan)
    assert "54" not in run.out
    assert "better than 25" in run.out
    band = bandwright("check", path, "--plan", plan, "--json").json["bands"][0]
    assert band["worst_return_loss_db"] is None
    assert 25 < band["better_than_db"] < 26


@pytest.mark.parametrize("stated", ["raw", "connector", "antenna"])
def test_a_plane_named_in_the_file_is_believed(
    bandwright: Any, tmp_path: Path, plan: Path, stated: str
) -> None:
    path = tmp_path / "a.s1p"
    path.write_text(f"! plane: {stated}\n" + FLAT, encoding="utf-8")
    run = bandwright("check", path, "--plan", plan, "--json")
    assert run.json["plane"] == stated
    assert "the connector is assumed" not in run.err


def test_the_plane_given_wins_over_the_files(bandwright: Any, antenna: Path, plan: Path) -> None:
    run = bandwright("check", antenna, "--plan", plan, "--plane", "raw")
    assert not missing_words(run.out, "readings are raw", "no calibration")
    assert run.out.rstrip().endswith(", at the analyzer's own port, uncorrected")


def test_a_name_with_markup_and_control_characters_is_only_text(
    bandwright: Any, tmp_path: Path, plan: Path
) -> None:
    path = tmp_path / "a[red]\x1b[31m\u202eb.s1p"
    path.write_text("! no rows\n# MHz S MA R 50\n", encoding="utf-8")
    sentence = bandwright("check", path, "--plan", plan).refused()
    assert "\x1b" not in sentence
    assert "\u202e" not in sentence
    assert "[red]" in sentence


def test_markup_in_a_bands_name_is_only_text(bandwright: Any, tmp_path: Path, flat: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(
        'name = "[bold]p[/]"\n[[band]]\nname = "[red]x[/red]"\nlow_mhz = 800\nhigh_mhz = 850\n'
        "return_loss_db = 10\n",
        encoding="utf-8",
    )
    run = bandwright("check", flat, "--plan", plan)
    assert "[red]x[/red]" in run.out
    assert "[bold]p[/]: ▲ pass" in run.out
    assert run.status == 0


def test_a_name_too_long_for_its_column_is_folded_not_cut(
    bandwright: Any, tmp_path: Path, flat: Path
) -> None:
    plan = tmp_path / "plan.toml"
    name = "abcdefghij" * 9
    plan.write_text(
        f'name = "p"\n[[band]]\nname = "{name}"\nlow_mhz = 800\nhigh_mhz = 850\nvswr = 2\n',
        encoding="utf-8",
    )
    run = bandwright("check", flat, "--plan", plan)
    table, _, _ = run.out.partition("\n\n")
    assert all(len(line) <= 80 for line in table.splitlines())
    lines = table.splitlines()
    column = "".join(line[: lines[1].index("state")].strip() for line in lines[3:])
    assert column == name


def test_without_a_plan_it_says_where_one_comes_from(bandwright: Any, antenna: Path) -> None:
    sentence = bandwright("check", antenna).refused()
    assert "bandwright bands --region europe --write plan.toml" in sentence


BAD_FILES = {
    "no rows": (b"# MHz S MA R 50\n", "a.s1p"),
    "binary": (bytes(range(256)) * 40, "a.s1p"),
    "empty": (b"", "a.s1p"),
    "decimal commas": (b"# MHz S MA R 50\n800,5 0,1 10\n801,5 0,1 10\n", "a.s1p"),
    "no option line": (b"800 0.1 10\n801 0.1 10\n", "a.s1p"),
    "falling": (b"# MHz S MA R 50\n801 0.1 10\n800 0.1 10\n", "a.s1p"),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00\x00", "a.s1p"),
}


@pytest.mark.parametrize("kind", BAD_FILES)
def test_a_bad_file_is_one_sentence(bandwright: Any, tmp_path: Path, plan: Path, kind: str) -> None:
    content, name = BAD_FILES[kind]
    path = tmp_path / name
    path.write_bytes(content)
    assert "a.s1p" in bandwright("check", path, "--plan", plan).refused()


def test_a_missing_file_is_one_sentence(bandwright: Any, tmp_path: Path, plan: Path) -> None:
    sentence = bandwright("check", tmp_path / "none.s1p", "--plan", plan).refused()
    assert "none.s1p: No such file or directory" in sentence


def test_a_folder_is_no_file(bandwright: Any, tmp_path: Path, plan: Path) -> None:
    assert str(tmp_path) in bandwright("check", tmp_path, "--plan", plan).refused()


BAD_PLANS = {
    "not TOML": b"name = ",
    "no metric": b'name = "p"\n[[band]]\nlte = 20\nlimit = 10\n',
    "unknown band": b'name = "p"\n[[band]]\nlte = 999\nvswr = 2\n',
    "no bands": b'name = "p"\n',
    "not text": b"\xff\xfe\x00\x01\x02",
}


@pytest.mark.parametrize("kind", BAD_PLANS)
def test_a_bad_plan_is_one_sentence(
    bandwright: Any, tmp_path: Path, antenna: Path, kind: str
) -> None:
    path = tmp_path / "plan.toml"
    path.write_bytes(BAD_PLANS[kind])
    assert "plan.toml" in bandwright("check", antenna, "--plan", path).refused()


def test_a_missing_plan_is_one_sentence(bandwright: Any, tmp_path: Path, antenna: Path) -> None:
    assert "none.toml" in bandwright("check", antenna, "--plan", tmp_path / "none.toml").refused()


def python(*arguments: object, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """Run a fresh interpreter in the project's folder."""
    return subprocess.run(
        [sys.executable, *map(str, arguments)],
        cwd=TOP,
        env=os.environ | environment,
        capture_output=True,
        check=False,
    )


@pytest.mark.process
def test_check_loads_none_of_the_heavy_libraries(antenna: Path, plan: Path) -> None:
    code = (
        "import sys; from dashboard.command_line.main import main; "
        f"status = main(['check', {str(antenna)!r}, '--plan', {str(plan)!r}]); "
        "print(sorted({'skrf', 'dash', 'scipy', 'plotly', 'serial', 'uvicorn', 'pandas'} "
        "& set(sys.modules)), file=sys.stderr); sys.exit(status)"
    )
    done = python("-c", code)
    assert (done.returncode, done.stderr.strip()) == (0, b"[]")


@pytest.mark.process
def test_output_that_is_no_terminal_carries_no_colour(antenna: Path, plan: Path) -> None:
    done = python("-m", "dashboard", "check", antenna, "--plan", plan, TERM="xterm-256color")
    assert done.returncode == 0
    assert b"\x1b" not in done.stdout


@pytest.mark.process
def test_a_terminal_of_few_letters_gets_ascii(antenna: Path, plan: Path) -> None:
    done = python("-m", "dashboard", "check", antenna, "--plan", plan, PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    assert done.stdout.isascii()
    assert b"+ pass" in done.stdout
    assert b"VSWR <= 1.8" in done.stdout


def test_no_word_of_a_table_is_broken_where_a_band_is_conditional(
    bandwright: Any, antenna: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A state takes two lines before a name is folded; the average goes before anything else."""
    plan = tmp_path / "plan.toml"
    plan.write_text(
        'name = "x"\nband = [{lte = 20, return_loss_db = 12}, '
        '{name = "gauge backhaul", low_mhz = 868, high_mhz = 870, return_loss_db = 16}]\n'
    )
    for columns, whole in (("120", (True, True)), ("80", (False, True)), ("70", (True, False))):
        monkeypatch.setenv("COLUMNS", columns)
        rows = bandwright("check", antenna, "--plan", plan).out.split("\n\n")[0].splitlines()
        words = " ".join(rows).split()
        assert {"downlink", "backhaul", "conditional", "pass", "fail", "margin"} <= set(words)
        assert ("gauge backhaul" in rows[7], "conditional fail" in rows[7]) == whole
        assert ("average" in words) == (columns != "70")
        assert max(map(len, rows)) <= int(columns)


def test_a_limit_that_nobody_wants_is_a_doubt_in_words_in_json_and_by_exit_status(
    bandwright: Any, flat: Path, tmp_path: Path
) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text('name = "x"\n[[band]]\nlte = 20\nvswr = 10\n')
    run = bandwright("check", flat, "--plan", plan)
    assert run.status == 1
    assert not missing_words(
        run.out, "vswr = 10", "did you mean", "return_loss_db = 10", "conditional pass"
    )
    doubts = bandwright("check", flat, "--plan", plan, "--json").json["doubts"]
    assert not missing_words(doubts[0], "LTE 20 uplink", "vswr = 10")


def test_a_dip_beside_its_band_is_named(bandwright: Any, tmp_path: Path) -> None:
    """One resonance at 905 MHz, Q 20, 45 ohm: G = (z - 50)/(z + 50) [derived]."""
    plan, file = tmp_path / "plan.toml", tmp_path / "beside.s1p"
    plan.write_text('name = "x"\n[[band]]\nlte = 3\nreturn_loss_db = 10\n')
    rows = []
    for megahertz in range(700, 2001, 2):
        z = 45 * (1 + 20j * (megahertz / 905 - 905 / megahertz))
        g = (z - 50) / (z + 50)
        rows.append(f"{megahertz} {g.real:.6f} {g.imag:.6f}\n")
    file.write_text("# MHz S RI R 50\n" + "".join(rows))
    run = bandwright("check", file, "--plan", plan)
    assert run.status == 1
    assert not missing_words(run.out, "905 MHz", "no wanted band", "1710 to 1785 MHz")
