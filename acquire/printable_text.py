"""Text from files, analyzers and people, as it may be shown: nothing in it steers a screen."""

from __future__ import annotations


def plain(text: object) -> str:
    """Return text with everything that is no printable letter written out, line ends included.

    So nothing in it can move a cursor, colour a screen or turn the writing round (controls,
    bidirectional overrides, unpaired surrogates; Unicode's categories C and Z but the space).
    """
    words = str(text)
    if words.isprintable():
        return words
    return "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape", "replace").decode()
        for letter in words
    )
