"""The order of assembly, written for this rig: from the first cut to the last fuse."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from wiregen.circuit.build import Built
from wiregen.harness.cut_list import terminal_words
from wiregen.harness.doubts import pinouts
from wiregen.model.circuit import Coil, Converter, Equaliser, Load, RelayContact
from wiregen.model.harness import CutRow, Node, Step
from wiregen.quantity import show
from wiregen.questions.workshop.parts_list import fitted_fuses
from wiregen.rig.loaded import LoadedRig


def assembly(loaded: LoadedRig, built: Built, cuts: Sequence[CutRow], joints: Sequence[Node]) -> tuple[Step, ...]:
    """Return the steps in their order.

    Args:
        loaded: The rig.
        built: Its circuits.
        cuts: The cut list.
        joints: Splices, bars and joints.
    """
    straight = loaded.rig.adapter.straight
    steps = [_measure_first(loaded), *_cut(cuts)]
    if not straight:
        steps += [_mount(loaded, built), *_inside(joints)]
    steps += _equaliser(built, cuts)
    steps += _connectors(loaded, cuts)
    steps += _prove(built, cuts, straight=straight)
    return tuple(steps)


def _measure_first(loaded: LoadedRig) -> Step:
    return Step(
        title="Measure the vehicle",
        actions=(
            "Fill in the table 'Vehicle and outlets' of the test sheet for the vehicle socket X1 and the taps; stop "
            "where a reading is another one.",
            f"Hold X1 ({loaded.socket.short}) beside its drawing: find every contact by the mark moulded beside it.",
            "Disconnect the battery before the first cut.",
        ),
    )


def _cut(cuts: Sequence[CutRow]) -> Iterator[Step]:
    sizes = dict.fromkeys(row.size for row in cuts)
    yield Step(
        title="Cut and label",
        actions=(
            f"Cut the {len(cuts)} conductors of the cut list, one size after another: {', '.join(sizes)}.",
            "Slide both labels of a conductor on before either end gets its terminal; shrink them last.",
            "Finish every end as the cut list says; pull each crimp by hand.",
        ),
    )


def _mount(loaded: LoadedRig, built: Built) -> Step:
    adapter = loaded.rig.adapter
    coils = [terminal_words(coil.ref) for coil in built.circuits[0].of(Coil) if coil.is_copper]
    switches = [
        terminal_words(element.ref.split(":")[0])
        for element in built.circuits[0].of(RelayContact)
        if not element.is_relay
    ]
    converters = [
        terminal_words(element.ref) for element in built.circuits[0].of(Converter) if not isinstance(element, Equaliser)
    ]
    fuses = [terminal_words(fuse.ref) for fuse in fitted_fuses(built) if fuse.zone == "adapter"]
    place = f" at its place, {adapter.location}" if adapter.location else ""
    actions = [f"Fit {adapter.name} (A1){place}: dry, vented, every cable entry pointing down."]
    fitted = [
        (converters, "converters and controllers"),
        (coils, "relay sockets"),
        (switches, "solid-state switches"),
        (fuses, "fuse holders"),
    ]
    actions += [f"Mount the {word}: {', '.join(refs)}." for refs, word in fitted if refs]
    actions.append("Leave every relay and every fuse out until the test sheet asks for it.")
    return Step(title="Mount the parts", actions=tuple(actions))


def _equaliser(built: Built, cuts: Sequence[CutRow]) -> Iterator[Step]:
    """Yield how an equaliser is wired: it sits at the batteries, not in the box."""
    for equaliser in built.circuits[0].of(Equaliser):
        name = terminal_words(equaliser.ref)
        leads = [row for row in cuts if row.end.startswith(f"{name}:")]
        fuse = f"A fuse of {show(equaliser.fuse_a, 'A')}" if equaliser.fuse_a else "A fuse (the rig states none)"
        yield Step(
            title=f"Fit the battery equaliser {name}",
            actions=(
                f"Battery disconnected: mount {name} beside the batteries, as its maker says.",
                *(f"{row.ref}: {row.start} – {row.end}" for row in leads),
                f"{fuse} in the plus and in the centre lead, close to the battery.",
                "Its rings stay off the batteries, and both fuses out, until the step 'Connect'.",
            ),
        )


def _inside(joints: Sequence[Node]) -> Iterator[Step]:
    for kind, title in (("bar", "Wire the bars"), ("joint", "Wire inside the adapter"), ("splice", "Make the splices")):
        chosen = [node for node in joints if node.kind == kind]
        if chosen:
            yield Step(title=title, actions=tuple(_joined(node) for node in chosen))


def _joined(node: Node) -> str:
    joins = ", ".join(node.joins) if node.kind == "bar" else " – ".join(node.joins)
    return f"{node.name}: {joins}" if node.name else joins


def _connectors(loaded: LoadedRig, cuts: Sequence[CutRow]) -> Iterator[Step]:
    for name, pinout in pinouts(loaded):
        actions = []
        for mark in (entry.mark for entry in pinout.contact):
            wires = [row for row in cuts if f"{name}:{mark}" in (row.start, row.end)]
            if wires:
                colours = ", ".join(f"{row.ref} {row.colour}".strip() + f" ({row.circuit})" for row in wires)
                actions.append(f"{name}:{mark} ← {colours}")
        unused = [
            entry.mark
            for entry in pinout.contact
            if not any(f"{name}:{entry.mark}" in (row.start, row.end) for row in cuts)
        ]
        if unused:
            actions.append(f"Nothing on {', '.join(unused)}; close their holes.")
        actions.append("By the mark on the part, never by position. Strain relief, seals, cover.")
        yield Step(title=f"Fit the contacts of {name}, {pinout.short}", actions=tuple(actions))


def _prove(built: Built, cuts: Sequence[CutRow], *, straight: bool) -> Iterator[Step]:
    yield Step(
        title="Prove the harness",
        actions=("Nothing connected, every fuse out: fill in the table 'Harness alone' of the test sheet.",),
    )
    taps = [row.ref for row in cuts if row.start.startswith(("F", "S", "G")) and not row.trailer]
    grounds = [row.ref for row in cuts if "chassis" in (row.start, row.end)]
    fuses = [terminal_words(fuse.ref) for fuse in fitted_fuses(built)]
    actions = []
    if grounds:
        actions.append(f"Ground first: {', '.join(grounds)} to bright metal.")
    if taps:
        actions.append(f"Battery disconnected: connect the taps {', '.join(taps)}, their fuses out.")
    actions.append("Connect the battery.")
    if fuses:
        actions.append(f"Fit relays, then the fuses one after another: {', '.join(fuses)}. One that blows: stop.")
    equalisers = built.circuits[0].of(Equaliser)
    actions += [f"Fit both fuses of the equaliser {terminal_words(equaliser.ref)}." for equaliser in equalisers]
    if not straight:
        actions.append("Fill in the outlets of the table 'Vehicle and outlets', no trailer coupled.")
    yield Step(title="Connect", actions=tuple(actions))
    brakes = any(load.function == "brake" for circuit in built.circuits for load in circuit.of(Load))
    qualified = "Electric brakes: a qualified person looks at them, and at the breakaway switch, before the first trip."
    yield Step(
        title="Prove it with the trailer",
        actions=(
            "Couple each trailer in turn and fill in its states on the test sheet, a helper at the controls.",
            "Look at every lamp from behind, then from the driver's seat at the tell-tales.",
            *((qualified,) if brakes else ()),
            "Sign the cover when every box is filled.",
        ),
    )
