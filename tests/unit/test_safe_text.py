"""Words of a user made safe for a page, a spreadsheet and a terminal."""

import json
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiregen.paper.json_text import json_text
from wiregen.paper.safe_text import REPLACEMENT, clean, escape_html, guard_csv


@pytest.mark.parametrize(
    "code", [*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F, 0x061C, 0x200B, 0xFEFF]
)
def test_bidirectional_controls_become_visible(code):
    """Unicode bidirectional controls (UAX 9, section 2) and zero-width characters become visible."""
    assert clean(f"X1{chr(code)}:B") == f"X1{REPLACEMENT}:B"


def test_words_of_other_scripts_stay():
    """Hebrew, Arabic, Persian joiners, accents and symbols are no danger and stay."""
    text = "אור ضوء می‌خواهم Anhänger 2,5 mm² ≠ Ω"
    assert clean(text) == text


@given(st.text(max_size=100))
def test_escaped_html_is_inert(text):
    """Escaped text has no markup and no control character, whatever goes in."""
    escaped = escape_html(text)
    assert not set(escaped) & set("<>\"'\n\t\x00")
    assert all(unicodedata.category(c) not in ("Cc", "Cs", "Zl", "Zp") for c in escaped)


@given(st.text(max_size=60))
def test_guarded_cell_never_starts_a_formula(text):
    """Whatever the text, the cell after guarding starts with no formula sign, spaces aside."""
    assert guard_csv(text).lstrip()[:1] not in tuple("=+-@＝＋－＠")


def test_json_keeps_a_file_name_that_the_locale_cannot_read():
    """A Latin-1 name under UTF-8 reaches JSON as an escape (RFC 8259, section 8.2): written, and read back the same."""
    name = b"m\xf6we.toml".decode("utf-8", "surrogateescape")

    assert json.loads(json_text({"file": name}).encode()) == {"file": name}
