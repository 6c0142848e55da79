"""A search for a fault as a file: what was seen so far, so that it can be taken up again."""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from typing import Any, Final, Literal

from wiregen.errors import InputError

SeenKind = Literal["saw", "measured", "tried", "skipped"]
_KINDS: Final = ("saw", "measured", "tried", "skipped")
_MARK: Final = "wiregen_fault_session"
_MOST_BYTES: Final = 1_000_000


@dataclass(frozen=True, slots=True)
class Session:
    """What was seen in one search.

    Attributes:
        digest: Digest of the rig file it was begun with.
        trailer: Name of the trailer.
        seen: (kind, text) in order; a skipped check stands with its key.
    """

    digest: str
    trailer: str
    seen: tuple[tuple[SeenKind, str], ...] = field(default=())

    def also(self, kind: SeenKind, text: str) -> Session:
        """Return the session with one more line."""
        return replace(self, seen=(*self.seen, (kind, text)))

    def without_last(self) -> Session:
        """Return the session without its last line."""
        return replace(self, seen=self.seen[:-1])

    def texts(self, kind: SeenKind) -> tuple[str, ...]:
        """Return the lines of one kind."""
        return tuple(text for one, text in self.seen if one == kind)

    def as_text(self) -> str:
        """Return the session as the text of its file."""
        data = {
            _MARK: 1,
            "digest": self.digest,
            "trailer": self.trailer,
            "seen": [{"kind": kind, "text": text} for kind, text in self.seen],
        }
        return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


def session_from(text: str, name: str) -> Session:
    """Read a session.

    Args:
        text: Text of the file.
        name: Its name, for messages.

    Raises:
        InputError: It is no session.
    """
    refused = InputError(f"{name}: this is no session of 'wiregen fault'; name another file")
    if len(text) > _MOST_BYTES:
        raise refused
    try:
        data: Any = json.loads(text)
    except (json.JSONDecodeError, RecursionError):
        raise refused from None
    if not isinstance(data, dict) or data.get(_MARK) != 1:
        raise refused
    digest, trailer, seen = data.get("digest"), data.get("trailer"), data.get("seen")
    if not isinstance(digest, str) or not isinstance(trailer, str) or not isinstance(seen, list):
        raise refused
    found: list[tuple[SeenKind, str]] = []
    for one in seen:
        if not isinstance(one, dict) or one.get("kind") not in _KINDS or not isinstance(one.get("text"), str):
            raise refused
        found.append((one["kind"], one["text"]))
    return Session(digest, trailer, tuple(found))
