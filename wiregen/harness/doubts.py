"""What nobody has verified: contacts from memory or from sources that disagree, and faces nobody has looked at."""

from __future__ import annotations

from wiregen.catalogue.connector import SUPPORT_WORDS, Connector
from wiregen.circuit.build import Built
from wiregen.harness.cut_list import is_doubtful
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
            function=entry.function,
            support=SUPPORT_WORDS[entry.support],
            sources=entry.sources,
            note=entry.note,
            used=f"-{name}:{entry.mark}" in used,
        )
        for name, pinout in pinouts(loaded)
        for entry in pinout.contact
        if is_doubtful(entry)
    )


def faces(loaded: LoadedRig) -> tuple[tuple[str, str, bool], ...]:
    """Return (designation, short name, whether its layout is verified) of every connector."""
    return tuple((name, pinout.short, pinout.face.verified) for name, pinout in pinouts(loaded))


def pinout_sources(loaded: LoadedRig) -> tuple[str, ...]:
    """Return the source keys of every contact, each once, in the order met."""
    return tuple(
        dict.fromkeys(key for _, pinout in pinouts(loaded) for entry in pinout.contact for key in entry.sources)
    )
