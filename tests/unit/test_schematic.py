"""The schematic: what is on it, what it joins, and that it can be read."""

import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path as FilePath

import pytest

from tests import steps
from tests.rigs import load, rig
from tests.unit.drawing_checks import bodies, connections, dots_right, faults, groups_of, strokes, texts
from tests.unit.sample_circuit import Bench, sample_circuit
from wiregen.draw.scene import Line, Scene, Text, box_of, groups, primitives
from wiregen.draw.schematic.columns import is_hitch, sides
from wiregen.draw.schematic.scenes import schematic
from wiregen.draw.svg import svg_text
from wiregen.errors import InputError
from wiregen.model.chart import SheetInfo
from wiregen.model.circuit import (
    Battery,
    Circuit,
    Coil,
    Conductor,
    Contact,
    Diode,
    Element,
    Equaliser,
    Fuse,
    Lamp,
    Path,
    Resistor,
)

INFO = SheetInfo(title="Sample rig", revision="B", date="2026-05-04", digest="3f9a1c27aa00")


@pytest.fixture(scope="module")
def circuit():
    return sample_circuit()


@pytest.fixture(scope="module")
def sheet(circuit):
    (scene,) = schematic(circuit, INFO)
    return scene


def wrong(scenes, circuit):
    """Return everything wrong with the sheets of a circuit."""
    return [f for scene in scenes for f in (*faults(scene), *dots_right(scene))] + connections(scenes, circuit)


def straight_lead():
    """Return a circuit of a plain lead that joins equal marks: no adapter parts at all."""
    bench = Bench()
    bench.add(
        Battery(ref="-G1", a="-G1:+", b="-G1:-", circuit="supply", zone="vehicle", voltage_v=28.0, resistance_ohm=0.01)
    )
    bench.add(Path(ref="-XE1", a="chassis", b="-G1:-", circuit="ground", zone="vehicle", resistance_ohm=0.002))
    for mark, name in (("5", "tail"), ("7", "stop")):
        bench.wire("battery-socket", "-G1:+", f"-X1:{mark}.v", name, "vehicle")
        bench.contact("-X1", mark, f"-X1:{mark}.v", f"-X1:{mark}.a", name, "vehicle")
        bench.wire("adapter-trailer", f"-X1:{mark}.a", f"-X2:{mark}.a", name, "adapter")
        bench.contact("-X2", mark, f"-X2:{mark}.a", f"-X2:{mark}.t", name, "trailer")
        bench.wire("plug-splice", f"-X2:{mark}.t", f"-X2:{mark}.s", name, "trailer")
        bench.wire("splice-lamp", f"-X2:{mark}.s", f"-E{mark}:1", name, "trailer")
        bench.add(Lamp(ref=f"-E{mark}", a=f"-E{mark}:1", b=f"-E{mark}:2", circuit=name, zone="trailer", count=1,
                       technology="led", rated_v=24.0, rated_a=0.1, peak_a=0.1, nominal_v=24.0, max_v=32.0,
                       function=name, title="LED"))  # fmt: skip
        bench.wire("splice-lamp", f"-E{mark}:2", "-X2:ground", "ground", "trailer")
    bench.wire("plug-splice", "-X2:ground", "-X2:1.t", "ground", "trailer")
    bench.contact("-X2", "1", "-X2:1.t", "-X2:1.a", "ground", "trailer")
    bench.wire("adapter-trailer", "-X2:1.a", "-X1:1.a", "ground", "adapter")
    bench.contact("-X1", "1", "-X1:1.a", "-X1:1.v", "ground", "vehicle")
    bench.wire("socket-chassis", "-X1:1.v", "chassis", "ground", "vehicle")
    return Circuit(title="Lead", trailer="t", elements=tuple(bench.elements), reference="-G1:-", stop_wins=False)


