"""What a text must say however its English is mended: figures, and words that carry meaning."""

from __future__ import annotations


def missing_words(text: str, *words: str) -> list[str]:
    """Which of these a text does not say, one after the other, capitals or not."""
    rest, missing = text.casefold(), []
    for word in words:
        _, found, after = rest.partition(word.casefold())
        if found:
            rest = after
        else:
            missing.append(word)
    return missing
