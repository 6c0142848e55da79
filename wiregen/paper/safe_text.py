"""Make a user's words safe and honest in a file that somebody else will open.

A title or a note in a rig file is data. It must not become markup, a spreadsheet formula or a terminal
command, and it must not make the reader see another text than the one that stands there: a right-to-left
override can turn ``X1:B`` into something else on the screen while the bytes stay the same.
"""

from __future__ import annotations

import html
import re
import unicodedata
from typing import Final

#: Stands for a character that was taken out, so that the reader sees that something was there.
REPLACEMENT: Final = "\N{REPLACEMENT CHARACTER}"

#: Joiners are needed to write Persian, Hindi and others; they reorder nothing.
_KEPT_FORMAT: Final = frozenset("\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}")

_MARKDOWN_SPECIAL: Final = re.compile(r"([\\`*_{}\[\]#~|@$!])")
_MARKDOWN_LINK: Final = re.compile(r"(?i)(?<=http)(?=://)|(?<=https)(?=://)|(?<=ftp)(?=://)|(?<=www)(?=\.)")

#: First characters that make a spreadsheet read a cell as a formula; some take the wide forms too.
_FORMULA_STARTS: Final = frozenset("=+-@＝＋－＠")


def clean(text: str) -> str:
    """Return ``text`` on one line, with no control, bidirectional or invisible character.

    Line ends and tabs become a space; other control characters, bidirectional controls, zero-width
    characters, lone surrogates and noncharacters become U+FFFD. Letters of right-to-left scripts stay.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_clean_character(character) for character in text)


def _clean_character(character: str) -> str:
    category = unicodedata.category(character)
    if character in "\t\n\r\v\f\x85" or category in ("Zl", "Zp"):
        return " "
    if category in ("Cc", "Cs") or (category == "Cf" and character not in _KEPT_FORMAT):
        return REPLACEMENT
    code = ord(character)
    if 0xFDD0 <= code <= 0xFDEF or code & 0xFFFE == 0xFFFE:
        return REPLACEMENT
    return character


def escape_html(text: str) -> str:
    """Return ``text`` cleaned and escaped for HTML text and for attribute values in double quotes."""
    return html.escape(clean(text), quote=True)


def escape_markdown(text: str) -> str:
    """Return ``text`` cleaned and escaped for one cell or paragraph of GitHub Markdown.

    HTML becomes entities, marks of emphasis, links, code, headings, tables, formulas and mentions get a
    backslash, and addresses are not turned into links.
    """
    text = _MARKDOWN_LINK.sub("\\\\", _MARKDOWN_SPECIAL.sub(r"\\\1", clean(text)))
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def guard_csv(text: str) -> str:
    """Return ``text`` cleaned, with an apostrophe in front where a spreadsheet would read a formula.

    The apostrophe also stands before a cell that starts with a tab or a line end, which some readers strip.
    """
    bare = text.lstrip()
    risky = bare[:1] in _FORMULA_STARTS if bare else False
    return ("'" if risky or text[:1] in ("\t", "\r", "\n") else "") + clean(text)


def display_width(text: str) -> int:
    """Return how many terminal columns ``text`` takes: wide characters two, combining marks none."""
    return sum(_character_width(character) for character in text)


def _character_width(character: str) -> int:
    if character.isascii():
        return 1
    if unicodedata.combining(character) or unicodedata.category(character) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in ("W", "F") else 1
