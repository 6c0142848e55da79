"""The comparison of ways to convert as one sheet: small bar charts side by side, one for each criterion.

Legible in black and white: what a bar means is in its filling, its number and the words above, never in a colour.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from wiregen.draw.scene import DASHED, SOLID, THIN, Anchor, Box, Group, Item, Line, Pen, Rect, Scene, Text, safe_id
from wiregen.draw.sheet import Paper, Sheet
from wiregen.draw.text_width import fit, text_width_mm, wrap
from wiregen.model.chart import SheetInfo
from wiregen.model.comparison import Comparison, WayResult
from wiregen.paper.blocks import CALCULATED

_TEXT_MM: Final = 2.3
_HEAD_MM: Final = 2.6
_LABEL_MM: Final = 44.0
_PER_ROW: Final = 4
_GAP_MM: Final = 5.0
_ROOM_FOR_NUMBER_MM: Final = 15.0
_BAR_PEN: Final = Pen(width_mm=0.2, fill="#bbbbbb")
_CHOSEN_PEN: Final = Pen(width_mm=0.2, fill="#222222")
_SECOND_PEN: Final = Pen(width_mm=0.35, fill="white")
_REFERENCE_PEN: Final = Pen(width_mm=0.2, dash=DASHED)
_WHISKER_PEN: Final = Pen(width_mm=0.25, dash=SOLID)


@dataclass(frozen=True, slots=True)
class Panel:
    """One criterion.

    Attributes:
        title: What is compared, with its unit.
        hint: One line of small words below.
        value: Length of the bar.
        number: What stands beside it.
        second: Length of an outlined bar behind the first; 0 for none.
        reference: Where a dashed line stands; 0 for none.
        reach: End of a thin line beyond the bar; 0 for none.
    """

    title: str
    hint: str
    value: Callable[[WayResult], float]
    number: Callable[[WayResult], str]
    second: Callable[[WayResult], float] = lambda way: 0.0
    reference: float = 0.0
    reach: Callable[[WayResult], float] = lambda way: 0.0


def _least(way: WayResult) -> float:
    return way.lowest.share or 0.0 if way.lowest else 0.0


def _most(way: WayResult) -> float:
    return way.highest.share or 0.0 if way.highest else 0.0


def _both(way: WayResult) -> str:
    return f"{way.count('error')} + {way.count('warning')}"


def _light(way: WayResult) -> str:
    return "not known" if way.lowest is None else f"{100 * _least(way):.0f}–{_most(way):.0%}"


def _lamps(way: WayResult) -> int:
    return sum(change.count for change in way.changes)


def _behind(way: WayResult) -> float:
    """Return the least light behind a 12 V vehicle; a way that changes no lamp leaves it as it was."""
    shares = [light.share for light in way.behind_12v if light.share is not None]
    return min(shares, default=1.0)


PANELS: Final[tuple[Panel, ...]] = (
    Panel(
        "Errors + warnings of the check",
        "filled: errors; white: warnings",
        lambda w: w.count("error"),
        _both,
        second=lambda w: w.count("error") + w.count("warning"),
    ),
    Panel(
        "Least light of any lamp, % of rated",
        "thin line: the brightest; dashed: rated",
        _least,
        _light,
        reference=1.0,
        reach=_most,
    ),
    Panel("Heat in box and wires, W", "in the worst state", lambda w: w.heat_w, lambda w: f"{w.heat_w:.0f}"),
    Panel(
        "From the 24 V side, A",
        "thin line: in the wire of the centre tap",
        lambda w: w.from_24v_a,
        lambda w: f"{w.from_24v_a:.1f}" + (f", tap {w.tap_a:.1f}" if w.tap_a else ""),
        reach=lambda w: w.tap_a,
    ),
    Panel(
        "Battery imbalance, Ah an hour",
        "the lower battery loses so much more",
        lambda w: w.imbalance_ah_per_h,
        lambda w: f"{w.imbalance_ah_per_h:.1f}",
    ),
    Panel(
        "Parts of vehicle and adapter",
        "filled: all but conductors; white: those",
        lambda w: w.part_count - w.parts.get("conductors", 0),
        lambda w: str(w.part_count),
        second=lambda w: float(w.part_count),
    ),
    Panel("Lamps to change on the trailers", "bulbs or whole lamps", _lamps, lambda w: str(_lamps(w))),
    Panel(
        "Light behind a 12 V car, % of rated",
        "worst lamp; 100 % where no lamp is changed",
        _behind,
        lambda w: f"{_behind(w):.0%}",
        reference=1.0,
    ),
)


def comparison_sheet(comparison: Comparison, info: SheetInfo, paper: Paper = "a4") -> Scene:
    """Return the comparison as one landscape sheet with frame and title block."""
    sheet = Sheet(paper=paper, landscape=True)
    area = sheet.area
    top = area.y0 + 5.0
    trailers = fit(f"Behind: {', '.join(comparison.trailers)}", area.width, _TEXT_MM)
    items: list[Item] = [
        Text(x=area.x0, y=area.y0 + 2.5, text=trailers, size_mm=_TEXT_MM),
    ]
    words = _words(comparison, area)
    rows = [PANELS[index : index + _PER_ROW] for index in range(0, len(PANELS), _PER_ROW)]
    height = (words[0].y - _HEAD_MM - 2.0 - top) / len(rows)
    for index, panels in enumerate(rows):
        items.append(_row(comparison, panels, Box(area.x0, top + index * height, area.x1, top + (index + 1) * height)))
    names = ", ".join(way.title for way in comparison.ways)
    return sheet.scene(
        info,
        "Ways to convert",
        (*items, *words),
        description=f"Bars for {len(comparison.ways)} ways: {names}. {comparison.recommendation.words}",
        ident="comparison",
    )


def _words(comparison: Comparison, area: Box) -> list[Text]:
    """Return verdict, key and close calls as lines that end at the bottom of the area."""
    key = (
        "Black bars and names in bold: recommended. * as in the rig file. Worst of every state, with the battery low, "
        "running and charging, cold and hot. Ratings that the rig does not give are sized by need. "
        f"{CALCULATED}"
    )
    close = "".join(f" Close call: {words}." for words in comparison.recommendation.close_calls)
    lines = [(line, "bold") for line in wrap(comparison.recommendation.words + close, area.width, _TEXT_MM, "bold")]
    lines += [(line, "normal") for line in wrap(key, area.width, _TEXT_MM)]
    step = 1.4 * _TEXT_MM
    start = area.y1 - (len(lines) - 1) * step - 0.5
    return [
        Text(
            x=area.x0,
            y=start + index * step,
            text=text,
            size_mm=_TEXT_MM,
            weight="bold" if weight == "bold" else "normal",
        )
        for index, (text, weight) in enumerate(lines)
    ]


def _row(comparison: Comparison, panels: Sequence[Panel], box: Box) -> Group:
    """Return one row of panels with the names of the ways at its left."""
    ways = comparison.ways
    head = 2 * _HEAD_MM + 4.0
    pitch = (box.height - head - 2.0) / len(ways)
    middles = [box.y0 + head + (index + 0.5) * pitch for index in range(len(ways))]
    children: list[Item] = []
    for way, middle in zip(ways, middles, strict=True):
        chosen = way.id in comparison.recommendation.ways
        name = way.short + (" *" if way.is_present else "")
        size = _TEXT_MM
        children.append(
            Text(
                x=box.x0,
                y=middle,
                text=fit(name, _LABEL_MM - 3.0, size, "bold" if chosen else "normal"),
                size_mm=size,
                vertical="middle",
                weight="bold" if chosen else "normal",
            )
        )
    width = (box.width - _LABEL_MM - (_PER_ROW - 1) * _GAP_MM) / _PER_ROW
    for index, panel in enumerate(panels):
        left = box.x0 + _LABEL_MM + index * (width + _GAP_MM)
        children.append(_panel(comparison, panel, Box(left, box.y0, left + width, box.y1), middles, pitch))
    return Group(css_class="panels", children=tuple(children))


def _panel(comparison: Comparison, panel: Panel, box: Box, middles: Sequence[float], pitch: float) -> Group:
    known = [way for way in comparison.ways if way.fit == "fits"]
    longest = max((max(panel.value(w), panel.second(w), panel.reach(w)) for w in known), default=0.0)
    longest = max(longest, panel.reference) or 1.0
    scale = (box.width - _ROOM_FOR_NUMBER_MM) / longest
    size = _HEAD_MM
    while text_width_mm(panel.title, size, "bold") > box.width and size > _TEXT_MM:
        size -= 0.1
    children: list[Item] = [
        Text(x=box.x0, y=box.y0 + _HEAD_MM, text=panel.title, size_mm=size, weight="bold"),
        Text(x=box.x0, y=box.y0 + 2 * _HEAD_MM + 1.0, text=panel.hint, size_mm=2.0, italic=True),
    ]
    top, bottom = middles[0] - pitch / 2, middles[-1] + pitch / 2
    if panel.reference:
        x = box.x0 + panel.reference * scale
        children.append(Line(((x, top), (x, bottom)), _REFERENCE_PEN))
    for way, middle in zip(comparison.ways, middles, strict=True):
        chosen = way.id in comparison.recommendation.ways
        children.append(_bar(panel, way, box.x0, middle, pitch, scale, chosen=chosen))
    children.append(Line(((box.x0, top), (box.x0, bottom)), THIN))
    return Group(id=safe_id("panel", panel.title), css_class="panel", title=panel.title, children=tuple(children))


def _bar(panel: Panel, way: WayResult, x: float, middle: float, pitch: float, scale: float, *, chosen: bool) -> Group:
    anchor: Anchor = "start"
    if way.fit == "no":
        word = Text(x=x + 1.5, y=middle, text="not on this rig", size_mm=2.0, vertical="middle", italic=True)
        return Group(title=f"{way.title}: not on this rig", children=(word,))
    height = min(0.62 * pitch, 5.0)
    top = middle - height / 2
    value, second, reach = panel.value(way) * scale, panel.second(way) * scale, panel.reach(way) * scale
    children: list[Item] = []
    if second > value:
        children.append(Rect(x, top, second, height, _SECOND_PEN))
    if value > 0:
        children.append(Rect(x, top, value, height, _CHOSEN_PEN if chosen else _BAR_PEN))
    if reach > value:
        children.append(Line(((x + value, middle), (x + reach, middle)), _WHISKER_PEN))
        children.append(Line(((x + reach, middle - height / 4), (x + reach, middle + height / 4)), _WHISKER_PEN))
    end = x + max(value, second, reach) + 1.2
    line = x + panel.reference * scale
    if panel.reference and end - 1.0 < line < end + text_width_mm(panel.number(way), _TEXT_MM) + 0.5:
        end = line + 1.2  # no number stands on the dashed line
    children.append(Text(x=end, y=middle, text=panel.number(way), size_mm=_TEXT_MM, anchor=anchor, vertical="middle"))
    title = f"{way.title}: {panel.title}: {panel.number(way)}"
    return Group(css_class="bar", title=title, children=tuple(children))
