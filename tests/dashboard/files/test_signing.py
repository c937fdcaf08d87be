"""Who signed a record, where that was asked: somebody trusted, nobody, or it cannot be told."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from acceptance.record.acceptance_record import Record
from acceptance.record.checksums import CHECKSUMS, SIGNATURE, format_checksums
from acceptance.record.record_folder import write_record
from dashboard.command_line.main import main
from dashboard.files.signing import signer
from tests.acceptance.made import PLAN_TEXT, accepted, plan, record
from tests.wording import missing_words

KEYGEN = shutil.which("ssh-keygen")
pytestmark = [
    pytest.mark.process,
    pytest.mark.skipif(KEYGEN is None, reason="ssh-keygen is not installed"),
]
WEAKER = PLAN_TEXT.replace("return_loss_db = 8", "return_loss_db = 4.5")


@pytest.fixture
def key(tmp_path: Path) -> Path:
    path = tmp_path / "key"
    subprocess.run([str(KEYGEN), "-q", "-t", "ed25519", "-N", "", "-f", str(path)], check=True)
    return path


@pytest.fixture
def signers(key: Path) -> Path:
    """Two people who share the key, as a bench may have it."""
    kind, public = key.with_suffix(".pub").read_text(encoding="ascii").split()[:2]
    path = key.with_name("signers")
    path.write_text(f"ana@weir {kind} {public}\nben@weir {kind} {public}\n", encoding="ascii")
    return path


def forged(parent: Path) -> Path:
    """The plan relaxed, the antenna renamed, the verdict worked out and the sums made anew."""
    return write_record(record(accepted("weir-4", (838e6, 826e6), plan(WEAKER))), parent)


def signed(parent: Path, key: Path) -> Path:
    made = record(accepted("weir-3", (838e6, 826e6), plan(WEAKER)))
    files = dict(made.files)
    files[CHECKSUMS] = format_checksums(files)
    files[SIGNATURE] = signer(key)(files[CHECKSUMS])
    return write_record(Record(made.folder, files), parent)


def recheck(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str]:
    status = main(["recheck", *map(str, arguments)])
    shown = capsys.readouterr()
    return status, shown.out + shown.err


def test_a_record_without_a_signature_holds_only_where_none_is_asked_for(
    tmp_path: Path, signers: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = forged(tmp_path / "records")
    assert recheck(capsys, folder)[0] == 0
    status, said = recheck(capsys, folder, "--signers", signers)
    assert status == 1
    assert not missing_words(said, "not signed", "asked for", "does not hold")


def test_one_identity_may_be_asked_for(
    tmp_path: Path, key: Path, signers: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = signed(tmp_path / "records", key)
    for name in ("ana@weir", "ben@weir"):
        status, said = recheck(capsys, folder, "--signers", signers, "--signed-by", name)
        assert status == 0
        assert f"Signed by {name}" in said
    status, said = recheck(capsys, folder, "--signers", signers, "--signed-by", "eve@weir")
    assert status == 1
    assert not missing_words(said, "no signature of", "eve@weir", "that of ana@weir")


@pytest.mark.parametrize("content", [None, b"", b"# nobody yet\n\n"])
def test_what_cannot_be_told_is_no_verdict(
    tmp_path: Path, key: Path, capsys: pytest.CaptureFixture[str], content: bytes | None
) -> None:
    folder, named = signed(tmp_path / "records", key), tmp_path / "named"
    if content is not None:
        named.write_bytes(content)
    status, said = recheck(capsys, folder, "--signers", named)
    assert status == 2
    assert "cannot be checked" in said


def test_a_name_without_a_file_of_signers_is_no_verdict(
    tmp_path: Path, key: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = signed(tmp_path / "records", key)
    status, said = recheck(capsys, folder, "--signed-by", "ana@weir")
    assert status == 2
    assert "--signers" in said


def test_without_the_program_that_checks_it_is_no_verdict(
    tmp_path: Path,
    key: Path,
    signers: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for folder in (signed(tmp_path / "one", key), forged(tmp_path / "other")):
        with monkeypatch.context() as bare:
            bare.setattr("dashboard.files.signing.shutil.which", lambda _: None)
            status, said = recheck(capsys, folder, "--signers", signers)
            assert status == 2
            assert "ssh-keygen is not installed" in said
            assert recheck(capsys, folder)[0] == 0


def test_a_signature_of_another_text_does_not_hold(
    tmp_path: Path, key: Path, signers: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = forged(tmp_path / "records")
    (folder / SIGNATURE).write_bytes(signer(key)(b"another text\n"))
    status, said = recheck(capsys, folder, "--signers", signers)
    assert status == 1
    assert "signature does not hold" in said
