"""Rules on currents: contacts, conductors, fuses, relay contacts, the supply."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wiregen.catalogue.ampacity import OutsideTable, ampacity_a
from wiregen.check.case import Case, Design, highest_row
from wiregen.model.circuit import Conductor, Contact, Converter, Element, Fuse, RelayContact
from wiregen.model.finding import Finding, Severity
from wiregen.quantity import show


def worst(case: Case, ref: str) -> tuple[float, str]:
    """Return the highest current of an element over all states, A, and the state in words."""
    current = np.abs(case.study.current_a(ref))
    row = highest_row(current)
    return float(current[row]), case.study.points[row].words


def _over(
    case: Case,
    element: Element,
    *,
    rule: str,
    what: str,
    value: float,
    limit: float,
    state: str,
    advice: str,
    source: str,
    severity: Severity = "error",
) -> Finding:
    return Finding(
        rule=rule,
        severity=severity,
        where=f"{element.ref} {element.title}".strip(),
        message=f"{what} {show(value, 'A')}, {show(limit, 'A')} allowed",
        state=state,
        trailer=case.circuit.trailer,
        value=value,
        limit=limit,
        unit="A",
        margin=(limit - value) / limit if limit > 0 else -1.0,
        advice=advice,
        source=source,
        origin=element.origin,
    )


def contact_current(design: Design) -> Iterator[Finding]:
    """No connector contact carries more than its rating; shared ratings are kept as a sum."""
    for case in design.solved:
        for contact in case.circuit.of(Contact):
            value, state = worst(case, contact.ref)
            if contact.rating_a is not None and value > contact.rating_a:
                yield _over(
                    case,
                    contact,
                    rule="contact-current",
                    what="the contact carries",
                    value=value,
                    limit=contact.rating_a,
                    state=state,
                    advice="Share the current over two contacts, or give the load a feed of its own.",
                    source=contact.rating_source,
                )
        yield from _shared_ratings(design, case)


def _shared_ratings(design: Design, case: Case) -> Iterator[Finding]:
    for designation, pinout in (("-X1", design.socket), (case.outlet, case.plug)):
        for shared in pinout.shared_rating:
            contacts = [c for c in case.circuit.of(Contact) if c.connector == designation and c.mark in shared.marks]
            if not contacts:
                continue
            total = np.abs(sum(case.study.current_a(contact.ref) for contact in contacts))
            row = highest_row(total)
            if total[row] > shared.rating_a:
                yield _over(
                    case,
                    contacts[0],
                    rule="contact-current",
                    what=f"contacts {', '.join(shared.marks)} together carry",
                    value=float(total[row]),
                    limit=shared.rating_a,
                    state=case.study.points[row].words,
                    advice="Run a ground conductor of its own beside the socket.",
                    source=",".join(shared.sources),
                )


def contact_unrated(design: Design) -> Iterator[Finding]:
    """Contacts without a known rating are named with what they carry."""
    done: set[str] = set()
    for case in design.solved:
        for designation, short in ((d, s.short) for d, s in case.circuit.shells.items()):
            contacts = [c for c in case.circuit.of(Contact) if c.connector == designation and c.rating_a is None]
            if not contacts or designation in done:
                continue
            done.add(designation)
            value, state, contact = max((*worst(case, c.ref), c.mark) for c in contacts)
            used = {c.mark for c in contacts}
            marks = ", ".join(mark for mark in case.circuit.shells[designation].marks if mark in used)
            yield Finding(
                rule="contact-unrated",
                severity="notice",
                where=f"{designation} {short}",
                message=f"no source gives a rating for contacts {marks}; the most is {show(value, 'A')} on {contact}",
                state=state,
                trailer=case.circuit.trailer,
                value=value,
                unit="A",
                advice="Read the rating on the part or its data sheet and state it as contact_rating under [rules].",
                source="no source found",
            )


def conductor_current(design: Design) -> Iterator[Finding]:
    """No conductor carries more than its ampacity at its insulation, ambient and bundle."""
    for case in design.solved:
        for conductor in case.circuit.of(Conductor):
            value, state = worst(case, conductor.ref)
            try:
                allowed = ampacity_a(conductor.size, conductor.insulation_c, conductor.ambient_c, conductor.bundle)
            except OutsideTable as reason:
                yield Finding(
                    rule="conductor-current",
                    severity="warning",
                    where=f"{conductor.ref} {conductor.size.label}",
                    message=f"no ampacity: {reason}",
                    trailer=case.circuit.trailer,
                    value=value,
                    unit="A",
                    advice="Use a size and an insulation class that the table has.",
                    source="S12,S14",
                    origin=conductor.origin,
                )
                continue
            if value > allowed.amps:
                yield _over(
                    case,
                    conductor,
                    rule="conductor-current",
                    what=f"{conductor.size.label}, {conductor.circuit.replace('_', ' ')}, carries",
                    value=value,
                    limit=allowed.amps,
                    state=state,
                    advice="Use a larger size, a higher temperature class, or fewer conductors in the bundle.",
                    source=allowed.source,
                )


def fuse_load(design: Design) -> Iterator[Finding]:
    """No fuse carries more than its rating; a load beyond the continuous share is a warning."""
    for case in design.solved:
        for fuse in case.circuit.of(Fuse):
            value, state = worst(case, fuse.ref)
            limit = fuse.rating_a * design.limits.fuse_factor
            if value > fuse.rating_a:
                yield _over(
                    case,
                    fuse,
                    rule="fuse-load",
                    what="the fuse carries",
                    value=value,
                    limit=fuse.rating_a,
                    state=state,
                    advice="It will open: use a larger fuse if the conductors allow it, or split the load.",
                    source="S46",
                )
            elif value > limit:
                yield _over(
                    case,
                    fuse,
                    rule="fuse-load",
                    what="the fuse carries",
                    value=value,
                    limit=limit,
                    state=state,
                    severity="warning",
                    advice="A blade fuse runs hot beyond this share of its rating: "
                    "use the next larger one if the conductors allow it.",
                    source=design.limits.fuse_factor_source,
                )


def fuse_conductor(design: Design) -> Iterator[Finding]:
    """No fuse is larger than the thinnest conductor behind it carries."""
    done: set[tuple[str, str]] = set()
    for case in design.solved:
        for fuse in case.circuit.of(Fuse):
            weakest: tuple[float, Conductor, str] | None = None
            for conductor in case.circuit.behind(fuse):
                try:
                    allowed = ampacity_a(conductor.size, conductor.insulation_c, conductor.ambient_c, conductor.bundle)
                except OutsideTable:
                    continue  # conductor_current names it
                if weakest is None or allowed.amps < weakest[0]:
                    weakest = (allowed.amps, conductor, allowed.source)
            if weakest is None or fuse.rating_a <= weakest[0] or (fuse.ref, weakest[1].ref) in done:
                continue
            done.add((fuse.ref, weakest[1].ref))
            limit, conductor, source = weakest
            yield Finding(
                rule="fuse-conductor",
                severity="error",
                where=f"{fuse.ref} {fuse.title}",
                message=f"the fuse lets {show(fuse.rating_a, 'A')} through {conductor.ref} ({conductor.size.label}), "
                f"which carries {show(limit, 'A')}",
                trailer=case.circuit.trailer,
                value=fuse.rating_a,
                limit=limit,
                unit="A",
                margin=(limit - fuse.rating_a) / limit if limit > 0 else -1.0,
                advice="Use a smaller fuse, a larger conductor, or a second fuse where the conductor gets thinner.",
                source=f"S2,{source}",
                origin=fuse.origin,
            )


def relay_contact(design: Design) -> Iterator[Finding]:
    """No relay contact carries more than its rating; a channel without a rating is named."""
    unrated: dict[str, None] = {}
    for case in design.solved:
        for contact in case.circuit.of(RelayContact):
            value, state = worst(case, contact.ref)
            if contact.rating_a is None:
                unrated[contact.channel] = None
            elif value > contact.rating_a:
                yield _over(
                    case,
                    contact,
                    rule="relay-contact",
                    what="the contact carries",
                    value=value,
                    limit=contact.rating_a,
                    state=state,
                    advice="Use a relay with a higher rating, or split the lamps over two channels.",
                    source="rig file",
                )
    if unrated:
        yield Finding(
            rule="relay-contact",
            severity="warning",
            where=", ".join(unrated),
            message="no contact rating is given, so the relay contacts are not checked",
            advice="Read the rating on the relay or the box and state it as rating.",
            source="no source found",
        )


def supply_continuous(design: Design) -> Iterator[Finding]:
    """The sum of all channels stays within the converter's continuous output; so does each converter channel."""
    unrated: dict[str, Converter] = {}
    for case in design.solved:
        for converter in case.circuit.of(Converter):
            value, state = worst(case, converter.ref)
            if converter.continuous_a is None:
                unrated[converter.ref] = converter
            elif value > converter.continuous_a:
                what = "all channels together take" if not converter.channel else f"channel {converter.channel} gives"
                yield _over(
                    case,
                    converter,
                    rule="supply-continuous",
                    what=what,
                    value=value,
                    limit=converter.continuous_a,
                    state=state,
                    advice="Use a larger converter, or lamps that take less.",
                    source="rig file",
                )
    for converter in unrated.values():
        yield Finding(
            rule="supply-continuous",
            severity="warning",
            where=f"{converter.ref} {converter.title}",
            message="no continuous output current is given, so the sum of the channels is not checked",
            advice="Read the continuous (not the peak) output on the label and state it.",
            source="no source found",
            origin=converter.origin,
        )
