"""Bad input through the commands themselves: always words and an exit status, never a traceback, never a wrong number.

What cannot be read ends with status 2 and leaves no file behind; what can be read but makes no sense ends with status 1
and a finding that says so. Values at the edge of what is taken are solved by both solvers and must agree.
"""

import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from click.testing import Result
from typer.testing import CliRunner

from tests.circuits import assert_balanced
from tests.plain_solver import solve
from tests.problems import OWN
from tests.rigs import BOX_FEED, RUNS, SUPPLY, dump, load, rig, trailer
from wiregen.circuit.build import build, vehicle_signals
from wiregen.cli import app
from wiregen.errors import MOST_SHOWN, InputError
from wiregen.loader.rig_file import load_rig_text
from wiregen.model.circuit import Converter
from wiregen.model.corner import NOMINAL
from wiregen.solve.full_study import solve_study

RIG = rig()
TAIL = {"input": "tail", "output": "tail"}
LED = {"function": "tail", "technology": "led", "voltage": "12 V"}
MICRO = "0.000001 ohm"
MEGA = "1000 kohm"


def wiregen(*arguments: object) -> Result:
    """Run a command in this process; whatever it raises besides its exit status is a failure."""
    result = CliRunner().invoke(app, [str(argument) for argument in arguments], catch_exceptions=True)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def battery(**keys: str) -> str:
    return rig(vehicle={"battery": keys})


def run(**keys: str) -> str:
    return rig(runs=[{"from": "adapter", "to": "trailer", **keys}])


def led(**keys: object) -> str:
    return rig(lamps=[{**LED, "power": "5 W", **keys}])


def relay(**keys: str) -> str:
    return rig(channels=[{**TAIL, **keys}])


