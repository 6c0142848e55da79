"""Rig texts for tests, from short arguments.

``rig()`` returns the text of a rig file; ``load()`` reads it. What is left out is chosen so that it breaks no rule:
thick short conductors, a converter on a fused feed of its own, one lamp of each function asked for. One warning is
left, that the converter's output has no fuse: ``current_limit = "50 A"``, which RUNS carry, or a fuse takes it away.
"""

from collections.abc import Iterable, Mapping
from pathlib import Path

from wiregen.loader.rig_file import load_rig_text
from wiregen.rig.loaded import LoadedRig

#: Lamp taken for a function, without its voltage.
LAMPS = {
    "tail": "r5w",
    "tail_left": "r5w",
    "tail_right": "r5w",
    "marker": "w3w",
    "blackout_tail": "w3w",
    "blackout_marker": "w3w",
    "blackout_stop": "r10w",
    "blackout_command": "w3w",
}
SUPPLY = {
    "kind": "converter",
    "fed_by": "box_feed",
    "output": "13.6 V",
    "continuous": "40 A",
}
BOX_FEED = {"name": "box_feed", "live": "always", "source": "battery", "fuse": "30 A"}
PEDAL = {"name": "pedal", "live": "brake", "source": "brake switch", "fuse": "5 A"}
#: Every stretch short and thick.
RUNS = tuple(
    {"from": a, "to": b, "length": "1 m", "size": "6 mm²", "insulation": "105 °C"}
    for a, b in (
        ("battery", "socket"),
        ("socket", "chassis"),
        ("battery", "adapter"),
        ("adapter", "chassis"),
        ("socket", "adapter"),
        ("adapter", "trailer"),
        ("trailer", "lamps"),
    )
)


def dump(data: Mapping[str, object]) -> str:
    """Return a TOML text: plain keys first, then tables, each with a header of its own."""
    lines: list[str] = []
    _table(data, (), lines)
    return "\n".join(lines) + "\n"


def _table(data: Mapping[str, object], path: tuple[str, ...], lines: list[str]) -> None:
    nested = {key: value for key, value in data.items() if isinstance(value, Mapping) or _is_rows(value)}
    lines += [f"{key} = {_value(value)}" for key, value in data.items() if key not in nested]
    for key, value in nested.items():
        name = ".".join((*path, key))
        rows = [value] if isinstance(value, Mapping) else value
        for row in rows:
            lines += ["", f"[{name}]" if isinstance(value, Mapping) else f"[[{name}]]"]
            _table(row, (*path, key), lines)


def _is_rows(value: object) -> bool:
    return isinstance(value, list | tuple) and bool(value) and isinstance(value[0], Mapping)


def _value(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    return str(value)


def lamp(entry: str | Mapping[str, object], volts: int = 12) -> dict[str, object]:
    """Return a lamp table: ``"stop"``, ``"stop p21w-12v"``, or a table to be completed with a type."""
    if isinstance(entry, str):
        function, _, kind = entry.partition(" ")
        entry = {"function": function, **({"type": kind} if kind else {})}
    made = dict(entry)
    if not made.keys() & {"type", "technology", "points"}:
        made["type"] = f"{LAMPS.get(str(made['function']), 'p21w')}-{volts}v"
    return made


def channel(entry: str | Mapping[str, object]) -> dict[str, object]:
    """Return a channel table: ``"stop xor turn_left > stop_turn_left"``, with `` | wire`` for another device."""
    if not isinstance(entry, str):
        return dict(entry)
    entry, _, device = (part.strip() for part in entry.partition("|"))
    logic, _, output = (part.strip() for part in entry.partition(">"))
    rating = {} if device == "wire" else {"rating": "30 A"}
    return {"input": logic, "output": output, **({"device": device} if device else {}), **rating}


def trailer(
    plug: str,
    lamps: Iterable[str | Mapping[str, object]],
    *,
    name: str = "test trailer",
    volts: int = 12,
    **more: object,
) -> dict[str, object]:
    """Return a trailer table; ``more`` goes into it as it is."""
    return {
        "name": name,
        "plug": plug,
        "voltage": f"{volts} V",
        **more,
        "lamp": [lamp(entry, volts) for entry in lamps],
    }


def rig(
    socket: str = "military-12-us",
    plug: str = "sae-j2863",
    *,
    channels: Iterable[str | Mapping[str, object]] = ("tail > tail",),
    lamps: Iterable[str | Mapping[str, object]] = ("tail",),
    pedal: bool = False,
    supply: Mapping[str, object] | None = SUPPLY,
    volts: int = 12,
    vehicle: Mapping[str, object] | None = None,
    adapter: Mapping[str, object] | None = None,
    trailers: list[dict[str, object]] | None = None,
    taps: Iterable[Mapping[str, object]] = (),
    runs: Iterable[Mapping[str, object]] = RUNS,
    rules: Mapping[str, object] | None = None,
    **more: object,
) -> str:
    """Return the text of a rig file.

    Args:
        socket: Pinout of the vehicle.
        plug: Pinout of the trailer.
        channels: See ``channel``.
        lamps: See ``lamp``.
        pedal: Whether there is a tap named pedal at the brake switch.
        supply: The supply; None for none.
        volts: Nominal voltage of the trailer, V.
        vehicle: Further keys of [vehicle].
        adapter: Further keys of [adapter].
        trailers: Trailers instead of the one made from ``plug`` and ``lamps``.
        taps: Further taps.
        runs: The [[run]] tables.
        rules: The [rules] table.
        more: Further keys of the one trailer.
    """
    every_tap = [*([BOX_FEED] if supply == SUPPLY else []), *([PEDAL] if pedal else []), *taps]
    return dump(
        {
            "title": "test rig",
            "vehicle": {"name": "test bus", "socket": socket, **(vehicle or {}), "tap": every_tap},
            "adapter": {
                "own_ground": True,
                **(adapter or {}),
                **({"supply": supply} if supply else {}),
                "channel": [channel(entry) for entry in channels],
            },
            "trailer": trailers or [trailer(plug, lamps, volts=volts, **more)],
            "run": list(runs),
            **({"rules": rules} if rules else {}),
        }
    )


def straight(
    socket: str, plug: str, lamps: Iterable[str | Mapping[str, object]], *, volts: int = 24, **more: object
) -> str:
    """Return the text of a rig with a plain lead that joins equal marks."""
    adapter = {"straight": True, "own_ground": False}
    return rig(
        socket,
        plug,
        channels=(),
        lamps=lamps,
        supply=None,
        adapter=adapter,
        volts=volts,
        **more,  # type: ignore[arg-type]
    )


def load(text: str, beside: Path | None = None) -> LoadedRig:
    """Read a rig text."""
    return load_rig_text(text, beside)


def line_of(text: str, part: str, after: str = "") -> int:
    """Return the one-based number of the first line that holds ``part``, behind the first that holds ``after``."""
    lines = text.splitlines()
    start = next(i for i, line in enumerate(lines) if after in line)
    return 1 + next(i for i, line in enumerate(lines) if i >= start and part in line)
