"""Part a schematic into sheets when one would need lettering that is too small.

First the drawing is cut at a connector, then at both: a reader turns the page where he would unplug the trailer. Only
where that is not enough the rows are shared out as well. A connector that is cut stands on both sheets; any other net
that goes on ends in an arrow with its name and the numbers of the other sheets.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from wiregen.draw.scene import Box
from wiregen.draw.schematic.columns import is_hitch, sides
from wiregen.draw.schematic.drawing import Drawing
from wiregen.draw.schematic.shop import designation
from wiregen.errors import InputError
from wiregen.model.circuit import Circuit, Conductor, Contact, Element, ends

#: Ways to cut along the zones, with the zones that share a sheet.
_ZONE_CUTS: Final = (
    (("vehicle", "adapter", "trailer"),),
    (("vehicle", "adapter"), ("trailer",)),
    (("vehicle",), ("adapter", "trailer")),
    (("vehicle",), ("adapter",), ("trailer",)),
)
_MOST_SHEETS: Final = 60


def parted(circuit: Circuit, room: Box, sizes_mm: Sequence[float]) -> list[Drawing]:
    """Return drawings that together show the circuit, all with the largest lettering with which each fits.

    Args:
        circuit: What to draw.
        room: Room for each drawing, mm.
        sizes_mm: Font sizes to try, largest first, mm.

    Raises:
        InputError: Not even many sheets with a few rows each are enough; no rig from real connectors comes near.
    """
    for zones in _ZONE_CUTS:
        if drawings := _at_largest(circuit, _by_zone(circuit, zones), room, sizes_mm):
            return drawings
    for zones in (_ZONE_CUTS[1], _ZONE_CUTS[-1]):
        cut = _by_rows(circuit, _by_zone(circuit, zones), room, sizes_mm[-1])
        if drawings := _at_largest(circuit, cut, room, sizes_mm):
            return drawings
    message = f"the schematic of {circuit.trailer or circuit.title!r} does not fit on {_MOST_SHEETS} sheets"
    raise InputError(message)


def _at_largest(
    circuit: Circuit, cut: Sequence[Sequence[Element]], room: Box, sizes_mm: Sequence[float]
) -> list[Drawing]:
    """Return the drawings of a cut at the largest lettering with which all fit, or nothing."""
    orders: dict[int, tuple[str, ...]] = {}
    for size_mm in sizes_mm:
        drawings = _drawings(circuit, cut, size_mm, orders)
        if all(drawing.may_fit(room) for drawing in drawings) and all(drawing.fits(room) for drawing in drawings):
            return drawings
        orders = {number: drawing.order for number, drawing in enumerate(drawings)}
    return []


def _by_rows(circuit: Circuit, sheets: Sequence[Sequence[Element]], room: Box, size_mm: float) -> list[list[Element]]:
    """Share the rows of every sheet that is too full among more sheets, until each fits or there are too many."""
    rows = _rows(circuit)
    parts = [1] * len(sheets)
    while True:
        parted_sheets = [_shared_out(rows, sheet, count) for sheet, count in zip(sheets, parts, strict=True)]
        shares = [share for sheet in parted_sheets for share in sheet]
        owners = [k for k, sheet in enumerate(parted_sheets) for _ in sheet]
        drawings = _drawings(circuit, shares, size_mm, {})
        full = {k for k, d in zip(owners, drawings, strict=True) if not (d.may_fit(room) and d.fits(room))}
        if not full or len(shares) > _MOST_SHEETS:
            return shares
        parts = [count + (1 + count // 3 if k in full else 0) for k, count in enumerate(parts)]


def _by_zone(circuit: Circuit, zones: Sequence[Sequence[str]]) -> list[list[Element]]:
    """Return the elements of each group of zones; contacts go to both sides of a cut."""
    at: dict[str, set[str]] = {}
    for element in circuit.elements:
        if not isinstance(element, Contact) and not is_hitch(element, circuit):
            for terminal in ends(element):
                at.setdefault(terminal, set()).add(element.zone)
    sheets = []
    for group in zones:
        sheet: list[Element] = []
        for element in circuit.elements:
            if isinstance(element, Contact):
                near = {zone for terminal in ends(element) for zone in at.get(terminal, ())} or {element.zone}
                if near & set(group):
                    sheet.append(element)
            elif ("adapter" if is_hitch(element, circuit) else element.zone) in group:
                sheet.append(element)
        sheets.append(sheet)
    return [sheet for sheet in sheets if sheet]


def _rows(circuit: Circuit) -> list[list[Element]]:
    """Return the elements of each row: what hangs together when every net with three or more ends is taken apart."""
    row_of: dict[str, list[Element]] = {element.ref: [element] for element in circuit.elements}
    at: dict[str, list[Element]] = {}
    for element in circuit.elements:
        for terminal in ends(element):
            at.setdefault(terminal, []).append(element)
    joined = [members for members in at.values() if len(members) == 2]
    coils = {ref: e for e in circuit.elements if (gate := getattr(e, "gate", None)) for ref in gate.coils.values()}
    joined += [[circuit.by_ref[ref], worked] for ref, worked in coils.items() if ref in circuit.by_ref]
    for one, other in joined:
        first, second = row_of[one.ref], row_of[other.ref]
        if first is not second:
            first += second
            for element in second:
                row_of[element.ref] = first
    rows = list({id(row): row for row in row_of.values()}.values())
    place = {element.ref: k for k, element in enumerate(circuit.elements)}
    return sorted(rows, key=lambda row: (_splice_order(row, rows, place), min(place[e.ref] for e in row)))


def _splice_order(row: Sequence[Element], rows: Sequence[Sequence[Element]], place: Mapping[str, int]) -> int:
    """Return the place of the row that feeds a row, so that a lamp stays beside its circuit."""
    circuits = {e.circuit for e in row if not e.circuit.startswith("ground")}
    mates = [r for r in rows if any(isinstance(e, Contact) and e.circuit in circuits for e in r)]
    return min((place[e.ref] for r in (mates or [row]) for e in r), default=0)


def _shared_out(rows: Sequence[list[Element]], sheet: Sequence[Element], count: int) -> list[list[Element]]:
    """Share the rows of a sheet among ``count`` sheets in their order, about equally many conductors to each."""
    refs = {element.ref for element in sheet}
    here = [kept for row in rows if (kept := [element for element in row if element.ref in refs])]
    weights = [1 + sum(isinstance(e, Conductor) for e in row) for row in here]
    total, done = sum(weights), 0
    shares: list[list[Element]] = [[] for _ in range(count)]
    for row, weight in zip(here, weights, strict=True):
        shares[min(count - 1, (done + weight // 2) * count // total)] += row
        done += weight
    return [share for share in shares if share]


def _drawings(
    circuit: Circuit, cut: Sequence[Sequence[Element]], size_mm: float, orders: Mapping[int, tuple[str, ...]]
) -> list[Drawing]:
    on: dict[str, set[int]] = {}
    for number, sheet in enumerate(cut):
        for element in sheet:
            for terminal in ends(element):
                on.setdefault(terminal, set()).add(number)
    twice = _drawn_twice(circuit, cut)
    drawings = []
    for number, sheet in enumerate(cut):
        here = {terminal for element in sheet for terminal in ends(element)}
        exits = {
            terminal: f"{designation(terminal)}, {_sheets(on[terminal] - {number})}"
            for terminal in sorted(here)
            if len(on[terminal]) > 1 and terminal not in twice
        }
        beyond = {}
        for connector in dict.fromkeys(e.connector for e in sheet if isinstance(e, Contact)):
            others = {k for k, other in enumerate(cut) if k != number and _has(other, connector)}
            if others:
                beyond[connector] = _sheets(others)
        drawings.append(
            Drawing(
                circuit,
                sheet,
                size_mm,
                exits=exits,
                beyond=beyond,
                prefix=f"s{number + 1}-" if number else "",
                order=orders.get(number, ()),
            )
        )
    return drawings


def _drawn_twice(circuit: Circuit, cut: Sequence[Sequence[Element]]) -> set[str]:
    """Return the terminals of contacts that stand on two sheets: the shell itself says where they go on."""
    count: dict[str, int] = {}
    for sheet in cut:
        for element in sheet:
            if isinstance(element, Contact):
                count[element.ref] = count.get(element.ref, 0) + 1
    side = sides(circuit)
    return {t for ref, times in count.items() if times > 1 for t in (side[ref].left, side[ref].right)}


def _has(sheet: Sequence[Element], connector: str) -> bool:
    return any(isinstance(e, Contact) and e.connector == connector for e in sheet)


def _sheets(numbers: set[int]) -> str:
    words = [str(number + 1) for number in sorted(numbers)]
    return f"sheet {words[0]}" if len(words) == 1 else f"sheets {', '.join(words)}"
