"""The blocks of a first rig file, in the order of the file."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.catalogue.defaults import default
from wiregen.catalogue.fuses import smallest_rating_a
from wiregen.quantity import show
from wiregen.questions.draft.answers import Answers, Choices
from wiregen.questions.draft.channels import BOX_FEED, LeftOut, ProposedChannel, ProposedTap
from wiregen.questions.draft.loads import (
    LED_OTHER_W,
    NOMINAL_V,
    RELAY_A,
    SMALLEST_FUSE_A,
    ChannelSize,
    LampLine,
    is_us_practice,
)
from wiregen.questions.draft.plan import Draft, DraftTrailer
from wiregen.questions.draft.toml_text import TomlText, quoted

#: Fuse of a tap that only tells: the smallest the channels have.
SIGNAL_FUSE: Final = f"{SMALLEST_FUSE_A:g} A"
_DEAD_SWITCH: Final = (
    "Try it with the lighting switch at OFF too. If the socket is dead there while this wire is live, the pedal lights "
    "both turn lamps of the trailer steadily: then take the wire from behind the lighting switch. The check does not "
    "see it, it knows no such position."
)


def _amps(value: float) -> str:
    return f"{value:g} A"


def write_head(toml: TomlText, answers: Answers) -> None:
    """Write how to read the file, and the title."""
    toml.raw("#:schema ./wiregen.schema.json")
    toml.say(
        "A first draft. It does not know your vehicle: lengths, lamps and fuses in it are guesses. Read it through, "
        "measure, and correct it.",
        "A line with a blank after the '#' explains. A line without one is a setting that is switched off: take the "
        "'#' away to use it. 'wiregen check' says after each change whether it still holds.",
        "This is advice on paper. Brakes, fuses, batteries and lamps on the road are matters of safety: have someone "
        "qualified look at the work, and follow your local rules.",
    )
    toml.blank()
    toml.key("title", answers.title)
    toml.key("revision", "A", off=True)
    toml.key("author", "", "printed on every sheet", off=True)


def write_vehicle(toml: TomlText, draft: Draft) -> None:
    """Write the vehicle with its battery, fuses and taps."""
    answers = draft.answers
    toml.heading("the vehicle")
    toml.say(
        "Before anything is connected: measure every contact against ground, with the lights off and in each setting "
        "of lights, pedal, turn lever, hazard and reverse, and in blackout where the vehicle has it."
    )
    toml.table("[vehicle]")
    toml.key("name", answers.vehicle_name)
    toml.key("socket", answers.socket, "'wiregen pinouts' lists the others")
    _choose(toml, answers.socket_choices)
    if draft.socket.stop_turn == "combined":
        note = "hazard lights on, then the pedal: do they burn steadily?"
        toml.key("braking_holds_hazard_steady", answers.stop_wins, note)
    toml.table("[vehicle.battery]")
    toml.key("nominal", "24 V")
    for key, name in (("low", "battery_24v_low_v"), ("running", "battery_24v_running_v")):
        toml.key(key, default(name).text, "the value taken now; measure yours", off=True)
    _feeds(toml, draft)
    for tap in draft.proposal.taps:
        toml.blank()
        toml.say(f"Beside the socket: {tap.why}.")
        if any(f"xor {tap.name}" in channel.input for channel in draft.proposal.channels):
            toml.say(_DEAD_SWITCH)
        _tap(toml, tap, _amps(draft.supply.feed_fuse_a) if tap.name == BOX_FEED else SIGNAL_FUSE)


def _choose(toml: TomlText, choices: Choices) -> None:
    if choices:
        pairs = ", ".join(f"{quoted(mark)} = {quoted(circuit)}" for mark, circuit in choices)
        toml.raw(f"choose = {{ {pairs} }}")


def _feeds(toml: TomlText, draft: Draft) -> None:
    used = [c.circuit for c in draft.socket.contact if c.circuit in _inputs(draft.proposal.channels)]
    toml.blank()
    toml.say(
        "The vehicle's own fuses. Find the one behind each circuit and write its rating; circuits on one fuse share a "
        "block. Until then the check says that it does not know them."
    )
    if used:
        _off_feed(toml, tuple(dict.fromkeys(used)), "10 A", "an example: read yours")
    if draft.proposal.feed == "charge":
        _charge_feed(toml, draft)


def _charge_feed(toml: TomlText, draft: Draft) -> None:
    """Write the fuse behind the permanent contact: what was read, or what is wanted, switched off until it is read."""
    wanted = _amps(draft.supply.feed_fuse_a)
    toml.blank()
    toml.say(
        f"The converter draws up to {show(draft.supply.feed_a, 'A')} from the permanent contact and wants a fuse of "
        f"{wanted}. A smaller one opens, a larger one wants a larger conductor."
    )
    read_a = draft.answers.feed_fuse_a
    if read_a is None:
        toml.say(
            "Go and look for the vehicle's fuse: nobody has read it yet. The check warns until its rating stands here."
        )
        _off_feed(toml, ("charge",), wanted, "what the converter wants: read yours")
        return
    toml.raw("[[vehicle.fuse]]")
    toml.key("circuits", ("charge",))
    toml.key("fuse", _amps(read_a), "as read on the vehicle")


def _off_feed(toml: TomlText, circuits: Sequence[str], fuse: str, note: str) -> None:
    toml.raw("#[[vehicle.fuse]]")
    toml.key("circuits", circuits, off=True)
    toml.key("fuse", fuse, note, off=True)


def _inputs(channels: Iterable[ProposedChannel]) -> frozenset[str]:
    return frozenset(name for channel in channels for name in channel.input.replace("(", " ").replace(")", " ").split())


def _tap(toml: TomlText, tap: ProposedTap, fuse: str, *, off: bool = False) -> None:
    toml.raw(f"{'#' if off else ''}[[vehicle.tap]]")
    toml.key("name", tap.name, off=off)
    toml.key("live", tap.live, off=off)
    toml.key("source", tap.at, off=off)
    toml.key("fuse", fuse, "at the source", off=off)


def write_adapter(toml: TomlText, draft: Draft) -> None:
    """Write supply, channels and what is left out."""
    toml.heading("the adapter")
    toml.table("[adapter]")
    toml.key("name", "Adapter")
    if draft.answers.location:
        toml.key("location", draft.answers.location)
    else:
        toml.key("location", "", "where it is mounted", off=True)
    if draft.own_ground:
        toml.key("own_ground", True, "keeps the return current off the socket's ground contact")
    _supply(toml, draft)
    toml.blank()
    toml.say(
        "One block a channel: a relay hears the 24 V circuit and switches 12 V from the supply. Buy relays with 24 V "
        "coils and at least this rating for lamps: cold lamps take ten times their current, and a rating for plain "
        "resistances says nothing about that. solid_state is the other device; it makes no noise and no sparks."
    )
    for channel, size in draft.channels:
        _channel(toml, channel, size)
    _left_out(toml, draft)


def _supply(toml: TomlText, draft: Draft) -> None:
    answers, size = draft.answers, draft.supply
    toml.blank()
    if answers.supply == "converter":
        toml.say(
            f"All lamps and magnets together take {show(size.load_a, 'A')}. Buy a converter by its continuous output, "
            "not its peak, with common minus, and let air get at it."
        )
    elif answers.supply == "centre_tap":
        toml.say(
            f"12 V from between the two batteries, up to {show(size.load_a, 'A')}. The lower battery does all the work "
            "and the upper one is overcharged: fit the battery equaliser, or both die early. The fuse sits at the tap.",
        )
    else:
        toml.say(
            f"A 12 V battery in the adapter, up to {show(size.load_a, 'A')}. Charge it with a charger made for 24 V in "
            "and 12 V out, never straight from the vehicle. The fuse sits at the battery.",
        )
        if any(trailer.lamps != "led" for trailer in answers.trailers):
            toml.say(
                f"At rest it gives {default('battery_12v_resting_v').text} and less when it runs down: bulbs made for "
                "13.5 V or 14 V lose about half their light, whatever the copper, and the check says so. LED lamps "
                "mind less."
            )
    if answers.supply == "converter" and size.continuous_a < size.load_a:
        toml.say("That is more than this converter gives: choose a larger one, or lamps that take less.")
    toml.raw("[adapter.supply]")
    toml.key("kind", answers.supply)
    if answers.supply == "converter":
        toml.key("fed_by", draft.proposal.feed, "live always, lamps or no lamps")
        toml.key("output", default("converter_output_v").text, "the value taken now; read the label", off=True)
        toml.key("continuous", _amps(size.continuous_a))
    elif answers.supply == "centre_tap":
        toml.key("equaliser", _amps(size.continuous_a), "its rating: what it makes good for ever")
        fuse_a = smallest_rating_a(size.continuous_a, default("fuse_continuous_factor").value)
        toml.key("equaliser_fuse", _amps(fuse_a), "one in its plus lead, one in its centre lead, at the batteries")
    if answers.supply == "battery":
        toml.key("capacity", "100 Ah", "as printed on it: the check then says how long it lasts", off=True)
    toml.key("fuse", _amps(size.fuse_a))


def _channel(toml: TomlText, channel: ProposedChannel, size: ChannelSize) -> None:
    toml.table("[[adapter.channel]]", channel.why)
    if channel.name:
        toml.key("name", channel.name)
    toml.key("input", channel.input)
    toml.key("output", channel.outputs if len(channel.outputs) > 1 else channel.outputs[0])
    if channel.device != "relay":
        toml.key("device", channel.device, "follow its maker's papers, and try the brakes before the road")
    toml.key("fuse", _amps(size.fuse_a), f"for {show(size.load_a, 'A')}" if size.load_a else "no lamp is listed yet")
    toml.key("rating", _amps(size.rating_a))
    if channel.device == "relay":
        toml.key("rated_for", "lamp")


def _left_out(toml: TomlText, draft: Draft) -> None:
    proposal = draft.proposal
    if proposal.left_out or proposal.unused or _unchosen(draft):
        toml.blank()
        toml.say("Left out on purpose:")
    for entry in proposal.left_out:
        toml.say(f"- {CIRCUITS[entry.circuit].word}: {entry.why}")
    for short, mark in _unchosen(draft):
        toml.say(f"- contact {mark} of {short}: the trade wires it in several ways. Measure it, then add 'choose'.")
    if proposal.unused:
        offered = ", ".join(CIRCUITS[name].word for name in proposal.unused)
        toml.say(f"- the vehicle socket also offers {offered}; no channel needs it.")
    for entry in proposal.left_out:
        if entry.tap:
            toml.blank()
            _off_channel(toml, entry, entry.tap)


def _unchosen(draft: Draft) -> tuple[tuple[str, str], ...]:
    shells = [draft.socket, *(trailer.plug for trailer in draft.trailers)]
    return tuple(dict.fromkeys((shell.short, contact.mark) for shell in shells for contact in shell.on("choose")))


def _off_channel(toml: TomlText, entry: LeftOut, tap: ProposedTap) -> None:
    toml.say(f"For {CIRCUITS[entry.circuit].word}: a tap {tap.why}. List the lamp under the trailer too.")
    _tap(toml, tap, SIGNAL_FUSE, off=True)
    toml.raw("#[[adapter.channel]]")
    toml.key("input", entry.input, off=True)
    toml.key("output", entry.circuit, off=True)
    toml.key("fuse", SIGNAL_FUSE, off=True)
    toml.key("rating", _amps(RELAY_A), off=True)
    toml.key("rated_for", "lamp", off=True)


def write_trailer(toml: TomlText, trailer: DraftTrailer, *, first: bool) -> None:
    """Write one trailer with its lamps and brakes."""
    answers = trailer.answers
    if first:
        toml.heading("the trailers")
        toml.say(
            "Typical lamps, not yours: look into every lamp, and correct type and count. 'wiregen pinouts --lamps' "
            "lists the types; any other lamp has technology, voltage and power."
        )
    toml.table("[[trailer]]")
    toml.key("name", answers.name)
    toml.key("plug", answers.plug)
    _choose(toml, answers.choices)
    _dimensions(toml, trailer)
    for line in trailer.lines:
        toml.table("[[trailer.lamp]]", _lamp_note(trailer, line))
        toml.key("function", line.function)
        if line.type:
            toml.key("type", line.type)
        else:
            toml.key("technology", "led")
            toml.key("voltage", f"{NOMINAL_V:g} V")
            toml.key("power", f"{LED_OTHER_W:g} W", "the upper end for LED stop lamps; read the lamp")
        if line.count > 1:
            toml.key("count", line.count)
        toml.key("side", line.side)
    if answers.magnets:
        toml.table("[trailer.brakes]", "a breakaway battery and switch belong to them")
        toml.key("magnets", answers.magnets)
        toml.key("breakaway", True, "once you have pulled the pin and felt the brakes hold", off=True)
        ohm = show(default("brake_magnet_ohm").value, "ohm")
        toml.key("magnet_resistance", ohm, "the value taken now; measure one magnet", off=True)


#: Examples of width and length, (narrow, wide), by whose practice the trailer is lit.
_WIDTHS: Final = {True: ("72 in", "84 in"), False: ("1.8 m", "2.3 m")}
_LENGTH: Final = {True: "20 ft", False: "5.5 m"}


def _dimensions(toml: TomlText, trailer: DraftTrailer) -> None:
    """Write width and length as examples that are switched off."""
    us = is_us_practice(trailer.plug)
    toml.key("width", _WIDTHS[us][trailer.answers.wide], "they decide which lamps it must have: measure", off=True)
    toml.key("length", _LENGTH[us], "with the drawbar", off=True)


def _lamp_note(trailer: DraftTrailer, line: LampLine) -> str:
    if line.job == "licence":
        return "licence plate"
    if line.job != "marker":
        return ""
    if not is_us_practice(trailer.plug):
        return "end-outline lamps, wider than 2.1 m; a long trailer needs side markers too"
    if trailer.answers.wide:
        return "side markers, clearance and identification lamps, 80 in and wider"
    return "side markers; from 80 in width it needs more"
