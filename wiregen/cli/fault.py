"""The command that finds a fault by the road: what is seen goes in, suspects and the next check come out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from wiregen.cli.base import Json, RigFile, TrailerOption, app, opened, show, telling_errors, width

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiregen.questions.faults.diagnosis import Diagnosis
    from wiregen.questions.faults.finder import Finder
    from wiregen.questions.faults.session import SeenKind, Session
    from wiregen.questions.faults.symptom import Symptom


@app.command("fault")
def fault(
    rig: RigFile,
    trailer: TrailerOption = None,
    saw: Annotated[
        list[str] | None,
        typer.Option("--saw", metavar="TEXT", help="Such as 'brake: left stop dark'; may be repeated."),
    ] = None,
    measured: Annotated[
        list[str] | None,
        typer.Option("--measured", metavar="TEXT", help="Such as 'X2:5 brake 0.0 V'; may be repeated."),
    ] = None,
    tried: Annotated[
        list[str] | None,
        typer.Option("--tried", metavar="TEXT", help="Such as 'bulb E3: no change'; may be repeated."),
    ] = None,
    session: Annotated[
        Path | None, typer.Option("--session", metavar="FILE", help="Keep what was seen in FILE.", show_default=False)
    ] = None,
    pairs: Annotated[bool, typer.Option("--pairs", help="Look for two faults at once as well.")] = False,
    guide: Annotated[bool, typer.Option("--guide", help="Print the guide: each symptom with its checks.")] = False,
    coverage: Annotated[bool, typer.Option("--coverage", help="Tell how well faults can be found at all.")] = False,
    json: Json = False,
) -> None:
    """Find the fault: say what you see, get suspects and the next best check."""
    from wiregen.questions.faults import ask

    with telling_errors():
        loaded = opened(rig)
        if guide or coverage:
            _refuse_both(given=bool(saw or measured or tried or session), guide=guide, coverage=coverage)
            show(_guide(loaded, trailer, json=json) if guide else _coverage(loaded, trailer, json=json))
            return
        asked = not (saw or measured or tried or json)
        kept = _read(session)
        if kept is not None:
            trailer = trailer or kept.trailer
        if trailer is None and asked:
            names = loaded.trailers
            trailer = _ask_trailer(names) if len(names) > 1 else None
        finder = ask.fault_finder(loaded, trailer)
        begun = _begun(kept, finder)
        given: tuple[tuple[SeenKind, list[str] | None], ...] = (
            ("saw", saw),
            ("measured", measured),
            ("tried", tried),
        )
        for kind, texts in given:
            for text in texts or ():
                begun = begun.also(kind, text)
        _symptoms(begun, finder)
        if asked:
            _Talk(finder, begun, session, pairs=pairs).run()
            return
        _write(session, begun)
        found = _diagnosed(begun, finder, pairs=pairs)
        if json:
            from wiregen.paper.json_text import json_text
            from wiregen.questions.faults.data import diagnosis_data

            show(json_text(diagnosis_data(found)))
        else:
            from wiregen.questions.faults.paper import diagnosis_text

            show(diagnosis_text(found, width()))


def _refuse_both(*, given: bool, guide: bool, coverage: bool) -> None:
    from wiregen.errors import InputError

    if given or (guide and coverage):
        raise InputError("--guide and --coverage stand alone: no other of --saw, --measured, --tried, --session")


def _guide(loaded: Any, trailer: str | None, *, json: bool) -> str:  # noqa: ANN401 - cli sees no rig
    from wiregen.paper.json_text import json_text
    from wiregen.questions.faults import ask
    from wiregen.questions.faults.guide_paper import guide_data, guide_text

    guides = ask.fault_guide(loaded, trailer)
    return json_text([guide_data(one) for one in guides]) if json else guide_text(guides, width())


def _coverage(loaded: Any, trailer: str | None, *, json: bool) -> str:  # noqa: ANN401 - cli sees no rig
    from wiregen.paper.json_text import json_text
    from wiregen.questions.faults import ask
    from wiregen.questions.faults.guide_paper import coverage_data, coverage_text

    found = ask.fault_coverage(loaded, trailer)
    return json_text([coverage_data(one) for one in found]) if json else coverage_text(found, width())


#: What ends the talk at any question.
_STOP = ("q", "quit")


def _ask_trailer(names: Sequence[str]) -> str:
    """Ask which trailer is coupled.

    Raises:
        Exit: Nobody wants to say.
        InputError: The input has ended.
    """
    from wiregen.errors import InputError
    from wiregen.paper.safe_text import clean

    typer.echo("Which trailer is coupled? A number or its name; q = stop.")
    for number, name in enumerate(names, start=1):
        typer.echo(f"  {number}  {clean(name)}")
    line = _line()
    if line is None:
        raise InputError(f"--trailer is needed: this rig has {', '.join(names)}")
    if line.lower() in _STOP and line not in names:
        raise typer.Exit
    return names[int(line) - 1] if line.isdigit() and 1 <= int(line) <= len(names) else line


def _line() -> str | None:
    """Return the next line typed; None where the input has ended."""
    typer.echo("> ", nl=False)
    text = sys.stdin.readline()
    if not text:
        typer.echo()
        return None
    return text.strip()


# --- sessions ---


def _read(path: Path | None) -> Session | None:
    from wiregen.errors import InputError
    from wiregen.questions.faults.session import session_from

    if path is None:
        return None
    try:
        return session_from(path.read_text("utf-8"), str(path)) if path.exists() else None
    except OSError as error:
        raise InputError(f"{path}: cannot be read: {error.strerror}") from error
    except UnicodeDecodeError:
        raise InputError(f"{path}: this is no session of 'wiregen fault'; name another file") from None


def _begun(kept: Session | None, finder: Finder) -> Session:
    """Return the session to go on with: the one kept, taken over to the rig as it is now, or a new one."""
    from dataclasses import replace

    from wiregen.errors import InputError
    from wiregen.questions.faults.session import Session

    name = finder.book.circuit.trailer
    if kept is None:
        return Session(finder.digest, name)
    if kept.trailer.lower() != name.lower():
        raise InputError(f"--trailer {name!r}: the session was begun with {kept.trailer!r}; name another file")
    if kept.digest != finder.digest:
        typer.echo("The rig file has changed since; what was seen is weighed against it as it is now.", err=True)
    return replace(kept, digest=finder.digest, seen=tuple(line for line in kept.seen if _is_readable(line, finder)))


def _is_readable(line: tuple[SeenKind, str], finder: Finder) -> bool:
    """Return whether a line of a session still means something; say so where it does not."""
    from wiregen.errors import InputError
    from wiregen.paper.safe_text import clean
    from wiregen.questions.faults.session import Session

    try:
        _symptoms(Session("", "", (line,)), finder)
    except InputError as error:
        typer.echo(f"left out of the session: {clean(str(error))}", err=True)
        return False
    return True


def _write(path: Path | None, session: Session) -> None:
    """Keep the session; what stands in the file is a session, ``_read`` has made sure."""
    if path is not None:
        from wiregen.paper.files import write_files

        write_files({path: session.as_text()}, force=True)


def _symptoms(session: Session, finder: Finder) -> list[Symptom]:
    """Read every line of a session.

    Raises:
        InputError: One cannot be read.
    """
    from wiregen.questions.faults.symptom import measured_from, saw_from, tried_from

    found: list[Symptom] = []
    for kind, text in session.seen:
        if kind == "saw":
            found += saw_from(text, finder.book)
        elif kind == "measured":
            found.append(measured_from(text, finder.book))
        elif kind == "tried":
            found.append(tried_from(text, finder.book))
    # A later look at the same lamp in the same setting takes the place of the earlier one.
    latest: dict[object, Symptom] = {}
    for one in found:
        key = (
            type(one),
            *(getattr(one, name) for name in ("setting", "watched", "point", "ref") if hasattr(one, name)),
        )
        latest[key] = one
    return list(latest.values())


def _diagnosed(session: Session, finder: Finder, *, pairs: bool) -> Diagnosis:
    return finder.diagnose(_symptoms(session, finder), session.texts("skipped"), pairs=pairs)


# --- talking ---


class _Talk:
    """Asks, one check after the other, until one suspect is left or no check helps."""

    def __init__(self, finder: Finder, session: Session, path: Path | None, *, pairs: bool) -> None:
        self.finder, self.session, self.path, self.pairs = finder, session, path, pairs

    def run(self) -> None:
        from wiregen.questions.faults.paper import diagnosis_text, head_lines

        finder = self.finder
        for text in head_lines(finder.title, finder.book.circuit.trailer, finder.cautions, width()):
            typer.echo(text)
        if not self.session.seen:
            self._complaint()
        while True:
            found = _diagnosed(self.session, self.finder, pairs=self.pairs)
            show(diagnosis_text(found, width(), head=False))
            if found.check is None or not self._answered(found):
                break
        if self.path is not None and self.session.seen:
            typer.echo(f"Kept in {self.path}; the same command takes it up again.")

    def _complaint(self) -> None:
        """Ask what is wrong, line by line, until an empty one."""
        from wiregen.paper.safe_text import clean
        from wiregen.paper.words import wrap

        book = self.finder.book
        typer.echo()
        lamps = [f"    {clean(one.name)}: {clean(one.title)}" for one in book.watched]
        example = f"{book.settings[-1].words}: {book.watched[0].name} dark"
        for text in (
            "What is wrong? Type the control, a colon, and what the lamps show; one line each, an empty line to end, "
            "q to stop.",
            f"  Such as: {example}",
            "  Lamps:",
            *lamps,
            "  They show: dark, dim, lit, bright, flashes, flashes dim, some dark, as it should",
        ):
            for row in wrap(text, width(), "    "):
                typer.echo(row)
        while line := _line():
            if line.lower() in _STOP:
                raise typer.Exit
            self._take("saw", line)

    def _take(self, kind: SeenKind, text: str) -> bool:
        """Keep one line if it can be read; say why not otherwise."""
        from wiregen.errors import InputError
        from wiregen.paper.safe_text import clean
        from wiregen.paper.words import wrap

        longer = self.session.also(kind, text)
        try:
            _symptoms(longer, self.finder)
        except InputError as error:
            typer.echo("\n".join(wrap(clean(str(error)), width(), "  ")))
            return False
        self.session = longer
        _write(self.path, longer)
        return True

    def _answered(self, found: Diagnosis) -> bool:
        """Take the answer to the check; return whether to go on."""
        check = found.check
        if check is None:
            return False
        wanted = "the volts" if check.kind == "meter" else "a number, or what you see"
        typer.echo(f"Type {wanted}; ? = cannot do it, b = one step back, q = stop.")
        while True:
            line = _line()
            if line is None or line.lower() in _STOP:
                return False
            if line.lower() in ("b", "back"):
                self.session = self.session.without_last()
                _write(self.path, self.session)
                return True
            if line == "?":
                self.session = self.session.also("skipped", check.key)
                _write(self.path, self.session)
                return True
            if line and self._noted(found, line):
                return True

    def _noted(self, found: Diagnosis, line: str) -> bool:
        check = found.check
        assert check is not None
        if check.kind == "meter":
            volts = line.lower().removesuffix("volts").removesuffix("v").strip().replace(",", ".")
            return self._take("measured", f"{check.target}, {check.setting} {volts} V")
        if line.isdigit():
            if not 1 <= int(line) <= len(check.outcomes):
                typer.echo(f"1 to {len(check.outcomes)} is wanted.")
                return False
            return self._take("saw" if check.kind == "look" else "tried", check.outcomes[int(line) - 1].symptom)
        if check.kind == "look":
            return self._take("saw", line if ":" in line else f"{check.setting}: {line}")
        return self._take("tried", line if ":" in line else f"{check.kind} {check.target.lstrip('-')}: {line}")
