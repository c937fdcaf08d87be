"""Makes the golden outputs: what the program prints and writes on fixed inputs, as plain text.

One file a subject. Each holds command lines, how they ended, what they printed, and every file
they wrote or changed; the page's feed is held moment by moment.
"""

from __future__ import annotations

import json
import os
import shutil
import struct
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np

from tests.golden import project
from tests.golden.plain_outputs import Names, Plain, part_summary

KEPT = Path(__file__).with_name("kept")
PORT = "virtual:prompted"
PLANE = "cable=ptfe-2.5mm length_mm=182"
AT_PORT = ("--port", PORT, "--calibration", "c.json")


class Golden:
    """One session in a scratch folder: commands follow each other as a person would type them."""

    def __init__(self, scratch: Path) -> None:
        self._scratch = scratch
        self._plain = Plain(str(scratch))
        self._clock = project.simulated()
        self._seen: dict[str, bytes] = {}
        self.subjects: dict[str, list[str]] = {}
        self._lines: list[str] = []

    def subject(self, name: str) -> None:
        """What follows is kept in a file of this name."""
        self._lines = self.subjects.setdefault(name, [])
        self._seen = self._files()  # what was laid there in between was written by nobody

    def write(self, name: str, text: str) -> None:
        """Lay an input there."""
        (self._scratch / name).write_text(text, encoding="utf-8", newline="")
        self._seen = self._files()

    def run(self, *arguments: str, files: str = "") -> None:
        """Run one command line and keep all that comes of it.

        files : what is kept of the files it writes, where that is not all: "names", or the start
            of those names that are kept whole.
        """
        self._plain.begin()
        status, out, err = project.run(arguments, self._clock)
        self._lines += [
            f"$ bandwright {' '.join(map(_quoted, arguments))}\n",
            f"ends with {status}\n",
        ]
        for name, text in (("printed", out), ("said beside it", err)):
            if text:
                self._keep(name, self._plain.text(text))
        self._keep_new(files)

    def _keep_new(self, files: str) -> None:
        """Keep what is new or changed on the disk."""
        before, self._seen = self._seen, self._files()
        for name, content in self._seen.items():
            if before.get(name) == content:
                continue
            shown = self._plain.text(name)
            if files and not name.startswith(files):
                self._lines.append(f"---- wrote {shown}\n")
            else:
                self._keep(f"wrote {shown}", self._plain.file(name, content))
        gone = before.keys() - self._seen.keys()
        self._lines += [f"---- removed {self._plain.text(name)}\n" for name in sorted(gone)]
        self._lines.append("\n")

    def _keep(self, what: str, text: str) -> None:
        end = "" if text.endswith("\n") else "\n(no line end)\n"
        self._lines.append(f"---- {what}\n{text}{end}")

    def _files(self) -> dict[str, bytes]:
        return {
            path.relative_to(self._scratch).as_posix(): path.read_bytes()
            for path in sorted(self._scratch.rglob("*"))
            if path.is_file()
        }

    # ---------------------------------------------------------------- the feed

    def frame(self, moment: str, message: bytes, names: Names) -> None:
        """Keep one message to a page: its header, and its parts' numbers."""
        (length,) = struct.unpack_from("<I", message)
        head = json.loads(message[4 : 4 + length])
        values = np.frombuffer(message, "<f4", offset=4 + length)
        head["version"] = "not held: it counts how often threads looked"
        self._lines.append(f"==== {moment}\n")
        part_lines, at = [], 0
        for part in head["parts"]:
            own = values[at : at + part["count"]]
            at += part["count"]
            part_lines.append(f"{part['name']}: {part_summary(own)}\n")
        assert at == values.size
        text = json.dumps(_with_ids(head, names), indent=1, ensure_ascii=False)
        self._keep("header", self._plain.text(text) + "\n")
        self._keep("parts", "".join(part_lines))

    def result(self, what: str, value: Any) -> None:
        """Keep what a call on the bench gave back, in words, and what was written."""
        self._keep(what, self._plain.text(f"{value}\n"))
        self._keep_new("")