#: name -> contents of the rig file, part of what is said about it
REFUSED: dict[str, tuple[str | bytes, str]] = {
    # The file as such.
    "an empty file": ("", "rig.toml:1:1: required keys 'title', '[vehicle]' and '[[trailer]]' are missing"),
    "blank lines": ("\n \n\t\n", "required keys 'title', '[vehicle]' and '[[trailer]]' are missing"),
    "a comment only": ("# later\n", "required keys 'title', '[vehicle]' and '[[trailer]]' are missing"),
    "old line ends": (RIG.replace("\n", "\r"), "a lone carriage return stands here"),
    "another encoding": (RIG.replace("test bus", "B\xfcs").encode("latin-1"), "not UTF-8 text: byte FC, probably 'ü'"),
    "UTF-16": (RIG.encode("utf-16"), "is UTF-16 text; save it as UTF-8"),
    "a zero byte": (b'title = "a\x00b"\n', "1:11: a control character stands here"),
    "half of a surrogate pair": ('title = "\\ud800"\n', "rig.toml:1:"),
    "3 MB": (b"#" + b"x" * 3_000_000, "is larger than 2 MB"),
    # Its shape.
    "a key twice": ('title = "a"\n' + RIG, "rig.toml:2:1: 'title' is already written at line 1"),
    "a table twice": (RIG + "\n[vehicle]\n", "'vehicle' is already written at line 3"),
    "1 MB of nested arrays": ("title = " + "[" * 500_000 + "]" * 500_000, "too deep inside one another"),
    "1 MB of open brackets": ("title = " + "[" * 1_000_000, "too deep inside one another"),
    "300 nested arrays": ("title = " + "[" * 300 + "]" * 300, "a text is wanted, not a list"),
    "3000 nested tables": ("title = " + "{a=" * 3000 + "1" + "}" * 3000, "too deep inside one another"),
    "a key of 100 000 parts": (".".join("a" * 100_000) + " = 1\n", "1:1: this key has more than 32 parts"),
    "such a key in braces": ("x = { y = 1, " + ".".join("a" * 100_000) + " = 1 }\n", "1:12: this key has more than 32"),
    "a header of 100 000 parts": ("[" + " . ".join(['"a"'] * 100_000) + "]\n", "1:1: this key has more than 32 parts"),
    "20 000 unknown keys": ("".join(f"k{n} = 1\n" for n in range(20_000)), "... and 799 more problems"),
    "5000 unknown contacts": (rig(vehicle={"choose": {f"k{n}": "fog" for n in range(5000)}}), "and 4800 more problems"),
    "a key of 100 000 letters": ("x" * 100_000 + " = 1\n" + RIG, "unknown key 'xxx"),
    "a text of 1 MB": (RIG.replace("test rig", "x" * 1_000_000), "at most 60 characters are wanted, the text has 1"),
    "wrong kinds": ('title = 1\nvehicle = 3\ntrailer = {}\nrun = "x"\n', "a text is wanted, not a number"),
    # Numbers that are none, or nobody's.
    "a number of 100 000 digits": ("title = 1" + "0" * 100_000, "limit (4300 digits)"),
    "no number": (battery(running="nan V"), "'nan V' does not start with a number"),
    "an infinite number": (battery(running="inf V"), "'inf V' does not start with a number"),
    "nan where a text is wanted": (RIG.replace('"test rig"', "nan"), "a text is wanted, not nan"),
    "nan of a count": (led(count=1).replace("count = 1", "count = nan"), "a finite number is wanted, not nan"),
    "inf of a count": (led(count=1).replace("count = 1", "count = -inf"), "a finite number is wanted, not -inf"),
    "a number too large for any computer": (battery(running="1e400 V"), "'1e400 V' is too large a number"),
    "the unit makes it so": (battery(running="1e308 kV"), "'1e308 kV' is too large a number"),
    "1e308 V": (battery(running="1e308 V"), '"1e308 V" is too large; at most 60 V is wanted'),
    "1e-300 W": (led(power="1e-300 W"), '"1e-300 W" is too small; at least 0.001 W is wanted'),
    "1e-300 A": (relay(rating="1e-300 A"), '"1e-300 A" is too small; at least 1e-07 A is wanted'),
    "an efficiency of 1e-300": (
        rig(supply={**SUPPLY, "efficiency": "1e-300 %"}, taps=[BOX_FEED]),
        "at least 0.01 % is wanted",
    ),
    "a flasher for 1e300 W": (
        rig(vehicle={"flasher": {"kind": "thermal", "lowest_load": "1e300 W"}}),
        "1e300 W is too large; at most 10000 W or 1000 A is wanted",
    ),
    "points of 1e-300 A": (
        rig(lamps=[{"function": "tail", "points": [["9 V", "0 A"], ["12 V", "1e-300 A"]]}]),
        "a lamp that draws less than 0.1 mA at every point is no load",
    ),
    # Parts that nobody can buy.
    "no resistance": (relay(contact_resistance="0 ohm"), '"0 ohm" is too small; at least 1e-06 ohm is wanted'),
    "a negative resistance": (relay(contact_resistance="-1 ohm"), "at least 1e-06 ohm is wanted"),
    "a coil of 2 megohms": (relay(coil_resistance="2000 kohm"), "at most 1e+06 ohm is wanted"),
    "a lamp of 0 W": (led(power="0 W"), '"0 W" is too small; at least 0.001 W is wanted'),
    "10 001 lamps": (led(count=10_001), "10001 is too large; at most 10000 is wanted"),
    "no lamp": (led(count=0), "0 is too small; at least 1 is wanted"),
    "10 000 lamp entries": (rig(lamps=["tail"] * 10_000), "10000 lamp entries on one trailer; at most 60 are computed"),
    "3000 trailers": (
        RIG + "".join(f'[[trailer]]\nname = "t{n}"\nplug = "sae-j2863"\n' for n in range(3000)),
        "at most 100 entries are wanted, the list has 3001",
    ),
    "480 lamp entries on eight trailers": (
        rig(trailers=[trailer("sae-j2863", ["tail"] * 60, name=f"t{number}") for number in range(8)]),
        "480 lamp entries on 8 trailers; at most 400 are computed at once",
    ),
    "a negative length": (run(length="-2 m"), '"-2 m" is too small; at least 0.001 m is wanted'),
    "a negative size": (run(length="2 m", size="-2 mm²"), "'-2 mm²' is outside 0.1 to 500 mm²"),
    "a date that is none": ("date = 2024-02-31\n" + RIG, "there is no such date"),
    "10 000 brackets in logic": (relay(input="(" * 5000 + "tail" + ")" * 5000), "400 are the most that are read"),
    "20 000 times not": (relay(input="not " * 20_000 + "tail"), "400 are the most that are read"),
    "magnets of a microohm": (
        rig(
            "iso-12098",
            channels=[{"input": "pedal", "output": "brake", "device": "brake_controller"}],
            lamps=[],
            pedal=True,
            brakes={"magnets": 16, "magnet_resistance": MICRO},
        ),
        "ohm; no part lies outside 1e-07 to 1e+07 ohm",
    ),
    "conductors of 1 mm and 500 mm²": (
        rig(runs=[{**one, "length": "1 mm", "size": "500 mm²"} for one in RUNS]),
        "ohm; no part lies outside 1e-07 to 1e+07 ohm",
    ),
    "a filament for 1 mV": (led(voltage="0.001 V"), '"0.001 V" is too small; at least 1 V is wanted'),
    # Nothing to work with.
    "no supply for a relay": (rig(supply=None), "this channel (relay) needs the adapter's 12 V: add [adapter.supply]"),
    "no trailer": (RIG.partition("[[trailer]]")[0], "required key '[[trailer]]' is missing"),
    "no adapter": (rig(channels=[], supply=None), "the adapter needs at least one [[adapter.channel]]"),
    "a pinout that is a directory": (rig(plug="."), "'.' is neither a built-in pinout nor a file beside the rig file"),
    "a pinout that is the rig": (rig(plug="rig.toml"), "required keys 'short', 'shell', 'voltage_v'"),
    "a plug without a ground": (rig(plug="ungrounded.toml"), "boathouse plug has no ground contact"),
}

