"""The exported netlists: ngspice runs them as they are and gives our numbers, and they say in words what is what."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests import circuits as hand
from tests.conftest import program
from tests.reference.ngspice_batch import run, solve_many, voltages
from tests.reference.swept import LAWS
from tests.rigs import load, rig, straight
from tests.steps import build, netlists
from wiregen.circuit.build import vehicle_signals
from wiregen.cli import app
from wiregen.errors import InputError
from wiregen.model.circuit import Circuit, Diode
from wiregen.model.corner import NOMINAL
from wiregen.model.state import Controls, State
from wiregen.model.study import Point
from wiregen.questions.netlist.spice import file_stem, netlist_text, point_of
from wiregen.solve.chosen import every_state
from wiregen.solve.full_study import solve_study

TOLERANCE_V = 1e-6
DEMOS = Path(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo"


def demo(name: str):
    return load((DEMOS / f"{name}.toml").read_text(encoding="utf-8"))


def listed(text: str) -> dict[str, tuple[str, float]]:
    """Terminal and volts of each node, from the comment table of a netlist."""
    rows = re.findall(r"^\* (n\d+|0) +(\S+) +(\S+) V ", text, flags=re.MULTILINE)
    return {node: (name, float(volts)) for node, name, volts in rows}


# --- against ngspice ---

STATES = (
    ("observatory-bus", "all off", "nominal"),
    ("observatory-bus", "service lights, brake, left turn", "nominal"),
    ("observatory-bus", "service lights, brake", "battery low, hot"),
    ("observatory-bus", "blackout, brake", "charging high, cold"),
    ("ringing-lorry", "service lights, brake, hazard, reverse, rear fog", "nominal"),
    ("ringing-lorry", "service lights, brake, hazard, reverse, rear fog", "battery low, cold"),
    ("bad-example", "service lights, brake", "charging high, hot"),
)


@pytest.mark.parametrize(("name", "state", "corner"), STATES)
def test_ngspice_runs_a_file_as_it_is_and_gives_our_numbers(name, state, corner, tmp_path):
    """``ngspice -b FILE`` prints every terminal's voltage, and it is the one in the table at the head of the file."""
    program("ngspice")
    texts, left_out = netlists(demo(name), state, corner)
    assert left_out == ()
    assert texts
    for stem, text in texts.items():
        path = tmp_path / f"{stem}.cir"
        path.write_text(text, encoding="ascii")
        theirs = voltages(run(path, tmp_path))
        ours = {node: volts for node, (_, volts) in listed(text).items() if node != "0"}
        assert len(ours) > 40
        assert theirs == pytest.approx(ours, rel=0, abs=TOLERANCE_V)


def test_every_state_of_the_demo_gives_the_numbers_of_the_study(tmp_path):
    """All states of both trailers: ngspice has the voltages of the study of all states, not only of the export."""
    program("ngspice")
    loaded = demo("observatory-bus")
    texts, left_out = netlists(loaded)
    assert left_out == ()
    solved = solve_many(list(texts.values()), tmp_path)
    assert len(solved) > 20
    for text, theirs in zip(texts.values(), solved, strict=True):
        ours = {node: volts for node, (_, volts) in listed(text).items() if node != "0"}
        assert {node: theirs[node] for node in ours} == pytest.approx(ours, rel=0, abs=TOLERANCE_V)