def _quoted(argument: str) -> str:
    return f"'{argument}'" if " " in argument or not argument else argument


def _with_ids(head: dict[str, Any], names: Names) -> dict[str, Any]:
    """Ids of arrays are sums that differ from process to process: which are alike is kept."""

    def named(value: Any) -> Any:
        return names(value) if isinstance(value, str) and value else value

    head["grid"] = named(head["grid"])
    if head["trust"] is not None:
        head["trust"]["id"] = named(head["trust"]["id"])
    for part in head["parts"]:
        if part["name"] in ("grid", "floor"):
            part["id"] = named(part["id"])
    return head


def helps(golden: Golden) -> None:
    """What every command says of itself."""
    golden.run()
    golden.run("--version")
    for command in project.COMMANDS:
        golden.run(command, "--help")


def check(golden: Golden) -> None:
    """A file against a plan."""
    golden.run("check", "antenna.s1p", "--plan", "plan.toml")
    golden.run("check", "antenna.s1p", "--plan", "plan.toml", "--json")
    golden.run("check", "antenna.s1p", "--plan", "plan.toml", "--load-db", "40", "--json")
    golden.run("check", "antenna.s1p", "--plan", "plan.toml", "--plane", PLANE)
    golden.run("check", "antenna.s1p", "--plan", "plan.toml", "--plane", PLANE, "--json")
    golden.run("check", "antenna.s1p", "--plan", "plan.toml", "--plane", "raw")
    golden.run("check", "none.s1p", "--plan", "plan.toml")
    golden.write("bad.s1p", "# Hz S RI R 50\n700e6 0.1\n")
    golden.run("check", "bad.s1p", "--plan", "plan.toml")
    golden.run("check", "antenna.s1p")


def bands(golden: Golden) -> None:
    """Bands, and plans made of them."""
    golden.run("bands", "20", "n78", "--json")
    golden.run("bands", "20", "n78")
    golden.run("bands", "--mhz", "869")
    golden.run("bands", "--earfcn", "6300")
    golden.run("bands", "--nr-arfcn", "368500")
    golden.run("bands", "--region", "europe", "--write", "europe.toml")
    golden.run("bands", "900")


def calibrate(golden: Golden) -> None:
    """A calibration with a hand that presses Enter, and checks of it."""
    golden.run("ports", "--ask", PORT)
    golden.run("ports", "--ask", "virtual:scpi", "--json")
    golden.run("calibrate", "--port", PORT, "--range", "780-880", "--out", "narrow.json")
    golden.run(
        "calibrate", "--port", PORT, "--plan", "plan.toml", "--unattended", "--out", "c.json",
        "--json",
    )  # fmt: skip
    golden.run("calibrate", "--port", PORT, "--range", "780-880", "--unattended", files="names")
    golden.run("trust", "--calibration", "c.json", "--plan", "plan.toml")
    golden.run("trust", "--calibration", "c.json", "--json")
    golden.run("calibrate", "--port", PORT, "--range", "900-700", "--out", "x.json")
    golden.run("calibrate", "--port", "/dev/ttyNONE", "--range", "780-880")


def verify(golden: Golden) -> None:
    """What checks of a calibration say, and what is kept with it."""
    on_narrow = ("--port", PORT, "--calibration", "narrow.json", "--unattended")
    golden.run("verify", *on_narrow, "--second-load", "40", "--json", files="names")
    golden.run("verify", *on_narrow, "--vswr", "1.5", files="names")
    golden.run("verify", *on_narrow, "--vswr", "2.5", files="names")
    golden.run("verify", *on_narrow, "--put-back", "load", "--plan", "plan.toml", files="names")
    golden.run("verify", *on_narrow, "--remake", "open", "--times", "4")
    golden.run("verify", *on_narrow)
    golden.run("trust", "--calibration", "narrow.json")
    golden.run("trust", "--calibration", "narrow.json", "--json")
    golden.run(
        "characterise", *on_narrow, "--name", "workshop", "--out", "workshop.toml",
        "--load", "soldered resistor", "--open", "bare socket",
    )  # fmt: skip


