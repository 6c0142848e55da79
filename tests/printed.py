"""What the papers of a rig print, read back to facts: which wires there are, where each ends, and what it is.

A reader knows a paper by its text alone. ``disagreements`` holds the papers against each other; facts taken from the
record that they are made of would prove nothing.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from html import unescape
from html.parser import HTMLParser

from wiregen.chart.make import sheet_info
from wiregen.chart.paper import chart_paper
from wiregen.design.design import Design
from wiregen.draw.face.scenes import face_scenes
from wiregen.draw.harness import harness_scenes
from wiregen.draw.labels import label_scenes
from wiregen.draw.schematic.scenes import schematic
from wiregen.draw.svg import svg_text
from wiregen.paper.csv_text import csv_text
from wiregen.paper.html import html_text
from wiregen.paper.markdown import markdown_text
from wiregen.paper.terminal import terminal_text
from wiregen.questions.workshop.ask import harness
from wiregen.questions.workshop.data import harness_csv, harness_data, labels_csv

#: How far apart two papers may be: metres are printed to the hundredth.
_LENGTH_M = 0.0051


@dataclass
class Facts:
    """What one paper says.

    Attributes:
        wires: By id, what it tells of each wire.
        contacts: By contact, the wires on it; only where it tells all of them.
        wired: By contact, whether any wire is on it.
        is_whole: Whether it shows every wire that is made.
        shows_more: Whether it shows wires of the vehicle and the trailers too, but only those that carry a circuit.
    """

    wires: dict[str, dict[str, object]] = field(default_factory=dict)
    contacts: dict[str, set[str]] = field(default_factory=dict)
    wired: dict[str, bool] = field(default_factory=dict)
    is_whole: bool = False
    shows_more: bool = False

    def tell(self, wire: str, **told: object) -> None:
        """Note what is said of a wire; said twice and differently it is kept as both."""
        known = self.wires.setdefault(wire, {})
        for name, value in told.items():
            known[name] = value if known.get(name, value) == value else (known[name], value)


def papers(design: Design) -> dict[str, str]:
    """Return the texts of the papers of a rig by name."""
    chart, made, info = chart_paper(design.chart), harness(design), sheet_info(design.loaded)
    tables = harness_csv(made)
    drawn = {
        "schematic.svg": [
            scene for one in design.circuits for scene in schematic(one, info, wires=design.harness.wires)
        ],
        "faces.svg": [scene for half in design.harness.halves for scene in face_scenes(half.pinout, info, half=half)],
        "layout.svg": harness_scenes(made.plan, info),
        "labels.svg": label_scenes(made.labels, info),
    }
    return {
        "cut-list.csv": tables["cut-list.csv"],
        "chart.csv": csv_text(chart),
        "chart.txt": terminal_text(chart, 400),
        "chart.md": markdown_text(chart),
        "chart.html": html_text(chart),
        "splices.csv": tables["splices.csv"],
        "parts.csv": tables["parts.csv"],
        "continuity.csv": tables["continuity.csv"],
        "labels.csv": labels_csv(made),
        "harness.json": json.dumps(harness_data(made)),
        **{name: "\n".join(svg_text(scene) for scene in scenes) for name, scenes in drawn.items()},
    }


def read(name: str, text: str) -> Facts:
    """Return what a paper says."""
    return _READERS[name](text)


def disagreements(texts: dict[str, str]) -> list[str]:
    """Return in words where papers say different things; the cut list is what the others are held against."""
    base = read("cut-list.csv", texts["cut-list.csv"])
    found = []
    for name, text in texts.items():
        told = read(name, text)
        for wire, known in told.wires.items():
            if wire not in base.wires and not told.shows_more:
                found.append(f"{name}: {wire} is not in the cut list")
            for fact, value in known.items() if wire in base.wires else ():
                if not _same(value, base.wires[wire].get(fact)):
                    found.append(f"{name}: {wire} {fact} {value!r}, cut list {base.wires[wire].get(fact)!r}")
        if told.is_whole:
            missing = base.wires.keys() - told.wires.keys()
            found += [
                f"{name}: {wire} is missing"
                for wire in sorted(missing)
                if not (told.shows_more and _has_no_circuit(base.wires[wire]["ends"]))  # type: ignore[arg-type]
            ]
        for contact, wires in told.contacts.items():
            if wires != (there := base.contacts.get(contact, set())):
                found.append(f"{name}: {contact} has {sorted(wires)}, cut list {sorted(there)}")
        for contact, wired in told.wired.items():
            if wired is not bool(base.contacts.get(contact)):
                found.append(f"{name}: {contact} is {'' if wired else 'not '}connected, cut list the other way")
    return found


def _has_no_circuit(ends: Iterable[str]) -> bool:
    """Return whether a wire may be one that nothing is computed for: in a plain lead, or to an equaliser."""
    return all(end.startswith("X") for end in ends) or any(re.match(r"\w+:(plus|centre|minus)$", end) for end in ends)


def _same(value: object, other: object) -> bool:
    if isinstance(value, float) and isinstance(other, float):
        return abs(value - other) <= _LENGTH_M
    return value == other


# --- readers ---


def _rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff").replace("\r\n", "\n"))))


def _cut_list(text: str) -> Facts:
    facts = Facts(is_whole=True)
    for row in _rows(text):
        _wire(facts, row["conductor"], row["from"], row["to"], row["size"], row["colour"], row["fuse"], row["length_m"])
    for wire, told in facts.wires.items():
        near = (end.partition(":")[0] for end in told["ends"] if end.startswith("X"))  # type: ignore[attr-defined]
        told["near"] = frozenset(near)
        for end in told["ends"]:  # type: ignore[attr-defined]
            facts.contacts.setdefault(end, set()).add(wire)
    return facts


def _wire(facts: Facts, wire: str, a: str, b: str, size: str, colour: str, fuse: str, length: str) -> None:
    told: dict[str, object] = {"ends": frozenset((a, b)), "size": size, "colour": colour}
    facts.tell(wire, **told, fuse=fuse.strip("–-"), length_m=float(length))


def _chart_csv(text: str) -> Facts:
    rows = list(csv.DictReader(io.StringIO(text.lstrip("\ufeff").replace("\r\n", "\n"))))
    facts = _chart_tables(row for row in rows if row["part"] in ("Pin to pin", "Cut list"))
    for row in rows:
        if "continuity" in row["Should read"] and not row["group"].startswith("X1"):
            facts.wired[f"{row['group'].split()[0]}:{row['Contact']}"] = True
    return facts


def _pin(facts: Facts, vehicle: str, trailer: str, wire: str, fuse: str, colour: str) -> None:
    """Note a row of the pin-to-pin chart."""
    for contact in filter(re.compile(r"X1:").match, re.split(r"\s\+ ", vehicle)):
        facts.wired[contact] = bool(wire)
    if re.match(r"X\w*:", trailer):
        facts.contacts.setdefault(trailer, set()).update({wire} if wire else ())
        if wire:
            facts.tell(wire, fuse=fuse, colour=colour)


def _chart_tables(tables: Iterator[dict[str, str]]) -> Facts:
    """Read the tables of a chart by their headings: ``Wire`` has the wires to cut, ``Through`` the pins."""
    facts = Facts(is_whole=True)
    for printed in tables:
        row = {name: cell.replace("\N{NO-BREAK SPACE}", " ") for name, cell in printed.items()}
        colour = (row.get("Colour") or "").partition(" ")[0].removeprefix("any")
        if re.match(r"\d", row.get("m", "")):
            _wire(facts, row["Wire"], row["From"], row["To"], row["Size"], colour, row["Fuse"], row["m"])
        elif row.get("Through"):
            wire = re.search(r", wire ([\w.]+)", row["Through"])
            fused = re.search(r"\bfuse ([\w.]+ [\d.]+ A)|NO FUSE", row["Through"])
            fuse = (fused[1] or fused[0]) if fused else ""
            _pin(facts, row["From"], row["To"], wire[1] if wire else "", fuse, colour)
    return facts


def _terminal_tables(text: str) -> Iterator[dict[str, str]]:
    """Yield the rows of the terminal's tables of pins and wires: a cell begins or ends where its heading does."""
    heads: list[re.Match[str]] = []
    for line in text.splitlines():
        line = re.sub(r"^ *!", lambda sign: " " * len(sign[0]), line)
        words = list(re.finditer(r"\S+(?: \S+)*", line))
        if re.match(r" +(From  +Vehicle has|Wire  +From)", line):
            heads = words
        elif line and line[0] not in " [":
            heads = []
        elif heads and line.startswith(" "):
            row = {head[0]: "" for head in heads}
            for word in words:
                there = [head[0] for head in heads if head.start() == word.start() or head.end() == word.end()]
                row |= dict.fromkeys(there[:1], word[0])
            yield row


