"""Short circuits: where they are looked for, what ends them, and what the rules say of them."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from tests import circuits as by_hand
from tests.findings import above, findings, one, place
from tests.rigs import RUNS, SUPPLY, load, rig, straight
from tests.steps import check, short_study, study
from wiregen.catalogue.circuits import GROUNDS
from wiregen.catalogue.opening import fuse_opening, k_factor, melting_a2s, withstand_a2s
from wiregen.check.clearing import Clearing, clearings
from wiregen.circuit.build import build
from wiregen.circuit.shorts import BOLTED_OHM, shorts
from wiregen.errors import InputError
from wiregen.model.circuit import Conductor, Converter, Fuse
from wiregen.model.short import LEAST, MOST, Short
from wiregen.quantity import parse_size
from wiregen.solve.full_study import solve_study
from wiregen.solve.shorts import solve_shorts

SHORT_RULES = {"short-clears", "short-limited", "fuse-order", "fuse-inrush", "fuse-breaking", "breaker-type"}
STOP = {"input": "stop", "output": "stop", "rating": "30 A"}
COMMON = {"circuit": "stop", "zone": "trailer"}


def run(a: str, b: str, length: str, size: str, **more: object) -> dict[str, object]:
    return {"from": a, "to": b, "length": length, "size": size, **more}


def thin(size: str = "0.75 mm²", length: str = "8 m") -> list[dict[str, object]]:
    """Every stretch short and thick but the trailer's cable."""
    return [*(entry for entry in RUNS if entry["to"] != "lamps"), run("trailer", "lamps", length, size)]


def behind_converter(runs: list[dict[str, object]], fuse: str = "20 A", **supply: object) -> str:
    """Stop lamps behind a fused channel on a converter."""
    return rig(
        "iso-12098",
        "iso-11446",
        channels=[{**STOP, "fuse": fuse}],
        lamps=["stop"],
        supply={**SUPPLY, "fed_by": "charge", **supply},
        vehicle={"fuse": [{"circuits": ["charge", "stop"], "fuse": "30 A"}]},
        runs=runs,
    )


def said(text: str) -> set[str]:
    return {f.rule for f in check(load(text)).findings if f.rule in SHORT_RULES}


# --- where ---


def test_every_fed_conductor_and_every_fuse_has_its_short_and_no_ground_has() -> None:
    """Conductors of grounds touch nothing live; the vehicle's own feeds count where a run lays them."""
    (circuit,) = build(load(behind_converter(thin()))).circuits
    found = shorts(circuit)
    refs = {short.ref for short in found}
    fed = {wire.ref for wire in circuit.of(Conductor) if wire.circuit not in GROUNDS}
    assert fed | {fuse.ref for fuse in circuit.of(Fuse)} >= refs
    assert {wire.b for wire in circuit.of(Conductor) if wire.ref in fed} <= {short.terminal for short in found}
    assert len({(short.terminal, short.ground) for short in found}) == len(found)
    bare = [entry for entry in thin() if entry["from"] != "battery"]
    (unlaid,) = build(load(behind_converter(bare))).circuits
    own = {wire.ref for wire in unlaid.of(Conductor) if wire.stretch == "battery-socket"}
    assert own
    assert not own & {short.ref for short in shorts(unlaid)}


def test_a_hitch_is_a_second_way_back() -> None:
    """With a stated path through the hitch each conductor of the trailer also touches a frame that only it grounds."""
    text = straight("iso-1185", "iso-1185", ["tail_left"], hitch_resistance="0.5 ohm")
    (circuit,) = build(load(text)).circuits
    alone = [short for short in shorts(circuit) if short.through_hitch]
    assert {short.ground for short in alone} == {"chassis"}
    assert {short.ohm for short in alone} == {0.5 + BOLTED_OHM}
    assert {circuit.by_ref[short.ref].zone for short in alone} == {"trailer"}


# --- what flows, and what ends it ---


def hand(*parts: object, at: str, battery_ohm: float = 0.02) -> tuple[Clearing, ...]:
    """Clearings of one short at a terminal of a circuit by hand, least first."""
    circuit = by_hand.circuit(by_hand.battery(24.0, battery_ohm), *parts)  # type: ignore[arg-type]
    ref = next(element.ref for element in circuit.elements if element.b == at)
    study = solve_shorts(circuit, solve_study(circuit, ()), [Short(ref, at, by_hand.GROUND, BOLTED_OHM, "by hand")])
    return clearings(study)