def centre_tapped(circuit):
    """Return the circuit with two batteries in series and the 12 V taken between them instead of from a converter."""
    elements = []
    for element in circuit.elements:
        if element.ref == "-G1":
            elements.append(replace(element, b="-G2:+", voltage_v=14.0))
            elements.append(replace(element, ref="-G2", a="-G2:+", b="-G1:-", voltage_v=14.0))
        elif element.ref == "-T1":
            continue
        elif element.circuit == "feed" and isinstance(element, Conductor):
            elements.append(replace(element, b="-A1:12V"))
        elif element.circuit == "feed":
            elements.append(replace(element, a="-G2:+"))
        elif element.circuit != "supply":
            elements.append(element)
    return replace(circuit, elements=tuple(elements))


def own_battery(circuit):
    """Return the circuit with a battery in the adapter instead of the converter."""
    battery = Battery(
        ref="-G2", a="-T1:out", b="-A1:0V", circuit="supply", zone="adapter", voltage_v=12.6, resistance_ohm=0.01
    )
    elements = [e for e in circuit.elements if e.circuit != "feed"]
    return replace(circuit, elements=tuple(battery if e.ref == "-T1" else e for e in elements))


def rare_parts(circuit):
    """Return the circuit with a diode and a resistor in a feed, suppressors, a battery and its fuse on the trailer."""
    elements = []
    for element in circuit.elements:
        if isinstance(element, Coil):
            elements.append(replace(element, suppression="diode" if element.ref == "-K1" else "resistor"))
        elif (
            isinstance(element, Conductor)
            and element.stretch == "adapter-trailer"
            and element.circuit in ("stop", "tail")
        ):
            part = {
                "stop": Diode(ref="-V1", a=element.a, b="-V1:2", circuit="stop", zone="adapter", drop_v=0.7,
                              resistance_ohm=0.01, leak_ohm=1e6, rating_a=10.0),
                "tail": Resistor(ref="-R1", a=element.a, b="-R1:2", circuit="tail", zone="adapter", resistance_ohm=3.3,
                                 power_w=50.0),
            }[element.circuit]  # fmt: skip
            elements += [part, replace(element, a=part.b)]
        elif isinstance(element, Lamp) and element.circuit == "reverse":
            # The fuse is stored battery side first, the other way round than it is drawn.
            elements.append(Fuse(ref="-F90", a="-G2:+", b=element.a, circuit="reverse", zone="trailer", rating_a=15.0,
                                 resistance_ohm=0.01))  # fmt: skip
            elements.append(Battery(ref="-G2", a="-G2:+", b=element.b, circuit="reverse", zone="trailer",
                                    voltage_v=12.6, resistance_ohm=0.05, title="trailer battery"))  # fmt: skip
        else:
            elements.append(element)
    return replace(circuit, elements=tuple(elements))


def equalised(circuit):
    """Return the centre-tapped circuit with an equaliser that feeds the lower battery."""
    equaliser = Equaliser(
        ref="-T9", a="-G1:+", b="-G2:+", common="-G1:-", circuit="supply", zone="vehicle", title="battery equaliser",
        output_v=1000.0, ratio=0.5, resistance_ohm=0.02, efficiency=0.9, idle_a=0.02, minimum_input_v=18.0,
        continuous_a=20.0,
    )  # fmt: skip
    return replace(circuit, elements=(*circuit.elements, equaliser))


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("seed", [None, *range(10)])
def test_sheet_reads_and_joins_what_the_circuit_joins(seed, paper):
    """On either paper, contacts shuffled: no text over another, no wire through text or symbol, every net right."""
    circuit = sample_circuit(seed)
    assert wrong(schematic(circuit, INFO, paper), circuit) == []


SHAPES = {
    "electronic switches": lambda: sample_circuit(device="solid_state"),
    "no combined signal": lambda: sample_circuit(xor=False, brake=False),
    "one circuit": lambda: sample_circuit(circuits=("tail",), brake=False),
    "two lamps on every circuit": lambda: sample_circuit(lamps=2),
    "plain lead": straight_lead,
    "centre tap": lambda: centre_tapped(sample_circuit()),
    "battery in the adapter": lambda: own_battery(sample_circuit()),
    "diode, resistor, suppressors, trailer battery": lambda: rare_parts(sample_circuit()),
    "centre tap with equaliser": lambda: equalised(centre_tapped(sample_circuit())),
}


