"""Which lamp of the catalogue does a lamp's job at another voltage.

First the same type for the other voltage (``p21w-12v`` and ``p21w-24v``). Else, for filament lamps, the one nearest in
light, of the same colour and the same filament (single, bright, dim), within ``NEAR``. The catalogue lists no bases and
no lenses: whether the new lamp fits its holder has to be looked at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from wiregen.catalogue.lamps import LAMPS, LampType, lumens

System = Literal["12 V", "24 V"]

#: How far the light of a stand-in may be off, as a factor: no more than the tolerance of two lamps together, 20 % in UN
#: R37 for most types (S33 seen, others from memory).
NEAR: Final = 1.25
_TAILS: Final[dict[System, str]] = {"12 V": "-12v", "24 V": "-24v"}
_WIDE: Final = "-10_30v"
_NOMINAL_V: Final[dict[System, float]] = {"12 V": 12.0, "24 V": 24.0}
#: Function -> the LED lamp of the catalogue that does it.
_LED_OF: Final[dict[str, str]] = {
    **dict.fromkeys(("tail", "tail_left", "tail_right"), "led-tail"),
    **dict.fromkeys(("stop", "stop_turn_left", "stop_turn_right"), "led-stop"),
    **dict.fromkeys(("turn_left", "turn_right"), "led-turn"),
    "marker": "led-marker",
}
#: Functions without an LED lamp in the catalogue -> the one whose figures are taken.
_STAND_IN: Final[dict[str, str]] = {
    **dict.fromkeys(("reverse", "fog", "blackout_stop"), "led-stop"),
    **dict.fromkeys(("blackout_tail", "blackout_marker", "blackout_command"), "led-marker"),
}


@dataclass(frozen=True, slots=True)
class Equivalent:
    """A lamp for another voltage.

    Attributes:
        id: Lamp type; None where the catalogue has none.
        note: What to look at; empty where it is the same type for the other voltage.
    """

    id: str | None
    note: str = ""


def is_wide(lamp: LampType) -> bool:
    """Return whether a lamp works at 12 V and at 24 V: made for 12 V, and stands 28 V."""
    return lamp.nominal_v < 24 and (lamp.max_v or 0.0) >= 28.0


def for_system(lamp_id: str, system: System) -> Equivalent:
    """Return the lamp that does a lamp's job at 12 V or at 24 V; the lamp itself where it works there already."""
    lamp = LAMPS.find(lamp_id)
    if lamp.nominal_v == _NOMINAL_V[system] or is_wide(lamp):
        return Equivalent(lamp_id)
    other: System = "12 V" if system == "24 V" else "24 V"
    twin = lamp_id.replace(_TAILS[other], _TAILS[system])
    if twin != lamp_id and twin in LAMPS:
        return Equivalent(twin)
    near = _nearest(lamp, _NOMINAL_V[system])
    if near is None:
        return Equivalent(None, f"the catalogue has no {system} lamp of this light, colour and filament")
    return Equivalent(near.id, f"nearest in light ({_ratio(near, lamp):.0%}); look whether its base fits the holder")


def for_wide(lamp_id: str | None, function: str) -> Equivalent:
    """Return the LED lamp for 12 V and 24 V that does a lamp's job, by its type and else by its function."""
    if lamp_id is not None:
        if is_wide(LAMPS.find(lamp_id)):
            return Equivalent(lamp_id)
        twin = lamp_id.replace("-12v", _WIDE).replace("-24v", _WIDE)
        if twin != lamp_id and twin in LAMPS:
            return Equivalent(twin)
    kind = _LED_OF.get(function)
    if kind is not None:
        return Equivalent(kind + _WIDE, "a whole lamp in place of the bulb; look at its approval mark and its colour")
    kind = _STAND_IN.get(function)
    if kind is None:
        return Equivalent(None, "the catalogue has no LED lamp for this")
    return Equivalent(kind + _WIDE, f"the catalogue has none for this function: the figures of {kind}{_WIDE} are taken")


def _nearest(lamp: LampType, nominal_v: float) -> LampType | None:
    light = light_lm(lamp)
    if light is None:
        return None
    best: tuple[float, LampType] | None = None
    for other in LAMPS.values():
        other_light = light_lm(other)
        if other.nominal_v != nominal_v or other_light is None or _kind(other) != _kind(lamp):
            continue
        off = max(other_light / light, light / other_light)
        if off <= NEAR and (best is None or off < best[0]):
            best = (off, other)
    return best[1] if best else None


def _ratio(new: LampType, old: LampType) -> float:
    return (light_lm(new) or 0.0) / (light_lm(old) or 1.0)


def _kind(lamp: LampType) -> tuple[str, bool, str]:
    filament = lamp.id.rsplit("-", 1)[-1]
    return lamp.technology, lamp.id.startswith("py"), filament if filament in ("bright", "dim") else ""


def light_lm(lamp: LampType) -> float | None:
    """Return the light of a lamp at its rated voltage, lm; None where the catalogue does not know it."""
    if lamp.flux_lm is not None:
        return lamp.flux_lm
    return lumens(lamp.mscp) if lamp.mscp is not None else None
