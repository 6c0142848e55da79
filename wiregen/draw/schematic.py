"""The schematic: one row a circuit from the battery to the lamp, in three zones, on sheets that fit the paper.

The order of the work: sides and columns of the elements, pieces with their measured lettering, heights, routes in the
channels between the columns, positions across, and at last the primitives. The largest lettering that fits is taken;
where even the smallest does not, the drawing is parted at the connectors and goes on over several sheets.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from wiregen.draw.scene import SMALLEST_TEXT_MM, Box, Item, Scene, Text
from wiregen.draw.sheet import Sheet

if TYPE_CHECKING:
    from wiregen.draw.drawing import Drawing
    from wiregen.model.chart import SheetInfo
    from wiregen.model.circuit import Circuit

#: Lettering to try, largest first, mm.
SIZES_MM: Final = (2.8, 2.5, 2.25, SMALLEST_TEXT_MM)
_NAME: Final = "Schematic"
_NOTE_MM: Final = 2.2
_NOTES: Final = (
    "Contacts and relays are drawn at rest. A conductor shows its number, the letters of its colour (IEC 60757) and "
    "its size; lengths are in the chart.",
)


def schematic(circuit: Circuit, info: SheetInfo, paper: str = "a4") -> list[Scene]:
    """Draw the schematic of one rig with one trailer coupled.

    Args:
        circuit: What to draw.
        info: What stands in the title block.
        paper: ``a4`` or ``letter``; the sheets lie across.

    Returns:
        One sheet, or several where one would need lettering under 2 mm.

    Raises:
        InputError: The trailer has so many lamps that dozens of sheets are not enough.
    """
    # The symbol library is loaded only when somebody wants a schematic.
    from wiregen.draw.parting import parted

    sheet = Sheet(paper, landscape=True)
    area = sheet.area
    room = Box(area.x0, area.y0, area.x1, area.y1 - 1.6 * _NOTE_MM * len(_NOTES))
    drawings = parted(circuit, room, SIZES_MM)
    return [
        sheet.scene(
            info,
            f"{_NAME}, {circuit.trailer}" if circuit.trailer else _NAME,
            _children(drawing, room, area),
            page=number,
            pages=len(drawings),
            description=drawing.description,
            ident=f"schematic-{number}",
        )
        for number, drawing in enumerate(drawings, start=1)
    ]


def _children(drawing: Drawing, room: Box, area: Box) -> tuple[Item, ...]:
    notes = tuple(
        Text(x=area.x0, y=area.y1 - (len(_NOTES) - 1 - k) * 1.5 * _NOTE_MM, text=note, size_mm=_NOTE_MM, colour="#333")
        for k, note in enumerate(_NOTES)
    )
    return (*drawing.items(room), *notes)
