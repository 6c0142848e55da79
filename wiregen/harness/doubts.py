"""What nobody has verified: contacts and colours without a document, or disputed, and faces."""

from __future__ import annotations

from collections.abc import Iterator

from wiregen.catalogue.connector import FIELD_WORDS, SUPPORT_WORDS, Connector, Contact, Proof
from wiregen.circuit.build import Built
from wiregen.model.circuit import Contact as MatedContact
from wiregen.model.harness import Doubt
from wiregen.rig.loaded import LoadedRig


def pinouts(loaded: LoadedRig) -> tuple[tuple[str, Connector], ...]:
    """Return (designation, pinout) of every connector, the vehicle's first."""
    return (("X1", loaded.socket), *((f"X{index + 2}", plug) for index, plug in enumerate(loaded.plugs)))


def doubts(loaded: LoadedRig, built: Built) -> tuple[Doubt, ...]:
    """Return every contact that is not verified, connector by connector."""
    used = {contact.ref for circuit in built.circuits for contact in circuit.of(MatedContact)}
    return tuple(
        Doubt(
            contact=f"{name}:{entry.mark}",
            connector=pinout.short,
            function=words,
            support=SUPPORT_WORDS[proof.support],
            sources=proof.sources,
            note=proof.note,
            used=f"-{name}:{entry.mark}" in used,
        )
        for name, pinout in pinouts(loaded)
        for entry in pinout.contact
        for words, proof in _said(pinout, entry)
        if proof.is_doubtful
    )


def _said(pinout: Connector, entry: Contact) -> Iterator[tuple[str, Proof]]:
    """Yield the function of a contact, and each field that is known better or worse than it, with their proofs."""
    yield entry.function, entry
    for field, words in pinout.fields(entry).items():
        if pinout.own_sign(entry, field):
            yield f"{FIELD_WORDS[field]} {words}", pinout.proof_of(entry, field)


def faces(loaded: LoadedRig) -> tuple[tuple[str, str, bool], ...]:
    """Return (designation, short name, whether its layout is verified) of every connector."""
    return tuple((name, pinout.short, pinout.face.verified) for name, pinout in pinouts(loaded))


def pinout_sources(loaded: LoadedRig) -> tuple[str, ...]:
    """Return the source keys of every contact, each once, in the order met."""
    return tuple(
        dict.fromkeys(key for _, pinout in pinouts(loaded) for entry in pinout.contact for key in entry.sources)
    )
