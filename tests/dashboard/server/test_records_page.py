"""The records as pages: what is in the catalogue is found, and nothing in it is markup."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import re
import shutil
import zipfile
from html.parser import HTMLParser
from itertools import islice
from pathlib import Path
from xml.etree import ElementTree

import httpx
import pytest

from acceptance.catalogue.query import Query
from acceptance.catalogue.record_catalogue import Catalogue
from acceptance.chain.chain_folder import STUBS
from acceptance.pictures import batch_pictures, svg_drawing, sweep_pictures
from acceptance.record.record_folder import write_record
from dashboard.bench.composed_bench import Bench
from dashboard.demo import example_batch
from dashboard.server import records_page
from tests.acceptance.made import accepted, record
from tests.wording import missing_words

HOSTILE = '<script>alert("1")</script>{{ 7*7 }}\x1b[31m'


class Seen(HTMLParser):
    """A page's tags, words, and what its form would send."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.words = ""
        self.values: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        result = dict(attrs)
        if result.get("name") == "record":
            self.values.append(result["value"] or "")

    def handle_data(self, data: str) -> None:
        self.words += data


@pytest.fixture
def batch(bench: Bench, gauge_records: Path) -> Path:
    """All gauges' records, among the bench's own."""
    shutil.copytree(gauge_records, bench.records_folder, dirs_exist_ok=True)
    return bench.records_folder


def test_without_a_record_there_is_a_page_that_says_so(client: httpx.Client) -> None:
    answer = client.get("/records")
    assert answer.status_code == 200
    assert "There is no record yet." in answer.text


def test_the_list_is_searched_and_filtered(client: httpx.Client, batch: Path) -> None:
    every = Seen(client.get("/records").text)
    assert len(every.values) == 25
    assert "21 pass, 1 conditional pass, 1 conditional fail, 2 fail" in every.words
    assert "All of these come from the virtual bench: the data is invented" in every.words
    fails = Seen(client.get("/records?verdict=fail&band=gauge+backhaul").text)
    assert {each.rpartition("/")[2].split("_")[0] for each in fails.values} == {"ford-6"}
    assert len(Seen(client.get("/records?words=ford").text).values) == 7
    assert len(Seen(client.get("/records?since=2026-05-30").text).values) == 5
    assert "No record is like that." in Seen(client.get("/records?words=nothing").text).words
    shutil.rmtree(next(batch.glob("ford-6_*")))
    assert len(Seen(client.get("/records").text).values) == 24


def test_units_are_drawn_over_one_another(client: httpx.Client, batch: Path) -> None:
    names = Seen(client.get("/records").text).values[:12]
    text = client.get("/records/compare", params={"record": names}).text
    seen = Seen(text)
    for letter in "ABCDEFGHIJKL":
        assert f"{letter}" in seen.words
    (svg,) = re.findall(r"<figure class=\"paper\">(<svg.*?</svg>)</figure>", text, re.DOTALL)
    root = ElementTree.fromstring(svg)
    curves = [e for e in root.iter() if e.get("class") == "curve"]
    kinds = {(each.get("stroke"), each.get("stroke-dasharray")) for each in curves}
    assert len(kinds) == 12
    limits = [e for e in root.iter() if e.get("stroke-width") == "1.6"]
    assert len(limits) == 5  # each band and link
    assert "All of it comes from the virtual bench" in seen.words
    shutil.rmtree(batch / names[0].removeprefix("/"))
    text = client.get("/records/compare", params={"record": names[:2]}).text
    assert Seen(text).words.count("finished") == 1


@pytest.mark.parametrize("count", [0, 13])
def test_more_than_twelve_and_none_are_refused(
    client: httpx.Client, batch: Path, count: int
) -> None:
    names = Seen(client.get("/records").text).values[:count]
    answer = client.get("/records/compare", params={"record": names})
    assert answer.status_code == 400
    assert f"{count} records are selected" in answer.text


def test_a_batch_tells_yield_charts_and_the_next_cut(client: httpx.Client, batch: Path) -> None:
    del batch
    result = Seen(client.get("/records/batch?recipe=bent+strip").text).words
    assert "Pass the first time: 20 of 24" in result
    assert "Out of the ordinary: ford-3 (2026-05-16), 859.0 MHz" in result
    wanted = {"recipe": "bent strip", "dimension": "arm_a", "target": "836,0"}
    result = Seen(client.get("/records/batch", params=wanted).text).words
    assert "For a dip at 836.0 MHz: arm A 85.5 mm (85.4 to 85.5)" in result
    assert "next: 85.5 mm" in result


