"""What a schematic has besides parts and nets: zones, shells, lists of free contacts, arrows to other sheets."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Final

from wiregen.draw.scene import CHAIN, Anchor, Box, Group, Item, Line, Pen, Rect, Text
from wiregen.draw.schematic import symbols
from wiregen.draw.schematic.layout import DrawnPart, Port
from wiregen.draw.schematic.shop import Lettering, Piece, Stroke, designation
from wiregen.draw.text_width import fit, wrap
from wiregen.model.circuit import Battery, Circuit, Contact, Lamp, Load, Zone

#: Room for zone titles and connector names above the rows, mm.
HEADER_MM: Final = 10.5
#: Room between the last thing in a shell and its outline, mm.
OUTLINE_MM: Final = 1.0
#: Ranks beyond this one belong to the foot of a sheet.
LAST_RANK: Final = 1e6
_SHELL_PEN: Final = Pen(width_mm=0.5)
_ZONE_PEN: Final = Pen(width_mm=0.25, colour="#555", dash=CHAIN)
_FREE_TEXT: Final = 3.8


def free_contacts(circuit: Circuit, connector: str, column: int, text: Lettering) -> Piece | None:
    """Return the list of a connector's contacts that nothing is on, as a piece in its shell; None when all are used."""
    shell = circuit.shells.get(connector)
    used = {contact.mark for contact in circuit.of(Contact) if contact.connector == connector}
    free = [mark for mark in (shell.marks if shell else ()) if mark not in used]
    if not free:
        return None
    lines = wrap(", ".join(free) + " not used", _FREE_TEXT * text.size_mm, text.size_mm)
    part = DrawnPart(
        key=f"free:{connector}",
        column=column,
        width=max(text.width(line) for line in lines) + 2.6,
        up=0.5,
        down=text.below(len(lines)) + OUTLINE_MM,
        ports=(),
        rank=LAST_RANK,
        block=connector,
    )

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        del stroke
        return tuple(text.under((x0 + x1) / 2, y - 0.4, line, line=k) for k, line in enumerate(lines))

    return Piece(part, draw, None, "")


def arrows(exits: Mapping[str, str], pieces: Sequence[Piece], text: Lettering) -> list[Piece]:
    """Return an arrow for each net that goes on elsewhere, at the left or the right edge of the sheet.

    Args:
        exits: Terminals and what to write at the arrow.
        pieces: Everything else on the sheet.
        text: Lettering of the sheet.

    Returns:
        Pieces; those at the left edge stand left of the first column.
    """
    first = min((piece.part.column for piece in pieces), default=0) - 1
    last = max((piece.part.column for piece in pieces), default=0) + 1
    made = []
    for terminal, words in exits.items():
        spots = [port.right for piece in pieces for port in piece.part.ports if port.net == terminal]
        if spots:
            to_right = 2 * sum(spots) >= len(spots)
            made.append(_arrow(text, terminal, words, last if to_right else first, to_right=to_right))
    return made


def _arrow(text: Lettering, terminal: str, words: str, column: int, *, to_right: bool) -> Piece:
    part = DrawnPart(
        key=f"exit:{terminal}",
        column=column,
        width=text.width(words) + 6.0,
        up=text.cap,
        down=text.cap,
        ports=(Port(terminal, right=not to_right),),
    )

    def draw(x0: float, x1: float, y: float, stroke: Stroke) -> tuple[Item, ...]:
        anchor: Anchor = "start" if to_right else "end"
        edge, sign = (x0, 1) if to_right else (x1, -1)
        return (
            *stroke([(edge, y), (edge + sign * 1.0, y)], terminal),
            *symbols.place(symbols.off_sheet(), edge + sign * 2.6, y),
            Text(x=edge + sign * 4.8, y=y, text=words, size_mm=text.size_mm, anchor=anchor, vertical="middle"),
        )

    return Piece(part, draw, None, words)


