"""Currents of the nonlinear elements and their slopes, for many states at once.

Filament: with x = V/V0, R_hot = V0/I0,
    I = (V / R_hot) · ((x² + c) / (1 + c))^-0.225
which follows the handbook law I ∝ V^0.55 when hot (S35) and is a plain resistance of ``cold_ratio`` × R_hot when cold;
c follows from cold_ratio = (c / (1 + c))^0.225.

Regulated LED lamp: constant power above its cut-off voltage, rising linearly from nothing over the 10 % below it, and a
bleed resistance always. Measured lamp: straight lines through 0 A at 0 V and its points, the last current held above
them; the same bleed is part of what was measured, so the law goes through the points. Diode: two straight lines, see
``wiregen.model.circuit.Diode``. Converter: see ``wiregen.model.circuit.Converter``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from wiregen.model.circuit import Circuit, Converter, Diode, Lamp

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
    """All lamps of a circuit as arrays, one entry a Lamp element (its ``count`` lamps in parallel).

    Attributes:
        a: Row of each first terminal.
        b: Row of each second terminal.
        rated_v: Rated voltage, V.
        rated_a: Current of the whole entry at it, A.
        constant: c of the filament law; 1 for other lamps.
        is_led: Which are regulated LED lamps.
        cut_off_v: Voltage below which an LED lamp draws nothing, V.
        measured: Which are given by points, by number.
        from_v: Where each straight line of a measured lamp begins, V, shape (measured, lines).
        span_v: Over how many volts it runs, shape (measured, lines); nothing for a line that pads the row.
        slope_s: Its slope without the bleed, S.
        last_axis: Which axis counts lamps: the last one, or the first one in ``columns``.
    """

    a: Indices
    b: Indices
    rated_v: Array
    rated_a: Array
    constant: Array
    is_led: npt.NDArray[np.bool_]
    cut_off_v: Array
    measured: Indices
    from_v: Array
    span_v: Array
    slope_s: Array
    last_axis: bool = True

    @classmethod
    def of(cls, lamps: list[Lamp], index: dict[str, int]) -> Lamps:
        """Collect lamps; ``index`` gives the row of each terminal."""
        measured = [number for number, lamp in enumerate(lamps) if lamp.technology == "points"]
        from_v, span_v, slope_s = _lines([lamps[number] for number in measured])
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
            measured=np.array(measured, dtype=np.intp),
            from_v=from_v,
            span_v=span_v,
            slope_s=slope_s,
        )

    def columns(self) -> Lamps:
        """Return the same lamps with each array as a column, for voltages of shape (lamps, points)."""
        return replace(
            self,
            rated_v=self.rated_v[:, None],
            rated_a=self.rated_a[:, None],
            constant=self.constant[:, None],
            is_led=self.is_led[:, None],
            cut_off_v=self.cut_off_v[:, None],
            last_axis=False,
        )

    def current_and_slope(self, volts: Array) -> tuple[Array, Array]:
        """Return current A and slope A/V at ``volts``, each of shape (states, lamps), or (lamps, points) of columns."""
        ratio2 = (volts / self.rated_v) ** 2
        # exp and log are vectorised where a power is not
        base = np.exp(-FILAMENT_EXPONENT * np.log((ratio2 + self.constant) / (1 + self.constant)))
        conductance = self.rated_a / self.rated_v * base
        current = conductance * volts
        slope = conductance * (1 - 2 * FILAMENT_EXPONENT * ratio2 / (ratio2 + self.constant))
        if self.is_led.any():
            led_current, led_slope = self._led(volts)
            current, slope = np.where(self.is_led, led_current, current), np.where(self.is_led, led_slope, slope)
        if len(self.measured):
            rows = (..., self.measured) if self.last_axis else self.measured
            current[rows], slope[rows] = self._measured(volts[rows])
        return current, slope

    def peaks(self) -> tuple[tuple[int, float, float], ...]:
        """Return the number, voltage, V, and current, A, of every point above which the current of a lamp falls."""
        rated_v, rated_a, cut_off_v = self.rated_v.ravel(), self.rated_a.ravel(), self.cut_off_v.ravel()
        found = [
            (int(row), float(cut_off_v[row]), float(rated_v[row] * rated_a[row] / cut_off_v[row]))
            for row in np.flatnonzero(self.is_led)
        ]
        for line, row in enumerate(self.measured):
            reached_a = np.cumsum(self.span_v[line] * self.slope_s[line])
            falls = np.flatnonzero((self.slope_s[line, :-1] > 0) & (self.slope_s[line, 1:] < 0))
            found += [(int(row), float(self.from_v[line, k + 1]), float(reached_a[k])) for k in falls]
        return tuple(found)

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

    def _measured(self, volts: Array) -> tuple[Array, Array]:
        """Return current and slope of the measured lamps: the sum of what each straight line has gained so far."""
        lamp = slice(None) if self.last_axis else (slice(None), None)
        from_v, span_v, slope_s = self.from_v[lamp], self.span_v[lamp], self.slope_s[lamp]
        beyond = volts[..., None] - from_v
        current = (np.clip(beyond, 0.0, span_v) * slope_s).sum(axis=-1)
        slope = (((beyond >= 0) & (beyond < span_v)) * slope_s).sum(axis=-1)
        return current + volts / LED_BLEED_OHM, slope + 1 / LED_BLEED_OHM


def _lines(lamps: list[Lamp]) -> tuple[Array, Array, Array]:
    """Return start V, span V and slope S of the straight lines of measured lamps, padded to the same number of lines.

    The bleed is taken out of the points, because the law adds it; a point below it, such as 0 A, is raised to it.
    """
    longest = max((len(lamp.points) for lamp in lamps), default=0)
    from_v, span_v, slope_s = (np.zeros((len(lamps), longest)) for _ in range(3))
    for row, lamp in enumerate(lamps):
        volts = np.array([0.0, *(v for v, _ in lamp.points)])
        amps = lamp.count * np.array([0.0, *(a for _, a in lamp.points)])
        own = np.maximum(amps - volts / LED_BLEED_OHM, 0.0)
        count = len(lamp.points)
        from_v[row, :count] = volts[:-1]
        span_v[row, :count] = np.diff(volts)
        slope_s[row, :count] = np.diff(own) / np.diff(volts)
    return from_v, span_v, slope_s


@dataclass(frozen=True)
class Diodes:
    """All diodes of a circuit as arrays: what they carry beyond their leak, which belongs to the network."""

    a: Indices
    b: Indices
    drop_v: Array
    slope_s: Array

    @classmethod
    def of(cls, diodes: list[Diode], index: dict[str, int]) -> Diodes:
        """Collect diodes; ``index`` gives the row of each terminal."""
        return cls(
            a=np.array([index[diode.a] for diode in diodes], dtype=np.intp),
            b=np.array([index[diode.b] for diode in diodes], dtype=np.intp),
            drop_v=np.array([diode.drop_v for diode in diodes]),
            slope_s=np.array([1 / diode.resistance_ohm for diode in diodes]),
        )

    def columns(self) -> Diodes:
        """Return the same diodes with each array as a column, for voltages of shape (diodes, points)."""
        return replace(self, drop_v=self.drop_v[:, None], slope_s=self.slope_s[:, None])

    def current_and_slope(self, volts: Array) -> tuple[Array, Array]:
        """Return current A beyond the leak and slope A/V at ``volts``, each of the shape of ``volts``."""
        beyond = volts - self.drop_v
        conducts = beyond > 0
        return np.where(conducts, beyond * self.slope_s, 0.0), np.where(conducts, self.slope_s, 0.0)


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

    @cached_property
    def is_limited(self) -> bool:
        """Whether any of them has a current limit."""
        return bool(np.isfinite(self.limit_a).any())

    def currents(self, v_in: Array, v_out: Array, on: npt.NDArray[np.bool_]) -> ConverterPoint:
        """Return currents and slopes at input and output voltages against the common minus, shape (states, converters).

        The bleed of the output is a fixed conductance and belongs to the network, not here. A converter that is off
        takes and gives nothing.
        """
        input_e = self.ratio * v_in
        e_v = np.minimum(input_e, self.output_v)
        e_by_in = (input_e < self.output_v) * self.ratio
        droop_a = (e_v - v_out) / self.resistance_ohm
        gives = on & (droop_a > 0)
        i_out = np.where(gives, droop_a, 0.0)
        out_by_out = gives * (-1 / self.resistance_ohm)
        out_by_in = -out_by_out * e_by_in
        if self.is_limited:
            self._limit(e_v, e_by_in, v_out, i_out, out_by_out, out_by_in)
        # Below the turn-on voltage the current is not asked for; the floor only keeps the divisions finite.
        safe_in = np.maximum(v_in, 1e-3)
        part = 1 / (self.efficiency * safe_in)
        drawn = v_out * i_out * part
        i_in = drawn + on * self.idle_a
        in_by_out = (i_out + v_out * out_by_out) * part
        in_by_in = v_out * out_by_in * part - drawn / safe_in
        return ConverterPoint(i_in, i_out, in_by_in, in_by_out, out_by_in, out_by_out)

    def _limit(
        self, e_v: Array, e_by_in: Array, v_out: Array, i_out: Array, out_by_out: Array, out_by_in: Array
    ) -> None:
        """Hold the output current of converters at their limit, and its slopes on the line to its fold-back."""
        safe_e = np.maximum(e_v, 1e-3)
        share = np.clip(v_out / safe_e, 0.0, 1.0)
        # An infinite limit times a share of nothing is no number.
        limit_a = np.minimum(self.limit_a, 1e9)
        cap_a = limit_a * (self.foldback + (1 - self.foldback) * share)
        limited = i_out > cap_a
        if not limited.any():
            return
        inside = (v_out > 0) & (v_out < safe_e)
        cap_by_out = np.where(inside, limit_a * (1 - self.foldback) / safe_e, 0.0)
        np.copyto(i_out, cap_a, where=limited)
        np.copyto(out_by_out, cap_by_out, where=limited)
        np.copyto(out_by_in, -cap_by_out * share * e_by_in, where=limited)


@dataclass(frozen=True)
class ConverterPoint:
    """Input and output current of converters, A, and their slopes by input and output voltage, A/V."""

    i_in: Array
    i_out: Array
    in_by_in: Array
    in_by_out: Array
    out_by_in: Array
    out_by_out: Array
