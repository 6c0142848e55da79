"""Where contacts, leader lines and words go on the picture of a connector face.

The mating face is laid out once; the wire side is its mirror image by construction, so the two can never differ.
Positions are in millimetres from the middle of the picture, y downwards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Final

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.catalogue.connector import Connector, FacePlace, PinoutContact
from wiregen.draw.scene import CAP_HEIGHT, DESCENT, Anchor, Box, Point
from wiregen.draw.table import PITCH_MM, TEXT_MM, break_lines
from wiregen.draw.text_width import text_width_mm

RING_MM: Final = 18.0
MARK_MM: Final = 3.0
_SMALL_MARK_MM: Final = 2.2
_CONTACT_MM: Final = 3.7
_SMALLEST_CONTACT_MM: Final = 2.4
_RIM_MM: Final = 2.0
_ROW_HALF_MM: Final = 30.0
_ROW_RISE_MM: Final = 6.5
_LABEL_GAP_MM: Final = 1.2
_CLEAR_MM: Final = 0.9


@dataclass(frozen=True, slots=True)
class FaceSpot:
    """One contact on the picture: its place, half its width and height, its mark and the mark's font size, mm."""

    x: float
    y: float
    half: float
    radius: float
    mark: str
    size_mm: float
    contact: PinoutContact

    @property
    def box(self) -> Box:
        """Room of the contact."""
        return Box(self.x - self.half, self.y - self.radius, self.x + self.half, self.y + self.radius)


@dataclass(frozen=True, slots=True)
class MarkLabel:
    """Words beside the face, with the line that leads to them; ``y`` is the middle of the first line, mm."""

    leader: tuple[Point, ...]
    x: float
    y: float
    anchor: Anchor
    lines: tuple[str, ...]

    @property
    def box(self) -> Box:
        """Room of the words."""
        width = max(text_width_mm(line, TEXT_MM) for line in self.lines)
        left = self.x if self.anchor == "start" else self.x - width
        top = self.y - CAP_HEIGHT * TEXT_MM / 2
        bottom = top + (CAP_HEIGHT + DESCENT) * TEXT_MM + PITCH_MM * (len(self.lines) - 1)
        return Box(left, top, left + width, bottom)


@dataclass(frozen=True, slots=True)
class FaceLayout:
    """A laid-out face.

    Attributes:
        spots: Contacts, in the order of the connector; those without a position are missing.
        labels: Words, one for each spot in the same order, and one for the key when it is known.
        shell: Outline: half width and half height; equal for a round one.
        middle: Middle of the outline.
        is_round: Whether the outline is a circle.
        key_deg: Clock position of the key on this side, degrees clockwise from 12 o'clock, or None.
    """

    spots: tuple[FaceSpot, ...]
    labels: tuple[MarkLabel, ...]
    shell: tuple[float, float]
    middle: Point
    is_round: bool
    key_deg: float | None

    @property
    def box(self) -> Box:
        """Room of everything."""
        half_x, half_y = self.shell
        x, y = self.middle
        boxes = [label.box for label in self.labels]
        rim = 3.0 if self.key_deg is not None else 0.0
        boxes.append(Box(x - half_x, y - half_y, x + half_x, y + half_y).grown(rim))
        points = [point for label in self.labels for point in label.leader]
        return Box(
            min([b.x0 for b in boxes] + [p[0] for p in points]),
            min([b.y0 for b in boxes] + [p[1] for p in points]),
            max([b.x1 for b in boxes] + [p[0] for p in points]),
            max([b.y1 for b in boxes] + [p[1] for p in points]),
        )

    def centred(self) -> FaceLayout:
        """Return the same face with everything, words included, centred across."""
        dx = -(self.box.x0 + self.box.x1) / 2
        return replace(
            self,
            spots=tuple(replace(spot, x=spot.x + dx) for spot in self.spots),
            labels=tuple(
                replace(label, x=label.x + dx, leader=tuple((x + dx, y) for x, y in label.leader))
                for label in self.labels
            ),
            middle=(self.middle[0] + dx, self.middle[1]),
        )

    def mirrored(self) -> FaceLayout:
        """Return the same face seen from the other side."""
        return replace(
            self,
            spots=tuple(replace(spot, x=-spot.x) for spot in self.spots),
            labels=tuple(
                replace(
                    label,
                    x=-label.x,
                    leader=tuple((-x, y) for x, y in label.leader),
                    anchor="end" if label.anchor == "start" else "start",
                )
                for label in self.labels
            ),
            middle=(-self.middle[0], self.middle[1]),
            key_deg=None if self.key_deg is None else (360 - self.key_deg) % 360,
        )


