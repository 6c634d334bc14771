"""Signs of a text as a typesetter sees them: what belongs together, where a line may end, what no document may hold."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

JOINERS = frozenset({0x200B, 0x200C, 0x200D, 0x2060, 0xFEFF, *range(0xFE00, 0xFE10), *range(0xE0020, 0xE0080)})
"""Signs without a width or a look of their own, whatever the font: joiners, variation selectors, tags."""
_ZERO_WIDTH_JOINER = "\u200d"
_DROPPED = re.compile("[\u200d\ufeff\U000e0020-\U000e007f]")
LONG_WORD = 28
"""Characters of a word from which it may be broken anywhere: no unit, number or word of the trade is longer."""
_BLANKS = re.compile("[ \t\n\r\f\v\u2028\u2029]+")
"""Where a line may end: at a blank, and at no no-break space."""
_NONE = "".join(chr(plane + low) for plane in range(0, 0x110000, 0x10000) for low in (0xFFFE, 0xFFFF))
_FORBIDDEN = re.compile(f"[\ufdd0-\ufdef{_NONE}\ud800-\udfff]|[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
"""What Unicode calls no characters, halves of pairs, and control characters.

XML 1.0, clause 2.2; WHATWG HTML, "preprocessing the input stream"."""
REPLACEMENT = "▯"
"""What stands for a sign that cannot be shown; a report says which signs those are."""


def allowed(text: str) -> str:
    """A text without what no XML or HTML may hold: ▯ stands for it."""
    return _FORBIDDEN.sub(REPLACEMENT, text)


def words_of_line(text: str) -> list[str]:
    """Words between which a line may end."""
    return [word for word in _BLANKS.split(text) if word]


def one_line(text: str) -> str:
    """A text with single blanks, no-break spaces kept."""
    return " ".join(words_of_line(text))


def has_no_width(sign: str) -> bool:
    """Whether a sign has no width of its own: an accent, a joiner, a variation selector."""
    return ord(sign) in JOINERS or unicodedata.category(sign) in {"Mn", "Me"}


def clusters(text: str) -> Iterator[str]:
    """Signs with what belongs to them: nothing is parted from its accents or joiners. After UAX 29, in short."""
    held = ""
    for sign in text:
        joined = ord(sign) in JOINERS or unicodedata.category(sign)[0] == "M" or held.endswith(_ZERO_WIDTH_JOINER)
        if held and not joined:
            yield held
            held = ""
        held += sign
    if held:
        yield held


def parted(cluster: str) -> str:
    """A cluster with its signs side by side, for who cannot join them: no joiner, no tag."""
    return _DROPPED.sub("", cluster)


def breakable(text: str, longest: int = LONG_WORD) -> str:
    """A text whose overlong words may be broken: after a stroke, dot or hyphen first, else between any two signs.

    A zero-width space stands where a line may end; words of up to ``longest`` signs stay whole.
    """
    return " ".join(_broken(word, longest) if len(word) > longest else word for word in text.split(" "))


def _broken(word: str, longest: int) -> str:
    parts: list[list[str]] = [[]]
    for cluster in clusters(word):
        if parts[-1] and parts[-1][-1][0] in "/._-" and cluster[0] not in "/._-":
            parts.append([])
        parts[-1].append(cluster)
    whole = ("".join(part) if sum(map(len, part)) <= longest else "\u200b".join(part) for part in parts)
    return "\u200b".join(whole)
