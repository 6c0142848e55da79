"""Loading a rig: every misfit between records has its line, all of them in one run, and nothing else is ever raised."""

import random
import re
from pathlib import Path

import pytest

from tests.rigs import BOX_FEED, RUNS, SUPPLY, dump, line_of, load, rig, straight, trailer
from wiregen.errors import InputError, Problem
from wiregen.load.pinout_files import built_in_names, find_pinout
from wiregen.load.rig_file import load_rig, load_rig_text

DEMOS = sorted((Path(__file__).parent.parent.parent / "wiregen" / "demo").glob("*.toml"))


def problems(text: str, beside: Path | None = None) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        load(text, beside)
    return caught.value.problems


def only(text: str) -> Problem:
    (one,) = problems(text)
    return one


def marked(one: Problem, index: int = 0) -> str:
    """The text that the caret lies under."""
    place = one.marks[index]
    return place.source_line[place.column - 1 : place.column - 1 + place.length]


#: name -> rig, path, what is marked, a line that the mark is on or behind, part of the message
CROSS = {
    "positive ground": (
        rig(vehicle={"ground": "positive"}),
        "vehicle.ground",
        '"positive"',
        "[vehicle]",
        "positive-ground vehicles are not computed here",
    ),
    "tap named as a circuit": (
        rig(taps=[{"name": "stop", "live": "brake"}]),
        "vehicle.tap.1.name",
        '"stop"',
        'at = "battery"',
        "a tap may not have the name of a circuit ('stop')",
    ),
    "tap named as a word of the language": (
        rig(taps=[{"name": "supply", "live": "brake"}]),
        "vehicle.tap.1.name",
        '"supply"',
        'at = "battery"',
        "'supply' means something else here",
    ),
    "tap over an unknown signal": (
        rig(taps=[{"name": "pedal", "live": "not blackout and brakes"}]),
        "vehicle.tap.1.live",
        "brakes",
        'name = "pedal"',
        "'brakes' is not a control signal; did you mean 'brake'?",
    ),
    "habit over an unknown signal": (
        rig(vehicle={"habit": [{"circuit": "tail", "live": "light"}]}),
        "vehicle.habit.0.live",
        "light",
        "[[vehicle.habit]]",
        "'light' is not a control signal; did you mean 'lights'?",
    ),
    "channel input that is nothing": (
        rig(channels=["tail or taill > tail"]),
        "adapter.channel.0.input",
        "taill",
        "[[adapter.channel]]",
        "'taill' is neither a vehicle circuit nor a tap; did you mean 'tail'?",
    ),
    "misspelt tap in an input": (
        rig(channels=["stop_turn_left xor pedall > tail"], pedal=True),
        "adapter.channel.0.input",
        "pedall",
        "[[adapter.channel]]",
        "did you mean 'pedal'?",
    ),
    "channel that listens to nothing": (
        rig(channels=["always > tail"]),
        "adapter.channel.0.input",
        '"always"',
        "[[adapter.channel]]",
        "a channel must listen to at least one circuit",
    ),
    "logic over a wire": (
        rig(channels=["not tail > tail | wire"]),
        "adapter.channel.0.input",
        '"not tail"',
        "[[adapter.channel]]",
        "a wire passes one circuit on; logic needs a relay or solid_state",
    ),
    "channel that feeds a ground": (
        rig(channels=[{"input": "tail", "output": ["tail", "ground"]}]),
        "adapter.channel.0.output",
        "ground",
        "[[adapter.channel]]",
        "'ground' is nothing a channel feeds",
    ),
    "relay without a supply": (
        rig(supply=None),
        "adapter.channel.0",
        "[[adapter.channel]]",
        "[[adapter.channel]]",
        "this channel (relay) needs the adapter's 12 V",
    ),
    "drop-out above pick-up": (
        rig(channels=[{"input": "tail", "output": "tail", "pick_up": "14 V", "drop_out": "15 V"}]),
        "adapter.channel.0.drop_out",
        '"15 V"',
        "[[adapter.channel]]",
        "drop_out must be below pick_up",
    ),
    "key of another device": (
        rig(channels=[{"input": "tail", "output": "tail", "gain": "80 %"}]),
        "adapter.channel.0.gain",
        "gain",
        "[[adapter.channel]]",
        "gain does nothing for relay; it is for brake_controller",
    ),
    "key of another supply": (
        rig(supply={"kind": "centre_tap", "output": "12 V"}),
        "adapter.supply.output",
        "output",
        "[adapter.supply]",
        "output does nothing for centre_tap; it is for converter, battery",
    ),
    "misspelt feed": (
        rig(supply={**SUPPLY, "feed": "box_fed"}, taps=[BOX_FEED]),
        "adapter.supply.feed",
        "box_fed",
        "[adapter.supply]",
        "'box_fed' is neither a vehicle circuit nor a tap; did you mean 'box_feed'?",
    ),
    "adapter that does nothing": (
        rig(channels=[], supply=None),
        "adapter",
        "[adapter]",
        "[adapter]",
        "the adapter needs at least one [[adapter.channel]]",
    ),
    "fuse below the table": (
        rig(channels=[{"input": "tail", "output": "tail", "fuse": "0.5 A"}]),
        "adapter.channel.0.fuse",
        '"0.5 A"',
        "[[adapter.channel]]",
        "no fuse of 0.5 A is known here; the smallest is 1 A",
    ),
    "tie of a contact that is not there": (
        rig(ties=[["3", "8"]]),
        "trailer.0.ties.0",
        '["3", "8"]',
        "[[trailer]]",
        "7-way blade (SAE J2863) has no contact '8'. It has: 1, 2, 3, 4, 5, 6, 7",
    ),
    "lamp on a contact that is not there": (
        rig(lamps=[{"function": "tail", "at": "9"}]),
        "trailer.0.lamp.0.at",
        '"9"',
        "[[trailer.lamp]]",
        "7-way blade (SAE J2863) has no contact '9'. It has: 1, 2, 3, 4, 5, 6, 7",
    ),
    "lamp for a ground": (
        rig(lamps=[{"function": "ground"}]),
        "trailer.0.lamp.0.function",
        '"ground"',
        "[[trailer.lamp]]",
        "'ground' is nothing a lamp is for",
    ),
    "misspelt lamp type": (
        rig(lamps=["tail r5w12v"]),
        "trailer.0.lamp.0.type",
        '"r5w12v"',
        "[[trailer.lamp]]",
        "'r5w12v' is not a lamp type; did you mean 'r5w-12v'?",
    ),
    "lamp without data": (
        rig(lamps=[{"function": "tail", "technology": "led", "voltage": "12 V"}]),
        "trailer.0.lamp.0",
        "[[trailer.lamp]]",
        "[[trailer.lamp]]",
        "a lamp needs a type, or technology, voltage and power",
    ),
    "run between places that are not joined": (
        rig(runs=[{"from": "battery", "to": "lamps"}]),
        "run.0.to",
        '"lamps"',
        "[[run]]",
        "no conductor runs from battery to lamps. Allowed: battery to socket; socket to chassis;",
    ),
    "run of a trailer that is not there": (
        rig(runs=[{"from": "trailer", "to": "lamps", "trailer": "test trailor"}]),
        "run.0.trailer",
        '"test trailor"',
        "[[run]]",
        "there is no trailer 'test trailor'; did you mean 'test trailer'? There are: test trailer",
    ),
    "run of the vehicle for one trailer": (
        rig(runs=[{"from": "battery", "to": "socket", "trailer": "test trailer"}]),
        "run.0.trailer",
        "trailer",
        "[[run]]",
        "conductors from battery to socket serve every trailer: leave 'trailer' out",
    ),
    "run for a circuit that is nothing": (
        rig(runs=[{"from": "battery", "to": "adapter", "circuits": ["tail", "box_fee"]}]),
        "run.0.circuits.1",
        '"box_fee"',
        "[[run]]",
        "'box_fee' is neither a circuit nor a tap; did you mean 'box_feed'?",
    ),
    "misspelt pinout of the vehicle": (
        rig("military-12-usa"),
        "vehicle.socket",
        '"military-12-usa"',
        "[vehicle]",
        "'military-12-usa' is neither a built-in pinout nor a file beside the rig file; did you mean 'military-12-us'?",
    ),
    "misspelt pinout of a trailer": (
        rig(plug="sae-2863"),
        "trailer.0.plug",
        '"sae-2863"',
        "[[trailer]]",
        "did you mean 'sae-j2863'?",
    ),
    "choice for a contact that is not there": (
        rig(vehicle={"choose": {"Z": "charge"}}),
        "vehicle.choose.Z",
        "Z",
        "[vehicle.choose]",
        "12-contact, US military has no contact 'Z'",
    ),
    "choice for a contact that is known": (
        rig(vehicle={"choose": {"K": "charge"}}),
        "vehicle.choose.K",
        "K",
        "[vehicle.choose]",
        "contact 'K' is 'unused' in this pinout; only contacts marked 'choose' are chosen",
    ),
    "choice that the trade does not know": (
        rig("military-12-stanag", "iso-11446", vehicle={"choose": {"K": "fog"}}, lamps=["tail_left"]),
        "vehicle.choose.K",
        '"fog"',
        "[vehicle.choose]",
        "contact 'K' is found as charge, ignition in the trade, not as 'fog'",
    ),
}


