"""The order of assembly, written for this rig: from the first cut to the last fuse."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from wiregen.catalogue.circuits import circuit_word
from wiregen.circuit.build import Built
from wiregen.harness.record import Harness
from wiregen.model.circuit import Coil, Converter, Element, Equaliser, Fuse, Load, RelayContact
from wiregen.model.harness import AssemblyStep, Node
from wiregen.quantity import show
from wiregen.rig.loaded import LoadedRig


def assembly(loaded: LoadedRig, built: Built, harness: Harness, joints: Sequence[Node]) -> tuple[AssemblyStep, ...]:
    """Return the steps in their order.

    Args:
        loaded: The rig.
        built: Its circuits.
        harness: What is built.
        joints: Splices, bars and joints.
    """
    steps = [_measure_first(loaded), _cut(harness)]
    if not harness.straight:
        steps += [_mount(loaded, harness), *_inside(joints)]
    steps += _equaliser(harness)
    steps += _connectors(harness)
    steps += _prove(built, harness)
    return tuple(steps)


def _measure_first(loaded: LoadedRig) -> AssemblyStep:
    return AssemblyStep(
        title="Measure the vehicle",
        actions=(
            "Fill in the table 'Vehicle and outlets' of the test sheet for the vehicle socket X1 and the taps; stop "
            "where a reading is another one.",
            f"Hold X1 ({loaded.socket.short}) beside its drawing: find every contact by the mark moulded beside it.",
            "Disconnect the battery before the first cut.",
        ),
    )


def _cut(harness: Harness) -> AssemblyStep:
    sizes = dict.fromkeys(wire.size.label for wire in harness.made if wire.size)
    return AssemblyStep(
        title="Cut and label",
        actions=(
            f"Cut the {len(harness.made)} conductors of the cut list, one size after another: {', '.join(sizes)}.",
            "Slide both labels of a conductor on before either end gets its terminal; shrink them last.",
            "Finish every end as the cut list says; pull each crimp by hand.",
        ),
    )


def _mount(loaded: LoadedRig, harness: Harness) -> AssemblyStep:
    adapter = loaded.rig.adapter
    fitted: dict[str, list[str]] = {
        word: [] for word in ("converters and controllers", "relay sockets", "solid-state switches", "fuse holders")
    }
    for part in harness.parts:
        for element in part.elements:
            word = _mounted(element)
            if word:
                fitted[word].append(part.id)
    place = f" at its place, {adapter.location}" if adapter.location else ""
    actions = [f"Fit {adapter.name} (A1){place}: dry, vented, every cable entry pointing down."]
    actions += [f"Mount the {word}: {', '.join(refs)}." for word, refs in fitted.items() if refs]
    actions.append("Leave every relay and every fuse out until the step that asks for it.")
    return AssemblyStep(title="Mount the parts", actions=tuple(actions))


def _mounted(element: Element) -> str:
    """Return under what a device is mounted in the adapter; empty for what is not mounted by itself there."""
    match element:
        case Equaliser():
            return ""
        case Converter():
            return "converters and controllers"
        case Coil(is_copper=True):
            return "relay sockets"
        case RelayContact() if not element.is_relay:
            return "solid-state switches"
        case Fuse(zone="adapter"):
            return "fuse holders"
    return ""


def _equaliser(harness: Harness) -> Iterator[AssemblyStep]:
    """Yield how an equaliser is wired: it sits at the batteries, not in the box."""
    for part in harness.parts:
        for element in part.elements:
            if isinstance(element, Equaliser):
                leads = [wire for wire in harness.made if wire.b.part == part.id]
                fuse = f"A fuse of {show(element.fuse_a, 'A')}" if element.fuse_a else "A fuse (the rig states none)"
                yield AssemblyStep(
                    title=f"Fit the battery equaliser {part.id}",
                    actions=(
                        f"Battery disconnected: mount {part.id} beside the batteries, as its maker says.",
                        *(f"{wire.id}: {wire.a.id} – {wire.b.id}" for wire in leads),
                        f"{fuse} in the plus and in the centre lead, close to the battery.",
                        "Its rings stay off the batteries, and both fuses out, until the step 'Connect'.",
                    ),
                )


def _inside(joints: Sequence[Node]) -> Iterator[AssemblyStep]:
    for kind, title in (("bar", "Wire the bars"), ("joint", "Wire inside the adapter"), ("splice", "Make the splices")):
        chosen = [node for node in joints if node.kind == kind]
        if chosen:
            yield AssemblyStep(title=title, actions=tuple(_joined(node) for node in chosen))


def _joined(node: Node) -> str:
    joins = ", ".join(node.joins) if node.kind == "bar" else " – ".join(node.joins)
    return f"{node.name}: {joins}" if node.name else joins


def _connectors(harness: Harness) -> Iterator[AssemblyStep]:
    for half in harness.halves:
        actions = []
        for cavity in half.cavities:
            words = (f"{wire.id} {wire.colour}".strip() + f" ({circuit_word(wire.circuit)})" for wire in cavity.wires)
            if cavity.wires:
                actions.append(f"{cavity.point} ← {', '.join(words)}")
        unused = [cavity.entry.mark for cavity in half.cavities if not cavity.wires]
        if unused:
            actions.append(f"Nothing on {', '.join(unused)}; close their holes.")
        actions.append("By the mark on the part, never by position. Strain relief, seals, cover.")
        yield AssemblyStep(title=f"Fit the contacts of {half.id}, {half.pinout.short}", actions=tuple(actions))


def _prove(built: Built, harness: Harness) -> Iterator[AssemblyStep]:
    relays = any(isinstance(one, Coil) and one.is_copper for part in harness.parts for one in part.elements)
    yield AssemblyStep(
        title="Prove the harness",
        actions=(
            *(("Put the relays into their sockets.",) if relays else ()),
            "Nothing connected, every fuse out: fill in the table 'Harness alone' of the test sheet.",
        ),
    )
    taps = [wire.id for wire in harness.made if wire.stretch == "battery-adapter"]
    grounds = [wire.id for wire in harness.made if "chassis" in (wire.a.id, wire.b.id)]
    fuses = [part.id for part in harness.parts if isinstance(part.elements[0], Fuse)]
    equalisers = [part.id for part in harness.parts if isinstance(part.elements[0], Equaliser)]
    actions = []
    if grounds:
        actions.append(f"Ground first: {', '.join(grounds)} to bright metal.")
    if taps:
        actions.append(f"Battery disconnected: connect the taps {', '.join(taps)}, their fuses out.")
    actions.append("Connect the battery.")
    if fuses:
        actions.append(f"Fit the fuses one after another: {', '.join(fuses)}. One that blows: stop.")
    actions += [f"Fit both fuses of the equaliser {name}." for name in equalisers]
    if not harness.straight:
        actions.append("Fill in the outlets of the table 'Vehicle and outlets', no trailer coupled.")
    yield AssemblyStep(title="Connect", actions=tuple(actions))
    brakes = any(load.function == "brake" for circuit in built.circuits for load in circuit.of(Load))
    qualified = "Electric brakes: a qualified person looks at them, and at the breakaway switch, before the first trip."
    yield AssemblyStep(
        title="Prove it with the trailer",
        actions=(
            "Couple each trailer in turn and fill in its states on the test sheet, a helper at the controls.",
            "Look at every lamp from behind, then from the driver's seat at the tell-tales.",
            *((qualified,) if brakes else ()),
            "Sign the cover when every box is filled.",
        ),
    )