@pytest.mark.parametrize("shape", SHAPES)
def test_every_kind_of_rig_is_drawn_right(shape):
    """Whatever the adapter is made of, the sheet reads and joins what the circuit joins."""
    circuit = SHAPES[shape]()
    assert wrong(schematic(circuit, INFO), circuit) == []


def test_fuse_of_a_trailer_battery_faces_its_cable():
    """The fuse at a trailer battery is stored battery side first; on the sheet the battery is to the right of it."""
    circuit = rare_parts(sample_circuit())
    side = sides(circuit)
    assert (side["-F90"].left, side["-F90"].right) == ("-E7:1", "-G2:+")
    (scene,) = schematic(circuit, INFO)
    assert bodies(scene)["-F90"].x1 < bodies(scene)["-G2"].x0


def test_the_plus_of_a_trailer_battery_is_marked():
    """It stands over the plate that the feed meets, left of the others."""
    (scene,) = schematic(rare_parts(sample_circuit()), INFO)
    (words,) = [
        {item.text: item.x for item in group.children if isinstance(item, Text)}
        for group in groups(scene.children)
        if group.title.startswith("-G2") and any(isinstance(item, Text) for item in group.children)
    ]
    assert sorted(words, key=lambda text: words[text])[0] == "+"


def test_an_equaliser_shows_no_voltage_of_its_own():
    """The arithmetic ceiling of an equaliser's output never reaches the sheet."""
    (scene,) = schematic(equalised(centre_tapped(sample_circuit())), INFO)
    group = next(g for g in groups_of(scene.children, "equaliser"))
    words = " ".join(item.text for item in group.children if isinstance(item, Text))
    assert words == "T9 battery equaliser 20 A NO FUSE in plus and in centre"


def test_every_element_class_has_a_symbol():
    """Whatever class of element a circuit may hold, the schematic has a symbol for it."""
    from wiregen.draw.schematic.pieces import SYMBOLS
    from wiregen.model import circuit as model

    kinds = {kind for kind in vars(model).values() if isinstance(kind, type) and issubclass(kind, Element)}
    assert set(SYMBOLS) == kinds - {Element, model.Resistive}


@pytest.mark.slow
def test_300_random_permutations_of_contacts():
    """Three hundred small rigs with shuffled contacts: no wire over another, through a symbol or through a text."""
    for seed in range(300):
        circuit = sample_circuit(seed, circuits=("stop", "turn_left"), brake=seed % 3 == 0)
        assert [f for scene in schematic(circuit, INFO) for f in faults(scene)] == [], seed


def test_the_checks_see_what_they_are_for(sheet, circuit):
    """A planted text, a planted wire, a lost wire and a wire to the wrong part are all found."""
    first = next(t for t in texts(sheet) if t.text.startswith("W1 "))
    planted = replace(sheet, children=(*sheet.children, replace(first, x=first.x + 1.0)))
    assert any("overlap" in f for f in faults(planted))
    symbol = bodies(sheet)["-K1"]
    middle = (symbol.y0 + symbol.y1) / 2
    net = next(g for g in groups_of(sheet.children, "net") if dict(g.data)["net"] == "-A1:tail")
    through = Line(((symbol.x0 - 3, middle + 1), (symbol.x1 + 3, middle + 1)), css_class="wire")
    wired = with_group(sheet, net, replace(net, children=(*net.children, through)))
    assert any("runs through -K1" in f for f in faults(wired))
    bare = with_group(sheet, net, replace(net, children=()))
    assert connections([bare], circuit) == ["-W2 is not drawn to -A1:tail", "-K1 is not drawn to -A1:tail"]
    stray = Line(((symbol.x1, middle + 1), (symbol.x1 + 1, middle + 1)), css_class="wire")
    wrong_net = next(g for g in groups_of(sheet.children, "net") if dict(g.data)["net"] == "-A1:stop")
    strayed = with_group(sheet, wrong_net, replace(wrong_net, children=(*wrong_net.children, stray)))
    assert "sheet 0: -A1:stop is drawn to -K1" in connections([strayed], circuit)