def shells(blocks: Mapping[str, Box], circuit: Circuit, prefix: str) -> list[Item]:
    """Return the outline of each connector around its contacts.

    Args:
        blocks: Room of each connector's contacts, mm.
        circuit: The circuit, for tips.
        prefix: Start of every id on the sheet.
    """
    made: list[Item] = []
    for connector, box in blocks.items():
        outline = Rect(box.x0, box.y0, box.width, box.height, _SHELL_PEN, radius=2.0, css_class="outline")
        shell = circuit.shells.get(connector)
        title = f"{connector}: {shell.short}" if shell else connector
        made.append(
            Group(
                id=f"{prefix}connector-{connector.strip('-')}", css_class="connector", title=title, children=(outline,)
            )
        )
    return made


def zones(
    blocks: Mapping[str, Box],
    zone_of: Sequence[tuple[float, Zone]],
    labels: Mapping[str, str],
    circuit: Circuit,
    room: Box,
    foot: float,
    size_mm: float,
) -> list[Item]:
    """Return zone titles, connector names, and the lines between zones.

    Args:
        blocks: Room of each connector's contacts, mm.
        zone_of: Middle of each part across, mm, and its zone.
        labels: What to write over each connector.
        circuit: The circuit, for the voltages in the titles.
        room: Where the drawing may go.
        foot: Lower end of the drawing, mm.
        size_mm: Font size of the sheet, mm.
    """
    centre = {name: (box.x0 + box.x1) / 2 for name, box in blocks.items()}
    names = sorted(centre, key=lambda name: centre[name])
    items: list[Item] = []
    size = size_mm + 0.5
    for x0, x1 in pairwise([room.x0, *(centre[name] for name in names), room.x1]):
        title = _title([zone for x, zone in zone_of if x0 < x < x1], circuit)
        if title:
            shown = fit(title, x1 - x0 - 4, size, "bold")
            middle = (x0 + x1) / 2
            items.append(Text(x=middle, y=room.y0 + 3.2, text=shown, size_mm=size, anchor="middle", weight="bold"))
    for name in names:
        x, box = centre[name], blocks[name]
        label = Text(x=x, y=room.y0 + 7.6, text=labels[name], size_mm=size_mm, anchor="middle", weight="bold")
        lines = [(room.y0, room.y0 + 4.4), (room.y0 + 8.6, box.y0), (box.y1, foot)]
        items += [Line(((x, a), (x, b)), _ZONE_PEN, css_class="zone") for a, b in lines if b - a > 0.5]
        items.append(_inside(label, room))
    return items


def _inside(text: Text, room: Box) -> Text:
    """Return ``text`` moved sideways so that it stays in ``room``."""
    shift = max(0.0, room.x0 - text.box.x0) - max(0.0, text.box.x1 - room.x1)
    return Text(
        x=text.x + shift, y=text.y, text=text.text, size_mm=text.size_mm, anchor=text.anchor, weight=text.weight
    )


def connector_label(connector: str, circuit: Circuit, words: str) -> str:
    """Return what stands over a connector: designation, short name, and where its other side is drawn."""
    shell = circuit.shells.get(connector)
    name = designation(connector)
    label = f"{name} {shell.short}" if shell and shell.short else name
    return f"{label} ({words})" if words else label


def _title(inside: Sequence[Zone], circuit: Circuit) -> str:
    if not inside:
        return ""
    zone = max(sorted(set(inside)), key=inside.count)
    if zone == "adapter":
        return "Adapter"
    if zone == "vehicle":
        batteries = [battery for battery in circuit.of(Battery) if battery.zone == "vehicle"]
        running_v = math.fsum(battery.voltage_v for battery in batteries)
        nominal_v = math.fsum(battery.nominal_v for battery in batteries) or (24 if running_v > 18 else 12)
        return f"{nominal_v:g} V vehicle (simplified)"
    loads = {e.nominal_v for e in circuit.elements if isinstance(e, Lamp | Load)}
    return f"{loads.pop():g} V trailer" if len(loads) == 1 else "Trailer"