def words_of(contact: PinoutContact) -> str:
    """Return mark and words of the circuit, e.g. ``E: tail``."""
    words = CIRCUITS[contact.circuit].word
    if contact.circuit == "choose" and contact.choices:
        words += ": " + " or ".join(CIRCUITS[name].word for name in contact.choices)
    return f"{contact.mark}: {words}"


def lay_out(connector: Connector, half_width_mm: float) -> FaceLayout | None:
    """Return the mating face of the vehicle socket, or None where no readable picture can be made.

    None stands for: no contact has a position, two contacts lie on each other, a line would cross a contact, or the
    words do not fit into the picture.

    Args:
        connector: The connector.
        half_width_mm: Half the width of the picture, mm.
    """
    placed = [(contact, contact.face) for contact in connector.contact if contact.face is not None]
    if not placed:
        return None
    in_rows = all(place.x is not None for _, place in placed)
    points = [_row_point(place) if in_rows else _round_point(place) for _, place in placed]
    spots = _spots([contact for contact, _ in placed], points)
    if spots is None:
        return None
    key_deg = connector.face.keyway_deg
    key_words = "key" if connector.face.verified else "key (not verified)"
    layout = _rows(spots, half_width_mm) if in_rows else _round(spots, half_width_mm, key_deg, key_words)
    return layout if _readable(layout, half_width_mm) else None


def _round_point(place: FacePlace) -> Point:
    if place.x is not None or place.y is not None:
        return RING_MM * (place.x or 0.0), -RING_MM * (place.y or 0.0)
    angle = math.radians(place.angle_deg)
    return RING_MM * place.radius * math.sin(angle), -RING_MM * place.radius * math.cos(angle)


def _row_point(place: FacePlace) -> Point:
    return _ROW_HALF_MM * (place.x or 0.0), -_ROW_RISE_MM * (place.y or 0.0)


def _spots(contacts: Sequence[PinoutContact], points: Sequence[Point]) -> tuple[FaceSpot, ...] | None:
    """Return contacts as large as their distances allow, or None when they lie too close."""
    nearest = min((math.dist(a, b) for a, b in combinations(points, 2)), default=100.0)
    radius = min(_CONTACT_MM, nearest * 0.42)
    if radius < _SMALLEST_CONTACT_MM:
        return None
    spots = []
    for contact, (x, y) in zip(contacts, points, strict=True):
        size = MARK_MM if text_width_mm(contact.mark, MARK_MM, "bold") < 1.6 * radius else _SMALL_MARK_MM
        half = max(radius, text_width_mm(contact.mark, size, "bold") / 2 + 0.8)
        spots.append(FaceSpot(x, y, half, radius, contact.mark, size, contact))
    if any(a.box.overlaps(b.box) for a, b in combinations(spots, 2)):
        return None
    return tuple(spots)


