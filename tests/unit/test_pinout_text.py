"""Pinouts on a terminal: how well each wiring is supported, and no word twice."""

import re

import pytest

from wiregen.catalogue.connector import SUPPORT_WORDS, Connector
from wiregen.loader.pinout_files import built_in_pinouts
from wiregen.paper.safe_text import display_width
from wiregen.questions.pinouts.paper import list_text, show_text, support_summary

PINOUTS = dict(built_in_pinouts())


LIST = list_text(list(PINOUTS.items()))


def test_the_list_has_a_line_for_each_wiring_and_fits_on_a_screen():
    """Name, voltage, contacts, stop and turn, shell and proof on one line of 80 columns; at most 40 lines in all."""
    lines = LIST.splitlines()
    rows = {line.split()[0]: line for line in lines if line.split()[0] in PINOUTS}
    assert set(rows) == set(PINOUTS)
    assert [name for name, pinout in PINOUTS.items() if not rows[name].endswith(support_summary(pinout))] == []
    assert [name for name, pinout in PINOUTS.items() if f"  {pinout.stop_turn}  " not in rows[name]] == []
    assert max(map(display_width, lines)) <= 80
    assert len(lines) <= 40


def test_the_summary_counts_what_is_proved_and_names_what_is_not():
    """Counts of the good marks, the marks of the doubtful contacts."""
    assert support_summary(PINOUTS["military-12-us"]) == "6×2, 6×1"
    assert support_summary(PINOUTS["military-12-commonwealth"]) == "11×2; ≠ F"


def test_the_list_begins_with_the_wirings_that_nobody_may_trust():
    """Wirings with contacts in doubt stand first, the most doubtful at the top, and the first line counts them."""
    names = [line.split()[0] for line in LIST.splitlines() if line.split()[0] in PINOUTS]
    doubts = [sum(contact.is_doubtful for contact in PINOUTS[name].contact) for name in names]
    assert doubts == sorted(doubts, reverse=True)
    assert LIST.startswith(f"{len(PINOUTS)} wirings, {sum(map(bool, doubts))} of them with contacts that are NOT")


def test_wirings_that_mate_have_one_letter():
    """Shells that several wirings share have a letter each; a shell of its own has none."""
    rows = {line.split()[0]: line.split() for line in LIST.splitlines() if line.split()[0] in PINOUTS}
    letters = {name: row[4] if re.fullmatch("[A-Z]", row[4]) else "" for name, row in rows.items()}
    for name, pinout in PINOUTS.items():
        mates = {other for other in PINOUTS if PINOUTS[other].shell == pinout.shell}
        same = {other for other in PINOUTS if letters[other] and letters[other] == letters[name]}
        assert same == (mates if len(mates) > 1 else set())


def test_a_colour_that_is_known_worse_than_its_function_says_so():
    """Every field has a mark of its own: a red wire that nobody documented beside a stop contact of two sources."""
    stop = {"mark": "6", "circuit": "stop", "function": "stop", "sources": ["I5", "I4"], "support": "two"}
    proof = {"colour": {"sources": ["memory"], "support": "memory"}, "size": {"sources": ["I4"], "support": "one"}}
    more = {"colour": "RD", "size": "1.5 mm²", "takes": {"smallest": "1 mm²", "largest": "2.5 mm²"}, "rating_a": 10}
    frame = {"title": "Trial", "short": "trial", "shell": "trial", "voltage_v": [12], "stop_turn": "separate"}
    made = Connector.model_validate(frame | {"contact": [stop | more | {"proof": proof}]})
    wanted = "RD red [? ! NOT VERIFIED]; 1.5 mm² [1 I4]; takes 1 to 2.5 mm² [2]; rating 10 A [2]"
    text = show_text("trial", made, [("trial", made)], 120)
    assert "6   stop [2 I5 I4]" in text
    assert wanted in text
    assert made.colour_words(made.contact[0], "RD") == "red (?)"
    assert made.colour_words(made.contact[0], "BU") == "blue"


@pytest.mark.parametrize("name", PINOUTS)
def test_no_contact_says_its_circuit_twice(name):
    """'ground: ground' says no more than 'ground'."""
    text = show_text(name, PINOUTS[name], list(PINOUTS.items()))
    assert re.findall(r"^\S+ +([^:\n]+): \1", text, re.MULTILINE) == []
    assert [line for line in text.splitlines() if display_width(line) > 80] == []


@pytest.mark.parametrize("name", PINOUTS)
def test_a_contact_that_is_not_verified_says_so(name):
    """In words beside its mark, as often as the file has such contacts."""
    doubtful = [contact.mark for contact in PINOUTS[name].contact if contact.is_doubtful]
    text = show_text(name, PINOUTS[name], list(PINOUTS.items()), 400)
    assert re.findall(r"^(\S+) .*\[[?≠][^]]* ! NOT VERIFIED\]$", text, re.MULTILINE) == doubtful


@pytest.mark.parametrize("name", [name for name, pinout in PINOUTS.items() if pinout.usual_size])
def test_usual_conductors_stand_under_the_contacts_with_their_support(name):
    """What is usual is printed once, as not verified, and its sources are in the list."""
    usual = PINOUTS[name].usual_size
    text = show_text(name, PINOUTS[name], list(PINOUTS.items()), 200)
    assert text.count(f"Usual conductors: {usual.size}") == 1
    assert re.search(r"Usual conductors: [^[]*\[[^]]*! NOT VERIFIED\]", text)
    assert all(f"\n  {key}: " in text for key in usual.sources)
    assert SUPPORT_WORDS[usual.support] in text.splitlines()[-1]