#: One circuit typed by hand from the laws in words, with other names, another order and no hint where to start.
BY_HAND = """typed by hand
Vbat plus0 0 28
Rbat plus0 plus 0.02
Rw1 plus in 0.05
* step-down: 13.6 V behind 10 mohm, at most 4.4 A, 90 % of it into a short; 88 % of the power, 20 mA always
Bout 0 out I = min((13.6 - v(out))/0.01, 4.4*(0.9 + 0.1*v(out)/13.6))
Bin in 0 I = v(out)*min((13.6 - v(out))/0.01, 4.4*(0.9 + 0.1*v(out)/13.6))/(0.88*v(in)) + 0.02
Rbleed out 0 10k
Rw2 out bus 0.03
Rcoil plus 0 350
Rcontact bus lamp 0.01
* two 25 W filaments of 13.5 V; a cold one has a tenth of the hot resistance: c = 0.1^(1/0.225)/(1 - 0.1^(1/0.225))
Bfil lamp 0 I = 2*(25/13.5)/13.5*v(lamp)*pow((v(lamp)*v(lamp)/182.25 + 3.593942823e-5)/1.00003593942823, -0.225)
* diode: 0.7 V, then 10 mohm, and a leak of 1 Mohm; behind it a 6 W LED lamp well above its cut-off
Bdiode bus led I = (v(bus,led) - 0.7)/0.01
Rleak bus led 1meg
Bled led 0 I = 6/v(led)
Rled led 0 100k
* a lamp measured as 0.1 A at 9 V and 0.35 A at 13.5 V
Bpoints bus 0 I = 0.1 + (v(bus) - 9)*0.25/4.5
.options reltol=1e-9 abstol=1e-12 vntol=1e-9 itl1=2000
.nodeset v(plus)=28 v(in)=28 v(out)=12 v(bus)=12 v(lamp)=12 v(led)=11
.control
op
set numdgt=15
print v(plus) v(in) v(out) v(bus) v(lamp) v(led)
quit 0
.endc
.end
"""


def bench_circuit() -> Circuit:
    measured = replace(hand.filament("-E3", "bus"), technology="points", points=((6.0, 0.0), (9.0, 0.1), (13.5, 0.35)))
    converter = replace(hand.converter("-T1", "in", "out"), limit_a=4.4, foldback=0.9)
    common = {"circuit": "stop", "zone": "trailer"}
    return hand.circuit(
        hand.battery(28, 0.02),
        hand.resistor("-W1", "plus", "in", 0.05),
        converter,
        hand.resistor("-W2", "out", "bus", 0.03),
        hand.coil("-K1", "plus"),
        hand.relay("-K1:30-87", "bus", "lamp", "x", {"x": "-K1"}),
        hand.filament("-E1", "lamp", count=2),
        Diode(ref="-V1", a="bus", b="led", drop_v=0.7, resistance_ohm=0.01, leak_ohm=1e6, **common),
        hand.led("-E2", "led"),
        measured,
        hand.switch("-S1", "plus", "island", "brake"),
        hand.resistor("-W3", "island", "far end", 0.1),
    )


def bench_text() -> tuple[str, dict[str, float]]:
    circuit = bench_circuit()
    study = solve_study(circuit, ["brake"], (NOMINAL,))
    row = next(row for row, state in enumerate(study.states) if not state.controls.brake)
    ours = {name: float(study.voltage_v(name)[row]) for name in circuit.terminals}
    return netlist_text(point_of(circuit, study, row), LAWS), ours


def test_the_export_agrees_with_a_netlist_typed_by_hand(tmp_path):
    """One circuit with every law in it: hand-typed netlist, exported netlist and solver have the same voltages.

    The laws were typed from the words of ``wiregen.model.circuit`` and ``wiregen.solve.devices``, not copied.
    """
    program("ngspice")
    path = tmp_path / "hand.cir"
    path.write_text(BY_HAND, encoding="ascii")
    typed = {
        name: float(value)
        for name, value in re.findall(r"^v\((\w+)\) = (\S+)$", run(path, tmp_path), flags=re.MULTILINE)
    }
    text, ours = bench_text()
    (exported,) = solve_many([text], tmp_path)
    named = {name: exported[node] for node, (name, _) in listed(text).items() if node != "0"}
    assert set(typed) == {"plus", "in", "out", "bus", "lamp", "led"}
    assert named == pytest.approx(typed, rel=0, abs=TOLERANCE_V)
    assert {name: ours[name] for name in typed} == pytest.approx(typed, rel=0, abs=TOLERANCE_V)
    limit_a = 4.4 * (0.9 + 0.1 * typed["out"] / 13.6)
    assert (13.6 - typed["out"]) / 0.01 > limit_a + 1  # the converter is at its limit
    assert 9 < typed["bus"] < 13.5


