"""The glossary's line for a word that stands on the page."""

from __future__ import annotations

import re
from functools import cache

from dashboard.help.chapters import chapter_text

ENTRY = re.compile(r"^- (\*\*.+?)(?=^- |^#|^\n|\Z)", re.MULTILINE | re.DOTALL)
NAME = re.compile(r"\*\*(.+?)\*\*")
ON_THE_PAGE = re.compile(r"\s*On the page: ([^.]*)\.", re.DOTALL)
ALIAS = re.compile(r"\*([^*]+)\*")
MODULE = re.compile(r"\s*`[a-z_]+\.[a-z_.]+`,?")


@cache
def terms() -> dict[str, str]:
    """What each term means, in plain text, by the term in small letters.

    A term is found by every name that its entry gives in bold, and by what the entry says it is
    called on the page. The first entry that has a name keeps it.
    """
    found: dict[str, str] = {}
    aliases: dict[str, str] = {}
    for entry in ENTRY.findall(chapter_text("glossary")):
        text = " ".join(entry.split())
        head, _, meaning = text.partition(": ")
        named = ON_THE_PAGE.search(meaning)
        plain = MODULE.sub("", ON_THE_PAGE.sub("", meaning)).replace("*", "").strip()
        line = f"{', '.join(NAME.findall(head))}: {plain}"
        for name in NAME.findall(head):
            found.setdefault(name.casefold(), line)
        for alias in ALIAS.findall(named[1]) if named else ():
            aliases.setdefault(alias.casefold(), line)
    return {**aliases, **found}


def has_term(word: str) -> bool:
    """True where the glossary explains a word."""
    return word.casefold() in terms()
