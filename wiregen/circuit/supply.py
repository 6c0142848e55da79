"""What feeds the adapter's 12 V bus: a converter, a battery of its own, or the centre tap of the vehicle's pair."""

from __future__ import annotations

import math
from typing import TypedDict

from wiregen.catalogue.defaults import default
from wiregen.catalogue.devices import SUPPLIES
from wiregen.circuit.parts import ADAPTER_GROUND, BUS, REFERENCE, Parts
from wiregen.circuit.vehicle import VehicleSide
from wiregen.model.circuit import Battery, Converter, Equaliser
from wiregen.model.origin import Origin
from wiregen.quantity import ConductorSize
from wiregen.rig.devices import BatterySupply, CentreTapSupply, ConverterSupply, Supply, SupplyBase, WithLimit

#: Highest output a converter with a fixed ratio may have: above any vehicle voltage, so that the ratio rules.
NO_CLAMP_V = 1000.0
#: Between the voltages of a 12 V battery and those of a 24 V one, V.
_BETWEEN_V = 18.0


class ConverterLimits(TypedDict):
    """What a converter gives at the most; the fields of ``Converter``."""

    continuous_a: float | None
    peak_a: float | None
    limit_a: float
    foldback: float
    ambient_c: float
    derate_from_c: float
    derate_per_k: float


def converter_limits(parts: Parts, written: WithLimit, continuous_a: float | None, ref: str) -> ConverterLimits:
    """Return what a converter gives at the most.

    Its limit is what the user wrote, else a factor on its continuous current, but no less than its peak; without
    either there is none to compute with.
    """
    take = parts.assumed.take
    limit_a = written.current_limit_a
    if limit_a is None and continuous_a is not None:
        by_factor_a = continuous_a * default("converter_current_limit_factor").value
        if by_factor_a > (written.peak_a or 0.0):
            take(None, "converter_current_limit_factor", ref)
        limit_a = max(by_factor_a, written.peak_a or 0.0)
    supply = written if isinstance(written, SupplyBase) else parts.rig.adapter.supply
    return ConverterLimits(
        continuous_a=continuous_a,
        peak_a=written.peak_a,
        limit_a=limit_a if limit_a is not None else written.peak_a or math.inf,
        foldback=1.0 if limit_a is None else take(written.foldback, "converter_foldback_share", ref),
        ambient_c=take(parts.rig.adapter.ambient_c, "ambient_c", ref),
        derate_from_c=take(supply.derate_from_c if supply else None, "converter_derate_from_c", ref),
        derate_per_k=take(supply.derate_per_k if supply else None, "converter_derate_per_k", ref),
    )


