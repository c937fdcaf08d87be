"""The chain of a bench's records: what was withheld, rolled back or put in shows."""

from __future__ import annotations

import contextlib
import json
import multiprocessing
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from acceptance.catalogue.query import Query
from acceptance.catalogue.record_catalogue import Catalogue
from acceptance.chain import chain_folder
from acceptance.chain.chain_folder import BOOK, chain_as_kept, chain_of, delete_record, turn
from acceptance.chain.link import Chained, Link, linked
from acceptance.errors import RecordError
from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.acceptance_record import Acceptance, Record
from acceptance.record.checksums import CHECKSUMS, format_checksums
from acceptance.record.plan_requirements import sign_off
from acceptance.record.record_folder import write_record
from dashboard.command_line.main import main
from tests.acceptance.made import BEGUN, accepted, record
from tests.wording import missing_words

TOP = Path(__file__).parents[3]


def made(number: int) -> Acceptance:
    """The acceptance of another antenna, a minute later each."""
    return sign_off(accepted(f"weir-{number}"), BEGUN + timedelta(minutes=9 + number))


def write(records: Path, number: int) -> Path:
    with turn(records) as mine:
        mine.written = write_record(record(linked(made(number), mine.link)), records)
    return mine.written


@pytest.fixture
def folders(tmp_path: Path) -> list[Path]:
    """Five records of one bench."""
    return [write(tmp_path / "records", number) for number in range(1, 6)]


def link_of(folder: Path) -> Link:
    link = Link.from_json(json.loads((folder / "record.json").read_bytes())["chain"])
    assert link is not None
    return link


def test_each_record_names_the_sum_of_the_one_before(folders: list[Path]) -> None:
    assert [link_of(each).number for each in folders] == [1, 2, 3, 4, 5]
    assert len({link_of(each).before for each in folders}) == 5
    found = chain_of(folders[0].parent)
    assert found.holds
    assert found.linked == 5
    assert not missing_words(found.lines[-1], "5 records", "newest", "cannot show", "number 6")
    checked = recheck_folder(folders[2])
    assert checked.holds
    assert "number 3 of its bench's chain" in checked.lines[-1]


@pytest.mark.parametrize("at", [0, 1, 2, 3])
def test_one_that_was_withheld_in_the_middle_shows(folders: list[Path], at: int) -> None:
    shutil.rmtree(folders[at])
    found = chain_of(folders[0].parent)
    assert not found.holds
    (fault,) = found.faults.values()
    assert not missing_words(fault, folders[at + 1].name, f"number {at + 1}", "withheld")


def test_several_that_were_withheld_are_numbered(folders: list[Path]) -> None:
    for each in folders[1:4]:
        shutil.rmtree(each)
    (fault,) = chain_of(folders[0].parent).faults.values()
    assert "numbers 2 to 4" in fault


def test_the_newest_withheld_shows_at_the_bench_alone(folders: list[Path], tmp_path: Path) -> None:
    shutil.rmtree(folders[-1])
    (fault,) = chain_of(folders[0].parent).faults.values()
    assert not missing_words(fault, "up to number 5", "number 4")
    shared = tmp_path / "shared"
    shutil.copytree(folders[0].parent, shared, ignore=shutil.ignore_patterns(BOOK))
    found = chain_of(shared)
    assert found.holds
    assert not missing_words(found.lines[-1], "newest", "cannot show", "number 5")


def test_a_folder_that_was_rolled_back_shows_though_work_went_on(
    folders: list[Path], tmp_path: Path
) -> None:
    backup, records = tmp_path / "backup", folders[0].parent
    shutil.copytree(records, backup)
    for each in folders[3:]:
        shutil.rmtree(each)
    assert link_of(write(records, 6)).number == 6
    (fault,) = chain_of(records).faults.values()
    assert "numbers 4 to 5" in fault
    shutil.rmtree(records)
    shutil.copytree(backup, records)
    write(records, 8)
    old = write(backup, 7)  # what was withheld when the folder was rolled back, turning up
    shutil.copytree(old, records / old.name)
    found = chain_of(records)
    assert not found.holds
    assert any("follows the same record" in each for each in found.faults.values())


