"""Random rigs that use every device, supply and lamp law; the same seed gives the same rig."""

import random

from tests.rigs import BOX_FEED, PEDAL, dump, trailer
from wiregen.loader.pinout_files import built_in_pinouts

_PINOUTS = dict(built_in_pinouts())
LIGHTS = ("tail", "tail_left", "tail_right", "stop", "turn_left", "turn_right", "stop_turn_left", "stop_turn_right")
_WITH_LAMPS = {name: pinout for name, pinout in _PINOUTS.items() if any(map(pinout.on, (*LIGHTS, "reverse", "fog")))}
SOCKETS = [name for name, pinout in _WITH_LAMPS.items() if 24 in pinout.voltage_v and pinout.lamp_grounds]
PLUGS = [name for name, pinout in _WITH_LAMPS.items() if 12 in pinout.voltage_v and pinout.on("ground")]
DEVICES = ("relay", "relay", "solid_state", "step_down", "wire", "diode", "resistor")


def device_rig(seed: int) -> str:
    """Return the text of a rig file that loads; what is on it need not make sense."""
    rnd = random.Random(seed)
    socket, plug = rnd.choice(SOCKETS), rnd.choice(PLUGS)
    feeds = [name for name in (*LIGHTS, "reverse", "fog") if _PINOUTS[socket].on(name)]
    outlets = [name for name in (*LIGHTS, "reverse", "fog") if _PINOUTS[plug].on(name)]
    channels = [_channel(rnd, feeds, output) for output in outlets if rnd.random() < 0.9]
    more: dict[str, object] = {}
    if _PINOUTS[plug].on("charge"):
        channels.append(_charge(rnd))
        more["battery"] = {
            "voltage": f"{rnd.uniform(10.5, 12.8):.2f} V",
            "capacity": f"{rnd.choice((5, 7, 80))} Ah",
            "isolation": rnd.choice(("direct", "diode")),
            **({"fuse": "20 A"} if rnd.random() < 0.5 else {}),
        }
    if _PINOUTS[plug].on("brake"):
        channels.append({"input": "pedal", "output": "brake", "device": "brake_controller", **_limits(rnd, 10, 30)})
        more["brakes"] = {"magnets": rnd.choice((2, 4))}
    if _PINOUTS[plug].on("reverse") and rnd.random() < 0.5:
        more["lock_out"] = {"resistance": f"{rnd.uniform(4, 15):.1f} ohm"}
    if rnd.random() < 0.3:
        more["hitch_resistance"] = f"{rnd.uniform(0.05, 3):.2f} ohm"
    if not channels:
        channels = [{"input": feeds[0], "output": outlets[0]}]
    return dump(
        {
            "title": f"rig {seed}",
            "vehicle": {
                "name": "bus",
                "socket": socket,
                "battery": {"low": f"{rnd.uniform(20, 24):.1f} V", "charging": f"{rnd.uniform(28, 30):.1f} V"},
                "tap": [BOX_FEED, PEDAL],
            },
            "adapter": {
                "own_ground": rnd.random() < 0.6,
                "supply": _supply(rnd),
                "channel": channels,
            },
            "trailer": [trailer(plug, [_lamp(rnd, name) for name in outlets if rnd.random() < 0.9], **more)],
        }
    )


def _limits(rnd: random.Random, low: float, high: float) -> dict[str, object]:
    rating = rnd.uniform(low, high)
    return {
        "rating": f"{rating:.1f} A",
        **({"current_limit": f"{rating * rnd.uniform(1, 2):.1f} A"} if rnd.random() < 0.5 else {}),
        **({"foldback": f"{rnd.uniform(20, 100):.0f} %"} if rnd.random() < 0.5 else {}),
    }


def _channel(rnd: random.Random, feeds: list[str], output: str) -> dict[str, object]:
    device, name = rnd.choice(DEVICES), output if output in feeds else rnd.choice(feeds)
    made: dict[str, object] = {"input": name, "output": output, "device": device}
    if device == "relay":
        made |= {"suppression": rnd.choice(("diode", "resistor", "none")), "rating": "20 A", "inrush": "120 A"}
        if rnd.random() < 0.2:
            made["input"] = f"not {name}"
        elif rnd.random() < 0.3:
            made["input"] = f"{name} xor {rnd.choice([f for f in feeds if f != name] or ['pedal'])}"
    elif device == "step_down":
        made |= _limits(rnd, 1, 15)
    elif device == "resistor":
        made |= {"resistance": f"{rnd.uniform(1, 40):.1f} ohm"}
    elif device == "diode":
        made |= {"drop": f"{rnd.uniform(0.3, 1.0):.2f} V"} if rnd.random() < 0.5 else {}
    if rnd.random() < 0.3:
        made["fuse"] = "10 A"
    return made


def _charge(rnd: random.Random) -> dict[str, object]:
    device = rnd.choice(("step_down", "wire", "diode", "relay"))
    return {
        "input": "box_feed",
        "output": "charge",
        "device": device,
        **(_limits(rnd, 5, 15) if device == "step_down" else {}),
    }


def _supply(rnd: random.Random) -> dict[str, object]:
    kind = rnd.choice(("converter", "converter", "centre_tap", "battery"))
    fuse = {"fuse": "30 A"} if rnd.random() < 0.5 else {}
    if kind == "centre_tap":
        return {"kind": kind, **fuse, **({"equaliser": f"{rnd.uniform(1, 15):.1f} A"} if rnd.random() < 0.6 else {})}
    if kind == "battery":
        return {"kind": kind, **fuse}
    limits = _limits(rnd, 5, 40)
    limits["continuous"] = limits.pop("rating")
    return {"kind": kind, "fed_by": "box_feed", "output": "13.6 V", **fuse, **limits}


def _lamp(rnd: random.Random, function: str) -> dict[str, object]:
    count = {"count": rnd.choice((1, 1, 2, 4))}
    match rnd.choice(("type", "type", "led", "points")):
        case "led":
            return {"function": function, "technology": "led", "voltage": "12 V", "power": "4 W", **count}
        case "points":
            volts = sorted(rnd.sample(range(4, 17), rnd.choice((2, 3, 5))))
            points = [[f"{v} V", f"{rnd.uniform(0, 1.5):.3f} A"] for v in volts[:-1]]
            return {"function": function, "points": [*points, [f"{volts[-1]} V", "0.4 A"]], **count}
        case _:
            return {"function": function, "type": rnd.choice(("p21w-12v", "r5w-12v", "r10w-12v")), **count}