@pytest.mark.parametrize("name", CROSS)
def test_a_misfit_between_records_has_its_place(name):
    """Each check between records gives one problem, at the line and column of the value that is wrong."""
    text, path, under, after, message = CROSS[name]
    one = only(text)
    assert (one.path, marked(one)) == (path, under)
    assert message in one.message
    place = one.marks[0]
    assert place.file == "rig.toml"
    assert place.line == line_of(text, under, after)
    assert one.text().startswith(f"rig.toml:{place.line}:{place.column}: ")


#: name -> rig, what the first and the second mark lie under, part of the message
TWO_PLACES = {
    "tap twice": (
        rig(taps=[{"name": "box_feed", "live": "brake"}]),
        '"box_feed"',
        '"box_feed"',
        "tap 'box_feed' is used twice",
    ),
    "feed of a circuit twice": (
        rig(vehicle={"feed": [{"circuits": ["tail"]}, {"circuits": ["stop_turn_left", "tail"]}]}),
        '"tail"',
        '"tail"',
        "feed of circuit 'tail' is used twice",
    ),
    "habit twice": (
        rig(vehicle={"habit": [{"circuit": "tail", "live": "fog"}, {"circuit": "tail", "live": "lights"}]}),
        '"tail"',
        '"tail"',
        "habit of circuit 'tail' is used twice",
    ),
    "channel twice": (
        rig(channels=[{"input": "tail", "output": "tail", "name": "A1"}] * 2),
        '"A1"',
        '"A1"',
        "channel 'A1' is used twice",
    ),
    "trailer twice": (
        rig(trailers=[trailer("sae-j2863", ["tail"]), trailer("sae-j2863", ["tail"])]),
        '"test trailer"',
        '"test trailer"',
        "trailer 'test trailer' is used twice",
    ),
    "straight lead with a channel": (
        rig(adapter={"straight": True}, supply=None, channels=["tail > tail | wire"]),
        "[[adapter.channel]]",
        "true",
        "a straight lead has neither supply nor channels",
    ),
    "brakes without a contact": (
        rig(plug="sae-j1239-4", brakes={"magnets": 2}),
        "[trailer.brakes]",
        '"sae-j1239-4"',
        "4-way flat (SAE J1239) has no contact for electric brakes",
    ),
    "lock-out without a contact": (
        rig(plug="sae-j1239-4", lock_out={"resistance": "10 ohm"}),
        "[trailer.lock_out]",
        '"sae-j1239-4"',
        "has no reverse contact for a lock-out",
    ),
    "lamp without a contact": (
        rig(plug="sae-j1239-4", lamps=["reverse"]),
        '"reverse"',
        '"sae-j1239-4"',
        "has no contact for 'reverse'. It has: tail, stop_turn_left, stop_turn_right",
    ),
    "lamp with a type and data": (
        rig(lamps=[{"function": "tail", "type": "r5w-12v", "power": "5 W"}]),
        '"5 W"',
        '"r5w-12v"',
        "a lamp has a type or its own data, not both",
    ),
    "centre tap of a 12 V vehicle": (
        rig(vehicle={"battery": {"nominal": "12 V"}}, supply={"kind": "centre_tap"}),
        '"centre_tap"',
        '"12 V"',
        "a centre tap wants two 12 V batteries in series",
    ),
}