def sweep(golden: Golden) -> None:
    """Sweeps, raw and judged, in every form they are written in."""
    golden.run("sweep", "--port", PORT, "--plan", "plan.toml", "--out", "raw.s1p")
    golden.run("sweep", *AT_PORT, "--plan", "plan.toml", "--out", "swept.s1p")
    golden.run("sweep", *AT_PORT, "--plan", "plan.toml", "--out", "swept.csv", "--json")
    golden.run("sweep", *AT_PORT, "--plan", "plan.toml", "--out", "swept.json", "--json")
    golden.run("sweep", *AT_PORT, "--plan", "plan.toml", "--out", "swept.svg")
    golden.run("check", "swept.s1p", "--plan", "plan.toml", "--json")
    golden.run("check", "raw.s1p", "--plan", "plan.toml")
    golden.run("sweep", *AT_PORT, "--range", "5000-6000")
    golden.run("sweep", "--port", PORT)


def accept(golden: Golden) -> None:
    """Acceptances, and what is read in their records afterwards."""
    golden.write("strip.toml", project.RECIPE)
    golden.run(
        "accept", *AT_PORT, "--plan", "plan.toml", "--name", "weir-3", "--operator", "river-watch",
        "--note", "golden", "--recipe", "strip.toml", "--size", "arm_a=84.5", "--folder", "kept",
    )  # fmt: skip
    golden.run(
        "accept", *AT_PORT, "--plan", "plan.toml", "--name", "ford-1", "--folder", "kept",
        "--line", "ptfe-2.5mm", "--gate", "0.1-0.3", "--json",
    )  # fmt: skip
    conditions = (
        'conditions = ["bare", "boxed"]\ntouch_test = true\n\n[[band]]\n'
        'name = "own"\nlow_mhz = 790.0\nhigh_mhz = 860.0\nreturn_loss_db = 10\n'
    )
    golden.write("two.toml", f'name = "two conditions"\n{conditions}')
    two = ("accept", *AT_PORT, "--plan", "two.toml", "--name", "weir-4", "--folder", "kept")
    golden.run(*two, "--condition", "bare", files="names")
    golden.run(*two, "--json")
    golden.run(*(each.replace("weir-4", "weir-7") for each in two), "--plane", PLANE, files="names")
    golden.write("checked.toml", f'name = "checked"\nverified_within_hours = 8\n{conditions}')
    golden.run("accept", *AT_PORT, "--plan", "checked.toml", "--name", "weir-5", "--folder", "kept")
    golden.run(
        "accept", *AT_PORT, "--plan", "plan.toml", "--name", "weir-6", "--json",
        "--plane", PLANE, files="names",
    )  # fmt: skip
    golden.run(
        "import", "antenna.s1p", "--plan", "plan.toml", "--name", "old-1", "--folder", "kept"
    )


def recheck(golden: Golden) -> None:
    """Records of today, of before, and one that somebody changed."""
    records = sorted(path.as_posix() for path in Path("kept").iterdir() if path.is_dir())
    for record in records:
        golden.run("recheck", record)
    golden.run("recheck", records[0], "--json")
    for layout in ("layout-1", "layout-2"):
        golden.run("recheck", layout)
        golden.run("recheck", layout, "--json")
    shutil.copytree("layout-2", "changed")
    written = Path("changed", "verdict.json")
    written.write_text(written.read_text(encoding="utf-8").replace('"fail"', '"pass"'), "utf-8")
    raw = Path("changed", "finished", "raw-01.s1p")
    raw.write_text(raw.read_text(encoding="utf-8").replace("0.1", "0.2"), encoding="utf-8")
    golden.subject("recheck")
    golden.run("recheck", "changed")
    golden.run("recheck", "changed", "--json")
    golden.run("recheck", "none")