#: Pinouts of a user's own that lie beside each rig file.
BESIDE = {
    "ungrounded.toml": dump({**OWN, "contact": [c for c in OWN["contact"] if c["circuit"] != "ground"]}),
    "ungrounded-24.toml": dump(
        {**OWN, "voltage_v": [24], "contact": [c for c in OWN["contact"] if c["circuit"] != "ground"]}
    ),
}
#: Answers that ``new`` has no default for.
NEW = ("--answer", "socket=iso-12098", "--answer", "trailer.1.plug=iso-11446")
#: Every command that reads a rig, with the options that say where it writes.
COMMANDS = {
    "check": (),
    "chart": ("--to", "made.html"),
    "draw": ("--out", "made"),
    "readings": ("--to", "made.csv"),
    "netlist": ("--out", "made"),
}


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty working directory with the pinouts beside it."""
    for name, text in BESIDE.items():
        (tmp_path / name).write_text(text, "utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def written(folder: Path, text: str | bytes) -> Path:
    file = folder / "rig.toml"
    file.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return file


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_read_is_said_and_nothing_is_written(here, name):
    """Status 2, words on standard error with the file's name, nothing on standard output, no file made."""
    text, words = REFUSED[name]
    file = written(here, text)
    result = wiregen("check", file)

    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr
    assert len(result.stderr) < 100_000
    assert names(here) == {"rig.toml", *BESIDE}


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize(
    "name", ["an empty file", "1 MB of nested arrays", "another encoding", "1e308 V", "3000 trailers"]
)
def test_every_command_refuses_alike(here, command, name):
    """Whatever is asked of a file that cannot be read: the same status, the same words, and nothing written."""
    text, words = REFUSED[name]
    result = wiregen(command, written(here, text), *COMMANDS[command])

    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr
    assert names(here) == {"rig.toml", *BESIDE}