def with_group(scene: Scene, old, new) -> Scene:
    return replace(scene, children=tuple(new if child is old else child for child in scene.children))


def test_every_element_is_a_part_with_id_class_and_title(sheet, circuit):
    """Every element is one group that a page can find by its ref, and every id is there once."""
    parts = {dict(group.data)["ref"]: group for group in groups_of(sheet.children, "part")}
    assert set(parts) == {element.ref for element in circuit.elements}
    assert all(re.fullmatch(r"part-[\w-]+", group.id) and group.title for group in parts.values())
    nets = {dict(group.data)["net"] for group in groups_of(sheet.children, "net")}
    assert nets >= {t for e in circuit.elements if not isinstance(e, Path) for t in (e.a, e.b)}
    ids = [group.id for group in groups(sheet.children) if group.id]
    assert len(ids) == len(set(ids))


def test_every_conductor_shows_number_colour_and_size(sheet, circuit):
    """Beside every conductor stand its number, the letters of its colour and its size."""
    for group in groups_of(sheet.children, "conductor"):
        conductor = circuit.by_ref[dict(group.data)["ref"]]
        words = " ".join(item.text for item in group.children if isinstance(item, Text)).split()
        wanted = f"{conductor.ref.lstrip('-')} {conductor.colour} {conductor.size.label}".split()
        assert sorted(words) == sorted(wanted)


def test_contacts_show_their_marks_as_moulded(sheet, circuit):
    """Every contact in use shows its mark; the others are listed once, in the order of the connector."""
    marks = {
        dict(group.data)["ref"]: [item.text for item in group.children if isinstance(item, Text)]
        for group in groups_of(sheet.children, "contact")
    }
    assert marks == {contact.ref: [contact.mark] for contact in circuit.of(Contact)}
    shown = " ".join(text.text for text in texts(sheet))
    assert "H, J, K, M, N not used" in shown


def test_three_zones_in_order(sheet):
    """The sheet has three titled zones from left to right, and says what each connector is."""
    titles = {text.text: text.x for text in texts(sheet)}
    assert titles["24 V vehicle (simplified)"] < titles["Adapter"] < titles["12 V trailer"]
    assert titles["X1 12-contact socket"] < titles["X2 7-contact outlet"]


def test_one_straight_row_a_circuit(sheet):
    """The reverse circuit lies on one line from its switch to its lamp."""
    parts = {dict(g.data)["ref"]: g for g in groups_of(sheet.children, "part")}
    by_circuit = [g for ref, g in parts.items() if dict(g.data)["circuit"] == "reverse" and "conductor" in g.css_class]
    heights = {round(box_of(line).y0, 2) for g in by_circuit for line in g.children if isinstance(line, Line)}
    assert len(by_circuit) == 5
    assert len(heights) == 1


def test_relay_terminals_carry_their_numbers(sheet):
    """Coils show 86 and 85, contacts 30 and 87 (ISO 7588 terminal numbers, from memory)."""
    for css_class, marks in (("coil", {"86", "85"}), ("relaycontact", {"30", "87"})):
        relays = [g for g in groups_of(sheet.children, css_class) if dict(g.data)["ref"].startswith("-K")]
        assert len(relays) >= 5
        assert all(marks <= {item.text for item in g.children if isinstance(item, Text)} for g in relays)


def test_coil_and_contact_are_linked_by_dashes(sheet):
    """A dashed line runs from a coil to its one contact or to the brake controller, and it is no wire."""
    links = groups_of(sheet.children, "link")
    lines = [item for group in links for item in group.children]
    # tail, stop, reverse and the brakes; the contacts of the two turn channels bear the numbers of their relays
    assert len(links) == 4
    assert all(line.pen.dash and line.css_class == "link" for line in lines)


def lettered(scene, css_class):
    """Return the words on every part of a class, by its ref."""
    return {
        dict(group.data)["ref"]: [item.text for item in group.children if isinstance(item, Text)]
        for group in groups_of(scene.children, css_class)
    }