@pytest.mark.parametrize("name", TWO_PLACES)
def test_a_clash_shows_both_places(name):
    """A clash of two places marks both, and prints both with their lines and carets."""
    text, first, second, message = TWO_PLACES[name]
    one = only(text)
    assert message in one.message
    assert (marked(one, 0), marked(one, 1)) == (first, second)
    assert one.marks[0].line != one.marks[1].line
    printed = one.text()
    assert printed.count("^") == one.marks[0].length + one.marks[1].length
    assert f"rig.toml:{one.marks[1].line}:{one.marks[1].column}: and here" in printed


def test_brakes_on_a_contact_of_choice_get_the_words_to_write():
    """Where a contact of choice may carry the brakes, the message says what to write; written so, it loads."""
    text = rig(plug="flat-5", brakes={"magnets": 2})
    hint = re.search(r'say choose = \{ "(\w+)" = "brake" \}', only(text).message)
    assert hint
    assert load(rig(plug="flat-5", brakes={"magnets": 2}, choose={hint.group(1): "brake"})).plugs[0].on("brake")


def test_all_problems_in_one_run_in_the_order_of_the_file():
    """Problems of every kind come together: unknown pinouts do not hide a lamp, a run or a feed that is wrong."""
    text = rig(
        "military-12-usa",
        channels=["taill > tail", {"input": "tail", "output": "ground"}],
        trailers=[
            trailer("sae-j2863", ["tail r5w-13v", "reverse"], name="one", ties=[["3", "9"]]),
            trailer("no-such-plug", ["tail led-tail"], name="one"),
        ],
        supply={**SUPPLY, "feed": "tap"},
        runs=[{"from": "trailer", "to": "lamps", "trailer": "two"}],
        taps=[{"name": "pedal", "live": "braek"}],
    )
    found = problems(text)
    assert [one.path for one in found] == [
        "vehicle.socket",
        "vehicle.tap.0.live",
        "adapter.supply.feed",
        "adapter.channel.0.input",
        "adapter.channel.1.output",
        "trailer.0.ties.0",
        "trailer.0.lamp.0.type",
        "trailer.1.name",
        "trailer.1.plug",
        "trailer.1.lamp.0.type",
        "run.0.trailer",
    ]
    lines = [one.marks[0].line for one in found]
    assert lines == sorted(lines)


