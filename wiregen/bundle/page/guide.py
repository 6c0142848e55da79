"""The fault guide on the page: nested lists that anybody can read, and that the script walks through step by step.

The lists are the only copy of the guide; the script takes its questions and answers from them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from wiregen.model.fault_guide import FaultGuide
from wiregen.paper.safe_text import escape_html
from wiregen.questions.faults.guide_lists import (
    AFTER,
    HOW,
    FaultList,
    GuideLists,
    GuidePlace,
    ListedCheck,
    ShownSetting,
    guide_lists,
)

_NO_ROOM: Final = "No room for the fault guide on this page: see <code>wiregen fault --guide</code> or the packet."


def guide_sections(guides: Sequence[FaultGuide], room: int) -> list[str]:
    """Return each trailer's guide as HTML, all together in at most ``room`` bytes.

    The least likely symptoms are left out, and that is said, until the rest fits.
    """
    for most in range(max([1, *(len(guide.entries) for guide in guides)]), 0, -1):
        made = [
            _section(number, guide_lists(guide, most), max(0, len(guide.entries) - most))
            for number, guide in enumerate(guides)
        ]
        if sum(len(one.encode()) for one in made) <= room:
            return made
    return [f"<p>{_NO_ROOM}</p>"] * len(guides)


def _section(number: int, lists: GuideLists, left_out: int) -> str:
    return "\n".join(_lines(f"g{number}", lists, left_out))


def _lines(key: str, lists: GuideLists, left_out: int) -> Iterator[str]:
    yield '<details class="guide"><summary>Find the fault</summary>'
    yield '<ul class="warn"><li>' + "</li><li>".join(map(escape_html, lists.cautions)) + "</li></ul>"
    if not lists.lists:
        yield "<p>No single fault of a likely kind shows itself at a lamp or a load of this trailer.</p></details>"
        return
    if left_out:
        yield f"<p>{left_out} less likely symptoms are left out here: see <code>wiregen fault --guide</code>.</p>"
    yield '<div class="walk" hidden></div>'
    yield '<div class="pick"><h3 tabindex="-1">What do you see?</h3>'
    for setting, rows in lists.seen:
        yield f"<h4>Controls: {escape_html(setting)}</h4><ul>"
        yield "".join(f'<li><a href="#{key}-{at}">{escape_html(picture)}</a></li>' for picture, at in rows)
        yield "</ul>"
    yield "</div>"
    yield '<details class="lists" open><summary>All lists, to read</summary>'
    yield f'<p>{HOW}</p><p class="after">{AFTER}</p><div>'
    for one in lists.lists:
        yield from _list(key, one)
    yield "</div></details></details>"


def _list(key: str, one: FaultList) -> Iterator[str]:
    yield f'<div class="list" id="{key}-{one.number}"><h4>{one.number}. {escape_html(one.symptom)}</h4>'
    if one.danger:
        yield f'<p class="danger">Danger: it may be that {escape_html(one.danger)}.</p>'
    if one.checks:
        checks = [_check(key, GuidePlace(one.number, at), check) for at, check in enumerate(one.checks, start=1)]
        yield f"<ol>{''.join(checks)}</ol>"
    elif one.then:
        yield f"<p>Go to {_link(key, one.then)}.</p>"
    else:
        yield _suspects(one.left)
    yield "</div>"


def _check(key: str, at: GuidePlace, check: ListedCheck) -> str:
    well = f"<small> In order: {escape_html(check.in_order)}.</small>" if check.in_order else ""
    shown = "".join(_shown(key, one, GuidePlace(at.number, at.check + 1)) for one in check.shown)
    return f'<li id="{key}-{at.number}-{at.check}">{escape_html(check.words)}{well}<ul>{shown}</ul></li>'


def _shown(key: str, one: ShownSetting, after: GuidePlace) -> str:
    if one.to is None:
        leads = _suspects(one.suspects)
    else:
        leads = ": go on" if one.to == after else f": go to {_link(key, one.to)}"
    return f"<li><b>{escape_html(one.words)}</b>{leads}</li>"


def _suspects(suspects: Sequence[str]) -> str:
    return "<ul><li>" + "</li><li>".join(map(escape_html, suspects)) + "</li></ul>"


def _link(key: str, place: GuidePlace) -> str:
    if place.check == 1:
        return f'<a href="#{key}-{place.number}">list {place.number}</a>'
    return f'<a href="#{key}-{place.number}-{place.check}">list {place.number}, check {place.check}</a>'
