"""Wire labels as strips to cut out: one for each end of a conductor, lettered twice so that one side always shows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from wiregen.draw.scene import DASHED, SMALLEST_TEXT_MM, Box, Group, Item, Line, Pen, Rect, Scene, Text, safe_id
from wiregen.draw.sheet import Paper, Sheet
from wiregen.draw.text_width import fit, text_width_mm
from wiregen.model.chart import SheetInfo
from wiregen.model.harness import WireLabel

_NAME: Final = "Wire labels"
_WIDE_MM: Final = 49.0
_HIGH_MM: Final = 11.0
_GAP_MM: Final = 1.5
_REF_MM: Final = 3.4
_ENDS_MM: Final = 2.4
_NOTE: Final = (
    "Cut along the solid lines, fold at the dashed line, lay around the conductor under clear heat-shrink tube; or "
    "print the texts of labels.csv on tube that fits the size named. Large: the conductor. Below: this end → far end."
)


def label_scenes(labels: Sequence[WireLabel], info: SheetInfo, paper: Paper = "a4") -> list[Scene]:
    """Return the labels on landscape sheets, both ends of a conductor side by side.

    Args:
        labels: What to letter.
        info: What stands in the title block.
        paper: ``a4`` or ``letter``.
    """
    sheet = Sheet(paper, landscape=True)
    area = sheet.area
    across = max(1, int((area.width + _GAP_MM) // (_WIDE_MM + _GAP_MM)))
    # An even number keeps the two ends of a conductor on one line.
    across -= across % 2 if across > 1 else 0
    down = int((area.height - 6.0 + _GAP_MM) // (_HIGH_MM + _GAP_MM))
    a_page = across * down
    pages = max(1, -(-len(labels) // a_page))
    wide = (area.width - (across - 1) * _GAP_MM) / across
    scenes = []
    for page in range(pages):
        items: list[Item] = [Text(x=area.x0, y=area.y0 + 2.0, text=_NOTE, size_mm=2.2)]
        for place, label in enumerate(labels[page * a_page : (page + 1) * a_page]):
            x = area.x0 + (place % across) * (wide + _GAP_MM)
            y = area.y0 + 6.0 + (place // across) * (_HIGH_MM + _GAP_MM)
            items.append(_label(label, Box(x, y, x + wide, y + _HIGH_MM), page * a_page + place))
        scenes.append(
            sheet.scene(
                info,
                _NAME,
                tuple(items),
                page=page + 1,
                pages=pages,
                description="Labels to cut out: "
                + "; ".join(f"{one.ref} at {one.here}" for one in labels[page * a_page : (page + 1) * a_page]),
                ident=f"labels-{page + 1}",
            )
        )
    return scenes


def _label(label: WireLabel, box: Box, number: int) -> Group:
    middle = (box.x0 + box.x1) / 2
    items: list[Item] = [
        Rect(box.x0, box.y0, box.width, box.height, Pen(width_mm=0.18)),
        Line(((middle, box.y0), (middle, box.y1)), Pen(width_mm=0.18, dash=DASHED)),
    ]
    for x0, x1 in ((box.x0, middle), (middle, box.x1)):
        items += _half(label, x0, x1, box.y0)
    title = f"{label.ref}: {label.here} to {label.there}"
    return Group(id=safe_id("label", str(number)), css_class="label", title=title, children=tuple(items))


def _half(label: WireLabel, x0: float, x1: float, top: float) -> Iterator[Text]:
    x, room = (x0 + x1) / 2, x1 - x0 - 1.5
    yield Text(x=x, y=top + 3.6, text=label.ref, size_mm=_REF_MM, anchor="middle", weight="bold")
    ends = f"{label.here} → {label.there}"
    size = _ENDS_MM
    if text_width_mm(ends, size) > room:
        size = max(SMALLEST_TEXT_MM, size * room / text_width_mm(ends, size))
    if text_width_mm(ends, size) > room:
        # Two lines where the names are long: this end above, the far end below.
        lines = (label.here, f"→ {label.there}", label.size)
        for number, line in enumerate(lines):
            at = top + 6.0 + 2.2 * number
            yield Text(x=x, y=at, text=fit(line, room, SMALLEST_TEXT_MM), size_mm=SMALLEST_TEXT_MM, anchor="middle")
        return
    yield Text(x=x, y=top + 6.9, text=ends, size_mm=size, anchor="middle")
    yield Text(
        x=x, y=top + 9.9, text=fit(label.size, room, SMALLEST_TEXT_MM), size_mm=SMALLEST_TEXT_MM, anchor="middle"
    )
