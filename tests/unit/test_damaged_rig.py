"""Damaged rig files: whatever happened to the text, only an InputError is raised, and its places exist."""

import random
import re
from pathlib import Path

import pytest

from wiregen.errors import InputError
from wiregen.loader.rig_file import load_rig_text

DEMOS = sorted((Path(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo").glob("*.toml"))


def mutate(lines: list[str], rnd: random.Random) -> list[str]:
    """Damage a file the way an editor slip does."""
    lines = list(lines)
    kind = rnd.randrange(8)
    at, other = rnd.randrange(len(lines)), rnd.randrange(len(lines))
    if kind == 0:
        del lines[at]
    elif kind == 1:
        lines[at], lines[other] = lines[other], lines[at]
    elif kind == 2:
        lines.insert(other, lines[at])
    elif kind == 3:
        # Exchange the values of two keys.
        left, _, value = lines[at].partition("=")
        left2, _, value2 = lines[other].partition("=")
        if value and value2:
            lines[at], lines[other] = f"{left}={value2}", f"{left2}={value}"
    elif kind == 4:
        words = re.findall(r"[\w-]+", lines[at])
        if words:
            word = rnd.choice(words)
            lines[at] = lines[at].replace(word, rnd.choice(["", word[:-1], word + "x", word.upper(), "0", "tail"]), 1)
    elif kind == 5:
        spot = rnd.randrange(len(lines[at]) + 1)
        lines[at] = lines[at][:spot] + rnd.choice('"[]{}=,.#\x00\\é\t🚌') + lines[at][spot:]
    elif kind == 6:
        return lines[: at + 1]
    else:
        digits = re.sub(r"\d+", lambda m: rnd.choice(["0", "-1", "7", "1e9", m.group() * 3]), lines[at], count=1)
        lines[at] = digits
    return lines


def damaged(seed: int) -> str:
    rnd = random.Random(seed)
    lines = DEMOS[seed % len(DEMOS)].read_text(encoding="utf-8").split("\n")
    for _ in range(rnd.randint(1, 3)):
        lines = mutate(lines, rnd)
    return "\n".join(lines)


def refused(text: str) -> InputError | None:
    """The InputError of a text, or None when it loads; anything else that is raised comes through."""
    try:
        load_rig_text(text)
    except InputError as error:
        return error
    return None


@pytest.mark.parametrize("seed", range(300))
def test_a_damaged_file_gives_input_errors_only(seed):
    """Three hundred damaged demo files load or raise an InputError, every problem of which has a place that exists."""
    text = damaged(seed)
    error = refused(text)
    if error is None:
        return
    assert error.problems
    for one in error.problems:
        assert one.message
        for place in one.marks:
            assert place.file == "rig.toml"
            assert 1 <= place.line <= text.count("\n") + 1
            assert place.column >= 1
    assert str(error)


def test_the_damage_is_of_both_kinds():
    """Of the three hundred damaged files some load and most do not: the test above sees both."""
    loads = sum(refused(damaged(seed)) is None for seed in range(300))
    assert 30 < loads < 270
