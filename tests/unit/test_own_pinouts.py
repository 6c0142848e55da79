"""Pinouts of a user's own beside the rig, the digest, and the places of a loaded rig."""

import re
from pathlib import Path

import pytest

from tests.problems import OWN, problems
from tests.rigs import dump, line_of, load, rig, straight, trailer
from wiregen.errors import Problem
from wiregen.loader.pinout_files import built_in_names, find_pinout
from wiregen.loader.rig_file import load_rig


@pytest.mark.parametrize("name", ["boathouse", "boathouse.toml", "pinouts/boathouse.toml"])
def test_a_pinout_of_ones_own(tmp_path, name):
    """A pinout beside the rig is found by its name, with or without its ending, and may name a source of its own."""
    place = tmp_path / (name if name.endswith(".toml") else f"{name}.toml")
    place.parent.mkdir(exist_ok=True)
    place.write_text(dump(OWN), encoding="utf-8")
    text = rig(plug=name)
    loaded = load(text, tmp_path)
    assert (loaded.plugs[0].short, loaded.plugs[0].contact[1].sources) == ("boathouse plug", ("BOAT",))
    path = tmp_path / "my.toml"
    path.write_text(text, encoding="utf-8")
    assert load_rig(path).digest == loaded.digest


def test_the_bare_name_of_a_built_in_pinout_is_the_built_in_one(tmp_path):
    """A file beside the rig does not replace a built-in wiring by accident; named with its ending it is taken."""
    (tmp_path / "sae-j2863.toml").write_text(dump(OWN), encoding="utf-8")
    assert load(rig(plug="sae-j2863"), tmp_path).plugs[0].short == "7-way blade (SAE J2863)"
    assert load(rig(plug="sae-j2863.toml"), tmp_path).plugs[0].short == "boathouse plug"


def test_a_changed_pinout_is_read_again(tmp_path):
    """A user's own pinout that changes between two loads in one process is read anew, with another digest."""
    place = tmp_path / "boathouse.toml"
    place.write_text(dump(OWN), encoding="utf-8")
    before = load(rig(plug="boathouse"), tmp_path)
    place.write_text(dump({**OWN, "short": "boathouse plug, new"}), encoding="utf-8")
    after = load(rig(plug="boathouse"), tmp_path)
    assert (before.plugs[0].short, after.plugs[0].short) == ("boathouse plug", "boathouse plug, new")
    assert before.digest != after.digest


def test_a_pinout_of_ones_own_is_checked_too(tmp_path):
    """Unknown sources, marks written twice and ties to nothing are refused in the pinout's file, after the rig's."""
    contacts = [*OWN["contact"], {**OWN["contact"][3], "sources": ["BOATS"]}]
    bad = {**OWN, "bridged": [["b", "e"]], "contact": contacts}
    place = tmp_path / "boathouse.toml"
    place.write_text(dump(bad), encoding="utf-8")
    both = [trailer("boathouse", ["tail"], name=name) for name in ("one", "two")]
    found = problems(rig(trailers=both, channels=["taill > tail"]), tmp_path)
    assert [Path(one.marks[0].file).name for one in found] == ["rig.toml", *["boathouse.toml"] * 3]
    assert found[0].path == "adapter.channel.0.input"
    messages = sorted(one.message for one in found[1:])
    assert messages == [
        "contact 'd' is written twice",
        "source 'BOATS' is not known; did you mean 'BOAT'? Name it under [source_titles] if it is your own",
        "there is no contact 'e'",
    ]


def test_a_pinout_that_is_no_text_is_refused(tmp_path):
    """A pinout file that is not UTF-8, or no TOML, gives a problem and never another error."""
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    (tmp_path / "words.toml").write_text("these are words", encoding="utf-8")
    assert "UTF-16" in only_beside(rig(plug="bytes"), tmp_path).message
    assert only_beside(rig(plug="words"), tmp_path).marks[0].file.endswith("words.toml")


def only_beside(text: str, beside: Path) -> Problem:
    (one,) = problems(text, beside)
    return one


def test_without_a_folder_only_built_in_pinouts_are_found():
    """A rig made from text alone finds the built-in pinouts and nothing on the disk."""
    assert find_pinout("sae-j2863", None) is not None
    assert find_pinout("pyproject.toml", None) is None
    assert "military-12-us" in built_in_names()


def test_the_digest_is_that_of_text_and_pinouts(tmp_path):
    """The same rig has the same digest wherever it lies; another text or another pinout has another."""
    text = rig()
    (tmp_path / "boathouse.toml").write_text(dump(OWN), encoding="utf-8")
    assert load(text).digest == load(text, tmp_path).digest
    assert load(text).digest != load(text + "# a word\n").digest
    assert re.fullmatch(r"[0-9a-f]{12}", load(text).digest)


def test_origins_of_a_loaded_rig():
    """A loaded rig says where each table was written; of what is not written, where the table above is."""
    text = straight("military-12-us", "military-12-us", ["tail", "blackout_tail"])
    loaded = load(text)
    assert loaded.origin(("trailer", 0, "lamp", 1)).line == line_of(text, "[[trailer.lamp]]", 'type = "r5w-24v"')
    assert loaded.origin(("trailer", 0, "brakes")).line == line_of(text, "[[trailer]]")
    assert loaded.origin(("rules",)) is None