def test_all_misfits_of_single_records_in_one_run():
    """Unknown keys, wrong units, wrong words and missing keys come together, each with the nearest word."""
    text = (
        rig(taps=[{"name": "pedal", "live": "brake", "fuse": "5 W"}])
        .replace("[adapter]", "[adapter]\nlocaton = 'shed'", 1)
        .replace('kind = "converter"', 'kind = "convertor"', 1)
        .replace('function = "tail"\n', 'function = "tali"\n', 1)
        .replace('plug = "sae-j2863"\n', "", 1)
    )
    found = {one.path: one.message for one in problems(text)}
    assert set(found) == {
        "vehicle.tap.1.fuse",
        "adapter.locaton",
        "adapter.supply.kind",
        "trailer.0.lamp.0.function",
        "trailer.0.plug",
    }
    assert "did you mean 'location'" in found["adapter.locaton"]
    assert "did you mean 'converter'" in found["adapter.supply.kind"]
    assert "did you mean 'tail'" in found["trailer.0.lamp.0.function"]
    assert "'W'" in found["vehicle.tap.1.fuse"]
    assert "plug" in found["trailer.0.plug"]


@pytest.mark.parametrize(
    ("old", "new", "path", "hint"),
    [
        ('kind = "converter"', 'kind = "converter"\nefficency = "90 %"', "adapter.supply.efficency", "efficiency"),
        ("own_ground = true", "own_groud = true", "adapter.own_groud", "own_ground"),
        ("[[run]]", "[[runs]]", "runs", "run"),
        ('live = "always"', 'live = "always"\nfuze = "3 A"', "vehicle.tap.0.fuze", "fuse"),
    ],
)
def test_an_unknown_key_gets_the_nearest_one(old, new, path, hint):
    """A misspelt key or table is refused where it stands, with the nearest known one."""
    text = rig(runs=RUNS[:1]).replace(old, new, 1)
    found = {one.path: one for one in problems(text)}
    assert f"did you mean {hint!r}?" in found[path].message
    assert path.rpartition(".")[2] in marked(found[path])


# --- pinouts of the user's own ---------------------------------------------------------------------------------------

OWN = {
    "title": "Round plug of the boathouse",
    "short": "boathouse plug",
    "shell": "boathouse 4",
    "voltage_v": [12],
    "stop_turn": "combined",
    "source_titles": {"BOAT": "chalk marks on the boathouse door"},
    "contact": [
        {"mark": mark, "circuit": circuit, "function": circuit, "sources": ["BOAT"], "support": "one"}
        for mark, circuit in (("a", "ground"), ("b", "tail"), ("c", "stop_turn_left"), ("d", "stop_turn_right"))
    ],
}


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
    bad = {**OWN, "ties": [["b", "e"]], "contact": contacts}
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


# --- nothing else is ever raised -------------------------------------------------------------------------------------


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
