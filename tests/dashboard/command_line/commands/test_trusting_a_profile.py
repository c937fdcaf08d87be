"""A profile that is not shipped is shown and asked about before its words are first sent."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from acquire.dialect.prompted import PromptedDialect
from replay.clock import AcceleratedClock
from tests.acquire.analyzer.test_profile import PAIRS, own
from tests.wording import missing_words

ASK = ("ports", "--ask", "virtual:prompted")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's folder of profiles, with one that resets."""
    monkeypatch.setattr("dashboard.files.user_folders.profiles", lambda: tmp_path)
    monkeypatch.setattr("dashboard.files.user_folders.trusted_profiles", lambda: tmp_path / "sums")
    text = PAIRS.replace('name = "prompted-pairs"', 'name = "bench-2"')
    text = text.replace('identify = "info"', 'identify = "reset; info"')
    (tmp_path / "own.toml").write_text(text, encoding="utf-8")
    return tmp_path


@pytest.fixture
def sent(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The commands of shells that were sent."""
    words: list[str] = []
    lines = PromptedDialect._lines

    def kept(self: PromptedDialect, command: str, *more: Any, **named: Any) -> Any:
        words.append(command)
        return lines(self, command, *more, **named)

    monkeypatch.setattr(PromptedDialect, "_lines", kept)
    return words


def test_without_a_word_nothing_is_sent_and_all_is_shown(
    bandwright: Any, folder: Path, sent: list[str]
) -> None:
    run = bandwright(*ASK, "--profile", "bench-2", clock=AcceleratedClock())
    assert run.status == 2
    told = " ".join(run.err.split())
    assert not missing_words(told, "reset, store, erase or flash", "identify = reset; info")
    assert not missing_words(told, "not one that is shipped", "brick", "--trust-profile")
    assert told.index("may reset") < told.index("It sends")
    assert sent == []
    assert not (folder / "sums").exists()


def test_once_trusted_it_is_not_asked_about_until_it_says_something_else(
    bandwright: Any, folder: Path, sent: list[str]
) -> None:
    bandwright(*ASK, "--profile", "bench-2", "--trust-profile", clock=AcceleratedClock())
    assert "reset; info" in sent
    again = bandwright(*ASK, "--profile", "bench-2", clock=AcceleratedClock())
    assert "It sends" not in again.err
    text = (folder / "own.toml").read_text(encoding="utf-8").replace("reset; info", "erase")
    (folder / "own.toml").write_text(text, encoding="utf-8")
    changed = bandwright(*ASK, "--profile", "bench-2", clock=AcceleratedClock())
    assert "identify = erase" in " ".join(changed.err.split())
    assert "erase" not in sent


@pytest.mark.parametrize("answer", [True, False])
def test_a_person_at_the_terminal_is_asked(
    bandwright: Any,
    folder: Path,
    sent: list[str],
    monkeypatch: pytest.MonkeyPatch,
    answer: bool,
) -> None:
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("typer.confirm", lambda *_words, **_more: answer)
    bandwright(*ASK, "--profile", "bench-2", clock=AcceleratedClock())
    assert bool(sent) == answer


def test_asking_around_uses_none_of_them(bandwright: Any, folder: Path, sent: list[str]) -> None:
    (folder / "broken.toml").write_text("no profile", encoding="utf-8")
    run = bandwright(*ASK, "--json", clock=AcceleratedClock())
    assert run.json["profile"] in ("prompted-pairs", "prompted-scan", "registers-queue")
    assert "reset; info" not in sent


def test_a_shipped_one_is_never_asked_about(bandwright: Any, folder: Path) -> None:
    name = bandwright(*ASK, "--json", clock=AcceleratedClock()).json["profile"]
    run = bandwright(*ASK, "--profile", name, clock=AcceleratedClock())
    assert (run.status, "It sends" in run.err) == (0, False)


def test_a_file_of_sums_that_is_damaged_trusts_nothing(
    bandwright: Any, folder: Path, sent: list[str]
) -> None:
    (folder / "sums").write_bytes(b"\xff" * 100)
    own(folder, "third.toml", "bench-3")
    assert bandwright(*ASK, "--profile", "bench-3", clock=AcceleratedClock()).status == 2
    assert sent == []