def test_xor_is_drawn_as_two_change_over_contacts_crossed(sheet):
    """The wire from 87 of the first relay ends on 87a of the second, and the other way round; 30 is outside.

    Source: two-way switching of one lamp from two places; common practice, no source.
    """
    group = next(g for g in groups_of(sheet.children, "relaycontact") if dict(g.data)["ref"] == "-K3:30-87")
    marks = {}
    for item in group.children:
        if isinstance(item, Text):
            marks.setdefault(item.text, []).append(item)
    assert {text: len(found) for text, found in marks.items()} == {"K3": 1, "K4": 1, "30": 2, "87": 2, "87a": 2}
    left, right = sorted(marks["87"], key=lambda text: text.x)
    assert left.y < right.y
    left, right = sorted(marks["87a"], key=lambda text: text.x)
    assert left.y > right.y
    assert marks["K3"][0].x < marks["K4"][0].x


CONTACTS = {
    "stop and not turn_left": ["K3", "30", "87", "K4", "30", "87a"],
    "stop or turn_left": ["K3", "30", "87", "K4", "30", "87"],
    "(stop xor turn_left) and not tail": ["K3", "K4", "30", "30", "87", "87a", "87a", "87", "K5", "30", "87a"],
}


@pytest.mark.parametrize("logic", CONTACTS)
def test_up_to_three_contacts_are_drawn_one_by_one(logic):
    """Every contact of a small network is there with its relay and its terminals, and the sheet stays readable."""
    circuit = sample_circuit(circuits=("tail", "stop", "turn_left"), combined=logic)
    scenes = schematic(circuit, INFO)
    assert wrong(scenes, circuit) == []
    assert lettered(scenes[0], "relaycontact")["-K3:30-87"] == CONTACTS[logic]


@pytest.mark.parametrize(
    ("logic", "device", "name", "links"),
    [
        ("stop and turn_left or tail and not stop", "relay", "K3 relay logic", 3),
        ("stop xor turn_left xor tail", "relay", "K3 relay logic", 3),
        ("stop xor turn_left", "solid_state", "Q3 logic", 2),
    ],
)
def test_logic_that_is_not_drawn_is_a_box_that_says_so(logic, device, name, links):
    """Large networks and electronic switches are a box with the expression, linked to every coil it reads."""
    circuit = sample_circuit(circuits=("tail", "stop", "turn_left"), combined=logic, device=device, brake=False)
    scenes = schematic(circuit, INFO)
    assert wrong(scenes, circuit) == []
    ref = f"-{name.split()[0]}:30-87"
    assert " ".join(lettered(scenes[0], "relaycontact")[ref]) == f"{name} {logic.replace('_', ' ')}"
    coils = {dict(g.data)["ref"]: g for g in groups_of(scenes[0].children, "coil")}
    linked = [r for r, g in coils.items() if r in circuit.by_ref[ref].gate.coils.values()
              and any(getattr(i, "css_class", "") == "link" for i in g.children)]  # fmt: skip
    assert len(linked) == links
    below = " ".join(text.text for text in texts(scenes[0]) if text.size_mm == 2.2)
    assert ("K3 relay logic:" in below) is (device == "relay")


def test_a_winding_and_an_electronic_input_look_different():
    """A copper coil has 86 and 85, a control input has in and 0V, whatever letter its designation begins with."""
    for device, marks in (("relay", {"86", "85"}), ("solid_state", {"in", "0V"})):
        (scene,) = schematic(sample_circuit(device=device), INFO)
        for words in lettered(scene, "coil").values():
            assert marks <= set(words)


def test_battery_says_the_system_and_what_it_has_while_running():
    """The battery is lettered with both voltages where they differ."""
    circuit = sample_circuit()
    elements = tuple(replace(e, nominal_v=24.0) if e.ref == "-G1" else e for e in circuit.elements)
    (scene,) = schematic(replace(circuit, elements=elements), INFO)
    assert " ".join(lettered(scene, "battery")["-G1"]) == "G1 24 V (28 V running) +"


