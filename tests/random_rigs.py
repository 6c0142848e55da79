"""Rigs made at random, for property tests: any input on any output, any device, lamps on any contact.

``random_rigs`` is for hypothesis and small; ``any_rig`` walks the whole grammar of a rig file from a seed.
"""

import random
from collections.abc import Iterator

from hypothesis import strategies as st

from tests.rigs import SUPPLY, dump, load, rig
from wiregen.catalogue.circuits import CIRCUITS, LOADABLE
from wiregen.catalogue.connector import Connector
from wiregen.catalogue.lamps import LAMPS
from wiregen.errors import InputError
from wiregen.loader.pinout_files import built_in_pinouts
from wiregen.rig.loaded import LoadedRig

VEHICLES = {
    "military-12-us": ["tail", "stop_turn_left", "stop_turn_right", "blackout_tail", "blackout_stop", "pedal"],
    "iso-12098": ["tail_left", "tail_right", "stop", "turn_left", "turn_right", "reverse", "fog", "charge"],
}
PLUGS = {
    "sae-j2863": ["tail", "stop_turn_left", "stop_turn_right", "reverse"],
    "iso-11446": ["tail_left", "tail_right", "stop", "turn_left", "turn_right", "reverse", "fog"],
    "military-12-us": ["tail", "stop_turn_left", "blackout_tail"],
}


@st.composite
def random_rigs(draw: st.DrawFn) -> str:
    """Rigs as users make them by mistake: any input on any output, any device, lamps on any contact."""
    socket, plug = draw(st.sampled_from(sorted(VEHICLES))), draw(st.sampled_from(sorted(PLUGS)))
    inputs, outputs = VEHICLES[socket], PLUGS[plug]
    channels = []
    for _ in range(draw(st.integers(1, 5))):
        device = draw(st.sampled_from(["relay", "solid_state", "step_down", "wire"]))
        first, second = draw(st.sampled_from(inputs)), draw(st.sampled_from(inputs))
        joint = draw(st.sampled_from(["", " and ", " or ", " xor ", " and not "]))
        logic = f"{first}{joint}{second}" if joint and device in ("relay", "solid_state") else first
        channels.append(
            {
                "input": logic,
                "output": draw(st.lists(st.sampled_from(outputs), min_size=1, max_size=2)),
                "device": device,
                **({} if device == "wire" else {"rating": "20 A"}),
                **draw(st.sampled_from([{}, {"fuse": "5 A"}])),
            }
        )
    lamps = [
        {"function": draw(st.sampled_from(outputs)), "count": draw(st.integers(1, 4))}
        for _ in range(draw(st.integers(0, 4)))
    ]
    supply = draw(st.sampled_from([SUPPLY, {"kind": "battery"}, {"kind": "centre_tap", "fuse": "20 A"}]))
    more = draw(
        st.sampled_from([{}, {"hitch_resistance": "0.5 ohm"}, {"bridged": [["1", "2"]]}, {"bridged": [["3", "5"]]}])
    )
    if plug == "military-12-us":
        more = {"bridged": [["A", "E"]]} if "bridged" in more else more
    own = draw(st.booleans())
    return rig(
        socket,
        plug,
        channels=channels,
        lamps=lamps,
        supply=supply,
        pedal=True,
        adapter={"own_ground": own},
        **more,
    )


_PINOUTS = dict(built_in_pinouts())
_SOCKETS = [name for name, pinout in _PINOUTS.items() if pinout.lamp_grounds]
_PLUGS = [name for name, pinout in _PINOUTS.items() if pinout.on("ground")]
_TAPS = ("box_feed", "pedal", "ign", "aux_feed", "beacon")
_NAMES = ("boat", "horse box", "Boat two", "glider", "kiln trailer", "big van", "22 t low loader", "van")
_SIZES = ("0.75 mm²", "1.5 mm²", "2.5 mm²", "6 mm²", "14 AWG", "8 AWG")
_COLOURS = ("RD", "BK", "WH/BK", "GN", "YE/GN", "BU")
_PLACES = (
    ("battery", "socket"), ("socket", "chassis"), ("battery", "adapter"), ("adapter", "chassis"), ("socket", "adapter"),
    ("adapter", "trailer"), ("trailer", "lamps"), ("splice", "lamps"),
)  # fmt: skip


def loaded_rigs(seeds: range) -> Iterator[tuple[int, LoadedRig]]:
    """Yield the rigs of seeds that the loader takes; it refuses what cannot be built."""
    for seed in seeds:
        try:
            yield seed, load(any_rig(seed))
        except InputError:
            continue


def any_rig(seed: int) -> str:
    """Return a rig text over the whole grammar: every device, supply and pinout, several trailers, runs for some."""
    rng = random.Random(seed)
    socket = rng.choice(_SOCKETS)
    straight = rng.random() < 0.15
    vehicle = {"name": "test bus", "socket": socket, **_choices(rng, _PINOUTS[socket])}
    taps = [_tap(rng, name) for name in rng.sample(_TAPS, rng.randint(1, 3))]
    trailers = [_trailer(rng, name) for name in rng.sample(_NAMES, rng.choice((1, 1, 2, 2, 3, 5)))]
    adapter: dict[str, object] = {"straight": True} if straight else {"own_ground": rng.random() < 0.5}
    if not straight:
        offered = sorted({*_live(_PINOUTS[socket], vehicle), *(str(tap["name"]) for tap in taps)})
        wanted = sorted({name for one in trailers for name in _live(_PINOUTS[str(one["plug"])], one)} & set(LOADABLE))
        adapter["supply"] = _any_supply(rng, taps)
        adapter["channel"] = [_any_channel(rng, offered, wanted) for _ in range(rng.randint(1, 9))] if wanted else []
    names = [str(one["name"]) for one in trailers]
    return dump(
        {
            "title": f"rig {seed}",
            "vehicle": {**vehicle, "tap": [] if straight else taps},
            "adapter": adapter,
            "trailer": trailers,
            "run": [_run(rng, names) for _ in range(rng.randint(0, 8))],
        }
    )