def fuse(ref: str, a: str, b: str, rating_a: float, ohm: float = 0.01, breaker: str = "") -> Fuse:
    return Fuse(ref=ref, a=a, b=b, rating_a=rating_a, resistance_ohm=ohm, breaker=breaker, **COMMON)


def test_of_fuses_in_series_the_faster_ends_the_short() -> None:
    """24 V over 0.1 ohm are 240 A: 600 % of 40 A and far more of 10 A; both carry it, the near one comes first."""
    _, most = hand(
        fuse("-F1", "plus", "f", 40.0),
        fuse("-F2", "f", "g", 10.0),
        by_hand.resistor("-W1", "g", "lamp", 0.06),
        by_hand.filament("-E1", "lamp"),
        at="lamp",
    )
    assert [device.fuse.ref for device in most.chain] == ["-F2", "-F1"]
    assert most.at.current_a == pytest.approx(24 / (0.1 + BOLTED_OHM), rel=1e-3)
    assert most.decisive is not None
    assert (most.decisive.fuse.ref, most.max_s) == ("-F2", 0.1)
    assert most.bare is None


def test_of_feeders_side_by_side_the_slower_ends_the_short() -> None:
    """Two fuses feed one terminal: the short lasts until the larger one is open too."""
    least, _ = hand(
        fuse("-F1", "plus", "lamp", 10.0, 0.5),
        fuse("-F2", "plus", "lamp", 30.0, 0.5),
        by_hand.filament("-E1", "lamp"),
        at="lamp",
    )
    assert least.decisive is not None
    assert least.decisive.fuse.ref == "-F2"
    alone = fuse_opening(30.0, least.decisive.current_a)
    assert least.max_s == alone.max_s > fuse_opening(10.0, least.decisive.current_a).max_s


def test_a_source_without_a_fuse_is_named() -> None:
    """Nothing opens what comes straight from a battery; a second feeder with a fuse does not change that."""
    least, _ = hand(
        by_hand.resistor("-W1", "plus", "lamp", 0.1),
        fuse("-F1", "plus", "lamp", 10.0, 0.1),
        by_hand.filament("-E1", "lamp"),
        at="lamp",
    )
    assert least.bare is not None
    assert least.bare.ref == "-G1"
    assert math.isinf(least.max_s)


def test_a_relay_that_its_own_short_lets_go_never_comes_to_rest() -> None:
    """The coil hangs on the bus that the contact shorts: it pulls in, the bus falls, it lets go, the bus comes back."""
    circuit = by_hand.circuit(
        by_hand.battery(24.0, 0.02),
        by_hand.resistor("-W1", "plus", "bus", 0.5),
        by_hand.coil("-K1", "bus"),
        by_hand.relay("-K1:30-87", "bus", "out", "stop", {"stop": "-K1"}),
        by_hand.filament("-E1", "out"),
    )
    short = Short("-K1:30-87", "out", by_hand.GROUND, BOLTED_OHM, "by hand")
    study = solve_shorts(circuit, solve_study(circuit, ()), [short])
    assert [point.trouble for point in study.points] == ["never comes to rest: -K1 in, then -K1 out, and so on"] * 2
    assert clearings(study) == ()


def test_a_relay_that_the_sag_lets_go_is_named() -> None:
    """A short of the signal wire takes the voltage from the coil that hears it: the channel opens, the short stays."""
    text = behind_converter(thin())
    (circuit,) = build(load(text)).circuits
    signal = next(wire for wire in circuit.of(Conductor) if (wire.circuit, wire.stretch) == ("stop", "socket-adapter"))
    loaded = load(text)
    built = build(loaded)
    (made,) = short_study(built, study(loaded, built))
    points = [point for point in made.points if point.short.ref == signal.ref]
    assert [point.let_go for point in points] == [("-K1",), ("-K1",)]
    assert all(point.current_a > 50 for point in points)