def test_what_nobody_verified_has_a_sign_and_a_legend(circuit, sheet):
    """Contacts from memory or on which sources disagree bear a sign, and a line under the drawing tells it."""
    support = dict(zip(circuit.shells["-X1"].marks, ("2", "1", "?", "≠", *"22222222"), strict=True))
    shells = circuit.shells | {"-X1": replace(circuit.shells["-X1"], support=support)}
    (scene,) = schematic(replace(circuit, shells=shells), INFO)
    assert faults(scene) == []
    signed = {ref for ref, words in lettered(scene, "contact").items() if "!" in words}
    assert signed == {"-X1:C", "-X1:D"}
    assert any(text.text.startswith("!") or " ! " in text.text for text in texts(scene) if text.size_mm == 2.2)
    assert not any("!" in text.text for text in texts(sheet))


def test_the_sheet_carries_its_caution(sheet):
    """Advice only, measure first, others have the last word: in one line under the drawing."""
    assert [text.weight for text in texts(sheet) if "last word" in text.text] == ["bold"]


def test_hitch_path_is_dashed_and_named(sheet, circuit):
    """The way through the hitch is dashed and says that nobody laid it; it is the only dashed wire."""
    assert [e.ref for e in circuit.elements if is_hitch(e, circuit)] == ["-XE2"]
    dashed = [
        dict(group.data)["ref"]
        for group in groups_of(sheet.children, "part")
        if any(isinstance(i, Line) and i.css_class == "wire" and i.pen.dash for i in group.children)
    ]
    assert dashed == ["-XE2"]
    assert "unintended path through the hitch" in " ".join(text.text for text in texts(sheet))


def test_colour_never_speaks_alone(sheet):
    """Every coloured line lies on a black one, so that it shows on paper; no text is coloured."""
    for group in groups(sheet.children):
        cores = [item for item in group.children if getattr(item, "css_class", "") == "core"]
        edges = [item for item in group.children if getattr(item, "css_class", "") == "wire"]
        for core in cores:
            box = box_of(core).grown(-0.1)
            assert any(box_of(edge).grown(0.01).holds(box) and edge.pen.width_mm > core.pen.width_mm for edge in edges)
    assert {text.colour for text in texts(sheet)} <= {"black", "#333"}


def test_feed_and_return_have_the_right_ends():
    """Returns are stored lamp side first; on the sheet their vehicle side is on the left all the same."""
    circuit = sample_circuit()
    side = sides(circuit)
    for element in circuit.of(Contact):
        ends = (side[element.ref].left, side[element.ref].right)
        order = {"-X1": (".v", ".a"), "-X2": (".a", ".t")}[element.connector]
        assert (ends[0][-2:], ends[1][-2:]) == order
    back = next(e for e in circuit.of(Conductor) if e.circuit == "ground" and e.stretch == "socket-adapter")
    assert (side[back.ref].left, side[back.ref].right) == (back.b, back.a)


def test_open_ends_are_marked():
    """A terminal with nothing else on it ends in a small open circle: it is not a line that was forgotten."""
    circuit = sample_circuit()
    lost = replace(circuit, elements=tuple(e for e in circuit.elements if e.ref not in ("-E4", "-W27", "-W28")))
    (scene,) = schematic(lost, INFO)
    assert [item for item in primitives(scene.children) if getattr(item, "css_class", "") == "open"] != []
    assert wrong([scene], lost) == []
    (whole,) = schematic(circuit, INFO)
    assert [item for item in primitives(whole.children) if getattr(item, "css_class", "") == "open"] == []


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_large_rig_goes_over_several_sheets(paper):
    """Too many lamps for one sheet: several, each readable, together complete, every net that goes on says where."""
    circuit = sample_circuit(lamps=5)
    scenes = schematic(circuit, INFO, paper)
    assert len(scenes) > 1
    assert wrong(scenes, circuit) == []
    drawn = {dict(g.data)["ref"] for scene in scenes for g in groups_of(scene.children, "part")}
    assert drawn == {element.ref for element in circuit.elements}
    ids = [group.id for scene in scenes for group in groups(scene.children) if group.id]
    assert len(ids) == len(set(ids))
    assert [t.text for s in scenes for t in texts(s) if re.fullmatch(r"\d of \d", t.text)] == [
        f"{k} of {len(scenes)}" for k in range(1, len(scenes) + 1)
    ]
    on = {}
    for number, scene in enumerate(scenes):
        for group in groups_of(scene.children, "part"):
            element = circuit.by_ref[dict(group.data)["ref"]]
            if not isinstance(element, Contact):
                for terminal in (element.a, element.b):
                    on.setdefault(terminal, set()).add(number)
    arrows = [t.text.split(",")[0] for s in scenes for t in texts(s) if re.search(r", sheets? \d", t.text)]
    for terminal in (t for t, numbers in on.items() if len(numbers) > 1):
        assert arrows.count(terminal.lstrip("-")) == len(on[terminal])


