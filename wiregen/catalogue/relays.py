"""Relays, switches, contact resistances and brake magnets as tables, with the few rules that go with them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

from wiregen.catalogue.conductors import copper_factor
from wiregen.catalogue.sources import LazyTable, OutsideTable, number, rows

LoadClass = Literal["lamp", "inductive", "resistive", "motor"]
Drum = Literal["10 and 12 in", "7 in"]

#: A contact breaks half its 12 V current at 24 V (S41: 12 A and 6 A, lamps 20 A and 10 A).
CONTACT_FACTOR_24V: Final = 0.5
#: Make current over steady current by load (S40): a contact must stand it without welding.
INRUSH_FACTORS: Final[dict[LoadClass, float]] = {
    "lamp": 10.0,
    "motor": 6.0,
    "resistive": 1.0,
    "inductive": 1.0,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayType:
    """A relay as a data sheet gives it; None where the sheet is silent or was not read.

    Attributes:
        id: Word to look it up by.
        title: Words to print.
        coil_v: Nominal coil voltage, V.
        coil_ohm: Coil resistance at 20 °C, ohm.
        pick_up_v: Highest voltage it may need to pull in, coil at 20 °C, V.
        drop_out_v: Lowest voltage at which it may still hold, V.
        contact_resistance_ohm: Typical contact resistance, ohm.
        make_a: Make current, A.
        resistive_12v_a: Resistive load at 12 V, A.
        lamp_12v_a: Lamp load at 12 V, A.
        resistive_24v_a: Resistive load at 24 V, A.
        lamp_24v_a: Lamp load at 24 V, A.
        source: Source key.
        support: How well supported.
        note: What else to know.
    """

    id: str
    title: str
    coil_v: float | None
    coil_ohm: float | None
    pick_up_v: float | None
    drop_out_v: float | None
    contact_resistance_ohm: float | None
    make_a: float | None
    resistive_12v_a: float | None
    lamp_12v_a: float | None
    resistive_24v_a: float | None
    lamp_24v_a: float | None
    source: str
    support: str
    note: str


@dataclass(frozen=True, slots=True)
class ContactResistance:
    """Resistance of one kind of contact.

    Attributes:
        contact: What it is.
        new_ohm: When new, ohm; None where unknown.
        aged_ohm: When aged, ohm; None where unknown.
        rating_a: Current it is given for, A; None where unknown.
        source: Source key.
        support: How well supported.
        note: What else to know.
    """

    contact: str
    new_ohm: float | None
    aged_ohm: float | None
    rating_a: float | None
    source: str
    support: str
    note: str


@dataclass(frozen=True, slots=True)
class BrakeCurrent:
    """What so many electric drum-brake magnets draw together.

    Attributes:
        magnets: Number of magnets.
        from_v: Lower end of the voltage range, V.
        to_v: Upper end, V.
        low_a: Lower end of the current, A.
        high_a: Upper end, A.
        source: Source key.
        support: How well supported.
    """

    magnets: int
    from_v: float
    to_v: float
    low_a: float
    high_a: float
    source: str
    support: str


def warm_pick_up_v(pick_up_v: float, coil_c: float, reference_c: float = 20.0) -> float:
    """Return the voltage a relay needs with its coil warm, V.

    The armature asks for a current, and the copper of the coil gains resistance by the law of S2, so a relay
    that pulls in at 14.4 V at 20 °C needs 18.1 V at 85 °C.

    Args:
        pick_up_v: Pick-up voltage at ``reference_c``, V.
        coil_c: Temperature of the coil, °C.
        reference_c: Temperature the data sheet holds for, °C.

    Raises:
        OutsideTable: A temperature outside -70 to 250 °C.
    """
    return pick_up_v * copper_factor(coil_c, reference_c)


def switch_rating_needed_a(system_v: float, load: LoadClass, current_a: float) -> float:
    """Return the nominal rating a switch needs for a continuous current, A: AC 43.13-1B table 11-4 (S2).

    Args:
        system_v: 24 or 28 for a 24 V system, 12 for a 12 V system.
        load: Kind of load.
        current_a: Continuous current, A.

    Raises:
        OutsideTable: Another voltage.
    """
    system = {12.0: "12", 24.0: "28", 28.0: "28"}.get(float(system_v))
    for row in rows("switch_derating"):
        if row["system_v"] == system:
            return current_a * float(row[f"{load}_factor"])
    message = f"the switch table is for 12 V and 24/28 V, not for {system_v:g} V"
    raise OutsideTable(message)


def brake_current(magnets: int, supply_v: float, drum: Drum = "10 and 12 in") -> BrakeCurrent:
    """Return the table's range of current for 2, 4 or 6 brake magnets (S48).

    Args:
        magnets: Number of magnets.
        supply_v: Voltage at the magnets, V: 9 to 10.5 or 12 to 13.
        drum: Drum size.

    Raises:
        OutsideTable: The table has no such row.
    """
    for row in rows("brake_magnets"):
        inside = float(row["from_v"]) <= supply_v <= float(row["to_v"])
        if inside and (row["drum"], int(row["magnets"])) == (drum, magnets):
            return BrakeCurrent(
                magnets,
                float(row["from_v"]),
                float(row["to_v"]),
                float(row["low_a"]),
                float(row["high_a"]),
                row["source"],
                row["support"],
            )
    message = f"{magnets} magnets at {supply_v:g} V: the table has 2, 4 and 6 at 9 to 10.5 V and 12 to 13 V"
    raise OutsideTable(message)


@cache
def contact_resistances() -> tuple[ContactResistance, ...]:
    """Return the contact resistances known, for showing beside a default."""
    return tuple(
        ContactResistance(
            row["contact"],
            _from_milli(row, "new_mohm"),
            _from_milli(row, "aged_mohm"),
            number(row, "rating_a"),
            row["source"],
            row["support"],
            row["note"],
        )
        for row in rows("contact_resistance")
    )


def _from_milli(row: Mapping[str, str], column: str) -> float | None:
    value = number(row, column)
    return None if value is None else value / 1000


def _relay(row: Mapping[str, str]) -> RelayType:
    return RelayType(
        id=row["id"],
        title=row["title"],
        coil_v=number(row, "coil_v"),
        coil_ohm=number(row, "coil_ohm"),
        pick_up_v=number(row, "pick_up_v"),
        drop_out_v=number(row, "drop_out_v"),
        contact_resistance_ohm=number(row, "contact_resistance_ohm"),
        make_a=number(row, "make_a"),
        resistive_12v_a=number(row, "resistive_12v_a"),
        lamp_12v_a=number(row, "lamp_12v_a"),
        resistive_24v_a=number(row, "resistive_24v_a"),
        lamp_24v_a=number(row, "lamp_24v_a"),
        source=row["source"],
        support=row["support"],
        note=row["note"],
    )


#: Relays by id.
RELAYS: Final = LazyTable("a relay type", lambda: {row["id"]: _relay(row) for row in rows("relays")})