def test_every_colour_of_a_picture_has_one_in_each_theme() -> None:
    """Curves in their own colours on a dark page would not be seen; a band's reach is in no picture
    of these pages."""
    css = (Path(records_page.__file__).parents[1] / "page" / "assets" / "records.css").read_text(
        "utf-8"
    )
    used = {svg_drawing.INK, svg_drawing.MUTED, svg_drawing.LINE, svg_drawing.PAPER}
    used |= {sweep_pictures.BAND_FILL, sweep_pictures.SECOND_INK, batch_pictures.OUT_OF_LIMITS_INK}
    assert used <= set(re.findall(r'="(#[0-9a-f]{6})"', css.partition(".paper {")[2]))


def test_two_records_have_no_control_chart(client: httpx.Client, bench: Bench) -> None:
    for each in islice(example_batch.records(), 2):
        write_record(each, bench.records_folder)
    text = client.get("/records/batch?recipe=bent+strip").text
    assert "<svg" not in text.partition("What each size does")[0].partition("<h2>")[2]
    assert "2 records cannot tell what is ordinary" in Seen(text).words


@pytest.mark.parametrize(
    ("path", "why"),
    [
        ("/records/batch?recipe=none", "No record names the recipe"),
        ("/records/batch?target=high", "is no frequency"),
        ("/records?since=yesterday", "is no day"),
        ("/records?verdict=good", "is no verdict"),
        ("/records/none/recheck", "There is no record"),
        ("/records/..%5Cx/recheck", "is not the name of a file in the same folder"),
    ],
)
def test_what_cannot_be_shown_is_said(
    client: httpx.Client, batch: Path, path: str, why: str
) -> None:
    del batch
    answer = client.get(path)
    assert answer.status_code == 400
    assert why in Seen(answer.text).words


def test_a_record_is_checked(client: httpx.Client, bench: Bench) -> None:
    folder = write_record(next(islice(example_batch.records(), 1)), bench.records_folder)
    assert "record verified" in client.get(f"/records/{folder.name}/recheck").text
    path = folder / "plan.toml"
    path.write_text(path.read_text(encoding="utf-8") + "# more", encoding="utf-8")
    seen = Seen(client.get(f"/records/{folder.name}/recheck").text)
    assert "record not verified" in seen.words
    assert "plan.toml" in seen.words


def test_names_are_data(client: httpx.Client, bench: Bench) -> None:
    made = dataclasses.replace(accepted(), antenna=HOSTILE, operator=HOSTILE, note=HOSTILE)
    folder = write_record(record(made), bench.records_folder)
    paths = ("/records", f"/records/compare?record=/{folder.name}", "/records/batch")
    for path in (*paths, f"/records/{folder.name}/recheck"):
        text = client.get(path).text
        assert Seen(text).tags.count("script") == 1, path  # theme.js
        assert "alert(" not in "".join(re.findall(r"<script.*?</script>", text)), path
        assert "\x1b" not in text
    assert '<script>alert("1")</script>{{ 7*7 }}' in Seen(client.get("/records").text).words