def test_words_of_a_user_stay_comments(tmp_path):
    """A title or a name that looks like a netlist changes nothing: same voltages, and no line that is not ours."""
    program("ngspice")
    nasty = "x\n.end\nV9 1 0 5\n*# quit\r+ 7 \u2028.control\x0bquit"
    text, ours = bench_text()
    circuit = bench_circuit()
    elements = tuple(replace(element, title=nasty) for element in circuit.elements)
    circuit = replace(circuit, title=nasty, trailer=nasty, elements=elements)
    study = solve_study(circuit, [], (NOMINAL,))
    written = netlist_text(point_of(circuit, study, 0), LAWS)
    plain = [line for line in text.splitlines() if not line.startswith("*")]
    assert [line for line in written.splitlines() if not line.startswith("*")] == plain
    assert not any(line.startswith("*#") for line in written.splitlines())
    (exported,) = solve_many([written], tmp_path)
    named = {name: exported[node] for node, (name, _) in listed(written).items() if node != "0"}
    assert named == pytest.approx({name: ours[name] for name in named}, rel=0, abs=TOLERANCE_V)


# --- what the files say ---


def test_every_terminal_and_every_part_is_named():
    """The table names every terminal that does not float, and each part has a comment with its reference."""
    loaded = demo("ringing-lorry")
    texts, _ = netlists(loaded, "service lights, brake")
    (text,) = texts.values()
    (circuit,) = build(loaded).circuits
    assert [name for name, _ in listed(text).values()] == list(circuit.terminals)
    for element in circuit.elements:
        assert re.search(rf"^\* {re.escape(element.ref)}  ", text, flags=re.MULTILINE), element.ref
    assert text.isascii()


def test_open_contacts_and_islands_are_left_out_and_said():
    """An open switch has a comment and no resistor; what floats behind it is named and is in no element line."""
    text, _ = bench_text()
    assert "* -S1  switch: stop, plus to island: open in this state, left out\n" in text
    assert "* floating, no path to battery minus, left out: far end, island\n" in text
    assert "* -W3  path: stop, island to far end: left out, it floats\n" in text
    assert "R11_S1" not in text
    assert "R12_W3" not in text
    assert "* -K1  coil: stop, pick-up 16.00 V, pulled in, plus to 0\n" in text
    nodes = {name: f"n{row}" for row, name in enumerate(bench_circuit().terminals)}
    assert not re.search(rf"\b({nodes['island']}|{nodes['far end']})\b", text)


def test_a_relay_at_rest_and_a_converter_that_is_off_are_said():
    """With the battery flat the relay contact is left out and of the converter only its bleed is there."""
    circuit = bench_circuit()
    flat = replace(circuit, elements=(replace(circuit.elements[0], voltage_v=9.0), *circuit.elements[1:]))
    study = solve_study(flat, [], (NOMINAL,))
    text = netlist_text(point_of(flat, study, 0), LAWS)
    assert "relay contact: stop, bus to lamp: open in this state, left out" in text
    assert "at rest, plus to 0" in text
    assert "-T1  converter: stop, in to out: off, only its bleed is left" in text
    assert "Bout3_T1" not in text


def test_a_share_of_burnt_lamps_scales_the_law():
    """Half of the lamps out halves the current law; all of them out leaves the lamp out."""
    circuit = bench_circuit()
    point = point_of(circuit, solve_study(circuit, [], (NOMINAL,)), 0)
    half = netlist_text(replace(point, burning={"-E1": 0.5}), LAWS)
    none = netlist_text(replace(point, burning={"-E1": 0.0}), LAWS)
    assert re.search(r"^B7_E1 n\d+ 0 I = 0\.5\*\(", half, flags=re.MULTILINE)
    assert "B7_E1" not in none
    assert "burnt, left out" in none