def test_rows_are_shared_out_when_cutting_at_connectors_is_not_enough():
    """A trailer with far more lamps than a sheet has rows still comes out whole and readable."""
    circuit = sample_circuit(lamps=16, brake=False)
    scenes = schematic(circuit, INFO)
    assert len(scenes) > 3
    assert wrong(scenes, circuit) == []


def test_a_rig_without_end_is_refused_in_words(monkeypatch):
    """Where even many sheets are too few the user is told so, and no unreadable sheet comes out."""
    from wiregen.draw.schematic import parting

    monkeypatch.setattr(parting, "_MOST_SHEETS", 2)
    with pytest.raises(InputError, match="does not fit on 2 sheets"):
        schematic(sample_circuit(lamps=16, brake=False), INFO)


def test_largest_lettering_that_fits_is_taken():
    """A small rig gets larger lettering than a big one, and nothing goes under 2 mm."""

    def size_of(circuit):
        return max(t.size_mm for s in schematic(circuit, INFO) for t in texts(s) if t.text.startswith("W1"))

    small, usual = size_of(sample_circuit(circuits=("tail",), brake=False)), size_of(sample_circuit())
    assert small == 2.8
    assert 2.0 <= usual < small


def test_taps_enter_the_adapter_past_the_socket(sheet, circuit):
    """The brake-pedal tap and the feed run from the vehicle into the adapter outside the shell of the socket."""
    shell = next(group for group in groups_of(sheet.children, "connector") if "X1" in group.id)
    box = box_of(shell.children[0])
    for name in ("-A1:feed", "-A1:brake_signal"):
        crossing = [s.box for s in strokes(sheet) if s.owner == name and s.box.x0 < box.x0 and s.box.x1 > box.x1]
        assert len(crossing) == 1
        assert not box.y0 <= crossing[0].y0 <= box.y1


def test_symbol_library_is_loaded_only_when_drawing():
    """Importing the schematic costs nothing of schemdraw; drawing one loads it."""
    code = (
        "import sys\nimport wiregen.draw.schematic.scenes as s\nprint('schemdraw' in sys.modules)\n"
        "from tests.unit.sample_circuit import sample_circuit\nfrom wiregen.model.chart import SheetInfo\n"
        "s.schematic(sample_circuit(), SheetInfo(title='', revision='', date='', digest=''))\n"
        "print('schemdraw' in sys.modules)"
    )
    root = FilePath(__file__).parents[2]
    output = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": str(root)},
        cwd=root,
        capture_output=True,
        check=True,
    ).stdout
    assert output.split() == [b"False", b"True"]


def test_svg_is_small_enough_for_a_page(sheet):
    """The whole sheet stays under 90 kB, so that a page with it and the states of the rig stays under 150 kB."""
    assert len(svg_text(sheet).encode()) < 90_000


def test_a_bus_that_nothing_takes_from_is_drawn():
    """A supply behind a fuse with no channel on it leaves a bus without a line; there is no name to write on it."""
    resistor = {"input": "tail", "output": "tail", "device": "resistor", "resistance": "10 ohm"}
    loaded = load(rig(supply={"kind": "centre_tap", "fuse": "30 A"}, channels=[resistor]))
    assert "schematic-test-trailer" in steps.draw(loaded)
