"""What a sheet must satisfy, checked on its primitives alone; used by the drawing tests."""

from dataclasses import dataclass
from itertools import combinations

from wiregen.draw.scene import (
    SMALLEST_TEXT_MM,
    Box,
    Circle,
    Group,
    Line,
    Scene,
    Text,
    around,
    box_of,
    primitives,
)
from wiregen.draw.sheet import MARGIN_MM
from wiregen.model.circuit import Circuit, Conductor, ends

TOUCH_MM = 0.06
#: Wires of two nets side by side are told apart on paper from this distance on.
CLEAR_MM = 0.8
#: Classes of what is drawn with a part but is no part of its symbol.
NO_BODY = ("wire", "link", "core", "open", "dot")


@dataclass(frozen=True)
class Stroke:
    """One straight wire with what it belongs to: a net, or a conductor or path."""

    owner: str
    box: Box
    kind: str

    @property
    def is_level(self):
        return self.box.height < 1e-6


def groups_of(items, css_class):
    """Return every group with a class, nested ones too."""
    found = []
    for item in items:
        if isinstance(item, Group):
            if css_class in item.css_class.split():
                found.append(item)
            found += groups_of(item.children, css_class)
    return found


def strokes(scene: Scene) -> list[Stroke]:
    """Return every wire and link of a scene as straight pieces."""
    found = []
    for group in [group for css_class in ("net", "link", "part") for group in groups_of(scene.children, css_class)]:
        owner = dict(group.data).get("net") or dict(group.data).get("ref") or group.id
        for item in group.children:
            if isinstance(item, Line) and item.css_class in ("wire", "link"):
                for start, end in zip(item.points, item.points[1:], strict=False):
                    found.append(Stroke(owner, box_of(Line((start, end))), item.css_class))
    return found


def bodies(scene: Scene) -> dict[str, Box]:
    """Return the box of the symbol of every part, by ref; conductors have none."""
    found = {}
    for group in groups_of(scene.children, "part"):
        solid = [
            i
            for i in group.children
            if not isinstance(i, Text) and i.css_class not in ("wire", "link", "core", "open", "dot")
        ]
        if solid:
            found[dict(group.data)["ref"]] = around(solid)
    return found


def texts(scene: Scene) -> list[Text]:
    """Return every text of a scene."""
    return [item for item in primitives(scene.children) if isinstance(item, Text)]


def faults(scene: Scene) -> list[str]:
    """Return everything wrong with a sheet, in words."""
    return [
        *_texts_apart(scene),
        *_wires_off_texts(scene),
        *_wires_off_symbols(scene),
        *_symbols_apart(scene),
        *_wires_apart(scene),
        *_inside_frame(scene),
        *(f"{t.text!r} is only {t.size_mm} mm" for t in texts(scene) if t.size_mm < SMALLEST_TEXT_MM),
    ]


def _texts_apart(scene):
    lettered = [(t.text, t.box.grown(-TOUCH_MM)) for t in texts(scene)]
    return [f"{a!r} and {b!r} overlap" for (a, x), (b, y) in combinations(lettered, 2) if x.overlaps(y)]


def _wires_off_texts(scene):
    lines = [(s.owner, s.box) for s in strokes(scene)]
    lines += [("zone", box_of(i)) for i in primitives(scene.children) if getattr(i, "css_class", "") == "zone"]
    lettered = [(t.text, t.box.grown(-TOUCH_MM)) for t in texts(scene)]
    return [f"{owner} runs through {text!r}" for owner, line in lines for text, box in lettered if _meets(line, box)]


def _wires_off_symbols(scene):
    lines = strokes(scene)
    solid = bodies(scene)
    shrunk = {ref: body.grown(-0.15) for ref, body in solid.items()}
    found = [
        f"{stroke.owner} runs through {ref}"
        for stroke in lines
        for ref, body in shrunk.items()
        # The link of a relay ends on the blade of its own contact.
        if _meets(stroke.box, body) and not (stroke.kind == "link" and stroke.owner == ref)
    ]
    for shell in groups_of(scene.children, "connector"):
        outline = around(shell.children)
        held = [box for box in solid.values() if outline.holds(box)]
        found += [
            f"{stroke.owner} passes {shell.id} without a contact"
            for stroke in lines
            if _meets(stroke.box, outline.grown(-0.1))
            and not any(stroke.is_level and box.y0 < stroke.box.y0 < box.y1 for box in held)
        ]
    return found


def _symbols_apart(scene):
    return [f"{a} and {b} overlap" for (a, x), (b, y) in combinations(bodies(scene).items(), 2) if x.overlaps(y)]


def _wires_apart(scene):
    found = []
    lines = strokes(scene)
    for level in (True, False):
        # Sorted by the axis they lie across, so that only neighbours need comparing.
        across = sorted((s for s in lines if s.is_level is level), key=lambda s: s.box.y0 if level else s.box.x0)
        for k, a in enumerate(across):
            for b in across[k + 1 :]:
                if (b.box.y0 - a.box.y0 if level else b.box.x0 - a.box.x0) >= CLEAR_MM:
                    break
                if level:
                    along = min(a.box.x1, b.box.x1) - max(a.box.x0, b.box.x0)
                else:
                    along = min(a.box.y1, b.box.y1) - max(a.box.y0, b.box.y0)
                if a.owner != b.owner and along > TOUCH_MM:
                    found.append(f"{a.owner} and {b.owner} lie on one another near {a.box}")
    return found