@pytest.mark.parametrize(
    "text",
    [b"\xef\xbb\xbf" + RIG.encode(), RIG.replace("\n", "\r\n"), RIG.rstrip("\n"), RIG.replace(" = ", "=\t")],
    ids=["byte order mark", "CR LF", "no line end at the end", "tabs"],
)
def test_harmless_differences_make_none(here, text):
    """A byte order mark, CR LF, a missing last line end and tabs change no word of the report but the digest."""
    plain = json.loads(wiregen("check", written(here, RIG), "--json").stdout)
    again = json.loads(wiregen("check", written(here, text), "--json").stdout)

    assert {**again, "digest": ""} == {**plain, "digest": ""}


# --- places to read from and to write to ------------------------------------------------------------------------------


@pytest.mark.parametrize("command", COMMANDS)
def test_a_directory_is_no_file(here, command):
    """A directory, a file that is not there, and a file inside a file are refused by name."""
    file = written(here, RIG)
    for path, words in [
        (here, "is a directory, a file is wanted"),
        (here / "rgi.toml", "there is no file"),
        (here / "rgi.toml", "did you mean 'rig.toml'?"),
        (file / "x.toml", "cannot be read"),
        (here / ("x" * 5000), "cannot be read"),
    ]:
        result = wiregen(command, path, *COMMANDS[command])
        assert (result.exit_code, result.stdout) == (2, "")
        assert words in result.stderr
    assert names(here) == {"rig.toml", *BESIDE}


def test_a_file_that_may_not_be_read(here, monkeypatch):
    """A file without the right to read it: the reason, no traceback."""
    file, opened = written(here, RIG), Path.open

    def forbidden(self, *arguments, **options):
        if self == file:
            raise PermissionError(13, "Permission denied")
        return opened(self, *arguments, **options)

    monkeypatch.setattr(Path, "open", forbidden)
    result = wiregen("check", file)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "may not be read: permission denied" in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("chart", "rig.toml", "--to", "rig.toml/chart.html"),
        ("draw", "rig.toml", "--out", "rig.toml"),
        ("draw", "rig.toml", "--out", "rig.toml/deep/er"),
        ("readings", "rig.toml", "--to", "rig.toml/readings.csv"),
        ("netlist", "rig.toml", "--out", "rig.toml"),
        ("schema", "--to", "rig.toml/schema.json"),
        ("new", "rig.toml/new.toml", "--defaults", *NEW),
        ("demo", "--out", "rig.toml"),
    ],
    ids=lambda arguments: " ".join(arguments[:4]),
)
def test_an_output_inside_a_file_is_refused(here, arguments):
    """Where a file stands no folder can be: said by name, and the file stays as it is."""
    file = written(here, RIG)
    result = wiregen(*arguments)

    assert result.exit_code == 2
    assert "rig.toml is not a folder, so rig.toml/" in result.stderr
    assert file.read_text("utf-8") == RIG
    assert names(here) == {"rig.toml", *BESIDE}


@pytest.mark.parametrize(
    "arguments",
    [("chart", "rig.toml", "--to", "d.html"), ("readings", "rig.toml", "--to", "d.csv"), ("schema", "--to", "d.json")],
)
def test_an_output_that_is_a_folder_is_refused(here, arguments):
    """A folder with the name of the file to write stays, with --force too."""
    written(here, RIG)
    (here / arguments[-1]).mkdir()
    for force in ((), ("--force",)):
        result = wiregen(*arguments, *force)
        assert result.exit_code == 2
        assert "is a folder; a file name is wanted" in result.stderr


# --- what can be read and makes no sense ------------------------------------------------------------------------------


