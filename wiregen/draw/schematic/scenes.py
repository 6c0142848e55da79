"""The schematic: one row a circuit from the battery to the lamp, in three zones, on sheets that fit the paper.

The order of the work: sides and columns of the elements, pieces with their measured lettering, heights, routes in the
channels between the columns, positions across, and at last the primitives. The largest lettering that fits is taken;
where even the smallest does not, the drawing is parted at the connectors and goes on over several sheets.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from wiregen.catalogue.circuits import circuit_word
from wiregen.draw.scene import SMALLEST_TEXT_MM, Box, Group, Item, Scene, Text
from wiregen.draw.schematic.shop import designation, doubtful, draws_contacts
from wiregen.draw.sheet import Sheet
from wiregen.draw.text_width import text_width_mm, wrap
from wiregen.model.circuit import Circuit, Converter, RelayContact

if TYPE_CHECKING:
    from wiregen.harness.record import Wire
    from wiregen.model.chart import SheetInfo

#: Lettering to try, largest first, mm.
SIZES_MM: Final = (2.8, 2.5, 2.25, SMALLEST_TEXT_MM)
_NAME: Final = "Schematic"
_NOTE_MM: Final = 2.2
_NOTE_LINE_MM: Final = 1.5 * _NOTE_MM
_AT_REST: Final = (
    "Drawn at rest; a contact bears the number of its relay. A conductor shows its number, the letters of its colour "
    "(IEC 60757) and its size; lengths are in the chart."
)
_UNVERIFIED: Final = "! at a contact or lamp: no document seen, or sources disagree: measure."
_CAUTION: Final = (
    "Advice, not proof of compliance. Measure before connecting. Local codes and qualified people have the last word."
)
#: Contact networks take up to so many lines under the drawing; longer ones are left to the chart.
_MOST_NETWORK_LINES: Final = 4


def schematic(circuit: Circuit, info: SheetInfo, paper: str = "a4", wires: Iterable[Wire] = ()) -> list[Scene]:
    """Draw the schematic of one rig with one trailer coupled.

    Args:
        circuit: What to draw.
        info: What stands in the title block.
        paper: ``a4`` or ``letter``; the sheets lie across.
        wires: Wires of the harness: each line that is one says which, and where it ends.

    Returns:
        One sheet, or several where one would need lettering under 2 mm.

    Raises:
        InputError: The trailer has so many lamps that dozens of sheets are not enough.
    """
    # The symbol library is loaded only when somebody wants a schematic.
    from wiregen.draw.schematic.parting import parted

    sheet = Sheet(paper, landscape=True)
    area = sheet.area
    notes = _notes(circuit, area.width)
    room = Box(area.x0, area.y0, area.x1, area.y1 - _NOTE_LINE_MM * len(notes) - 0.2 * _NOTE_MM)
    drawings = parted(circuit, room, SIZES_MM)
    told = {wire.element: _wire_words(wire) for wire in wires if wire.element}
    return [
        sheet.scene(
            info,
            f"{_NAME}, {circuit.trailer}" if circuit.trailer else _NAME,
            (*(_titled(item, told) for item in drawing.items(room)), *_lettered(notes, area)),
            page=number,
            pages=len(drawings),
            description=drawing.description,
            ident=f"schematic-{number}",
        )
        for number, drawing in enumerate(drawings, start=1)
    ]


def _wire_words(wire: Wire) -> str:
    """Return what a wire is, in words: ``W16: tail, K1:87 to X2:3, BN, 14 AWG, 1.20 m, F4 10 A``."""
    size = wire.size.label if wire.size else ""
    ends = f"{wire.a.id} to {wire.b.id}"
    words = (circuit_word(wire.circuit), ends, wire.colour, size, f"{wire.length_m:.2f} m", wire.fuse)
    return f"{wire.id}: {', '.join(filter(None, words))}"


def _titled(item: Item, told: Mapping[str, str]) -> Item:
    """Return an item with its titles changed, by the ref of what it shows."""
    if not isinstance(item, Group):
        return item
    title = told.get(dict(item.data).get("ref", ""), item.title)
    return replace(item, title=title, children=tuple(_titled(child, told) for child in item.children))


def _notes(circuit: Circuit, width_mm: float) -> tuple[str, ...]:
    """Return the lines under the drawing; the caution is the last."""
    networks = [line for text in _network_words(circuit) for line in wrap(text, width_mm, _NOTE_MM)]
    if len(networks) > _MOST_NETWORK_LINES:
        networks = ["The contact networks of the boxes named relay logic are in the chart."]
    legend = [_AT_REST, _UNVERIFIED] if doubtful(circuit) else [_AT_REST]
    if text_width_mm(" ".join(legend), _NOTE_MM) <= width_mm:
        legend = [" ".join(legend)]
    lines = [line for text in legend for line in wrap(text, width_mm, _NOTE_MM)]
    return (*lines, *networks, *wrap(_CAUTION, width_mm, _NOTE_MM, "bold"))


def _network_words(circuit: Circuit) -> Iterator[str]:
    """Yield the words of every contact network that is not drawn contact by contact."""
    for element in circuit.elements:
        gate = element.gate if isinstance(element, RelayContact | Converter) else None
        if gate is None or gate.network is None or (isinstance(element, RelayContact) and draws_contacts(gate)):
            continue
        yield f"{designation(element.ref.split(':')[0])} relay logic: {gate.words}."


def _lettered(notes: Sequence[str], area: Box) -> tuple[Item, ...]:
    return tuple(
        Text(
            x=area.x0,
            y=area.y1 - (len(notes) - 1 - k) * _NOTE_LINE_MM,
            text=note,
            size_mm=_NOTE_MM,
            colour="#333",
            weight="bold" if note in _CAUTION else "normal",
        )
        for k, note in enumerate(notes)
    )