def _inside_frame(scene):
    frame = Box(MARGIN_MM, MARGIN_MM, scene.width_mm - MARGIN_MM, scene.height_mm - MARGIN_MM)
    return [
        f"{item} is outside the frame"
        for item in primitives(scene.children)
        if getattr(item, "css_class", "") != "paper" and not frame.holds(box_of(item))
    ]


def _meets(line: Box, box: Box) -> bool:
    return line.x0 < box.x1 and line.x1 > box.x0 and line.y0 < box.y1 and line.y1 > box.y0


def connections(scenes: list[Scene], circuit: Circuit) -> list[str]:
    """Return every way in which what is drawn joins other things than the circuit does."""
    found = []
    drawn = {}
    for number, scene in enumerate(scenes):
        for element in circuit.elements:
            for terminal in ends(element):
                drawn.setdefault(terminal, {}).setdefault(number, [])
        nets = {dict(g.data)["net"]: [box_of(i) for i in g.children if getattr(i, "css_class", "") == "wire"]
                for g in groups_of(scene.children, "net")}  # fmt: skip
        for net, lines in nets.items():
            if len(_islands(lines)) > 1:
                found.append(f"sheet {number}: {net} falls apart into {len(_islands(lines))} pieces")
        touching = _touching(scene, circuit)
        for net, refs in touching.items():
            wanted = {e.ref for e in circuit.elements if net in ends(e)}
            found += [f"sheet {number}: {net} is drawn to {ref}" for ref in sorted(refs - wanted)]
            drawn.setdefault(net, {})[number] = sorted(refs)
    for element in circuit.elements:
        for terminal in ends(element):
            shared = sum(terminal in ends(e) for e in circuit.elements) > 1
            if shared and not any(element.ref in refs for refs in drawn[terminal].values()):
                found.append(f"{element.ref} is not drawn to {terminal}")
    return found


def _touching(scene, circuit):
    """Return, for each net of a sheet, the refs of the parts its wires end on."""
    spots: dict[str, list[Box]] = {}
    for group in groups_of(scene.children, "part"):
        ref = dict(group.data)["ref"]
        solid = [i for i in group.children if not isinstance(i, Text) and i.css_class != "link"]
        spots[ref] = [box_of(item) for item in solid]
        if not isinstance(circuit.by_ref[ref], Conductor):
            spots[ref].append(around(solid))
    touching: dict[str, set[str]] = {}
    for group in groups_of(scene.children, "net"):
        net = dict(group.data)["net"]
        lines = [box_of(item) for item in group.children if getattr(item, "css_class", "") == "wire"]
        tips = [Box(x, y, x, y) for b in lines for x, y in ((b.x0, b.y0), (b.x1, b.y1))]
        for ref, boxes in spots.items():
            tip_on_part = any(_near(tip, box) for tip in tips for box in boxes)
            if tip_on_part:
                touching.setdefault(net, set()).add(ref)
    return touching


def _near(a: Box, b: Box) -> bool:
    return a.grown(TOUCH_MM).overlaps(b.grown(TOUCH_MM), 0.0)


def _islands(lines: list[Box]) -> list[list[Box]]:
    islands: list[list[Box]] = []
    for line in lines:
        joined = [island for island in islands if any(_near(line, other) for other in island)]
        islands = [island for island in islands if island not in joined]
        islands.append([line, *(other for island in joined for other in island)])
    return islands


def dots_right(scene: Scene) -> list[str]:
    """Return every place where three wires of a net meet without a dot, and every dot where they do not."""
    found = []
    for group in groups_of(scene.children, "net"):
        lines = [box_of(i) for i in group.children if isinstance(i, Line) and i.css_class == "wire"]
        dots = [(i.x, i.y) for i in group.children if isinstance(i, Circle) and i.css_class == "dot"]
        corners = {(round(x, 2), round(y, 2)) for b in lines for x, y in ((b.x0, b.y0), (b.x1, b.y1))}
        for x, y in sorted(corners):
            arms = sum(_arms(box, x, y) for box in lines)
            has = any(abs(dx - x) < TOUCH_MM and abs(dy - y) < TOUCH_MM for dx, dy in dots)
            if (arms >= 3) is not has:
                found.append(f"{dict(group.data)['net']}: {arms} wires meet at {x}, {y}, dot: {has}")
    return found


def _arms(box: Box, x: float, y: float) -> int:
    if not _near(Box(x, y, x, y), box):
        return 0
    if box.height < 1e-6:
        return (box.x0 < x - TOUCH_MM) + (box.x1 > x + TOUCH_MM)
    return (box.y0 < y - TOUCH_MM) + (box.y1 > y + TOUCH_MM)
