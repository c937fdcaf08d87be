"""A word of the page has the glossary's line, by its own name or by the one it has on the page."""

from __future__ import annotations

import re

from dashboard.help.chapters import chapter_text
from dashboard.help.glossary import has_term, terms


def test_every_entry_of_the_glossary_is_found_by_its_names() -> None:
    entries = re.findall(r"^- \*\*(.+?)\*\*", chapter_text("glossary"), re.MULTILINE)
    assert len(entries) > 60
    assert [name for name in entries if not has_term(name)] == []


def test_a_word_that_only_the_page_uses_has_the_line_of_the_fields_term() -> None:
    assert terms()["trust floor"] == terms()["uncertainty floor"]
    assert terms()["held trace"] == terms()["memory trace"]


def test_a_line_is_plain_text_and_names_no_module() -> None:
    for name, line in terms().items():
        assert not re.search(r"[`*\n]|\w+\.\w+\.\w+|On the page", line), name
        assert re.match(r"[^:]+: \S.*[.)]$", line), line


def test_an_entry_keeps_its_own_line_where_another_one_uses_its_name_on_the_page() -> None:
    assert terms()["touch test"].startswith("Touch test: ")
