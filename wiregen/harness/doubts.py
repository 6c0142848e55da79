"""What nobody has verified: contacts from memory or from sources that disagree, and faces nobody has looked at."""

from __future__ import annotations

from wiregen.catalogue.connector import SUPPORT_WORDS, is_doubtful
from wiregen.harness.record import Harness
from wiregen.model.harness import Doubt


def doubts(harness: Harness) -> tuple[Doubt, ...]:
    """Return every contact that is not verified, connector by connector."""
    return tuple(
        Doubt(
            contact=cavity.point,
            connector=half.pinout.short,
            function=cavity.entry.function,
            support=SUPPORT_WORDS[cavity.entry.support],
            sources=cavity.entry.sources,
            note=cavity.entry.note,
            used=bool(cavity.wires),
        )
        for half in harness.halves
        for cavity in half.cavities
        if is_doubtful(cavity.entry)
    )


def faces(harness: Harness) -> tuple[tuple[str, str, bool], ...]:
    """Return (designation, short name, whether its layout is verified) of every connector."""
    return tuple((half.id, half.pinout.short, half.pinout.face.verified) for half in harness.halves)


def pinout_sources(harness: Harness) -> tuple[str, ...]:
    """Return the source keys of every contact, each once, in the order met."""
    keys = (key for half in harness.halves for cavity in half.cavities for key in cavity.entry.sources)
    return tuple(dict.fromkeys(keys))
