"""Pinouts on a terminal: how well each wiring is supported, and no word twice."""

import re

import pytest

from wiregen.catalogue.connector import SUPPORT_WORDS
from wiregen.loader.pinout_files import built_in_pinouts
from wiregen.paper.safe_text import display_width
from wiregen.questions.pinouts.paper import list_text, show_text, support_summary

PINOUTS = dict(built_in_pinouts())


def test_the_list_says_how_well_each_wiring_is_supported():
    """One line of support for each wiring, counts that add up to its contacts, doubtful marks by name."""
    flat = re.sub(r"\s+", " ", list_text(list(PINOUTS.items())))
    assert [name for name, pinout in PINOUTS.items() if support_summary(pinout) not in flat] == []
    assert support_summary(PINOUTS["military-12-us"]) == "support: two sources for 6, one source for 6 of 12 contacts"
    wanted = "support: two sources for 11 of 12 contacts; ! NOT VERIFIED, sources disagree: F"
    assert support_summary(PINOUTS["military-12-commonwealth"]) == wanted


def test_names_and_titles_do_not_touch():
    """The longest name leaves a gap before the title."""
    assert "military-12-commonwealth  12-contact" in list_text(list(PINOUTS.items()))


@pytest.mark.parametrize("name", PINOUTS)
def test_no_contact_says_its_circuit_twice(name):
    """'ground: ground' says no more than 'ground'."""
    text = show_text(name, PINOUTS[name], list(PINOUTS.items()))
    assert re.findall(r"^\S+ +([^:\n]+): \1", text, re.MULTILINE) == []
    assert [line for line in text.splitlines() if display_width(line) > 80] == []


@pytest.mark.parametrize("name", PINOUTS)
def test_a_contact_that_is_not_verified_says_so(name):
    """In words beside its mark, as often as the file has such contacts."""
    doubtful = sum(contact.support in ("memory", "disagree") for contact in PINOUTS[name].contact)
    text = show_text(name, PINOUTS[name], list(PINOUTS.items()), 200)
    assert len(re.findall(r"support \S ! NOT VERIFIED", text)) == doubtful


@pytest.mark.parametrize("name", [name for name, pinout in PINOUTS.items() if pinout.usual_size])
def test_usual_conductors_stand_under_the_contacts_with_their_support(name):
    """What is usual is printed once, as not verified, and its sources are in the list."""
    usual = PINOUTS[name].usual_size
    text = show_text(name, PINOUTS[name], list(PINOUTS.items()), 200)
    assert text.count(f"Usual conductors, ! NOT VERIFIED: {usual.size}") == 1
    assert all(f"\n  {key}: " in text for key in usual.sources)
    assert SUPPORT_WORDS[usual.support] in text.splitlines()[-1]
