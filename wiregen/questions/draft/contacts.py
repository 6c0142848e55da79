"""What the contacts of a first draft take, where the pinout gives no size for them.

A draft never puts a larger conductor on a contact than it usually has. Where no source gives that contact by contact,
the size that the pinout calls usual counts, else the default for a contact nobody tells anything about; the draft says
which, so that a person tries a wire in the terminal.
"""

from __future__ import annotations

from wiregen.catalogue.connector import SUPPORT_WORDS, Connector, PinoutContact
from wiregen.catalogue.defaults import default
from wiregen.questions.draft.answers import Units
from wiregen.questions.draft.loads import SIZES, area_mm2

_DEFAULT = "usual_contact_area_mm2"


def with_sizes(connector: Connector, units: Units) -> Connector:
    """Return the connector with a size on every contact: its own, the usual one, or the default.

    Args:
        connector: The connector.
        units: Series the default is taken from: its largest size that is not above it.
    """
    contacts = tuple(
        contact if contact.size else contact.model_copy(update={"size": _usual(connector, contact, units)})
        for contact in connector.contact
    )
    return connector.model_copy(update={"contact": contacts})


def _usual(connector: Connector, contact: PinoutContact, units: Units) -> str:
    usual = connector.usual_size
    if usual is None:
        return _assumed(units)
    return usual.ground if usual.ground and contact.circuit.startswith("ground") else usual.size


def _assumed(units: Units) -> str:
    most_mm2 = default(_DEFAULT).value
    return [label for label in SIZES[units] if area_mm2(label) <= most_mm2][-1]


def size_words(connector: Connector, units: Units) -> str:
    """Return on what the sizes of a connector's contacts rest; empty where the pinout has them contact by contact."""
    if any(contact.size for contact in connector.contact):
        return ""
    usual = connector.usual_size
    if usual is None:
        return f"{connector.short}: no source gives a size. {_assumed(units)} is assumed: {default(_DEFAULT).why}."
    ground = f", ground {usual.ground}" if usual.ground else ""
    support = "sources disagree" if usual.support == "disagree" else SUPPORT_WORDS[usual.support]
    note = f" {usual.note}" if usual.note else ""
    return f"{connector.short}: {usual.size}{ground}, {support}.{note}"