@pytest.mark.parametrize(("foldback", "expected_a"), [(1.0, 12.0), (0.25, 3.0)])
def test_a_converter_gives_its_limit_or_what_it_folds_back_to(foldback: float, expected_a: float) -> None:
    """A bolted short at the output takes the limit, or the share of it that is left at no voltage."""
    made = replace(by_hand.converter("-T1", "plus", "out"), limit_a=12.0, foldback=foldback)
    circuit = by_hand.circuit(by_hand.battery(24.0, 0.02), made, by_hand.filament("-E1", "out"))
    short = Short("-T1", "out", by_hand.GROUND, BOLTED_OHM, "by hand")
    study = solve_shorts(circuit, solve_study(circuit, ()), [short])
    assert [point.current_a for point in study.points] == pytest.approx([expected_a] * 2, rel=2e-3)
    (converter,) = circuit.of(Converter)
    assert all(study.limited[converter.ref])


def test_the_least_is_less_than_the_most() -> None:
    """Low battery, hot copper and old contacts give less than a charging battery, cold copper and new contacts."""
    (circuit,) = build(load(behind_converter(thin(), current_limit="200 A", continuous="150 A"))).circuits
    healthy = solve_study(circuit, {"brake"})
    study = solve_shorts(circuit, healthy, shorts(circuit))
    least = {point.short: point.current_a for point in study.at(LEAST)}
    most = {point.short: point.current_a for point in study.at(MOST)}
    assert len(least) > 8
    assert [short.words for short in least if least[short] > most[short] * (1 + 1e-9)] == []


# --- the rule: it ends before something burns ---


def far(fuse_a: float, length: str = "60 m", size: str = "0.75 mm²", **more: object) -> str:
    """A 24 V trailer on a plain lead with a long thin cable, 24 V straight from the battery."""
    vehicle = {"fuse": [{"circuits": ["tail_left"], "fuse": f"{fuse_a} A"}]}
    return straight("iso-1185", "iso-1185", ["tail_left"], vehicle=vehicle, runs=thin(size, length), **more)


def test_a_fuse_too_large_for_a_long_thin_cable_never_opens() -> None:
    """60 m of 0.75 mm² let 8 A flow: a 15 A fuse holds that, and the conductor carries less; a 2 A fuse is unknown."""
    found = one(far(15), "short-clears")
    assert found.severity == "error"
    above(found, "A")
    assert found.value is not None
    assert found.value < 1.1 * 15
    assert "the fuse may never open" in found.message
    place(found, far(15), "[[vehicle.fuse]]")


def test_a_small_fuse_opens_the_same_short() -> None:
    """The twin with a 3 A fuse: over twice its rating flow, it opens within 5 s."""
    assert findings(far(3), "short-clears") == []


def test_a_short_that_every_conductor_carries_for_good_is_harmless() -> None:
    """The same fuse before 60 m of a conductor that carries what flows: nothing opens, nothing burns."""
    vehicle = {"fuse": [{"circuits": ["tail_left"], "fuse": "15 A"}], "battery": {"resistance": "2 ohm"}}
    text = straight("iso-1185", "iso-1185", ["tail_left"], vehicle=vehicle, runs=thin("2.5 mm²"))
    assert findings(text, "short-clears") == []


def test_a_fuse_that_opens_late_is_a_warning() -> None:
    """Between 160 and 200 % of its rating a fuse takes up to 50 s; 1 mm² stands that, but nobody notices before."""
    found = one(far(7.5, "70 m", "1 mm²"), "short-clears")
    assert (found.severity, found.value, found.limit, found.unit) == ("warning", 50.0, 5.0, "s")
    assert "the fuse opens within 50 s" in found.message


def test_a_frame_that_only_the_hitch_grounds_is_a_warning() -> None:
    """Most of an ohm of hitch takes the current from the fuse; whether the frame is bonded nobody has stated."""
    text = far(15, "10 m", "2.5 mm²", hitch_resistance="0.7 ohm")
    assert [(f.severity, "only the hitch grounds" in f.message) for f in findings(text, "short-clears")] == [
        ("warning", True)
    ]
    assert findings(far(15, "10 m", "2.5 mm²"), "short-clears") == []