def _round(spots: tuple[FaceSpot, ...], half_width_mm: float, key_deg: float | None, key_words: str) -> FaceLayout:
    reach = max(math.hypot(abs(spot.x) + spot.half - spot.radius, spot.y) + spot.radius for spot in spots)
    shell = reach + _RIM_MM
    exits = _exits(spots, shell + 2.0)
    words = [words_of(spot.contact) for spot in spots]
    starts = [_edge(spot, end) for spot, end in zip(spots, exits, strict=True)]
    if key_deg is not None:
        start = polar(shell + 1.5, key_deg)
        exits.append(_free_key_exit(key_deg, shell + 3.0, exits))
        starts.append(start)
        words.append(key_words)
    label_x = shell + 7.5
    room = half_width_mm - label_x - 1.5
    lines = [tuple(break_lines(text, room)) for text in words]
    on_right = _sides(exits)
    labels: list[MarkLabel | None] = [None] * len(words)
    for right in (False, True):
        side = sorted((i for i in range(len(words)) if on_right[i] is right), key=lambda i: exits[i][1])
        heights = [PITCH_MM * len(lines[i]) + _LABEL_GAP_MM for i in side]
        tops = _spread([exits[i][1] for i in side], heights)
        sign = 1 if right else -1
        for i, top in zip(side, tops, strict=True):
            elbow = (sign * (shell + 5.0), top)
            leader = (starts[i], exits[i], elbow, (sign * (label_x - 0.8), top))
            labels[i] = MarkLabel(leader, sign * label_x, top, "start" if right else "end", lines[i])
    done = tuple(label for label in labels if label is not None)
    return FaceLayout(spots, done, (shell, shell), (0.0, 0.0), True, key_deg)


def polar(radius: float, angle_deg: float) -> Point:
    """Return the point at a clock position: degrees clockwise from 12 o'clock, y downwards."""
    angle = math.radians(angle_deg)
    return radius * math.sin(angle), -radius * math.cos(angle)


def _exits(spots: Sequence[FaceSpot], radius: float) -> list[Point]:
    """Return where each contact's line leaves the shell: straight out, or through the nearest gap."""
    exits: dict[int, Point] = {}
    for index in sorted(range(len(spots)), key=lambda i: -math.hypot(spots[i].x, spots[i].y)):
        spot = spots[index]
        centred = math.hypot(spot.x, spot.y) < 0.5
        own = 90.0 if centred else math.degrees(math.atan2(spot.x, -spot.y))
        lines = [(_edge(spots[i], end), end) for i, end in exits.items()]
        best, best_room = polar(radius, own), -math.inf
        for turn in (0.0, *(sign * step for step in range(3, 181, 3) for sign in (1.0, -1.0))):
            end = polar(radius, own + turn)
            clear = _clearance(spot, end, spots, lines)
            if clear > best_room:
                best, best_room = end, clear
            if clear >= _CLEAR_MM:
                break
        exits[index] = best
    return [exits[index] for index in range(len(spots))]


def _clearance(spot: FaceSpot, end: Point, spots: Sequence[FaceSpot], lines: Sequence[tuple[Point, Point]]) -> float:
    """Return how far the line from a contact to ``end`` stays off other contacts and lines, mm."""
    start = _edge(spot, end)
    others = [_distance((o.x, o.y), start, end) - max(o.half, o.radius) for o in spots if o is not spot]
    if any(_cross(start, end, *line) for line in lines):
        return -math.inf
    ends = [math.dist(end, line[1]) - 2.0 for line in lines]
    return min([*others, *ends], default=100.0)


def _edge(spot: FaceSpot, towards: Point) -> Point:
    """Return the point of a contact's outline that faces ``towards``."""
    distance = math.dist((spot.x, spot.y), towards)
    share = min(1.0, max(spot.radius, spot.half) / distance) if distance else 0.0
    return spot.x + share * (towards[0] - spot.x), spot.y + share * (towards[1] - spot.y)


def _free_key_exit(key_deg: float, radius: float, exits: Sequence[Point]) -> Point:
    for turn in (0.0, 6.0, -6.0, 12.0, -12.0, 18.0, -18.0):
        end = polar(radius, key_deg + turn)
        if all(math.dist(end, other) > 2.5 for other in exits):
            return end
    return polar(radius, key_deg)


def _sides(exits: Sequence[Point]) -> list[bool]:
    """Return whether each label stands on the right; those in the middle go where fewer stand."""
    right = [end[0] > 0 for end in exits]
    for index, (x, _) in enumerate(exits):
        if abs(x) < 1.0:
            others = [right[i] for i in range(len(exits)) if abs(exits[i][0]) >= 1.0 or i < index]
            right[index] = 2 * sum(others) <= len(others)
    return right


