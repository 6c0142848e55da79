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


#: An own pinout of before fields had a proof of their own, and returns were said on the ground contact alone.
OLDER = {
    **OWN,
    "usual_size": {"size": "1.5 mm²", "sources": ["a shop in town"], "support": "memory"},
    "face": {"sources": ["a look at the door"]},
    "contact": [{**OWN["contact"][0], "return_for": ["b"]}, *OWN["contact"][1:]],
}


def test_an_older_pinout_of_ones_own_keeps_loading(tmp_path):
    """Without a word on fields each rests on what its function rests on; returns may be said on the ground contact."""
    (tmp_path / "boathouse.toml").write_text(dump(OLDER), encoding="utf-8")
    (plug,) = load(rig(plug="boathouse"), tmp_path).plugs
    ground, tail, *others = plug.contact
    assert plug.proof_of(tail, "colour") is tail
    assert (plug.return_of(tail), [plug.return_of(contact) for contact in (ground, *others)]) == (ground, [None] * 3)


def test_a_field_has_its_own_proof_else_that_of_the_pinout_else_that_of_the_function(tmp_path):
    """The nearest word counts, field by field."""
    shared = {"colour": {"sources": ["memory"], "support": "memory"}, "size": {"sources": ["I4"], "support": "one"}}
    own = {"colour": {"sources": ["BOAT", "I5"], "support": "disagree", "note": "the door and the book"}}
    contacts = [OWN["contact"][0], {**OWN["contact"][1], "proof": own}, *OWN["contact"][2:]]
    (tmp_path / "boathouse.toml").write_text(dump({**OWN, "proof": shared, "contact": contacts}), encoding="utf-8")
    (plug,) = load(rig(plug="boathouse"), tmp_path).plugs
    signs = [
        [plug.proof_of(contact, field).sign for field in ("colour", "size", "rating_a")] for contact in plug.contact
    ]
    assert signs == [["?", "1", "1"], ["≠", "1", "1"], ["?", "1", "1"], ["?", "1", "1"]]


@pytest.mark.parametrize(
    ("index", "keys", "message"),
    [
        (1, {"returns_by": "e"}, "there is no contact 'e'"),
        (1, {"returns_by": "c"}, "contact 'c' is no ground, and a load returns by a ground contact. Grounds here: a"),
        (0, {"returns_by": "a"}, "contact 'a' is a ground itself: it returns by no other"),
        (1, {"return_for": ["c"]}, "contact 'b' is no ground, and a load returns by a ground contact. Grounds here: a"),
        (1, {"takes": {"smallest": "10 AWG", "largest": "14 AWG"}}, "the smallest wire, 10 AWG, is thicker than"),
        (1, {"proof": {"size": {"sources": ["BOOT"], "support": "one"}}}, "source 'BOOT' is not known; did you mean"),
    ],
)
def test_what_a_contact_says_of_returns_sizes_and_proofs_is_checked(tmp_path, index, keys, message):
    """A return is a ground of the same pinout, a range of sizes rises, a source has a name; the line is told."""
    contacts = [{**contact, **(keys if number == index else {})} for number, contact in enumerate(OWN["contact"])]
    (tmp_path / "boathouse.toml").write_text(text := dump({**OWN, "contact": contacts}), encoding="utf-8")
    one = only_beside(rig(plug="boathouse"), tmp_path)
    assert one.message.startswith(message)
    assert one.marks[0].source_line.strip() in text.splitlines()
    assert next(iter(keys)) in one.marks[0].source_line or "sources" in one.marks[0].source_line


def test_two_words_on_one_return_must_agree(tmp_path):
    """The load says one ground and another ground says that it is its return: the file is refused."""
    grounds = [{**OWN["contact"][0], "mark": mark} for mark in ("x", "y")]
    grounds[0]["return_for"] = ["b"]
    contacts = [*grounds, {**OWN["contact"][1], "returns_by": "y"}, *OWN["contact"][2:]]
    (tmp_path / "boathouse.toml").write_text(dump({**OWN, "contact": contacts}), encoding="utf-8")
    assert only_beside(rig(plug="boathouse"), tmp_path).message == "contact 'b' says that it returns by 'y'"


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