def test_a_trailer_battery_without_a_fuse_burns_its_own_wire() -> None:
    """The trailer's battery feeds a short of the charge line from behind; with a fuse at its plus it does not."""

    def text(**battery: str) -> str:
        return rig(
            "iso-12098",
            "iso-11446",
            channels=[{"input": "charge", "output": "charge", "device": "wire", "fuse": "5 A"}],
            lamps=[],
            supply=None,
            volts=24,
            vehicle={"fuse": [{"circuits": ["charge"], "fuse": "20 A"}]},
            battery={"capacity": "20 Ah", **battery},
            runs=thin("1.5 mm²"),
        )

    bare = one(text(), "short-clears")
    assert (bare.severity, bare.source) == ("error", "S13")
    assert bare.where.startswith("-G2")
    assert findings(text(fuse="5 A"), "short-clears") == []


# --- the trap: a converter cannot blow its fuse ---


def test_a_converter_of_25_a_cannot_blow_a_20_a_fuse() -> None:
    """25 A are 125 % of 20 A: it may never open, and 1.5 mm² carries less than 25 A for good."""
    text = behind_converter(thin("1.5 mm²"), continuous="20 A", current_limit="25 A")
    found = one(text, "short-limited")
    above(found, "A")
    assert found.severity == "error"
    assert found.value == pytest.approx(25.0, rel=1e-3)
    assert "all that -T1 gives; the fuse may never open" in found.message
    assert "Fit a fuse of no more than 10 A, which opens within 5 s there" in found.advice
    assert "carry 25 A for good" in found.advice
    place(found, text, "[[adapter.channel]]")
    assert findings(text, "short-clears") == []


@pytest.mark.parametrize("fuse_rating", ["3 A", "5 A", "7.5 A", "10 A"])
def test_a_fuse_of_half_the_limit_ends_it(fuse_rating: str) -> None:
    """At twice its rating and more a fuse opens within 5 s, which the conductor stands."""
    text = behind_converter(thin("1.5 mm²"), fuse_rating, continuous="20 A", current_limit="25 A")
    assert findings(text, "short-limited") == []


def test_conductors_that_carry_the_limit_need_no_fuse() -> None:
    """The same fuse before conductors of 6 mm²: the short lasts, and harms nothing."""
    text = behind_converter(list(RUNS), continuous="20 A", current_limit="25 A")
    assert findings(text, "short-limited") == []


def test_a_limit_that_nobody_stated_is_a_warning_and_none_at_all_a_notice() -> None:
    """1.5 times the continuous output is what is assumed; without that, whether a fuse opens is not known."""
    assumed = one(behind_converter(thin("1.5 mm²"), continuous="16 A"), "short-limited")
    assert assumed.severity == "warning"
    assert "all that -T1 gives (assumed);" in assumed.message
    supply = {key: value for key, value in SUPPLY.items() if key != "continuous"}
    text = rig(
        "iso-12098",
        "iso-11446",
        channels=[{**STOP, "fuse": "20 A"}],
        lamps=["stop"],
        supply={**supply, "fed_by": "charge"},
        runs=thin("1.5 mm²"),
    )
    unknown = one(text, "short-limited")
    assert (unknown.severity, unknown.value) == ("notice", None)
    assert unknown.where.startswith("-T1")


def test_folding_back_leaves_less_for_the_fuse() -> None:
    """A fuse that the full limit opens is not opened by 40 % of it."""
    runs = thin("0.5 mm²", "2 m")
    whole = behind_converter(runs, "10 A", continuous="20 A", current_limit="30 A")
    folded = behind_converter(runs, "10 A", continuous="20 A", current_limit="30 A", foldback="15 %")
    assert findings(whole, "short-limited") == []
    found = one(folded, "short-limited")
    assert (found.severity, "assumed" in found.message) == ("error", False)
    assert "the fuse may never open" in found.message


def test_a_brake_controller_is_in_front_of_its_fuse_s_wire() -> None:
    """Its fuse stands before it and sees next to nothing of a short behind it: the leads must carry its limit."""

    def text(size: str) -> str:
        return rig(
            channels=[{"input": "pedal", "output": "brake", "device": "brake_controller", "rating": "20 A",
                       "current_limit": "25 A", "fuse": "20 A"}],
            lamps=["tail"],
            pedal=True,
            brakes={"magnets": 2},
            runs=thin(size, "3 m"),
        )  # fmt: skip

    found = one(text("1.5 mm²"), "short-limited")
    assert "all that -A2 gives; the fuse may never open" in found.message
    assert "shuts down on a short" in found.advice
    assert findings(text("10 mm²"), "short-limited") == []


