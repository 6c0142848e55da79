"""The language of boolean expressions."""

import itertools
import pickle
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiregen.errors import LogicError
from wiregen.model.logic import MAX_WORDS, parse

_NAMES = ("stop", "turn_left", "_a1", "normal", "android")
# Python's operators on whole numbers bind in the same order as ours: ~ before & before ^ before |
# (The Python Language Reference, 6.17 Operator precedence).
_PYTHON = {"and": "&", "or": "|", "xor": "^", "not": "~", "always": "1", "never": "0"}


def _python_value(text, signals):
    translated = re.sub(r"\w+", lambda m: _PYTHON.get(m[0], str(int(signals.get(m[0], 0)))), text)
    return bool(eval(translated) & 1)


def _expressions():
    leaf = st.sampled_from([*_NAMES, "always", "never"])

    def grow(inner):
        pair = st.tuples(inner, st.sampled_from([" and ", " or ", " xor ", "  xor\t"]), inner).map("".join)
        wrapped = [inner.map(form.format) for form in ("not {}", "({})", "( not({}) )")]
        return st.one_of(pair, *wrapped)

    return st.recursive(leaf, grow, max_leaves=25)


@given(_expressions())
def test_same_truth_as_python_for_every_setting(text):
    """Every expression has the value that Python's own operators give, for all settings of its signals."""
    expression = parse(text)
    for setting in itertools.product((False, True), repeat=len(expression.names)):
        signals = dict(zip(expression.names, setting, strict=True))
        assert expression.value(signals) == _python_value(text, signals)
        assert expression.value(signals.__getitem__) == _python_value(text, signals)


@given(_expressions())
def test_names_are_every_signal_in_order(text):
    """The names are the signals of the text, each once, in order of first appearance."""
    words = [word for word in re.findall(r"\w+", text) if word in _NAMES]
    assert parse(text).names == tuple(dict.fromkeys(words))


@given(_expressions())
def test_hashes_and_pickles(text):
    """An expression can be a key and can cross to another process."""
    expression = parse(text)
    again = pickle.loads(pickle.dumps(expression))
    assert again == expression
    assert hash(again) == hash(expression)


@given(st.text(alphabet="ab ()&|!^-=\n or not and xor2é", max_size=60))
def test_any_text_is_read_or_refused_with_a_place(text):
    """No text does anything but parse, or fail with a word that lies inside the text or just behind it."""
    place = (0, 1)
    try:
        parse(text)
    except LogicError as error:
        place = (error.column, error.length)
    assert 0 <= place[0] <= len(text.strip())
    assert place[0] + place[1] <= len(text.strip()) + 1
    assert place[1] >= 1


@pytest.mark.parametrize(
    ("text", "signals", "value"),
    [
        ("a or b and c", {"a": True, "b": True, "c": False}, True),
        ("a xor b and c", {"a": True, "b": True, "c": False}, True),
        ("a or b xor c", {"a": True, "b": True, "c": True}, True),
        ("not a and b", {"a": False, "b": False}, False),
        ("not (a and b)", {"a": False, "b": False}, True),
        ("a xor b xor c", {"a": True, "b": True, "c": True}, True),
        ("not not a", {"a": True}, True),
    ],
)
def test_precedence(text, signals, value):
    """'not' binds tightest, then 'and', 'xor', 'or'."""
    assert parse(text).value(signals) is value


@pytest.mark.parametrize(
    ("text", "bare"),
    [("a", True), (" a ", True), ("(a)", True), ("not a", False), ("always", False), ("a or a", False)],
)
def test_bare(text, bare):
    """Only one signal and nothing else is bare; brackets round it change nothing."""
    assert parse(text).is_bare is bare


def test_keeps_the_text_without_blanks_round_it():
    """The text is kept as written, for the chart."""
    assert parse("  stop  or brake ").text == "stop  or brake"


@pytest.mark.parametrize(
    ("text", "column", "length", "words"),
    [
        ("", 0, 1, "the expression is empty"),
        (" \n\t ", 0, 1, "the expression is empty"),
        ("brake AND left", 6, 3, "small letters: 'and'; the words are 'and', 'or', 'xor' and 'not'"),
        ("NOT left", 0, 3, "written in small letters: 'not'"),
        ("Always", 0, 6, "written in small letters: 'always'"),
        ("brake && left", 6, 2, "'&&' is no sign here, write 'and'; the words are"),
        ("brake & left", 6, 1, "write 'and'"),
        ("brake|left", 5, 1, "write 'or'"),
        ("brake || left", 6, 2, "write 'or'"),
        ("brake^left", 5, 1, "write 'xor'"),
        ("brake != left", 6, 2, "write 'xor'"),
        ("!brake", 0, 1, "write 'not'"),
        ("~brake", 0, 1, "write 'not'"),
        ("a == b", 2, 2, "not (a xor b)"),
        ("turn-left", 4, 1, "names are written with '_'"),
        ("brake adn left", 6, 3, "did you mean 'and'?"),
        ("brake left", 6, 4, "'and', 'or', 'xor' or the end is wanted"),
        ("brake not left", 6, 3, "'and', 'or', 'xor' or the end is wanted"),
        ("brake or", 8, 1, "ends too early"),
        ("not", 3, 1, "ends too early"),
        ("a and or b", 6, 2, "a signal, 'not' or '(' is wanted"),
        ("()", 1, 1, "')' does not fit here"),
        ("a or (b and (c)", 5, 1, "'(' is never closed"),
        ("a) or b", 1, 1, "')' closes nothing"),
        ("  a 2", 2, 1, "'2' does not fit here"),
        ("é", 0, 1, "'é' does not fit here"),
    ],
)
def test_refusals_name_the_word_and_the_way_out(text, column, length, words):
    """A refusal points at the offending word and says what is wanted."""
    with pytest.raises(LogicError) as caught:
        parse(text)
    assert words in str(caught.value)
    assert (caught.value.column, caught.value.length) == (column, length)


def test_known_signals():
    """With a list of signals a name outside it is refused, with the nearest one; constants always pass."""
    assert parse("stop or always", known=["stop", "tail"]).names == ("stop",)
    message = r"'tial' is not known here; did you mean 'tail'\? Allowed: stop, tail"
    with pytest.raises(LogicError, match=message) as caught:
        parse("stop or tial", known=["stop", "tail"])
    assert (caught.value.column, caught.value.length) == (8, 4)


@pytest.mark.parametrize(
    "text",
    [
        "not " * (MAX_WORDS - 1) + "a",
        "(" * 199 + "a" + ")" * 199,
        "a" + " or a" * 199,
        "(a xor " * 99 + "a" + ")" * 99,
    ],
)
def test_longest_expressions_need_no_stack(text):
    """An expression of the greatest length works however it is nested, also in pickling and printing."""
    expression = parse(text)
    assert expression.value({"a": True}) == _python_value(text, {"a": True})
    assert pickle.loads(pickle.dumps(expression)) == expression
    assert expression.names == ("a",)
    assert repr(expression).startswith("Expression(")


@pytest.mark.parametrize("text", ["not " * MAX_WORDS + "a", "(" * 100_000])
def test_longer_expressions_are_refused(text):
    """One word more is refused, and so is a text made to exhaust the stack."""
    with pytest.raises(LogicError, match=f"{MAX_WORDS} are the most") as caught:
        parse(text)
    assert len(re.findall(r"not|\(", text[: caught.value.column])) == MAX_WORDS