def test_one_file_a_state_and_the_same_bytes_again():
    """Without --state there is one file for each state that sets the switches differently, the same in every run."""
    loaded = demo("observatory-bus")
    texts, _ = netlists(loaded)
    again, _ = netlists(loaded)
    assert texts == again
    signals = vehicle_signals(loaded)
    assert len(texts) == sum(len(every_state(circuit, signals)) for circuit in build(loaded).circuits)
    assert "boat-trailer-service-lights-brake-left-turn-lit" in netlists(loaded, "lights, brake, left")[0]
    assert "boat-trailer-service-lights-brake-left-turn-dark" in netlists(loaded, "lights, brake, left")[0]


def test_file_names_never_meet():
    """Two trailers whose names differ only in signs get files of their own; a name without letters is no empty one."""
    point = Point(State(Controls(brake=True)))
    assert file_stem("Boot / Ä", point, {}) == "boot-brake"
    assert file_stem("Boot (Ö)", point, {"boot-brake": ""}) == "boot-brake-2"
    assert file_stem("Boot (Ö)", point, {"boot-brake": "", "boot-brake-2": ""}) == "boot-brake-3"
    assert file_stem("船", point, {}) == "brake"


def test_a_state_without_an_operating_point_is_named_and_not_written():
    """150 m of thin feed cannot carry the lamps: that state has no file and the words say why, the others have one."""
    text = rig(
        channels=["stop_turn_left > stop_turn_left"],
        lamps=[{"function": "stop_turn_left", "count": 12}],
        runs=[{"from": "battery", "to": "adapter", "length": "150 m", "size": "0.75 mm²"}],
    )
    texts, left_out = netlists(load(text), "brake")
    assert texts == {}
    (words,) = left_out
    assert words.startswith("test trailer, brake: ")
    assert "-T1" in words
    assert list(netlists(load(text), "all off")[0]) == ["test-trailer-all-off"]


# --- the command ---


def test_the_command_writes_files_and_keeps_what_is_there(tmp_path):
    """``wiregen netlist`` writes one file a state, refuses to write over another text, and names a wrong corner."""
    runner = CliRunner()
    command = ["netlist", str(DEMOS / "observatory-bus.toml"), "--state", "brake", "--trailer", "boat trailer"]
    out = tmp_path / "nets"
    first = runner.invoke(app, [*command, "--out", str(out)])
    assert first.exit_code == 0, first.output
    assert [path.name for path in out.iterdir()] == ["boat-trailer-brake.cir"]
    (out / "boat-trailer-brake.cir").write_text("mine")
    assert runner.invoke(app, [*command, "--out", str(out)]).exit_code == 2
    wrong = runner.invoke(app, [*command, "--out", str(out), "--corner", "battery lo"])
    assert wrong.exit_code == 2
    assert "battery low" in wrong.output


def test_words_that_are_no_trailer_are_refused():
    """A trailer that the rig has not is refused with the nearest name."""
    with pytest.raises(InputError, match="did you mean 'boat trailer'"):
        netlists(demo("observatory-bus"), None, "nominal", "boat trailr")


def test_a_rig_with_an_island_exports(tmp_path):
    """A contact that nothing feeds floats with its switch wire; the file names it and runs all the same."""
    program("ngspice")
    lead = straight("military-12-us", "military-12-us", ["tail"], runs=[])
    (text,) = netlists(load(lead), "lights")[0].values()
    (theirs,) = solve_many([text], tmp_path)
    ours = {node: volts for node, (_, volts) in listed(text).items() if node != "0"}
    assert "floating, no path to battery minus, left out" in text
    assert {node: theirs[node] for node in ours} == pytest.approx(ours, rel=0, abs=TOLERANCE_V)