# --- which opens first ---


def in_series(near: str, front: str, **feed: str) -> str:
    """A wire channel with its own fuse behind the vehicle's, both on the battery."""
    return rig(
        "iso-12098",
        "iso-11446",
        channels=[{"input": "stop", "output": "stop", "device": "wire", "fuse": near}],
        lamps=["stop p21w-24v"],
        supply=None,
        volts=24,
        vehicle={"fuse": [{"circuits": ["stop"], "fuse": front, **feed}]},
    )


@pytest.mark.parametrize(
    ("near", "front", "room"),
    # Typical melting energies of one published series (facts 3.1, memory): 26, 60, 115, 340, 520, 1080, 1510 A2s.
    [("10 A", "10 A", 1.0), ("15 A", "20 A", 520 / 340), ("7.5 A", "10 A", 115 / 60), ("25 A", "30 A", 1510 / 1080)],
)
def test_two_fuses_of_nearly_one_size_may_open_in_the_wrong_order(near: str, front: str, room: float) -> None:
    """Less than twice the melting energy in front: the vehicle's own lamps may go dark with the trailer's short."""
    found = one(in_series(near, front), "fuse-order")
    assert found.severity == "warning"
    assert found.value == pytest.approx(room, rel=1e-3)
    assert found.limit == 2.0
    assert found.where.startswith("-F2")


@pytest.mark.parametrize(("near", "front"), [("5 A", "10 A"), ("10 A", "15 A"), ("15 A", "25 A"), ("20 A", "30 A")])
def test_two_sizes_apart_the_near_one_opens_first(near: str, front: str) -> None:
    """Twice the melting energy and more in front."""
    assert findings(in_series(near, front), "fuse-order") == []


def test_a_breaker_in_front_is_not_known_to_wait() -> None:
    """No time of a breaker is known at large currents: a notice, not a verdict."""
    found = one(in_series("5 A", "20 A", breaker="type III"), "fuse-order")
    assert (found.severity, found.value) == ("notice", None)


# --- cold lamps ---


def inrush(fuse_rating: str, count: int = 1) -> str:
    runs = [*RUNS]
    return rig(
        "iso-12098",
        "iso-11446",
        channels=[{**STOP, "fuse": fuse_rating}],
        lamps=[{"function": "stop", "type": "p21w-12v", "count": count}],
        supply={**SUPPLY, "fed_by": "charge"},
        vehicle={"fuse": [{"circuits": ["charge", "stop"], "fuse": "30 A"}]},
        runs=runs,
    )


def test_a_fuse_of_2_a_wears_out_under_a_21_w_lamp() -> None:
    """IN-1: I²t = 0.14 I²; 1.85 A let 0.48 A²s through, 22 % of the 1.4 A²s of a 2 A fuse are 0.31; 5 A stand it."""
    found = one(inrush("2 A"), "fuse-inrush")
    assert found.unit == "A²s"
    assert found.value == pytest.approx(0.14 * 1.85**2, rel=0.02)
    assert found.limit == pytest.approx(0.22 * 1.4)
    assert findings(inrush("5 A"), "fuse-inrush") == []


def test_led_lamps_have_no_filament_to_heat() -> None:
    """The same fuse before LED lamps."""
    text = inrush("2 A").replace("p21w-12v", "led-stop-12v")
    assert findings(text, "fuse-inrush") == []


def test_melting_energy_of_a_rating_without_one() -> None:
    """3 A has none in the table: 2 A below and 5 A above bound it; 10 A is 115 A²s (facts 3.1)."""
    assert melting_a2s(10.0) == 115.0
    assert (melting_a2s(3.0), melting_a2s(3.0, toward="lower"), melting_a2s(3.0, toward="upper")) == (None, 1.4, 26.0)
    assert melting_a2s(100.0, toward="upper") is None


# --- breaking capacity, breakers ---