@pytest.mark.parametrize("with_link", [False, True])
def test_one_that_was_put_in_shows(folders: list[Path], with_link: bool) -> None:
    records = folders[0].parent
    forged = made(9)
    if with_link:
        forged = linked(forged, link_of(folders[2]))
    write_record(record(forged), records)
    found = chain_of(records)
    assert not found.holds
    assert any("put in" in each for each in found.faults.values())


def test_one_that_was_changed_with_fresh_sums_shows_by_the_next(folders: list[Path]) -> None:
    note = folders[1] / "plan.toml"
    note.write_bytes(note.read_bytes() + b"# relaxed\n")
    files = {
        each.relative_to(folders[1]).as_posix(): each.read_bytes()
        for each in folders[1].rglob("*")
        if each.is_file()
    }
    (folders[1] / CHECKSUMS).write_bytes(format_checksums(files))
    (fault,) = chain_of(folders[0].parent).faults.values()
    assert not missing_words(fault, folders[1].name, "not as it was when", folders[2].name)


def test_one_deleted_on_purpose_leaves_its_stub(
    folders: list[Path], capsys: pytest.CaptureFixture[str]
) -> None:
    records = folders[0].parent
    arguments = ["records", "--folder", str(records), "--delete", folders[2].name]
    assert main([*arguments, "--why", "wrong antenna"]) == 0
    assert not folders[2].exists()
    assert "weir-3" not in (records / "deleted" / f"{folders[2].name}.json").read_text().replace(
        folders[2].name, ""
    )
    found = chain_of(records)
    assert found.holds
    assert not missing_words(found.lines[0], folders[2].name, "deleted", "wrong antenna")
    delete_record(records, folders[4].name, "", datetime.now(UTC))  # the newest, too
    assert link_of(write(records, 6)).number == 6
    assert chain_of(records).holds
    shutil.rmtree(records / "deleted")
    assert not chain_of(records).holds
    capsys.readouterr()
    assert main([*arguments]) == 2
    assert main(["records", "--folder", str(records), "--why", "x"]) == 2
    with pytest.raises(RecordError, match="no record"):
        delete_record(records, "none", "", datetime.now(UTC))


def test_a_stub_that_was_forged_to_hide_another_does_not_hide_it(folders: list[Path]) -> None:
    records = folders[0].parent
    shutil.rmtree(folders[1])
    delete_record(records, folders[2].name, "", datetime.now(UTC))
    stub = records / "deleted" / f"{folders[2].name}.json"
    told = json.loads(stub.read_bytes())
    told["chain"] = {"number": 2, "before": link_of(folders[0]).before}
    stub.write_text(json.dumps(told), encoding="utf-8")
    assert not chain_of(records).holds


def test_records_of_before_there_were_chains_are_no_fault(tmp_path: Path) -> None:
    records = tmp_path / "records"
    old = sign_off(accepted("old"), BEGUN + timedelta(minutes=2, seconds=0) * 5)
    folder = write_record(record(old), records)
    for number in (5, 6):
        write(records, number)
    found = chain_of(records)
    assert found.holds, found.lines
    assert any("1 of 3" in each for each in found.lines)
    assert recheck_folder(folder).holds
    assert not missing_words(chain_of(tmp_path).lines[0], "no record here", "nothing shows")


def _write_some(records: Path, first: int) -> None:
    for number in range(first, first + 3):
        write(records, number)


@pytest.mark.process
@pytest.mark.slow
def test_writers_take_turns(tmp_path: Path) -> None:
    records = tmp_path / "records"
    spawn = multiprocessing.get_context("spawn")
    writers = [spawn.Process(target=_write_some, args=(records, 10 * n + 1)) for n in range(3)]
    for each in writers:
        each.start()
    for each in writers:
        each.join()
        assert each.exitcode == 0
    found = chain_of(records)
    assert found.linked == 9
    assert found.holds, found.lines
    numbers = sorted(link_of(each).number for each in records.glob("weir-*"))
    assert numbers == list(range(1, 10))