def report(golden: Golden) -> None:
    """Reports of records, anew from what was swept."""
    first = min(path.as_posix() for path in Path("kept").iterdir() if path.is_dir())
    golden.run("report", first, "--to", "one.html")
    golden.run("report", first, "--to", "one.pdf")
    golden.run("report", "layout-2", "--to", "old.pdf", "--paper", "letter")
    golden.run("report", "layout-1", "--to", "older.html")
    golden.run("report", first, "--to", "one.txt")


def cable(golden: Golden) -> None:
    """Pigtails, and verdicts with them undone."""
    for pigtail in ("good", "lossy", "bad-joint"):
        on = ("--port", f"{PORT}?pigtail={pigtail}", "--calibration", "c.json")
        common = ("cable", *on, "--plan", "plan.toml", "--unattended")
        golden.run(*common, "--out", f"{pigtail}.toml")
        golden.run(*common, "--velocity-factor", "0.695", "--json")
        de_embedding = ("sweep", *on, "--plan", "plan.toml", "--plane", f"{pigtail}.toml")
        golden.run(*de_embedding)
        golden.run(*de_embedding, "--json")
    good = ("cable", "--port", f"{PORT}?pigtail=good", "--calibration", "c.json", "--unattended")
    golden.run(*good, "--plan", "plan.toml", "--end", "open", "--type", "ptfe-2.5mm")
    golden.run(*good, "--plan", "plan.toml", "--type", "copper")


def fault(golden: Golden) -> None:
    """What a cable reflects, and where."""
    even = ("--even", "5-2500", "--step-khz", "5000")
    golden.run(
        "calibrate",
        "--port",
        "virtual:",
        *even,
        "--unattended",
        "--out",
        "even.json",
        files="names",
    )
    at = ("fault", "--calibration", "even.json", "--type", "ptfe-2.5mm", "--port")
    golden.run(*at, "virtual:?pigtail=bad-joint")
    golden.run(*at, "virtual:?pigtail=bad-joint", "--gate", "0.1-0.3", "--json")
    golden.run(*at, "virtual:?pigtail=good", "--plan", "plan.toml", "--touch", "--out", "trace.csv")
    golden.run("fault", "antenna.s1p", "--velocity-factor", "0.7")
    golden.run("fault", "--range-m", "10", "--port", "virtual:", "--type", "rg-58")


def batch(golden: Golden) -> None:
    """Many of one recipe, against each other and one by one."""
    golden.run("tour", "--gauges", "24", "--folder", "gauges", files="gauges/ford-3_2026-05-16T100")
    folder = ("--folder", "gauges")
    golden.run("batch", *folder, "--target", "836")
    golden.run("batch", *folder, "--target", "836", "--json")
    golden.run("batch", *folder, "--dimension", "arm_a")
    golden.run("batch", *folder, "--dimension", "arm_a", "--newest", "--json")
    golden.run("batch", "no such recipe", *folder)


def compare(golden: Golden) -> None:
    """Some of them against each other."""
    folder = ("--folder", "gauges")
    golden.run("compare", "weir-1", "ford-3", "--every", *folder)
    golden.run("compare", "weir-1", "ford-3", "--every", "--json", *folder)
    golden.run("compare", "weir-1", "ford-6", "bridge-1", "--curves", *folder)
    golden.run("compare", "weir-1", "--curves", "--json", *folder)
    golden.run("compare", "nobody", *folder)


def records(golden: Golden) -> None:
    """The shelf."""
    folder = ("--folder", "gauges")
    golden.run("records", *folder)
    golden.run("records", "ford", "--json", *folder)
    golden.run("records", "--verdict", "fail", "--rebuild", *folder)
    golden.run("records", "--band", "gauge backhaul", "--since", "2026-05-16", *folder)
    golden.run("records", "--folder", "kept", "--json")
    golden.run("records")


def tour(golden: Golden) -> None:
    """The whole job at once."""
    golden.run("tour", "--folder", "tour")