@pytest.mark.parametrize(("ohm", "found"), [("10 mohm", 1), ("40 mohm", 0)])
def test_a_battery_that_gives_more_than_a_fuse_breaks(ohm: str, found: int) -> None:
    """28.8 V behind 10 mohm is beyond the 1000 A of ISO 8820-3 (S46), behind 40 mohm it is not."""
    text = straight("iso-1185", "iso-1185", ["tail_left"], vehicle={
        "fuse": [{"circuits": ["tail_left"], "fuse": "20 A"}], "battery": {"resistance": ohm},
    })  # fmt: skip
    got = findings(text, "fuse-breaking")
    assert len(got) == found
    for f in got:
        above(f, "A")
        assert f.severity == "notice"


@pytest.mark.parametrize(
    ("kind", "severity"), [("type I", ["warning"]), ("type II", ["notice"]), ("type III", []), (None, [])]
)
def test_breakers_by_type(kind: str | None, severity: list[str]) -> None:
    """S29: type 1 cycles and needs a back-up, type 2 closes when the supply has been off, type 3 by hand."""
    feed = {"breaker": kind} if kind else {}
    got = findings(in_series("5 A", "20 A", **feed), "breaker-type")
    assert [f.severity for f in got] == severity
    assert all(f.where == f"-F1 breaker 20 A, {kind}" and f.source == "S29" for f in got)


def test_a_type_i_breaker_ends_nothing() -> None:
    """Alone before a short it opens and closes for ever; with a fuse behind it the fuse ends it."""
    alone = straight("iso-1185", "iso-1185", ["tail_left"], vehicle={
        "fuse": [{"circuits": ["tail_left"], "fuse": "20 A", "breaker": "type I"}]
    })  # fmt: skip
    (found,) = findings(alone, "breaker-type")
    assert "closes again by itself" in found.message
    assert " A where -W" in found.message
    assert findings(alone, "short-clears") == []
    assert findings(in_series("5 A", "20 A", breaker="type I"), "short-clears") == []


def test_a_breaker_needs_a_rating_and_a_known_type() -> None:
    """A breaker without amps says nothing, and the types are those of SAE J553."""
    feed = {"circuits": ["tail_left"], "breaker": "type I"}
    with pytest.raises(InputError, match="a breaker of how many amps"):
        load(straight("iso-1185", "iso-1185", ["tail_left"], vehicle={"fuse": [feed]}))
    with pytest.raises(InputError, match="type III"):
        load(straight("iso-1185", "iso-1185", ["tail_left"], vehicle={"fuse": [{**feed, "breaker": "auto"}]}))


# --- tables ---


@pytest.mark.parametrize(
    ("use_c", "short_c", "printed"),
    [(70, 160, 115), (90, 160, 100), (90, 250, 143), (60, 200, 141), (85, 220, 134), (180, 350, 132)],
)
def test_k_factors_of_copper(use_c: float, short_c: float, printed: int) -> None:
    """The copper column of S70 (BS 7671, IEC 60364-5-54), to the printed unit."""
    assert round(k_factor(use_c, short_c)) == printed


def test_a_conductor_stands_what_the_law_says() -> None:
    """1.5 mm² at 80 °C: k = 226 sqrt(ln(1 + 80 / 314.5)) = 107.6, so 26.0 kA²s; cross-linked insulation stands more."""
    pvc = withstand_a2s(parse_size("1.5 mm²"), 80.0)
    assert pvc == pytest.approx((226 * math.sqrt(math.log(1 + 80 / 314.5)) * 1.5) ** 2)
    assert pvc == pytest.approx(26_037, rel=1e-3)
    assert withstand_a2s(parse_size("1.5 mm²"), 125.0) > withstand_a2s(parse_size("1.5 mm²"), 105.0)


@pytest.mark.parametrize("amps", [10.0, 13.5, 16.0, 20.0, 35.0, 60.0, 200.0, 1000.0])
def test_what_is_let_through_never_exceeds_the_latest_time(amps: float) -> None:
    """Heat is bounded by the latest time; beyond the last line by its I²t: 0.1 s at 600 % are 3.6 times the square."""
    opening = fuse_opening(10.0, amps)
    assert opening.heat_s <= opening.max_s
    if amps >= 60:
        assert opening.heat_s * amps**2 == pytest.approx(3.6 * 10.0**2)
    if amps < 13.5:
        assert math.isinf(opening.heat_s)
