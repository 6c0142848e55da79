"""The papers of the shop: lengths, ends, splices, parts, continuity, layout, against sums made by hand."""

import pytest

from tests import steps
from tests.conversions import SHARED_LAMPS, XOR
from tests.device_rigs import device_rig
from tests.rigs import load, rig, straight, trailer
from wiregen.catalogue.defaults import default
from wiregen.draw.harness import harness_scenes
from wiregen.draw.labels import label_scenes
from wiregen.draw.scene import SMALLEST_TEXT_MM, Text, box_of, primitives
from wiregen.draw.sheet import Sheet
from wiregen.harness.cuts import cut_length_m
from wiregen.model.chart import SheetInfo
from wiregen.model.harness import HarnessPapers

INFO = SheetInfo(title="t", revision="", date="", digest="0")


def papers(text: str) -> HarnessPapers:
    loaded = load(text)
    return steps.harness(loaded)


def two_trailers() -> str:
    return rig(
        trailers=[trailer("sae-j2863", ["tail"], name="boat"), trailer("sae-j1239-4", ["tail"], name="light")],
        channels=[{"input": "tail", "output": "tail", "fuse": "10 A", "rating": "20 A", "rated_for": "lamp"}],
    )


# --- cut list ---


@pytest.mark.parametrize(
    ("length_m", "cut_m"), [(1.0, 1.2), (1.01, 1.25), (0.6, 0.8), (8.0, 8.2), (1.2, 1.4), (0.301, 0.55)]
)
def test_cut_length(length_m, cut_m):
    """0.1 m at each end, then up to the next 0.05 m; a length on the step is not lifted by a last binary digit."""
    assert default("cut_allowance_end_m").value == 0.1
    assert cut_length_m(length_m) == cut_m


def test_the_allowance_is_listed_as_an_assumption():
    """It has no source, and says so."""
    (one,) = papers(rig()).assumptions
    assert (one.name, one.support) == ("cut_allowance_end_m", "assumed")
    assert "common practice, no source" in one.why


def test_ends_are_finished_by_what_they_end_on():
    """Contacts, bars, strips, fuse holders and splices each get their own end."""
    cuts = {(cut.start, cut.end): cut for cut in papers(two_trailers()).cuts}

    def ends(start: str, end: str) -> tuple[str, str]:
        return cuts[start, end].start_finish, cuts[start, end].end_finish

    assert ends("X1:E", "A1:tail") == ("connector contact", "ferrule")
    assert ends("F1:2", "A1:box feed") == ("fuse holder", "ferrule")
    assert ends("A1:0V", "chassis") == ("ring terminal", "ring terminal")
    assert ends("SP1", "X2:3") == ("splice SP1", "connector contact")
    assert ends("X2:1", "A1:0V") == ("connector contact", "ring terminal")


def test_a_relay_with_one_conductor_gets_a_receptacle():
    """Without a second conductor there is no splice in front of 87."""
    cuts = {cut.end: cut for cut in papers(rig()).cuts}
    assert cuts["X2:3"].start_finish == "blade receptacle"


# --- splices ---


def test_two_trailers_on_one_relay_meet_in_a_splice():
    """Both conductors from 87 of the relay and the lead to it are joined; every bar holds what lies on it."""
    nodes = {node.name: node for node in papers(two_trailers()).nodes}
    cuts = {cut.end: cut.ref for cut in papers(two_trailers()).cuts}
    assert nodes["SP1"].joins == (cuts["X2:3"], cuts["X3:2"], "K1:87")
    assert {"T1:0V", "K1:85"} <= set(nodes["A1:0V"].joins)
    assert set(nodes["A1:12V"].joins) == {"T1:out", "F2:1"}


def test_every_bar_strip_and_splice_joins_every_wire_that_ends_there():
    """Each wire of the cut list stands with every bar, strip and splice it ends on, and nowhere else."""
    made = papers(rig("iso-12098", "sae-j2863", channels=XOR, lamps=SHARED_LAMPS))
    joined = {node.name: {part for part in node.joins if part[0] == "W"} for node in made.nodes if node.name}
    ends = {name: {cut.ref for cut in made.cuts if name in (cut.start, cut.end)} for name in joined}
    assert {name: refs for name, refs in joined.items() if name[0] != "X"} == {
        n: r for n, r in ends.items() if n[0] != "X"
    }
    assert {end for cut in made.cuts for end in (cut.start, cut.end) if end.startswith("A1:")} <= set(joined)


