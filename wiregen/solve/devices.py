"""Currents of the nonlinear elements and their slopes, for many states at once.

Filament: with x = V/V0, R_hot = V0/I0,
    I = (V / R_hot) · ((x² + c) / (1 + c))^-0.225
which follows the handbook law I ∝ V^0.55 when hot (S35) and is a plain resistance of ``cold_ratio`` × R_hot when cold;
c follows from cold_ratio = (c / (1 + c))^0.225.

Regulated LED lamp: constant power above its cut-off voltage, rising linearly from nothing over the 10 % below it, and a
bleed resistance always. Converter: see ``wiregen.model.circuit.Converter``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from wiregen.model.circuit import Circuit, Converter, Lamp

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

#: Half of 1 - 0.55: the exponent of the squared voltage ratio in R ∝ V^0.45.
FILAMENT_EXPONENT: Final = 0.225
#: Resistance of a dark LED lamp: its driver and any bleed resistor (assumed, no source).
LED_BLEED_OHM: Final = 100_000.0
#: Feedback divider across a converter's output, which bleeds it when it is off (assumed, no source).
CONVERTER_BLEED_OHM: Final = 10_000.0
#: Share of the cut-off voltage over which an LED driver comes in.
LED_RAMP: Final = 0.1


def filament_constant(cold_ratio: float) -> float:
    """Return c of the filament law for a cold-to-hot resistance ratio between 0 and 1 (both excluded)."""
    share = cold_ratio ** (1 / FILAMENT_EXPONENT)
    return float(share / (1 - share))


@dataclass(frozen=True)
class Lamps:
    """All lamps of a circuit as arrays, one entry a Lamp element (its ``count`` lamps in parallel)."""

    a: Indices
    b: Indices
    rated_v: Array
    rated_a: Array
    constant: Array
    is_led: npt.NDArray[np.bool_]
    cut_off_v: Array

    @classmethod
    def of(cls, lamps: list[Lamp], index: dict[str, int]) -> Lamps:
        """Collect lamps; ``index`` gives the row of each terminal."""
        return cls(
            a=np.array([index[lamp.a] for lamp in lamps], dtype=np.intp),
            b=np.array([index[lamp.b] for lamp in lamps], dtype=np.intp),
            rated_v=np.array([lamp.rated_v for lamp in lamps]),
            rated_a=np.array([lamp.rated_a * lamp.count for lamp in lamps]),
            constant=np.array(
                [filament_constant(lamp.cold_ratio) if lamp.technology == "filament" else 1.0 for lamp in lamps]
            ),
            is_led=np.array([lamp.technology == "led" for lamp in lamps], dtype=bool),
            cut_off_v=np.array([max(lamp.cut_off_v, 1e-3) for lamp in lamps]),
        )

    def columns(self) -> Lamps:
        """Return the same lamps with each array as a column, for voltages of shape (lamps, points)."""
        return Lamps(
            self.a, self.b, self.rated_v[:, None], self.rated_a[:, None], self.constant[:, None],
            self.is_led[:, None], self.cut_off_v[:, None],
        )  # fmt: skip

    def current_and_slope(self, volts: Array) -> tuple[Array, Array]:
        """Return current A and slope A/V at ``volts``, each of shape (states, lamps)."""
        ratio2 = (volts / self.rated_v) ** 2
        # exp and log are vectorised where a power is not
        base = np.exp(-FILAMENT_EXPONENT * np.log((ratio2 + self.constant) / (1 + self.constant)))
        conductance = self.rated_a / self.rated_v * base
        current = conductance * volts
        slope = conductance * (1 - 2 * FILAMENT_EXPONENT * ratio2 / (ratio2 + self.constant))
        if not self.is_led.any():
            return current, slope
        led_current, led_slope = self._led(volts)
        return np.where(self.is_led, led_current, current), np.where(self.is_led, led_slope, slope)

    def _led(self, volts: Array) -> tuple[Array, Array]:
        power_w = self.rated_v * self.rated_a
        start = self.cut_off_v * (1 - LED_RAMP)
        full = np.maximum(volts, self.cut_off_v)
        ramp_slope = power_w / self.cut_off_v / (self.cut_off_v - start)
        on = volts >= self.cut_off_v
        rising = (volts > start) & ~on
        current = np.where(on, power_w / full, np.where(rising, (volts - start) * ramp_slope, 0.0))
        slope = np.where(on, -power_w / full**2, np.where(rising, ramp_slope, 0.0))
        return current + volts / LED_BLEED_OHM, slope + 1 / LED_BLEED_OHM


@dataclass(frozen=True)
class Converters:
    """All converters of a circuit as arrays."""

    a: Indices
    b: Indices
    common: Indices
    output_v: Array
    ratio: Array
    resistance_ohm: Array
    efficiency: Array
    idle_a: Array
    minimum_input_v: Array
    limit_a: Array
    foldback: Array

    @classmethod
    def of(cls, circuit: Circuit, index: dict[str, int]) -> Converters:
        """Collect the converters of a circuit; ``index`` gives the row of each terminal."""
        found = circuit.of(Converter)
        return cls(
            a=np.array([index[c.a] for c in found], dtype=np.intp),
            b=np.array([index[c.b] for c in found], dtype=np.intp),
            common=np.array([index[c.common] for c in found], dtype=np.intp),
            output_v=np.array([c.output_v for c in found]),
            ratio=np.array([c.ratio for c in found]),
            resistance_ohm=np.array([c.resistance_ohm for c in found]),
            efficiency=np.array([c.efficiency for c in found]),
            idle_a=np.array([c.idle_a for c in found]),
            minimum_input_v=np.array([c.minimum_input_v for c in found]),
            limit_a=np.array([c.limit_a for c in found]),
            foldback=np.array([c.foldback for c in found]),
        )

    def columns(self) -> Converters:
        """Return the same converters with each array as a column, for voltages of shape (converters, points)."""
        fields = (
            self.output_v, self.ratio, self.resistance_ohm, self.efficiency, self.idle_a, self.minimum_input_v,
            self.limit_a, self.foldback,
        )  # fmt: skip
        return Converters(self.a, self.b, self.common, *(array[:, None] for array in fields))

    def currents(self, v_in: Array, v_out: Array, on: npt.NDArray[np.bool_]) -> ConverterPoint:
        """Return currents and slopes at input and output voltages against the common minus, shape (states, converters).

        The bleed of the output is a fixed conductance and belongs to the network, not here. A converter that is off
        takes and gives nothing.
        """
        follows = self.ratio * v_in < self.output_v
        e_v = np.where(follows, self.ratio * v_in, self.output_v)
        e_by_in = np.where(follows, self.ratio, 0.0)
        droop_a = (e_v - v_out) / self.resistance_ohm
        gives = on & (droop_a > 0)
        # Below the turn-on voltage the current is not asked for; the floors only keep the divisions finite.
        safe_e = np.maximum(e_v, 1e-3)
        share = np.clip(v_out / safe_e, 0.0, 1.0)
        inside = (v_out > 0) & (v_out < safe_e)
        # An infinite limit times a share of nothing is no number.
        limit_a = np.minimum(self.limit_a, 1e9)
        cap_a = limit_a * (self.foldback + (1 - self.foldback) * share)
        limited = gives & (droop_a > cap_a)
        cap_by_out = np.where(inside, limit_a * (1 - self.foldback) / safe_e, 0.0)
        i_out = np.where(limited, cap_a, np.where(gives, droop_a, 0.0))
        out_by_out = np.where(limited, cap_by_out, np.where(gives, -1 / self.resistance_ohm, 0.0))
        out_by_in = np.where(
            limited, -cap_by_out * share * e_by_in, np.where(gives, e_by_in / self.resistance_ohm, 0.0)
        )
        safe_in = np.maximum(v_in, 1e-3)
        drawn = v_out * i_out / (self.efficiency * safe_in)
        i_in = np.where(on, drawn + self.idle_a, 0.0)
        in_by_out = np.where(on, (i_out + v_out * out_by_out) / (self.efficiency * safe_in), 0.0)
        in_by_in = np.where(on, v_out * out_by_in / (self.efficiency * safe_in) - drawn / safe_in, 0.0)
        return ConverterPoint(i_in, i_out, in_by_in, in_by_out, out_by_in, out_by_out)


@dataclass(frozen=True)
class ConverterPoint:
    """Input and output current of converters, A, and their slopes by input and output voltage, A/V."""

    i_in: Array
    i_out: Array
    in_by_in: Array
    in_by_out: Array
    out_by_in: Array
    out_by_out: Array