def ring(*pairs: tuple[str, str]) -> str:
    """Relays that open one vehicle circuit's wire to the trailer when another is live."""
    wires = [f"{name} > {name} | wire" for name in ("tail_left", "stop", "turn_left")]
    relays = [{"input": f"not {a}", "output": b, "pick_up": "8 V", "rating": "9 A"} for a, b in pairs]
    return rig("iso-1185", "iso-11446", channels=[*wires, *relays], lamps=["tail_left", "stop", "turn_left"])


#: Three relays in a ring, each cut off by the one before it: no state of theirs lasts.
RING = ring(("stop", "tail_left"), ("tail_left", "turn_left"), ("turn_left", "stop"))
#: name -> rig, rule of a finding it must raise, part of its message
FOUND = {
    "three relays in a ring": (
        RING,
        "no-operating-point",
        "never comes to rest: -K1 and -K2 and -K3 in, then -K1 and -K2 and -K3 out, and so on",
    ),
    "the same ring, by logic": (RING, "unsettled", "never come to rest: each switches the other's supply"),
    "a battery behind a megohm": (
        battery(resistance=MEGA),
        "no-operating-point",
        "never comes to rest: -T1 on, then -T1 off, and so on",
    ),
    "no ground anywhere": (
        rig("ungrounded-24.toml", channels=["tail > tail | wire"], supply=None, adapter={"own_ground": False}),
        "no-ground",
        "no path to battery minus",
    ),
    "a converter without a feed": (rig(supply={"kind": "converter"}), "supply-feed", "is not offered by the vehicle"),
    "10 000 lamps": (
        rig(lamps=[{"function": "tail", "count": 10_000}]),
        "supply-limit",
        "reaches its current limit of 60 A",
    ),
    "a lamp of 10 kW": (led(power="10 kW"), "lamp-voltage", "at least 10.2 V wanted"),
    "a contact of a megohm": (relay(contact_resistance=MEGA), "lamp-voltage", "light 0%"),
    "a coil of a microohm": (relay(coil_resistance=MICRO), "coil-pick-up", "too little"),
    "a coil that wants 60 V": (relay(pick_up="60 V"), "coil-pick-up", "too little"),
    "200 m of 0.1 mm²": (run(length="200 m", size="0.1 mm²"), "conductor-current", "no ampacity: 0.1 mm² is smaller"),
    "a run hotter than its insulation": (
        run(length="2 m", size="2.5 mm²", ambient="250 °C", insulation="60 °C"),
        "conductor-current",
        "carries 0.371 A, 0 A allowed",
    ),
    "plus tied to ground": (rig(bridged=[["1", "3"]]), "short", "lies straight on ground"),
    "a 12 V vehicle before a converter for 24 V": (battery(nominal="12 V"), "supply-input", "it is off"),
}


@pytest.mark.parametrize("name", FOUND)
def test_what_makes_no_sense_is_a_finding(here, name):
    """Status 1, and a finding with the rule and the words that tell what is wrong."""
    text, rule, words = FOUND[name]
    result = wiregen("check", written(here, text), "--json")
    found = [one["message"] for one in json.loads(result.stdout)["findings"] if one["rule"] == rule]

    assert (result.exit_code, result.stderr) == (1, "")
    assert [message for message in found if words in message], found


def test_a_ring_that_rests_is_no_cycle(here):
    """The near twin of the ring: without the third relay nothing oscillates, and every state has numbers."""
    twin = ring(("stop", "tail_left"), ("tail_left", "turn_left"))
    found = json.loads(wiregen("check", written(here, twin), "--json").stdout)["findings"]
    assert [one["rule"] for one in found if one["rule"] in ("no-operating-point", "unsettled")] == []


def test_no_netlist_of_a_state_that_never_rests(here):
    """The states of the ring that have no operating point are named and left out; no file pretends to be one."""
    written(here, RING)
    result = wiregen("netlist", "rig.toml", "--out", "made", "--state", "all off")
    assert "left out, it has no operating point: test trailer, all off: never comes to rest" in result.stderr
    assert list(here.glob("made/*")) == []