def test_a_lead_behind_a_step_downs_fuse_is_no_tap():
    """Its fuse sits in the box: the lead begins on it there, and is not connected to the battery."""
    channel = {"input": "stop", "output": "tail", "device": "step_down", "fuse": "5 A"}
    made = papers(rig("iso-12098", channels=[channel]))
    (row,) = [row for row in made.cuts if row.end == "X2:3"]
    fuse = row.start.partition(":")[0]
    assert row.start == f"{fuse}:2"
    steps = {step.title: " ".join(step.actions) for step in made.steps}
    assert f"T2:out – {fuse}:1" in steps["Wire inside the adapter"]
    assert row.ref not in steps["Connect"]


def test_a_contact_network_is_wired_by_its_terminals():
    """Two relays cross-connected (stair-light circuit): make of each to rest of the other."""
    made = papers(rig("iso-12098", "sae-j2863", channels=XOR[1:2], lamps=["stop_turn_left"]))
    nodes = made.nodes
    joins = [set(node.joins) for node in nodes if node.kind == "joint"]
    assert {"K1:87", "K2:87a"} in joins
    assert {"K1:87a", "K2:87"} in joins
    assert [cut.end[:3] for cut in made.cuts if cut.start == "K2:30"] == ["X2:"]
    assert "K1:30" in next(node.joins for node in nodes if node.name == "A1:12V")


# --- labels ---


def test_each_conductor_has_a_label_for_each_end():
    """Two labels, the second with the ends turned round."""
    made = papers(two_trailers())
    assert len(made.labels) == 2 * len(made.cuts)
    first, second = made.labels[:2]
    assert (first.ref, first.here, first.there) == (second.ref, second.there, second.here)


# --- parts ---


def test_every_relay_of_a_network_is_bought_for_the_load_it_carries():
    """The lamps' current flows through both contacts of a stair-light circuit: neither is a signal relay."""
    channel = {
        "input": "stop xor turn_left",
        "output": "stop_turn_left",
        "fuse": "5 A",
        "rating": "20 A",
        "rated_for": "lamp",
    }
    made = papers(rig("iso-12098", "sae-j2863", channels=[channel], lamps=["stop_turn_left"]))
    relays = {part.what: part for part in made.parts if part.what.startswith("relay")}
    (what,) = relays
    assert what == "relay, coil 24 V, change-over, contact at least 20 A lamp load; with its socket"
    assert relays[what].refs == ("K1", "K2")
    assert "87a carries the load too" in relays[what].note


def test_a_relay_that_only_tells_a_controller_is_a_signal_relay():
    """The contact behind the brake pedal carries the controller's signal, and its controller the magnets."""
    channel = {"input": "pedal", "output": "brake", "device": "brake_controller", "rating": "25 A", "fuse": "25 A"}
    made = papers(rig(channels=[channel], lamps=[], pedal=True, brakes={"magnets": 2}))
    assert [part.what for part in made.parts if part.what.startswith("relay")] == [
        "relay, coil 24 V, signal contact; with its socket"
    ]


def test_parts_by_property():
    """Relays, converter and fuses are named by what they must do; conductors add up to the cut lengths."""
    made = papers(two_trailers())
    parts = {part.what: part for part in made.parts}
    assert parts["relay, coil 24 V, contact at least 20 A lamp load; with its socket"].refs == ("K1",)
    assert parts["step-down converter, common minus, to 13.6 V, at least 40 A for long"].quantity == 1
    # SAE/ISO blade colours, source S45 of the fuse table.
    assert parts["fuse 10 A, blade (ISO 8820-3), red"].refs == ("F2",)
    metres = sum(part.quantity for part in made.parts if part.unit == "m")
    assert metres == pytest.approx(sum(cut.cut_m for cut in made.cuts))
    ends = [
        part for part in made.parts if part.what.startswith(("connector contact", "ring", "ferrule", "blade", "fuse-"))
    ]
    spliced = sum(finish.startswith("splice") for cut in made.cuts for finish in (cut.start_finish, cut.end_finish))
    assert sum(part.quantity for part in ends) == 2 * len(made.cuts) - spliced


def test_fuses_of_the_vehicle_are_not_bought():
    """A feed of the vehicle has its fuse already; the tap's and the adapter's own are the builder's."""
    vehicle = {"fuse": [{"circuits": ["tail"], "fuse": "20 A"}]}
    made = papers(rig(vehicle=vehicle, adapter={}))
    fuses = {ref for part in made.parts if part.group == "Fuses" for ref in part.refs}
    assert fuses == {"F1"}