def _choices(rng: random.Random, pinout: Connector) -> dict[str, object]:
    made = {entry.mark: rng.choice(entry.choices) for entry in pinout.contact if entry.choices and rng.random() < 0.8}
    return {"choose": made} if made else {}


def _live(pinout: Connector, chosen: dict[str, object]) -> list[str]:
    """Return the circuits of a connector that a channel may hear or make."""
    picked = chosen.get("choose", {})
    found = (picked.get(entry.mark, entry.circuit) for entry in pinout.contact)  # type: ignore[attr-defined]
    return [name for name in dict.fromkeys(found) if CIRCUITS[name].live != "never"]


def _tap(rng: random.Random, name: str) -> dict[str, object]:
    live = {"pedal": "brake", "ign": "ignition"}.get(name, "always")
    return {"name": name, "live": live, "source": "other", **({"fuse": "20 A"} if rng.random() < 0.7 else {})}


def _any_supply(rng: random.Random, taps: list[dict[str, object]]) -> dict[str, object]:
    fuse = {"fuse": "30 A"} if rng.random() < 0.5 else {}
    match rng.choice(("converter", "converter", "centre_tap", "battery")):
        case "centre_tap":
            more = rng.choice(({}, {"equaliser": "10 A"}, {"equaliser": "10 A", "equaliser_fuse": "15 A"}))
            return {"kind": "centre_tap", **fuse, **more}
        case "battery":
            return {"kind": "battery", **fuse}
    return {"kind": "converter", "fed_by": str(rng.choice(taps)["name"]), "continuous": "30 A", **fuse}


def _any_logic(rng: random.Random, offered: list[str], depth: int = 2) -> str:
    if depth == 0 or rng.random() < 0.4:
        return rng.choice(offered)
    inner = _any_logic(rng, offered, depth - 1)
    if rng.random() < 0.2:
        return f"not ({inner})"
    return f"({inner}) {rng.choice(('and', 'or', 'xor', 'and not'))} ({_any_logic(rng, offered, depth - 1)})"


def _any_channel(rng: random.Random, offered: list[str], wanted: list[str]) -> dict[str, object]:
    outputs = rng.sample(wanted, min(len(wanted), rng.choice((1, 1, 1, 2))))
    devices = ("relay", "relay", "solid_state", "step_down", "wire", "diode", "resistor")
    device = "brake_controller" if outputs == ["brake"] and rng.random() < 0.7 else rng.choice(devices)
    logical = device in ("relay", "solid_state", "brake_controller")
    made: dict[str, object] = {"input": _any_logic(rng, offered) if logical else rng.choice(offered)}
    made |= {"output": outputs, "device": device, **({"fuse": "10 A"} if rng.random() < 0.5 else {})}
    made |= {"rating": "20 A"} if logical else {"resistance": "4 ohm"} if device == "resistor" else {}
    return made | ({"name": f"c{rng.randrange(10**6)}"} if rng.random() < 0.15 else {})


def _trailer(rng: random.Random, name: str) -> dict[str, object]:
    plug = rng.choice(_PLUGS)
    made: dict[str, object] = {"name": name, "plug": plug, **_choices(rng, _PINOUTS[plug])}
    live = _live(_PINOUTS[plug], made)
    lit = [circuit for circuit in live if circuit in LOADABLE and CIRCUITS[circuit].is_light]
    kinds = [kind.id for kind in LAMPS.values() if kind.nominal_v == 12]
    if "charge" in live and rng.random() < 0.6:
        made["battery"] = {"isolation": rng.choice(("direct", "diode")), **rng.choice(({}, {"fuse": "15 A"}))}
    if "brake" in live and rng.random() < 0.7:
        made["brakes"] = {"magnets": rng.choice((2, 4))}
    if "reverse" in live and rng.random() < 0.3:
        made["lock_out"] = {"resistance": "8 ohm"}
    if rng.random() < 0.2:
        made["hitch_resistance"] = "0.5 ohm"
    lamps = [_any_lamp(rng, rng.choice(lit), kinds) for _ in range(rng.randint(0, 8))] if lit else []
    return {**made, "lamp": lamps}


def _any_lamp(rng: random.Random, function: str, kinds: list[str]) -> dict[str, object]:
    made: dict[str, object] = {"function": function, "count": rng.choice((1, 1, 2, 5))}
    made |= (
        {"type": rng.choice(kinds)} if rng.random() < 0.8 else {"technology": "led", "voltage": "12 V", "power": "3 W"}
    )
    made |= {"side": rng.choice(("left", "right", "both"))} if rng.random() < 0.5 else {}
    return made | ({"branch": f"{rng.uniform(0.5, 9):.1f} m"} if rng.random() < 0.4 else {})


def _run(rng: random.Random, trailers: list[str]) -> dict[str, object]:
    start, end = rng.choice(_PLACES)
    made: dict[str, object] = {"from": start, "to": end, "length": f"{rng.uniform(0.3, 12):.2f} m"}
    made |= {"size": rng.choice(_SIZES)} if rng.random() < 0.7 else {}
    made |= {"colour": rng.choice(_COLOURS)} if rng.random() < 0.3 else {}
    if (start, end) in _PLACES[-3:] and rng.random() < 0.4:
        made["trailer"] = rng.choice(trailers)
    if rng.random() < 0.3:
        made["circuits"] = rng.sample(["tail", "stop", "ground", "charge", "turn_left", "fog"], 2)
    return made