class SupplySide:
    """Builds the supply."""

    def __init__(self, parts: Parts, vehicle: VehicleSide) -> None:
        self.parts = parts
        self.vehicle = vehicle

    def build(self, supply: Supply) -> str | None:
        """Build what feeds the 12 V bus.

        Returns:
            Name of a feed that the vehicle does not offer, an empty text where none is named; None when all is well.
        """
        origin = self.parts.origin("adapter", "supply")
        match supply:
            case ConverterSupply():
                return self._converter(supply, origin)
            case BatterySupply():
                self._battery(supply, origin)
            case CentreTapSupply():
                self._centre_tap(supply, origin)
        return None

    def _converter(self, supply: ConverterSupply, origin: Origin | None) -> str | None:
        parts, take = self.parts, self.parts.assumed.take
        ref = parts.ref(SUPPLIES[supply.kind].letter)
        start = self.vehicle.bring(supply.feed) if supply.feed else None
        out = f"{ref}:out" if supply.fuse_a is not None else BUS
        parts.add(
            Converter(
                ref=ref,
                a=start or f"{ref}:in",
                b=out,
                common=ADAPTER_GROUND,
                circuit="supply",
                zone="adapter",
                title="step-down converter",
                origin=origin,
                device=supply.kind,
                output_v=take(supply.output_v, "converter_output_v", ref),
                ratio=1.0,
                resistance_ohm=take(supply.output_ohm, "converter_output_resistance_ohm", ref),
                efficiency=take(supply.efficiency, "converter_efficiency", ref),
                idle_a=take(supply.idle_a, "converter_idle_a", ref),
                minimum_input_v=take(supply.minimum_input_v, "converter_minimum_input_v", ref),
                maximum_input_v=take(supply.maximum_input_v, "converter_maximum_input_v", ref),
                **converter_limits(parts, supply, supply.continuous_a, ref),
            )
        )
        if supply.fuse_a is not None:
            parts.fuse(out, supply.fuse_a, "supply", "adapter", origin, b=BUS, breaker=supply.breaker)
        return None if start else supply.feed or ""

    def _battery(self, supply: BatterySupply, origin: Origin | None) -> None:
        """Build a battery that nothing in the rig charges: it rests, runs down, and may have a charger on it.

        A rig file has no charger, so that the running voltage is the resting one. The low and the charging voltage
        hold all the same: the battery runs down while lamps burn, and whoever charges it may do so while they burn.
        """
        parts, take = self.parts, self.parts.assumed.take
        ref = parts.ref(SUPPLIES[supply.kind].letter)
        out = f"{ref}:+" if supply.fuse_a is not None else BUS
        system = "24v" if (supply.output_v or 0.0) > _BETWEEN_V else "12v"
        voltage_v = take(supply.output_v, f"battery_{system}_resting_v", ref)
        parts.add(
            Battery(
                ref=ref,
                a=out,
                b=ADAPTER_GROUND,
                circuit="supply",
                zone="adapter",
                title="adapter battery",
                origin=origin,
                voltage_v=voltage_v,
                low_v=take(None, f"battery_{system}_low_v", ref, most=voltage_v),
                charging_v=take(None, f"battery_{system}_charging_v", ref, least=voltage_v),
                resistance_ohm=take(supply.output_ohm, "battery_resistance_ohm", ref),
                nominal_v=12.0,
                capacity_ah=supply.capacity_ah,
            )
        )
        if supply.fuse_a is not None:
            parts.fuse(out, supply.fuse_a, "supply", "adapter", origin, b=BUS, breaker=supply.breaker)

    def _centre_tap(self, supply: CentreTapSupply, origin: Origin | None) -> None:
        parts = self.parts
        # The plus of the lower battery is the centre of the pair.
        start = "-G1:+"
        if supply.fuse_a is not None:
            start = parts.fuse(start, supply.fuse_a, "supply", "vehicle", origin, breaker=supply.breaker)
        tap = parts.runs.conductor(
            "battery-adapter",
            start,
            BUS,
            circuit="supply",
            zone="vehicle",
            title="centre tap of the batteries",
        )
        parts.add(tap)
        if supply.equaliser_a is not None:
            self._equaliser(supply, supply.equaliser_a, tap.size, origin)

    def _equaliser(self, supply: CentreTapSupply, rating_a: float, size: ConductorSize, origin: Origin | None) -> None:
        take, ref = self.parts.assumed.take, self.parts.ref(SUPPLIES[supply.kind].letter)
        self.parts.add(
            Equaliser(
                ref=ref,
                a=self.vehicle.plus,
                b="-G1:+",
                common=REFERENCE,
                circuit="supply",
                zone="vehicle",
                title=SUPPLIES[supply.kind].part,
                origin=origin,
                device=supply.kind,
                output_v=NO_CLAMP_V,
                ratio=0.5,
                resistance_ohm=take(None, "equaliser_resistance_ohm", ref),
                efficiency=take(supply.efficiency, "equaliser_efficiency", ref),
                idle_a=take(None, "equaliser_idle_a", ref),
                minimum_input_v=take(None, "equaliser_minimum_input_v", ref),
                continuous_a=rating_a,
                limit_a=rating_a,
                lead_m=take(None, "equaliser_lead_length_m", ref),
                lead_size=size,
                fuse_a=supply.equaliser_fuse_a,
            )
        )