# --- values at the edge -----------------------------------------------------------------------------------------------


def edges() -> Iterator[tuple[str, str]]:
    """Rigs with values at the edges of what is taken, by name."""
    for words, ohm in (("microohms", MICRO), ("megohms", MEGA)):
        yield (
            f"all of {words}",
            rig(
                vehicle={"battery": {"resistance": ohm}, "switch_resistance": ohm, "chassis_resistance": ohm},
                supply={**SUPPLY, "output_resistance": ohm},
                taps=[BOX_FEED],
                hitch_resistance=ohm,
                channels=[{**TAIL, "contact_resistance": ohm}],
            ),
        )
    for name in ("10 000 lamps", "a lamp of 10 kW", "a coil of a microohm", "plus tied to ground", "200 m of 0.1 mm²"):
        yield name, FOUND[name][0]
    yield "10 000 LED lamps", led(count=10_000)
    yield "a filament of 10 kW at 1 V", led(technology="filament", voltage="1 V", power="10 kW")
    yield "lamps of 1 mW", led(power="0.001 W")
    yield "conductors of 1 mm", rig(runs=[{**one, "length": "0.001 m"} for one in RUNS])
    points = [["0.001 V", "1000 A"], ["0.002 V", "0 A"], ["0.003 V", "1000 A"]]
    yield "a lamp of steps", rig(lamps=[{"function": "tail", "points": points}])
    for ohm in (MICRO, MEGA):
        yield (
            f"a resistor of {ohm}",
            rig(channels=[{**TAIL, "device": "resistor", "resistance": ohm}], supply=None),
        )


EDGES = dict(edges())


@pytest.mark.parametrize("name", EDGES)
def test_values_at_the_edge_are_solved_alike_by_both_solvers_or_by_none(name):
    """Both solvers find the same voltages at every terminal, to a millivolt, and currents balance; or both say no."""
    loaded = load(EDGES[name])
    (circuit,), signals = build(loaded).circuits, vehicle_signals(loaded)
    fast, plain = solve_study(circuit, signals, [NOMINAL]), solve(circuit, signals)
    good = [row for row, words in enumerate(plain.trouble) if not words]

    assert [bool(words) for words in fast.trouble] == [bool(words) for words in plain.trouble]
    assert fast.voltages_v[good] == pytest.approx(plain.voltages_v[good], abs=1e-3, nan_ok=True)
    assert_balanced(plain)
    for part in circuit.of(Converter):
        assert (np.abs(fast.current_a(part.ref)) <= part.limit_a * 1.001).all()


def test_a_converter_without_its_minus_gives_nothing(here):
    """A converter whose minus hangs in the air takes and gives no current, and no rule says that it does."""
    text = rig("ungrounded-24.toml", adapter={"own_ground": False})
    rules = {one["rule"] for one in json.loads(wiregen("check", written(here, text), "--json").stdout)["findings"]}
    assert "no-ground" in rules
    assert not rules & {"supply-limit", "supply-continuous", "connector-voltage"}


# --- many problems ----------------------------------------------------------------------------------------------------


def test_an_error_keeps_every_problem_and_prints_the_first():
    """A program gets all problems of a file; a person sees the first so many and how many more there are."""
    text = rig(lamps=[{"function": f"nothing{number}"} for number in range(MOST_SHOWN + 7)])
    with pytest.raises(InputError) as caught:
        load_rig_text(text)
    said = str(caught.value).splitlines()
    assert len(caught.value.problems) > MOST_SHOWN
    assert said[-1] == f"... and {len(caught.value.problems) - MOST_SHOWN} more problems"
    few = InputError(caught.value.problems[:MOST_SHOWN])
    assert "more problems" not in str(few)