def _markdown_tables(text: str) -> Iterator[dict[str, str]]:
    heads: list[str] = []
    for line in text.splitlines():
        plain = (cell.replace("**", "").strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1])
        cells = [re.sub(r"\\(.)", r"\1", cell).removeprefix("! ") for cell in plain]
        if not line.startswith("|"):
            heads = []
        elif not heads:
            heads = cells
        elif cells[0] != "---" and any(cells[1:]):
            yield dict(zip(heads, cells, strict=True))


class _Html(HTMLParser):
    """Takes the cells of every table apart by the heading that each bears."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[dict[str, str]] = []
        self._label = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "tr":
            self.rows.append({})
        elif tag in ("td", "th"):
            self._label = dict(attrs).get("data-label") or ""
            if self._label:
                self.rows[-1][self._label] = ""

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th"):
            self._label = ""

    def handle_data(self, data: str) -> None:
        if self._label:
            self.rows[-1][self._label] += data


def _html_tables(text: str) -> Iterator[dict[str, str]]:
    parser = _Html()
    parser.feed(text)
    yield from ({name: cell.strip() for name, cell in row.items()} for row in parser.rows)


def _splices(text: str) -> Facts:
    facts = Facts()
    for row in _rows(text):
        if row["kind"] != "trailer" and row["name"]:
            facts.contacts[row["name"]] = {part for part in row["joins"].split() if ":" not in part}
    return facts


def _parts(text: str) -> Facts:
    facts = Facts(is_whole=True)
    for row in _rows(text):
        if row["group"] == "Conductors":
            size, _, colour = row["part"].partition(", ")
            wires = row["for"].split()
            for wire in wires:
                code = "" if colour == "colour left open" else colour.partition(" ")[0]
                facts.tell(wire, size=size, colour=code)
        elif row["group"] == "Connectors":
            marks = row["remarks"].partition(": ")[2].partition(";")[0].split(", ")
            facts.wired |= {f"{row['for']}:{mark}": True for mark in marks if mark}
    return facts


def _continuity(text: str) -> Facts:
    facts = Facts(is_whole=True)
    for row in _rows(text):
        if row["kind"] == "joined":
            facts.tell(row["why"].partition(",")[0], ends=frozenset((row["one_lead"], row["other_lead"])))
    return facts


def _labels(text: str) -> Facts:
    facts = Facts(is_whole=True)
    for row in _rows(text):
        facts.tell(row["conductor"], ends=frozenset((row["this_end"], row["far_end"])), size=row["size"])
        assert row["text"] == f"{row['conductor']} {row['this_end']} → {row['far_end']}"
    return facts


def _steps(text: str) -> Facts:
    """Read the order of assembly: what goes into each connector, and what stays empty."""
    facts = Facts()
    for step in json.loads(text)["steps"]:
        half = re.match(r"Fit the contacts of (X\w*)", step["title"])
        for action in step["actions"] if half else ():
            contact, _, wires = action.partition(" ← ")
            told = re.findall(r"(?:^|\), )([\w.]+)(?: ([A-Z/]+))? \(", wires)
            if told:
                facts.contacts[contact] = {wire for wire, _ in told}
                for wire, colour in told:
                    facts.tell(wire, colour=colour)
            elif empty := re.match(r"Nothing on (.*); close", action):
                facts.contacts |= {f"{half[1]}:{mark}": set() for mark in empty[1].split(", ")}  # type: ignore[index]
    return facts


def _titles(text: str) -> Iterator[str]:
    yield from (unescape(title) for title in re.findall(r"<title[^>]*>([^<]*)</title>", text))


def _schematic(text: str) -> Facts:
    """Read the titles of a schematic."""
    facts = Facts(is_whole=True, shows_more=True)
    ends, size = r"([\w:+ .-]+) to ([\w:+ .-]+)", r"([\d.]+ mm²|\S+ AWG|\S+ SAE)"
    pattern = re.compile(rf"([\w.]+): .*?, {ends}, (?:([A-Z/]{{2,5}}), )?{size}, ([\d.]+) m(?:, (.*))?")
    for told in filter(None, map(pattern.fullmatch, _titles(text))):
        wire, a, b, colour, label, length, fuse = told.groups()
        _wire(facts, wire, a, b, label, colour or "", fuse or "", length)
        for end in (a, b):
            if re.match(r"A1:|SP", end):
                facts.contacts.setdefault(end, set()).add(wire)
    return facts


def _faces(text: str) -> Facts:
    facts, name = Facts(), ""
    for title in _titles(text):
        name = found[1] if (found := re.search(r": Connector (X\w*)", title)) else name
        told = re.fullmatch(r"(\S+): .*; wire: (.*)", title)
        if told:
            wires = [] if told[2] == "none" else told[2].split(", ")
            facts.contacts[f"{name}:{told[1]}"] = {wire.split()[0] for wire in wires}
            for wire in wires:
                facts.tell(wire.split()[0], colour=wire.partition(" ")[2])
    return facts


def _layout(text: str) -> Facts:
    facts = Facts(is_whole=True)
    for title in _titles(text):
        if told := re.fullmatch(r"B\d+, (.*) to (.*): (.*)", title):
            for wire in told[3].split():
                facts.tell(wire, near=frozenset(end.split()[0] for end in told.groups()[:2] if end.startswith("X")))
    return facts


def _label_strips(text: str) -> Facts:
    facts = Facts(is_whole=True)
    for title in _titles(text):
        if told := re.fullmatch(r"([\w.]+): (.*) to (.*)", title):
            facts.tell(told[1], ends=frozenset(told.groups()[1:]))
    return facts


_READERS: dict[str, Callable[[str], Facts]] = {
    "cut-list.csv": _cut_list,
    "chart.csv": _chart_csv,
    "chart.txt": lambda text: _chart_tables(_terminal_tables(text)),
    "chart.md": lambda text: _chart_tables(_markdown_tables(text)),
    "chart.html": lambda text: _chart_tables(_html_tables(text)),
    "splices.csv": _splices,
    "parts.csv": _parts,
    "continuity.csv": _continuity,
    "labels.csv": _labels,
    "harness.json": _steps,
    "schematic.svg": _schematic,
    "faces.svg": _faces,
    "layout.svg": _layout,
    "labels.svg": _label_strips,
}
