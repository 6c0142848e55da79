"""A paper as sheets for the folder: the writer of blocks that draws, beside those that write text."""

from __future__ import annotations

from collections.abc import Iterator

from wiregen.draw.scene import Scene
from wiregen.draw.sheet import Paper as Size
from wiregen.draw.sheet import Sheet
from wiregen.draw.table import Flow
from wiregen.model.chart import SheetInfo
from wiregen.paper.blocks import Block, Bullets, Facts, Heading, Item, Paper, Para, Picture, Steps, Table

#: A heading stays on one sheet with so much of what follows it, mm.
_KEEP_MM = {True: 45.0, False: 14.0}

#: Facts of fewer letters stand one behind the other.
_SHORT = 60


def paper_sheets(paper: Paper, size: Size = "a4") -> list[Scene]:
    """Return a paper as landscape sheets with frame and title block.

    Args:
        paper: What to lay out.
        size: ``a4`` or ``letter``.

    Returns:
        As many sheets as it takes; heads of tables stand again on every further sheet.
    """
    sheet = Sheet(size, landscape=True)
    flow = Flow(sheet.area)
    if facts := "; ".join(f"{word}: {value}" for word, value in paper.facts if value):
        flow.paragraph(facts)
    for number, block in enumerate(paper.blocks):
        _put(flow, block, paper.blocks[number + 1 : number + 4])
    if paper.closing:
        flow.paragraph(paper.closing, "bold")
    head, pages = paper.head, len(flow.pages)
    info = SheetInfo(title=head.title, revision=head.revision, date=head.date, digest=head.digest, author=head.author)
    return [
        sheet.scene(
            info,
            paper.name,
            tuple(items),
            page=number,
            pages=pages,
            ident=f"{paper.kind}-{number}",
            description=f"{paper.title}, sheet {number} of {pages}.",
        )
        for number, items in enumerate(flow.pages, start=1)
    ]


def _put(flow: Flow, block: Block, following: tuple[Block, ...]) -> None:
    match block:
        case Heading(text):
            flow.heading(text, _KEEP_MM[any(isinstance(one, Table) for one in following)])
        case Table(columns, groups) if any(block.rows):
            flow.table(columns, groups)
        case Bullets(title=title, boxed=True):
            flow.boxed([*_lines(block)], title.upper())
        case _:
            if title := getattr(block, "title", ""):
                flow.paragraph(title, "bold")
            for line in _lines(block):
                flow.paragraph(line, "bold" if isinstance(block, Para) and block.bold else "normal")


def _lines(block: Block) -> Iterator[str]:
    """Yield the words of a block that is no table, a paragraph a line."""
    match block:
        case Para(text) | Picture(alt=text):
            yield text
        case Bullets():
            for number, item in enumerate(block.entries, start=1):
                sign = f"{number} " if block.numbered else "" if block.boxed else "– "
                yield f"{sign}{_item(item)}"
        case Facts(pairs):
            told = [f"{word}: {text}" for word, text in pairs]
            yield from told if any(len(text) > _SHORT for text in told) else ["; ".join(told)]
        case Steps(steps):
            for number, (title, actions) in enumerate(steps, start=1):
                yield from (f"{number} {title}", *(f"[ ] {action}" for action in actions))
        case Table():
            yield "None."


def _item(item: Item) -> str:
    lead = f"{item.lead}: " if item.lead else ""
    end = f" ({item.end})" if item.end else ""
    return " ".join((f"{lead}{item.text}{end}", *item.more))