# --- continuity ---


def kinds(text: str) -> dict[str, str]:
    return {one.one: one.kind for one in papers(text).continuity if one.other == "A1:0V" and one.kind != "joined"}


def test_what_lies_between_a_contact_and_the_ground_bar():
    """A coil reads its resistance, electronics something, an open relay contact nothing."""
    found = kinds(rig(channels=["tail > tail", "stop_turn_left > stop_turn_left | solid_state"], lamps=["tail"]))
    assert (found["X1:E"], found["X1:B"], found["X2:3"], found["X2:5"]) == ("coil", "input", "open", "input")
    assert found["F1:2"] == "input"


def test_a_coil_reads_what_the_rig_says():
    """300 ohm, 15 % either way; two relays on one contact read half of it."""
    one = rig(channels=[{"input": "tail", "output": "tail", "coil_resistance": "300 ohm"}])
    row = next(row for row in papers(one).continuity if row.kind == "coil")
    assert (row.lowest_ohm, row.highest_ohm) == pytest.approx((255.0, 345.0))
    both = rig(
        channels=[{"input": "tail", "output": out, "coil_resistance": "300 ohm"} for out in ("tail", "reverse")],
        lamps=["tail"],
    )
    row = next(row for row in papers(both).continuity if row.kind == "coil")
    assert (row.lowest_ohm, row.highest_ohm) == pytest.approx((127.5, 172.5))


def test_a_contact_closed_at_rest_is_followed():
    """Through a break contact the meter sees what lies behind it: the converter, where no fuse stands between."""
    assert kinds(rig(channels=["not tail > tail"]))["X2:3"] == "input"


def test_a_straight_lead_has_nothing_between_its_contacts():
    """Each conductor whole, and open to every other."""
    rows = papers(straight("military-12-stanag", "military-12-stanag", ["tail"])).continuity
    assert {row.kind for row in rows} == {"joined", "open"}
    assert sum(row.kind == "joined" for row in rows) == sum(row.kind == "open" for row in rows)


# --- layout and labels as drawings ---


def test_branches_count_each_conductor_once():
    """The branches to be made hold every conductor of the cut list, each once."""
    made = papers(two_trailers())
    refs = sorted(ref for branch in made.plan.branches if branch.made for ref in branch.refs)
    assert refs == sorted(cut.ref for cut in made.cuts)
    assert all(sum(count for count, _ in branch.sizes) == len(branch.refs) for branch in made.plan.branches)


def many() -> str:
    return rig(trailers=[trailer("iso-11446", ["tail_left"], name=f"trailer {'w' * 40} {k}") for k in range(7)])


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("text", [two_trailers(), many(), device_rig(2)])
def test_drawings_stay_inside_the_sheet(text, paper):
    """Nothing of layout and labels leaves the drawing area, and no letter is smaller than 2 mm."""
    made = papers(text)
    area = Sheet(paper, landscape=True).area.grown(0.6)
    for scene in (*harness_scenes(made.plan, INFO, paper), *label_scenes(made.labels, INFO, paper)):
        drawn = [item for item in scene.children if item.css_class not in ("paper", "sheet")]
        assert [one for one in primitives(drawn) if not area.holds(box_of(one))] == []
        assert min(one.size_mm for one in primitives(drawn) if isinstance(one, Text)) >= SMALLEST_TEXT_MM


def test_the_layout_says_that_it_is_not_to_scale():
    """Lengths stand beside each branch in metres and feet; the picture has none to measure."""
    (scene,) = harness_scenes(papers(two_trailers()).plan, INFO)
    words = " ".join(one.text for one in primitives(scene.children) if isinstance(one, Text))
    assert "NOT TO SCALE" in words
    # 1 m is 3.28 ft.
    assert "1.00 m / 3.28 ft" in words


# --- unverified ---


def test_contacts_from_memory_are_listed():
    """Every contact and field without a document or in dispute, and no other, with whether the harness uses it."""
    loaded = load(rig("iso-12098", "iso-11446", channels=["stop > stop"], lamps=["stop"]))
    made = steps.harness(loaded)
    told = [(one.contact, one.function.split(":")[0], one.used) for one in made.doubts]
    assert told == [
        ("X2:11", "colour WH/BK white/black", False),
        ("X2:12", "disputed", False),
        ("X2:13", "colour WH/RD white/red", False),
    ]
    assert all(not verified for _, _, verified in made.faces)
