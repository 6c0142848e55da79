"""Short circuits as a paper: whether a wire can catch fire, then each short with what opens it, and when."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from wiregen.paper.blocks import CALCULATED, Block, Cell, Column, Head, Heading, Paper, Para, Row, RowGroup, Table
from wiregen.paper.json_text import plain
from wiregen.paper.words import counted, marks
from wiregen.quantity import show
from wiregen.questions.shorts.record import ENDS, HARMS, Ends, ShortRow, ShortSheet

_HOW: Final = (
    "Each fed wire touches ground at its far end, and each fuse right behind it, one at a time. A min: battery low, "
    "copper hot, contacts aged. A max: charging, cold, new."
)
_CAUTION: Final = (
    "Opening times are those of standards and data sheets; below 30 A for most no document was seen, and a fuse of "
    "another make may differ. Never test a short on purpose."
)
_BRIEF: Final = "Harmless: every wire on the way carries all that flows. Each wire by itself: shorts --full."
_WORDS: Final[dict[Ends, str]] = {
    "in time": "",
    "carried": "harmless",
    "late": "OPENS LATE",
    "not known": "NOT KNOWN",
    "no device": "NO FUSE",
    "cycles": "COMES BACK AGAIN AND AGAIN",
    "burns": "THE WIRE BURNS FIRST",
    "never": "MAY NOT OPEN",
}


def shorts_paper(sheet: ShortSheet, *, full: bool = True) -> Paper:
    """Return the shorts: the verdict, those that end badly, then one by one, or one line a fuse where not ``full``."""
    bad = sorted(
        (row for row in sheet.rows if row.ends not in ("in time", "carried")), key=lambda row: -ENDS.index(row.ends)
    )
    good = [row for row in sheet.rows if row not in bad]
    blocks: list[Block] = [Para(_verdict(sheet), bold=True), Para(_HOW)]
    if bad:
        blocks += [Heading("Look at these first"), _table(bad)]
    if good and full:
        blocks += [Heading("Opened in time, or harmless"), _table(good)]
    elif good:
        blocks += [Heading("Opened in time, or harmless"), _by_fuse(good), Para(_BRIEF)]
    blocks += [*(Para(marks(sentence)) for sentence in sheet.left_out), Para(_CAUTION)]
    return Paper(
        kind="shorts",
        name="Short circuits",
        head=Head(title=sheet.title, digest=sheet.digest),
        blocks=tuple(blocks),
        closing=CALCULATED,
        data=shorts_data(sheet),
    )


def _verdict(sheet: ShortSheet) -> str:
    harms = sum(row.ends in HARMS for row in sheet.rows)
    total = counted(len(sheet.rows), "short")
    if harms:
        return f"A WIRE CAN CATCH FIRE: {harms} of {total} {'lasts' if harms == 1 else 'last'} until a wire is harmed."
    doubtful = sum(row.ends in ("late", "not known") for row in sheet.rows)
    if doubtful:
        return f"No wire is known to be harmed, but {doubtful} of {total} end late or nobody knows when."
    return f"No wire is harmed: {total}, each opened in time by a fuse or too weak to harm."


def _table(rows: Iterable[ShortRow]) -> Table:
    columns = (
        Column("Touches ground", 2.0),
        Column("A min", right=True),
        Column("A max", right=True),
        Column("Fuse"),
        Column("Opens within", right=True),
        Column("How it ends", 1.6, spare=9),
    )
    return Table(columns, (RowGroup("", tuple(_row(row) for row in rows)),), "Every short circuit")


def _row(row: ShortRow) -> Row:
    device = f"{marks(row.device)} {row.rating_a:g} A" if row.rating_a is not None else ""
    cells = (marks(row.place), _amps(row.least_a), _amps(row.most_a), device or _none(row), _latest(row), _end(row))
    return Row(tuple(Cell(text) for text in cells), marked=row.ends in HARMS)


def _none(row: ShortRow) -> str:
    return "unknown" if row.ends == "not known" else "none"


def _latest(row: ShortRow) -> str:
    if row.latest_s is not None:
        return show(row.latest_s, "s")
    if not row.device:
        return "–"
    return "may not" if row.opening_known else "unknown"


def _amps(value: float | None) -> str:
    """Return a current for its column; what leaks through an open contact is too little to be told in digits."""
    if value is None:
        return "–"
    return "<0.001" if 0 < value < 0.001 else show(value, "A").removesuffix(" A")


def _by_fuse(rows: Iterable[ShortRow]) -> Table:
    """Return one line for each fuse: how many shorts it opens, the least and the most current, the latest time."""
    groups: dict[tuple[str, float | None], list[ShortRow]] = {}
    for row in rows:
        groups.setdefault((row.device, row.rating_a), []).append(row)
    made = []
    for (device, rating), same in groups.items():
        harmless = sum(row.ends == "carried" for row in same)
        times = [row.latest_s for row in same if row.latest_s is not None and row.ends != "carried"]
        cells = (
            f"{marks(device)} {rating:g} A" if rating is not None else "none",
            str(len(same)),
            _amps(min((row.least_a for row in same if row.least_a is not None), default=None)),
            _amps(max((row.most_a for row in same if row.most_a is not None), default=None)),
            show(max(times), "s") if times else "–",
            str(harmless or ""),
        )
        made.append(Row(tuple(Cell(text) for text in cells)))
    heads = ("Shorts", "A min", "A max", "Opens within", "Harmless")
    columns = (Column("Fuse"), *(Column(head, right=True) for head in heads))
    return Table(columns, (RowGroup("", tuple(made)),))


def _end(row: ShortRow) -> str:
    """Return what else there is to say of a short that does not simply end in time."""
    if row.ends == "in time":
        return ""
    if row.ends == "carried":
        what = f"all that {marks(row.limited_by)} gives" if row.limited_by else "this"
        unknown = "" if row.opening_known else f"; no opening time is known for {marks(row.device)}, {row.rating_a:g} A"
        return f"harmless: every wire on the way carries {what} for good{unknown}" if row.conductor else ""
    if row.ends == "not known":
        return f"{_WORDS[row.ends]}: {_missing(row)}"
    limited = f" ({marks(row.limited_by)} gives no more)" if row.limited_by else ""
    stands = f" and withstands it for {show(row.stands_s, 's')}" if row.stands_s is not None else ""
    amps = show(row.conductor_a or 0.0, "A")
    return f"{_WORDS[row.ends]}: wire {marks(row.conductor)} has {amps} in it{limited}{stands}"


def _missing(row: ShortRow) -> str:
    """Return what is missing to tell how a short ends."""
    if row.unlimited_by:
        return f"no current limit of {marks(row.unlimited_by)} is given"
    if not row.opening_known:
        return f"no opening time is known for {marks(row.device)}, {row.rating_a:g} A"
    return "what comes and goes with the voltage never comes to rest"


def shorts_data(sheet: ShortSheet) -> dict[str, Any]:
    """Return the shorts as plain data: amps in ``*_a``, seconds in ``*_s``, null where there is none."""
    data = plain(sheet)
    return {"title": sheet.title, "digest": sheet.digest, "shorts": data["rows"], "left_out": data["left_out"]}
