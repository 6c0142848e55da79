"""What nobody has verified: contacts and colours without a document, or disputed, and faces."""

from __future__ import annotations

from collections.abc import Iterator

from wiregen.catalogue.connector import FIELD_WORDS, SUPPORT_WORDS, Connector, PinoutContact, Proof
from wiregen.harness.record import Harness
from wiregen.model.harness import Doubt


def doubts(harness: Harness) -> tuple[Doubt, ...]:
    """Return every contact that is not verified, connector by connector."""
    return tuple(
        Doubt(
            contact=cavity.point,
            connector=half.pinout.short,
            function=words,
            support=SUPPORT_WORDS[proof.support],
            sources=proof.sources,
            note=proof.note,
            used=bool(cavity.wires),
        )
        for half in harness.halves
        for cavity in half.cavities
        for words, proof in _said(half.pinout, cavity.entry)
        if proof.is_doubtful
    )


def _said(pinout: Connector, entry: PinoutContact) -> Iterator[tuple[str, Proof]]:
    """Yield the function of a contact, and each field that is known better or worse than it, with their proofs."""
    yield entry.function, entry
    for field, words in pinout.fields(entry).items():
        if pinout.own_sign(entry, field):
            yield f"{FIELD_WORDS[field]} {words}", pinout.proof_of(entry, field)


def faces(harness: Harness) -> tuple[tuple[str, str, bool], ...]:
    """Return (designation, short name, whether its layout is verified) of every connector."""
    return tuple((half.id, half.pinout.short, half.pinout.face.verified) for half in harness.halves)


def pinout_sources(harness: Harness) -> tuple[str, ...]:
    """Return the source keys of every contact, each once, in the order met."""
    keys = (key for half in harness.halves for cavity in half.cavities for key in cavity.entry.sources)
    return tuple(dict.fromkeys(keys))