def feed(golden: Golden) -> None:
    """What a page gets to see, from a raw trace to an accepted antenna and a lost unit."""
    stepped, names = project.SteppedBench(Path("page")), Names()
    bench = stepped.bench

    def moment(words: str) -> None:
        golden.frame(words, stepped.message(), names)

    moment("before the first sweep")
    stepped.start()
    try:
        stepped.sweep()
        moment("raw, nothing on the port")
        bench.hands.screw_on("antenna")
        stepped.sweep(6)
        bench.holds.hold("as it came")
        moment("raw, the antenna as delivered, held")
        bench.calibration.begin()
        moment("calibrating, the open asked for")
        stepped.standard("open")
        moment("calibrating, the open taken")
        stepped.standard("open")
        moment("calibrating, refused: the open is still on")
        stepped.standard("short")
        stepped.standard("load")
        moment("calibrating, the load asked for once more")
        stepped.standard("load")
        bench.hands.screw_on("antenna")
        stepped.sweep()
        moment("calibrated, the antenna being screwed on")
        stepped.sweep(12)
        bench.holds.hold()
        moment("calibrated, at rest")
        golden.result("said", bench.tuning.report_change("arm_a", -0.5))
        moment("said and waited for")
        golden.result("taken back", bench.tuning.undo())
        for dimension, delta_mm in (("arm_a", 2.0), ("arm_b", -3.0), ("arm_a", 3.0)):
            bench.hands.bend(dimension, delta_mm)
            stepped.sweep(1)
            if dimension == "arm_b":
                moment("bent, and moving")
            stepped.sweep(12)
            moment(f"bent: {dimension} by {delta_mm} mm")
        bench.touch_test.begin()
        for gripped in (False, True, False):
            bench.hands.grip(gripped=gripped)
            stepped.sweep(12)
            if gripped:
                moment("touch test, gripped")
            bench.touch_test.next()
        moment("touch test, done")
        signed = bench.acceptance.sign_off(project.antenna_details("weir-3"))
        golden.result("accepted", signed.path.name)
        stepped.sweep()
        moment("accepted")
        stepped.pull()
        moment("the unit pulled out")
    finally:
        stepped.close()


SUBJECTS: dict[str, Callable[[Golden], None]] = {
    "help": helps,
    "check": check,
    "bands": bands,
    "calibrate": calibrate,
    "sweep": sweep,
    "accept": accept,
    "recheck": recheck,
    "report": report,
    "cable": cable,
    "fault": fault,
    "verify": verify,
    "batch": batch,
    "compare": compare,
    "records": records,
    "tour": tour,
    "feed": feed,
}
"""In the order they are made in: later ones use what earlier ones wrote."""


def make() -> dict[str, str]:
    """Make every subject's text, by the name of the file it is kept in."""
    with _still() as scratch:
        golden = Golden(scratch)
        for name, do in SUBJECTS.items():
            golden.subject(name)
            began = time.process_time()
            do(golden)
            if os.environ.get("GOLDEN_TIMES"):
                print(name, round(time.process_time() - began, 2))
    return {f"{name}.txt": "".join(lines) for name, lines in golden.subjects.items()}


@contextmanager
def _still() -> Iterator[Path]:
    """An empty folder to work in, and nothing of this machine, its user and its day around it."""
    before = Path.cwd()
    with tempfile.TemporaryDirectory(prefix="golden-") as name, project.frozen():
        scratch = Path(name).resolve()
        for each, source in project.INPUTS.items():
            if source.is_dir():
                shutil.copytree(source, scratch / each)
            else:
                shutil.copy(source, scratch / each)
        home = scratch / "home"
        changed = {
            "HOME": str(home),
            "XDG_DATA_HOME": str(home / "data"),
            "XDG_CONFIG_HOME": str(home / "config"),
            "TZ": "UTC",
            "COLUMNS": "100",
            "LINES": "40",
            "NO_COLOR": "1",
        }
        left = {
            each: value
            for each, value in os.environ.items()
            if not each.startswith(("BANDWRIGHT_", "FORCE_COLOR", "TTY_", "LC_", "LANG"))
        }
        with mock.patch.dict(os.environ, left | changed, clear=True):
            time.tzset()
            os.chdir(scratch)
            try:
                yield scratch
            finally:
                os.chdir(before)
    time.tzset()
