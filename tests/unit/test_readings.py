"""Readings: the right leads, the right numbers, the range over the corners, and texts that people and machines take."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from tests import circuits as hand
from tests.plain_solver import solve
from tests.rigs import load, rig, straight
from tests.steps import readings
from tests.unit.papers import rows_of
from wiregen.circuit.build import build, vehicle_signals
from wiregen.cli import app
from wiregen.errors import InputError
from wiregen.model.circuit import Contact, Shell
from wiregen.model.corner import CORNERS, NOMINAL
from wiregen.model.reading import Reading, ReadingSheet, Span, StateReadings
from wiregen.model.state import Controls
from wiregen.paper.csv_text import csv_text
from wiregen.paper.safe_text import display_width
from wiregen.paper.terminal import terminal_text
from wiregen.questions.readings.data import readings_data
from wiregen.questions.readings.paper import readings_paper
from wiregen.solve.chosen import single_controls
from wiregen.solve.full_study import solve_study
from wiregen.solve.readings import read_states

DEMOS = Path(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo"


def demo(name: str = "observatory-bus"):
    return load((DEMOS / f"{name}.toml").read_text("utf-8"))


def find(state: StateReadings, part: str, side: str = "") -> Reading:
    return next(r for r in state.readings if r.part == part and (not side or r.side == side))


def readings_text(sheet: ReadingSheet, width: int = 80, *, full: bool = False) -> str:
    return terminal_text(readings_paper(sheet, full=full), width)


# --- the numbers ---


def test_readings_are_voltages_of_the_study_against_the_connectors_own_ground():
    """Nominal volts and amps of each contact are those of the full Newton solution, plus lead minus ground contact."""
    loaded = demo()
    sheet = readings(loaded, "service lights, brake", "boat trailer")
    (state,) = sheet.states
    circuit = build(loaded).circuits[0]
    study = solve(circuit, vehicle_signals(loaded))
    row = next(r for r, s in enumerate(study.states) if s.controls == Controls("service", brake=True))
    seen = set()
    for reading in state.readings:
        across = study.voltage_v(reading.at)[row] - study.voltage_v(reading.against)[row]
        assert reading.volts_v.nominal == pytest.approx(across, abs=1e-6), reading
        if reading.kind in ("contact", "lamp", "load"):
            assert reading.amps_a.nominal == pytest.approx(study.current_a(reading.part)[row], abs=1e-6), reading
            seen.add(reading.part)
    assert seen == {e.ref for e in circuit.elements if isinstance(e, Contact) or e.ref[:2] in ("-E", "-M")}
    tail = find(state, "-X1:E", "vehicle")
    assert (tail.at, tail.against) == ("-X1:E.v", "-X1:D.v")
    assert find(state, "-X2:3", "trailer").against == "-X2:1.t"
    assert find(state, "-X1:D", "vehicle").against == "chassis"


def test_the_range_is_over_all_corners():
    """Lowest and highest are the extremes over the seven corners of the study of all states."""
    loaded = demo("ringing-lorry")
    circuit, signals = build(loaded).circuits[0], vehicle_signals(loaded)
    (state,) = readings(loaded, "brake").states
    study = solve_study(circuit, signals)
    rows = [r for r, s in enumerate(study.states) if s.controls == Controls(brake=True)]
    assert len(rows) == 1 + len(CORNERS)
    for reading in state.readings:
        volts = (study.voltage_v(reading.at) - study.voltage_v(reading.against))[rows]
        assert reading.volts_v.lowest == pytest.approx(volts.min(), abs=1e-6)
        assert reading.volts_v.highest == pytest.approx(volts.max(), abs=1e-6)
    supply = find(state, "-X1:9", "vehicle")
    assert supply.volts_v.highest - supply.volts_v.lowest > 3  # battery low against charging


def test_a_hand_calculation():
    """28 V behind 0.5 ohm, a contact of 0.25 ohm, 13 ohm, a ground contact of 0.125 ohm and a wire of 0.125 ohm.

    By Ohm's law 28 V / 14 ohm = 2 A; the far side of the contact is at 26.5 V, that of the ground contact at 0.5 V:
    a meter on the connector's own ground shows 26 V.
    """
    feed = Contact(
        ref="-X2:1", a="-X2:1.a", b="-X2:1.t", connector="-X2", mark="1", rating_a=None, resistance_ohm=0.25,
        circuit="stop", zone="trailer",
    )  # fmt: skip
    back = replace(feed, ref="-X2:2", a="-X2:2.t", b="-X2:2.a", mark="2", resistance_ohm=0.125, circuit="ground")
    made = hand.circuit(
        hand.battery(28, 0.5, a="-X2:1.a"),
        feed,
        hand.resistor("-R1", "-X2:1.t", "-X2:2.t", 13.0),
        back,
        hand.resistor("-W1", "-X2:2.a", hand.GROUND, 0.125),
    )
    made = replace(made, shells={"-X2": Shell(short="two", marks=("1", "2"), words={"1": "stop", "2": "ground"})})
    (state,) = read_states(made, [], (Controls(), (True, False)))
    far = find(state, "-X2:1", "trailer")
    assert far.volts_v.nominal == pytest.approx(26.0)
    assert far.amps_a.nominal == pytest.approx(2.0)
    near = find(state, "-X2:1", "adapter")
    assert near.volts_v.nominal == pytest.approx(27.0 - 0.25)
    assert find(state, "-X2:2", "trailer").volts_v.nominal == pytest.approx(0.5)  # no chassis: against battery minus
    assert find(state, "-G1").volts_v.nominal == pytest.approx(27.0)
    assert find(state, "-G1").amps_a.nominal == pytest.approx(2.0)


def test_a_flashing_state_shows_both_halves():
    """Lit: full voltage at the contact; dark: nothing; asking for one half gives that one."""
    loaded = demo()
    lit, dark = readings(loaded, "left turn", "light trailer").states
    assert (lit.half, dark.half) == ("lit", "dark")
    assert find(lit, "-X1:B").volts_v.nominal > 27
    assert find(dark, "-X1:B").volts_v.nominal < 0.1
    (only,) = readings(loaded, "left turn (dark half of the flash)", "light trailer").states
    assert only == dark
    (steady,) = readings(loaded, "brake", "light trailer").states
    assert steady.half == ""


def test_a_contact_that_hangs_on_nothing_floats():
    """Behind an open switch with no lamp on it a meter shows nothing that can be told: no number, and it says so."""
    lead = load(straight("military-12-us", "military-12-us", ["tail"], runs=[]))
    (state,) = readings(lead, "all off").states
    floating = [reading for reading in state.readings if reading.floats]
    assert floating
    assert all(reading.volts_v == Span(None, None, None) for reading in floating)
    assert "floats" in readings_text(readings(lead, "all off"))
    tail = find(state, "-X1:E")
    assert not tail.floats


def test_a_corner_without_operating_point_is_left_out_and_said():
    """150 m of thin feed: the corners that cannot carry the lamps are named, and no number comes from them."""
    text = rig(
        channels=["stop_turn_left > stop_turn_left"],
        lamps=[{"function": "stop_turn_left", "count": 12}],
        runs=[{"from": "battery", "to": "adapter", "length": "150 m", "size": "0.75 mm²"}],
    )
    sheet = readings(load(text), "brake")
    (state,) = sheet.states
    assert [corner for corner, _ in state.troubles] == list(sheet.corners)
    assert all(reading.volts_v == Span(None, None, None) for reading in state.readings)
    assert not any(reading.floats for reading in state.readings)
    assert "Left out at running voltage" in readings_text(sheet)
    assert readings_data(sheet)["states"][0]["left_out"][0]["corner"] == "running voltage"


def test_without_a_state_each_control_is_shown_by_itself():
    """All off, and every control alone; rear fog, which wants the service lights, comes with them."""
    loaded = demo("ringing-lorry")
    signals = vehicle_signals(loaded)
    shown = {controls.words for controls in single_controls(build(loaded).circuits[0], signals)}
    assert shown == {
        "all off", "service lights", "brake", "left turn", "right turn", "hazard", "reverse", "service lights, rear fog"
    }  # fmt: skip
    heaviest = "service lights, brake, hazard, reverse, rear fog"
    assert {state.state for state in readings(loaded).states} == shown | {heaviest}


def test_the_setting_that_takes_most_is_shown_last():
    """No other setting of the controls takes more from the batteries, by the plain solver, and it is read once only."""
    for name in ("observatory-bus", "ringing-lorry"):
        loaded = demo(name)
        signals = vehicle_signals(loaded)
        for circuit in build(loaded).circuits:
            study = solve(circuit, signals)
            taken = {point.controls.words: 0.0 for point in study.points}
            for row, point in enumerate(study.points):
                taken[point.controls.words] = max(taken[point.controls.words], -float(study.current_a("-G1")[row]))
            states = [one.state for one in readings(loaded, trailer=circuit.trailer).states]
            assert taken[states[-1]] == pytest.approx(max(taken.values()), abs=1e-6)
            assert len(set(states)) == sum(1 for at, word in enumerate(states) if at == 0 or states[at - 1] != word)


def test_the_position_of_a_military_lighting_switch_is_said():
    """With the switch OFF the socket may be dead; a European switch has no say over stop and turn."""
    sheet = readings(demo("observatory-bus"), "brake")
    assert len(sheet.notes) == 1
    assert "at STOP LIGHT; with it OFF B, E, J may be dead" in " ".join(readings_text(sheet).split())
    assert readings_data(sheet)["notes"] == list(sheet.notes)
    assert readings(demo("ringing-lorry"), "brake").notes == ()


# --- texts ---


def odd_sheet() -> ReadingSheet:
    reading = Reading(
        kind="contact", part="-X1:E", connector="-X1", mark="E", side="vehicle", what="=cmd|' /C calc'!A0",
        at="-X1:E.v", against="-X1:D.v", volts_v=Span(-0.001, -12.345678, 27.5), amps_a=Span(None, 0.5, 0.5),
        floats=True,
    )  # fmt: skip
    state = StateReadings(trailer="a\u202eb\n", state="brake", half="", readings=(reading, reading), troubles=())
    return ReadingSheet(title="t", digest="d", corners=("running voltage",), shells={}, states=(state,))


@pytest.mark.parametrize("full", [True, False])
@pytest.mark.parametrize("name", ["observatory-bus", "ringing-lorry", "bad-example"])
def test_no_line_is_wider_than_asked(name, full):
    """80 columns by default and 100 where there is room; every trailing blank is gone."""
    sheet = readings(demo(name))
    for width in (80, 100):
        lines = readings_text(sheet, width, full=full).splitlines()
        assert max(display_width(line) for line in lines) <= width
        assert all(line == line.rstrip() for line in lines)


def test_the_demo_fits_60_lines():
    """The settings by name, the one that takes most in full, what reads nothing in one line."""
    text = readings_text(readings(demo()))
    assert len(text.splitlines()) <= 60
    told = " ".join(text.split())
    assert "boat trailer: all off; hazard; left turn; right turn; brake; service lights; service lights, brake." in told
    assert "SERVICE LIGHTS, BRAKE, BOAT TRAILER" in text
    assert "0 V and 0 A: X1:E, X1:J, E5, E7, A2, output." in readings_text(
        readings(demo(), "left turn", "light trailer")
    )


def test_long_values_keep_their_column_and_the_width():
    """Values with minus signs and stars touch no other value, and push no line over the edge."""
    sheet = odd_sheet()
    volts, amps = Span(-27.514, -28.56, -22.31), Span(-0.0012, -0.0021, -0.0009)
    first = replace(sheet.states[0].readings[0], volts_v=volts, amps_a=amps, what="left stop and turn", side="adapter")
    state = replace(sheet.states[0], readings=(first,))
    lines = readings_text(replace(sheet, states=(state,))).splitlines()
    assert max(display_width(line) for line in lines) <= 80
    (line,) = [line for line in lines if line.startswith(" X1:E ")]
    assert line.split()[-4:] == ["-27.51", "-28.6..-22.3*", "-0.001", "-0.003..0.000"]


def test_the_dark_half_lists_only_what_differs():
    """A contact that is the same in both halves stands once; one that flashes stands twice."""
    text = readings_text(readings(demo(), "service lights, left turn", "boat trailer"))
    lit, dark = text.split("Where it differs from the lit half:")
    assert ("X1:J" in lit, "X1:J" in dark) == (True, False)
    assert ("X1:B" in lit, "X1:B" in dark) == (True, True)


def test_numbers_as_a_meter_shows_them():
    """Two digits for volts, ends rounded outwards, no minus on nothing, a star where it floats somewhere."""
    sheet = odd_sheet()
    there = replace(sheet.states[0].readings[0], side="adapter")
    text = readings_text(replace(sheet, states=(replace(sheet.states[0], readings=(there,)),)))
    assert "0.00  -12.4..27.5*" in text
    assert "-0.00" not in text
    assert "?  0.500..0.500" in text
    assert "* floats in some conditions" in text
    assert "A\N{REPLACEMENT CHARACTER}B" in text


def test_csv_is_safe_and_rectangular():
    """A spreadsheet takes no cell for a formula, numbers stay numbers, marks need no apostrophe."""
    rows = rows_of(csv_text(readings_paper(odd_sheet())))
    assert {len(row) for row in rows} == {len(rows[0])}
    record = next(dict(zip(rows[0], row, strict=True)) for row in rows if "X1:E" in row)
    assert record["What"] == "'=cmd|' /C calc'!A0"
    assert record["Where"] == "X1:E"
    assert (record["V min"], record["V max"], record["V"]) == ("-12.35", "27.50", "0.00")
    assert record["A"] == "–"
    assert record["Floats"] == "floats"


def test_json_holds_what_the_record_holds():
    """Every reading of a real rig comes back from JSON with its numbers to a microvolt, and nothing is NaN."""
    sheet = readings(demo(), "brake")
    data = json.loads(json.dumps(readings_data(sheet), allow_nan=False))
    for state, record in zip(sheet.states, data["states"], strict=True):
        assert record["state"] == "brake"
        for reading, row in zip(state.readings, record["readings"], strict=True):
            assert row["nominal_v"] == pytest.approx(reading.volts_v.nominal, abs=1e-6)
            assert row["highest_a"] == pytest.approx(reading.amps_a.highest, abs=1e-6, nan_ok=True)
            assert (row["plus_lead"], row["minus_lead"]) == (reading.at, reading.against)


# --- the command ---


def test_the_command(tmp_path):
    """Text by default, JSON and CSV on demand, exit status 2 and one line for what makes no sense."""
    runner, rig_file = CliRunner(), str(DEMOS / "observatory-bus.toml")
    plain = runner.invoke(app, ["readings", rig_file, "--state", "brake", "--trailer", "BOAT trailer"])
    assert plain.exit_code == 0
    assert "electric brakes" in plain.output
    machine = runner.invoke(app, ["readings", rig_file, "--state", "brake", "--json"])
    assert [state["trailer"] for state in json.loads(machine.output)["states"]] == ["boat trailer", "light trailer"]
    to = tmp_path / "r.csv"
    assert runner.invoke(app, ["readings", rig_file, "--state", "brake", "--to", str(to)]).exit_code == 0
    assert sorted({row[0] for row in rows_of(to.read_text("utf-8")) if "boat" in row[0]}) == ["brake, boat trailer"]
    for wrong in (["--state", "left, right"], ["--trailer", "none"], ["--to", str(tmp_path / "r.xls")]):
        refused = runner.invoke(app, ["readings", rig_file, *wrong])
        assert refused.exit_code == 2, wrong
    assert not (tmp_path / "r.xls").exists()


def test_a_trailer_that_is_none_is_refused():
    """The nearest name is offered, and all names are listed."""
    with pytest.raises(InputError, match=r"did you mean 'light trailer'.*boat trailer, light trailer"):
        readings(demo(), "brake", "light trailor")


def test_nominal_is_the_first_corner():
    """What stands first is the value charts are made for."""
    assert readings(demo(), "all off").corners[0] == NOMINAL.words
    assert not np.isnan([r.volts_v.nominal for r in readings(demo(), "all off").states[0].readings]).any()
