"""The conductors of a first rig file, the last block of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from wiregen.quantity import parse
from wiregen.questions.draft.blocks import SIGNAL_FUSE
from wiregen.questions.draft.channels import BOX_FEED
from wiregen.questions.draft.loads import ConductorChoice, area_mm2, conductor_for
from wiregen.questions.draft.plan import LENGTHS, Draft, DraftTrailer
from wiregen.questions.draft.toml_text import TomlText

#: Shares of 12 V that may be lost on the way from a centre tap and back to it.
_TAP_SHARE, _TAP_GROUND_SHARE = 0.01, 0.005


def write_runs(toml: TomlText, draft: Draft) -> None:
    """Write every stretch of conductors."""
    lengths = LENGTHS[draft.answers.units]
    toml.heading("the conductors")
    toml.say(
        "Lengths are guesses, one way: measure. Sizes are what the fuses and the voltage drop ask for, and never "
        "larger than the usual one of the contact they end on; for what is there already (the vehicle's loom, the "
        "trailer's cable) write what is fitted, and check again."
    )
    if any(choice.is_held for trailer in draft.trailers for choice in trailer.sizes.values()):
        toml.say(
            "Some contacts take no conductor as large as the voltage drop asks for, and the check says what is lost. "
            "LED lamps lose less; so does a thicker cable that starts at a splice right behind the connector."
        )
    if draft.doubts:
        toml.say("What holds sizes down where no table gives them contact by contact:")
        toml.say(*(f"- {words}" for words in draft.doubts))
    _feed_runs(toml, draft, lengths)
    _run(toml, "socket", "adapter", lengths["adapter lead"], _signal(draft))
    if draft.proposal.feed == "charge":
        for circuit in ("charge", "ground"):
            feed = _feed_conductor(draft, circuit)
            _run(toml, "socket", "adapter", lengths["adapter lead"], feed, circuits=(circuit,))
    for trailer in draft.trailers:
        _trailer_runs(toml, draft, trailer, lengths)


def _signal(draft: Draft) -> ConductorChoice:
    return conductor_for(draft.answers.units, 0.0)


def _feed_conductor(draft: Draft, circuit: str) -> ConductorChoice:
    """Return the conductor of the converter's feed, or of its return, through the socket: both carry the fuse."""
    fuse_a = max(draft.supply.feed_fuse_a, draft.answers.feed_fuse_a or 0.0)
    return conductor_for(draft.answers.units, fuse_a, contacts=draft.socket.on(circuit))


def _feed_runs(toml: TomlText, draft: Draft, lengths: Mapping[str, str]) -> None:
    """Write what runs between the battery, the socket, the chassis and the adapter."""
    units, size = draft.answers.units, draft.supply
    for tap in draft.proposal.taps:
        carries_a = size.feed_fuse_a if tap.name == BOX_FEED else parse(SIGNAL_FUSE, "current")
        _run(toml, "battery", "adapter", lengths["battery"], conductor_for(units, carries_a), circuits=(tap.name,))
    if draft.answers.supply == "centre_tap":
        tapped = conductor_for(units, size.fuse_a, size.load_a, parse(lengths["battery"], "length"), _TAP_SHARE)
        _run(toml, "battery", "adapter", lengths["battery"], tapped, circuits=("supply",))
        ground = conductor_for(units, size.fuse_a, size.load_a, parse(lengths["chassis"], "length"), _TAP_GROUND_SHARE)
        _run(toml, "adapter", "chassis", lengths["chassis"], ground)
    elif draft.proposal.feed == BOX_FEED:
        _run(toml, "adapter", "chassis", lengths["chassis"], conductor_for(units, size.feed_fuse_a))
    elif draft.proposal.feed == "charge":
        note = "what the converter asks for; look whether the vehicle's loom has it"
        feed = _feed_conductor(draft, "charge")
        _run(toml, "battery", "socket", lengths["battery"], feed, circuits=("charge",), note=note)
        _run(toml, "socket", "chassis", lengths["socket ground"], _feed_conductor(draft, "ground"))


def _trailer_runs(toml: TomlText, draft: Draft, trailer: DraftTrailer, lengths: Mapping[str, str]) -> None:
    """Write one run for most circuits, and one for each other size; then the lamps' own wires."""
    name = trailer.answers.name
    for start, end, stretch in (("adapter", "trailer", "trailer lead"), ("trailer", "lamps", "trailer cable")):
        _graded(toml, trailer.sizes, (start, end, lengths[stretch]), name)
    _graded(toml, trailer.tails, ("splice", "lamps", lengths["branch"]), name)


def _graded(
    toml: TomlText,
    choices: Mapping[str, ConductorChoice],
    stretch: tuple[str, str, str],
    trailer: str,
) -> None:
    """Write a stretch: a run with the smallest conductor for all circuits, and one for each other conductor."""
    kinds = {(area_mm2(choice.size), choice.insulation): choice for choice in choices.values()}
    start, end, length = stretch
    for number, (_, kind) in enumerate(sorted(kinds.items())):
        circuits = tuple(
            circuit
            for circuit, choice in choices.items()
            if number and (choice.size, choice.insulation) == (kind.size, kind.insulation)
        )
        _run(toml, start, end, length, kind, circuits=circuits, trailer=trailer)


def _run(
    toml: TomlText,
    start: str,
    end: str,
    length: str,
    choice: ConductorChoice,
    *,
    circuits: Sequence[str] = (),
    trailer: str = "",
    note: str = "",
) -> None:
    toml.table("[[run]]", note)
    toml.key("from", start)
    toml.key("to", end)
    if trailer:
        toml.key("trailer", trailer)
    if circuits:
        toml.key("circuits", circuits)
    toml.key("length", length)
    toml.key("size", choice.size, "held at the usual size of the contact" if choice.is_held else "")
    if choice.insulation:
        toml.key("insulation", choice.insulation, "so that it carries its fuse")