def test_a_shared_catalogue_is_used_where_one_is_named(
    client: httpx.Client, batch: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = f"sqlite:///{tmp_path / 'shared.sqlite'}"
    monkeypatch.setenv("BANDWRIGHT_CATALOGUE", address)
    monkeypatch.setenv("BANDWRIGHT_BENCH", "boathouse")
    assert len(Seen(client.get("/records").text).values) == 25
    assert not (batch / "catalogue.sqlite").exists()
    catalogue = Catalogue(address)
    assert {each.bench for each in catalogue.find(Query()).entries} == {"boathouse"}
    catalogue.close()


def test_another_bench_s_record_is_never_drawn_from_a_folder_of_the_same_name_here(
    client: httpx.Client, batch: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = min(each.name for each in batch.glob("weir-1_*"))
    shutil.copytree(batch / name, tmp_path / "kitchen" / name)
    address = f"sqlite:///{tmp_path / 'shared.sqlite'}"
    kitchen = Catalogue(address, bench="kitchen", place="kitchen")
    kitchen.take_in(tmp_path / "kitchen")
    (entry,) = kitchen.find(Query()).entries
    kitchen.close()
    boathouse = Catalogue(address, bench="boathouse", place="boathouse")
    boathouse.take_in(batch)
    assert boathouse.folder_of(entry) is None
    own = next(each for each in boathouse.find(Query(bench="boathouse")).entries)
    assert boathouse.folder_of(own) == batch / own.folder
    boathouse.close()
    monkeypatch.setenv("BANDWRIGHT_CATALOGUE", address)
    monkeypatch.setenv("BANDWRIGHT_BENCH", "office")
    shutil.rmtree(batch)
    both = [f"kitchen/{name}", f"boathouse/{name}"]
    text = client.get("/records/compare", params={"record": both}).text
    for letter in "AB":
        assert f"{letter} is not drawn: the folder {name} is not at this bench." in text


def antennas(text: str) -> list[str]:
    return [each.rpartition("/")[2].split("_")[0] for each in Seen(text).values]


def test_the_list_is_sorted_by_every_column(client: httpx.Client, batch: Path) -> None:
    del batch
    text = client.get("/records?sort=antenna&order=up").text
    names = antennas(text)
    assert names == sorted(names)
    assert 'aria-sort="ascending"' in text
    assert antennas(client.get("/records?sort=antenna&order=down").text)[0] == names[-1]
    margins = [each["least_margin_db"] for each in exported(client, "sort=margin&order=up")]
    assert margins == sorted(margins)
    worst = exported(client, "sort=verdict&order=down")[0]
    assert worst["overall"] == "fail"
    newest = [each["signed_off_at"] for each in exported(client, "sort=else")]
    assert newest == sorted(newest, reverse=True)


def exported(client: httpx.Client, query: str) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = client.get(f"/records.json?{query}").json()
    return rows


def test_the_list_is_exported_as_it_is_searched(client: httpx.Client, batch: Path) -> None:
    answer = client.get("/records.csv?words=ford&sort=antenna&order=up")
    assert "attachment" in answer.headers["content-disposition"]
    rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert len(rows) == 7
    assert rows[0]["antenna"].startswith("ford-1")
    float(rows[0]["least_margin_db"])
    assert rows[0]["recipe"] == "bent strip"
    assert len(exported(client, "verdict=fail")) == 2
    assert client.get("/records.csv?verdict=good").status_code == 400
    assert client.get("/records.xlsx").status_code == 404
    name = min(each.name for each in batch.glob("ford-1_*"))
    with zipfile.ZipFile(io.BytesIO(client.get(f"/records/{name}/record.zip").content)) as archive:
        inside = [each for each in (batch / name).rglob("*") if each.is_file()]
        assert set(archive.namelist()) == {each.relative_to(batch).as_posix() for each in inside}
        assert archive.read(f"{name}/record.json") == (batch / name / "record.json").read_bytes()
    assert client.get("/records/none/record.zip").status_code == 404


def test_no_cell_of_a_table_is_a_formula(client: httpx.Client, bench: Bench) -> None:
    made = dataclasses.replace(accepted(), note='=HYPERLINK("http://x")', operator="+1")
    write_record(record(made), bench.records_folder)
    (row,) = csv.DictReader(io.StringIO(client.get("/records.csv").content.decode()))
    assert row["note"].startswith("'=")
    assert row["operator"] == "'+1"


def test_a_record_is_deleted_from_its_page_and_its_stub_stays(
    client: httpx.Client, batch: Path
) -> None:
    name = min(each.name for each in batch.glob("ford-6_*"))
    page = client.get(f"/records/{name}/delete")
    words = Seen(page.text).words
    assert missing_words(words, "cannot be brought back", "raw readings", "stub") == []
    assert page.headers["referrer-policy"] == "same-origin"
    found = re.search(r'name="token" value="([\w-]+)"', page.text)
    assert found is not None
    origin = {"origin": str(client.base_url).rstrip("/")}
    form = {"token": found[1], "why": "wrong antenna", "confirmed": "yes"}
    path = f"/records/{name}/delete"
    for wrong, status in (
        (form | {"token": "x"}, 409),
        ({"why": "no token", "confirmed": "yes"}, 409),
        (form | {"why": " "}, 400),
        ({"token": found[1], "why": "not confirmed"}, 400),
    ):
        assert client.post(path, data=wrong, headers=origin).status_code == status
    assert client.post(path, data=form).status_code == 403  # from nowhere
    assert (
        client.post(path, data=form, headers={"origin": "http://evil.example"}).status_code == 403
    )
    assert (batch / name).is_dir()
    answer = client.post(path, data=form, headers=origin)
    assert answer.status_code == 303
    seen = Seen(client.get(answer.headers["location"]).text)
    assert len(seen.values) == 24
    assert f"{name} is deleted" in seen.words
    stub = json.loads((batch / STUBS / f"{name}.json").read_text("utf-8"))
    assert stub["why"] == "wrong antenna"
    assert client.post(path, data=form, headers=origin).status_code == 400
    assert client.get(path).status_code == 400
