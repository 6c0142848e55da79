"""Checks that every sheet must pass: nothing on anything else, nothing outside the frame, nothing too small."""

import xml.etree.ElementTree as ElementTree

from wiregen.draw.scene import Box, Line, Text, box_of, groups, primitives
from wiregen.draw.sheet import MARGIN_MM
from wiregen.draw.svg import svg_text


def texts_of(scene):
    return [item for item in primitives(scene.children) if isinstance(item, Text)]


def words_of(scene):
    """All text of a sheet in drawing order, with single spaces."""
    return " ".join(" ".join(text.text for text in texts_of(scene)).split())


def overlapping(scene):
    """Pairs of texts whose boxes meet."""
    boxes = sorted(((text.box, text.text) for text in texts_of(scene)), key=lambda pair: pair[0].y0)
    found = []
    for index, (box, text) in enumerate(boxes):
        for other, words in boxes[index + 1 :]:
            if other.y0 >= box.y1:
                break
            if box.overlaps(other):
                found.append((text, words))
    return found


def outside(scene):
    """What sticks out of the frame, the paper itself left out."""
    frame = Box(MARGIN_MM, MARGIN_MM, scene.width_mm - MARGIN_MM, scene.height_mm - MARGIN_MM)
    drawn = [item for item in primitives(scene.children) if getattr(item, "css_class", "") != "paper"]
    return [item for item in drawn if not frame.holds(box_of(item))]


def too_small(scene):
    """Texts under 2 mm."""
    return [text.text for text in texts_of(scene) if text.size_mm < 2.0]


def crossed_by_lines(scene):
    """Texts that a line runs through, more than 0.1 mm inside their box."""
    found = []
    legs = [
        (a, b)
        for item in primitives(scene.children)
        if isinstance(item, Line)
        for a, b in zip(item.points, item.points[1:], strict=False)
    ]
    for text in texts_of(scene):
        box = text.box.grown(-0.1)
        for (x0, y0), (x1, y1) in legs:
            if min(x0, x1) > box.x1 or max(x0, x1) < box.x0 or min(y0, y1) > box.y1 or max(y0, y1) < box.y0:
                continue
            steps = max(2, int(max(abs(x1 - x0), abs(y1 - y0)) / 0.2))
            points = ((x0 + (x1 - x0) * i / steps, y0 + (y1 - y0) * i / steps) for i in range(steps + 1))
            if any(box.x0 < x < box.x1 and box.y0 < y < box.y1 for x, y in points):
                found.append(text.text)
    return found


def assert_sheet_is_sound(scene):
    """Fail with the first fault of a sheet."""
    assert overlapping(scene) == []
    assert outside(scene) == []
    assert too_small(scene) == []
    ids = [group.id for group in groups(scene.children) if group.id]
    assert len(ids) == len(set(ids))
    root = ElementTree.fromstring(svg_text(scene))
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert [node.tag for node in root.iter() if node.tag.endswith("}script")] == []