KILLED = """
import os, signal, sys
from pathlib import Path
from acceptance.chain.chain_folder import turn
from acceptance.chain.link import linked
from acceptance.record.record_folder import write_record
from tests.acceptance.chain.test_chain import made
from tests.acceptance.made import record
records, when = Path(sys.argv[1]), sys.argv[2]
with turn(records) as mine:
    if when == "before":
        os.kill(os.getpid(), signal.SIGKILL)
    mine.written = write_record(record(linked(made(9), mine.link)), records)
    os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.process
@pytest.mark.skipif(os.name == "nt", reason="SIGKILL is POSIX only")
@pytest.mark.parametrize(("when", "next_one"), [("before", 6), ("after", 7)])
def test_a_writer_that_is_killed_leaves_no_gap(
    folders: list[Path], when: str, next_one: int
) -> None:
    records = folders[0].parent
    run = subprocess.run([sys.executable, "-c", KILLED, str(records), when], cwd=TOP, check=False)
    assert run.returncode == -signal.SIGKILL
    assert link_of(write(records, 20)).number == next_one
    assert chain_of(records).holds


def test_a_writer_that_fails_leaves_no_gap(folders: list[Path]) -> None:
    records = folders[0].parent
    with pytest.raises(RuntimeError), turn(records):
        raise RuntimeError
    assert link_of(write(records, 6)).number == 6


def test_it_shows_in_the_catalogue_and_by_the_command(
    folders: list[Path], capsys: pytest.CaptureFixture[str]
) -> None:
    records = folders[0].parent
    assert main(["recheck", "--chain", str(records)]) == 0
    assert "The chain holds." in capsys.readouterr().out
    shutil.rmtree(folders[1])
    assert main(["recheck", "--chain", str(records)]) == 1
    assert not missing_words(capsys.readouterr().out, "number 2", "does not hold")
    assert main(["recheck", "--chain", str(records), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["holds"] is False
    catalogue = Catalogue.in_folder(records)
    try:
        catalogue.take_in(records)
        entries = {each.folder: each.caveat for each in catalogue.find(Query()).entries}
    finally:
        catalogue.close()
    assert "number 2 is missing" in entries[folders[2].name]
    assert entries[folders[3].name] == ""
    assert main(["recheck"]) == 2
    assert main(["recheck", str(folders[0]), "--chain", str(records)]) == 2
    assert main(["recheck", "--chain", str(records / "none")]) == 2


@pytest.mark.slow
@pytest.mark.parametrize("content", [b"[", b"{}", b'{"accepted_at": 3}', b"[1]", b"\xff"])
def test_what_is_no_record_is_passed_over(folders: list[Path], content: bytes) -> None:
    records = folders[0].parent
    write_record(Record("odd", {"record.json": content}), records)
    (records / "deleted").mkdir()
    (records / "deleted" / "odd.json").write_bytes(content)
    assert chain_of(records).holds


def counted_reads(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the records that are read from now on."""
    read = chain_folder._read
    names: list[str] = []

    def noted(folder: Path) -> Chained | None:
        names.append(folder.name)
        return read(folder)

    monkeypatch.setattr(chain_folder, "_read", noted)
    return names


def test_a_list_reads_again_only_what_has_changed(
    folders: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    records = folders[0].parent
    chain_as_kept(records)
    names = counted_reads(monkeypatch)
    assert chain_as_kept(records) == chain_of(records)
    assert names == [each.name for each in sorted(folders)]  # by the second alone
    names.clear()
    write(records, 6)
    assert names == []  # the next link asks for none that is known
    head = folders[2] / "record.json"
    head.write_bytes(head.read_bytes().replace(b"weir-3", b"weir-8"))
    assert folders[2].name in chain_as_kept(records).faults
    assert folders[2].name in names
    shutil.rmtree(folders[1])
    found = chain_as_kept(records)
    assert found == chain_of(records)
    assert not found.holds


def test_a_book_that_another_holds_or_that_is_damaged_is_done_without(folders: list[Path]) -> None:
    records = folders[0].parent
    with turn(records):
        assert chain_as_kept(records).holds
    with contextlib.closing(sqlite3.connect(records / BOOK)) as book:
        book.execute("DROP TABLE IF EXISTS kept")
        book.execute("CREATE TABLE kept (name TEXT)")
        book.execute("INSERT INTO kept VALUES ('odd')")
        book.commit()
    assert chain_as_kept(records).holds
    (records / BOOK).write_bytes(b"no database")
    assert chain_as_kept(records).holds
    (records / BOOK).unlink()
    assert chain_as_kept(records).holds