def _spread(wanted: Sequence[float], heights: Sequence[float]) -> list[float]:
    """Return the middles of first lines, mm, as near to ``wanted`` as labels without overlap allow.

    Pool adjacent violators: labels that would overlap form a block that moves as one.
    """
    offsets = [math.fsum(heights[:i]) for i in range(len(heights))]
    blocks: list[list[float]] = []
    for value, offset in zip(wanted, offsets, strict=True):
        blocks.append([value - offset, 1.0])
        while len(blocks) > 1 and blocks[-2][0] >= blocks[-1][0]:
            value2, count2 = blocks.pop()
            value1, count1 = blocks.pop()
            total = count1 + count2
            blocks.append([(value1 * count1 + value2 * count2) / total, total])
    levels = [level for level, count in blocks for _ in range(int(count))]
    return [level + offset for level, offset in zip(levels, offsets, strict=True)]


def _rows(spots: tuple[FaceSpot, ...], half_width_mm: float) -> FaceLayout:
    """Return contacts in rows: lines go down (or up from an upper row) like a flight of stairs to the words."""
    left = min(spot.x - spot.half for spot in spots)
    shift = -half_width_mm + 6.0 - left
    spots = tuple(replace(spot, x=spot.x + shift) for spot in spots)
    x0, x1 = min(s.x - s.half for s in spots) - _RIM_MM, max(s.x + s.half for s in spots) + _RIM_MM
    y0, y1 = min(s.box.y0 for s in spots) - _RIM_MM, max(s.box.y1 for s in spots) + _RIM_MM
    labels: dict[int, MarkLabel] = {}
    for down in (True, False):
        row = sorted((i for i, s in enumerate(spots) if (s.y > -0.01) is down), key=lambda i: -spots[i].x)
        level = (y1 if down else y0) + (3.5 if down else -3.5)
        for i in row:
            spot = spots[i]
            lines = tuple(break_lines(words_of(spot.contact), half_width_mm - spot.x - 5.0))
            extra = PITCH_MM * (len(lines) - 1)
            first = level if down else level - extra
            start = (spot.x, spot.box.y1 if down else spot.box.y0)
            leader = (start, (spot.x, first), (spot.x + 2.0, first))
            labels[i] = MarkLabel(leader, spot.x + 2.8, first, "start", lines)
            step = extra + PITCH_MM + _LABEL_GAP_MM
            level += step if down else -step
    done = tuple(labels[i] for i in range(len(spots)))
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    return FaceLayout(spots, done, ((x1 - x0) / 2, (y1 - y0) / 2), middle, False, None).centred()


def _readable(layout: FaceLayout, half_width_mm: float) -> bool:
    """Return whether nothing lies on anything else and all stays inside the picture."""
    box = layout.box
    if box.x0 < -half_width_mm or box.x1 > half_width_mm:
        return False
    if any(a.box.overlaps(b.box) for a, b in combinations(layout.labels, 2)):
        return False
    for index, label in enumerate(layout.labels):
        legs = list(zip(label.leader, label.leader[1:], strict=False))
        for other, spot in enumerate(layout.spots):
            if other != index and any(_distance((spot.x, spot.y), a, b) < max(spot.half, spot.radius) for a, b in legs):
                return False
        for later in layout.labels[index + 1 :]:
            more = list(zip(later.leader, later.leader[1:], strict=False))
            if any(_cross(*leg, *leg2) for leg in legs for leg2 in more):
                return False
    return True


def _distance(point: Point, a: Point, b: Point) -> float:
    """Return the distance of a point from the line between ``a`` and ``b``, mm."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    length2 = dx * dx + dy * dy
    share = 0.0 if not length2 else ((point[0] - a[0]) * dx + (point[1] - a[1]) * dy) / length2
    share = min(1.0, max(0.0, share))
    return math.dist(point, (a[0] + share * dx, a[1] + share * dy))


def _cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Return whether the lines a-b and c-d cross."""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0
