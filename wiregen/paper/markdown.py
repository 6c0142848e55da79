"""A paper as GitHub Markdown, for a repository or a handover note. All words are escaped."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from wiregen.paper.blocks import Block, Bullets, Cell, Facts, Heading, Item, Paper, Para, Picture, Steps, Table
from wiregen.paper.safe_text import escape_markdown


def markdown_text(paper: Paper) -> str:
    """Return a paper as GitHub Markdown: one table a table, groups as bold rows."""
    lines = [f"# {escape_markdown(paper.title)}", ""]
    lines += [f"- {escape_markdown(word)}: {escape_markdown(value)}" for word, value in paper.told]
    for block in paper.blocks:
        lines += ["", *_block(block)]
    lines += ["", escape_markdown(paper.closing)] if paper.closing else []
    return "\n".join(lines) + "\n"


def _block(block: Block) -> Iterator[str]:
    match block:
        case Heading(text):
            yield f"## {escape_markdown(text)}"
        case Para(text, bold):
            yield _strong(text) if bold else escape_markdown(text)
        case Bullets():
            if block.title:
                yield from (f"## {escape_markdown(block.title)}" if block.boxed else _strong(block.title), "")
            for number, item in enumerate(block.entries, start=1):
                yield from _item(f"{number}." if block.numbered else "-", item)
        case Facts(pairs, title):
            yield from (_strong(title), "") if title else ()
            yield from (f"- {_strong(word)}: {escape_markdown(text)}" for word, text in pairs)
        case Steps(steps):
            for number, (title, actions) in enumerate(steps, start=1):
                yield f"{number}. {_strong(title)}"
                yield from (f"   - [ ] {escape_markdown(action)}" for action in actions)
        case Picture(alt=alt):
            yield escape_markdown(alt)
        case Table():
            yield from _table(block)


def _item(sign: str, item: Item) -> Iterator[str]:
    lead = f"{_strong(item.lead)} " if item.lead else ""
    end = f" ({escape_markdown(item.end)})" if item.end else ""
    yield f"{sign} {lead}{escape_markdown(item.text)}{end}"
    yield from (f"{' ' * len(sign)} - {escape_markdown(text)}" for text in item.more)


def _table(table: Table) -> Iterator[str]:
    if not any(table.rows):
        yield "None."
        return
    yield _line(escape_markdown(column.head) for column in table.columns)
    yield _line("--:" if column.right else "---" for column in table.columns)
    for group in table.groups:
        if group.name:
            yield _line([_strong(group.name), *[""] * (len(table.columns) - 1)])
        for row in group.rows:
            sign = "**!** " if row.marked else ""
            yield _line(f"{sign if not k else ''}{_cell(cell)}" for k, cell in enumerate(row.cells))


def _cell(cell: Cell) -> str:
    return _strong(cell.text) if cell.bold else escape_markdown(cell.text)


def _strong(text: str) -> str:
    bare = escape_markdown(text).strip()
    return f"**{bare}**" if bare else ""


def _line(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cells) + " |"
