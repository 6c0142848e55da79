"""Rules on currents: contacts, conductors, fuses, diodes and resistors."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wiregen.catalogue.ampacity import OutsideTable, ampacity_a
from wiregen.catalogue.defaults import default
from wiregen.check.case import Case, Coupling, highest_row
from wiregen.check.rule import NO_SOURCE, OF_THE_PINOUT, RIG_FILE, measured, rule
from wiregen.check.weakest import Weakest, size_words, weakest
from wiregen.model.circuit import Conductor, Contact, Diode, Fuse, Resistor
from wiregen.model.finding import Finding
from wiregen.model.rule import RuleInfo
from wiregen.model.stretch import STRETCHES
from wiregen.quantity import show

_EVERY_CORNER = "in every state at every corner"
_FUSE_SHARE = default("fuse_continuous_factor")


@rule(
    RuleInfo(
        id="contact-current",
        cure="nothing",
        harm="fire",
        title="No connector contact carries more than its rating",
        severity="error",
        what=f"The current of every mated contact, {_EVERY_CORNER}, and the sum of those contacts that share a rating, "
        "such as the two grounds of STANAG 4007.",
        why="An overloaded contact heats, its spring softens, and it heats more.",
        formula="|I| of the contact; |sum of I| where several share a rating",
        limit="The rating in the pinout, where a source gives one; else contact_rating.",
        sources=(OF_THE_PINOUT, RIG_FILE),
        tighten="contact_rating: current per contact where no source gives a rating.",
    )
)
def contact_current(case: Case) -> Iterator[Finding]:
    """No connector contact carries more than its rating at any corner; shared ratings are kept as a sum."""
    for coupling in case.solved:
        for contact in coupling.circuit.of(Contact):
            value, row = coupling.worst(contact.ref)
            if contact.rating_a is not None and value > contact.rating_a:
                yield measured(
                    coupling,
                    contact,
                    row,
                    rule="contact-current",
                    message=f"the contact carries {show(value, 'A')}, {show(contact.rating_a, 'A')} allowed",
                    value=value,
                    limit=contact.rating_a,
                    advice="Share the current over two contacts, or give the load a feed of its own.",
                    source=contact.rating_source,
                )
        yield from _shared_ratings(case, coupling)


def _shared_ratings(case: Case, coupling: Coupling) -> Iterator[Finding]:
    for designation, pinout in (("-X1", case.socket), (coupling.outlet, coupling.plug)):
        for shared in pinout.shared_rating:
            contacts = [
                c for c in coupling.circuit.of(Contact) if c.connector == designation and c.mark in shared.marks
            ]
            if not contacts:
                continue
            total = np.abs(sum(coupling.study.current_a(contact.ref) for contact in contacts))
            row = highest_row(total)
            value = float(total[row])
            if value > shared.rating_a:
                yield measured(
                    coupling,
                    contacts[0],
                    row,
                    rule="contact-current",
                    message=f"contacts {', '.join(shared.marks)} together carry {show(value, 'A')}, "
                    f"{show(shared.rating_a, 'A')} allowed",
                    value=value,
                    limit=shared.rating_a,
                    advice="Run a ground conductor of its own beside the socket.",
                    source=",".join(shared.sources),
                )


@rule(
    RuleInfo(
        id="contact-unrated",
        cure="nothing",
        harm="fire",
        title="The rating of every contact in use is known",
        severity="notice",
        what="Contacts in use for which neither the pinout nor the rig states a rating, with the most that one "
        "carries.",
        why="Where no source gives a rating, nothing is claimed: you must compare the current with the part.",
        formula="|I| of the contact, highest of all states and corners",
        limit="None is known.",
        sources=(NO_SOURCE,),
        tighten="contact_rating: current per contact where no source gives a rating.",
    )
)
def contact_unrated(case: Case) -> Iterator[Finding]:
    """Contacts without a known rating are named with what they carry."""
    done: set[str] = set()
    for coupling in case.solved:
        for designation, short in ((d, s.short) for d, s in coupling.circuit.shells.items()):
            contacts = [c for c in coupling.circuit.of(Contact) if c.connector == designation and c.rating_a is None]
            if not contacts or designation in done:
                continue
            done.add(designation)
            value, row, contact = max((*coupling.worst(c.ref), c.mark) for c in contacts)
            used = {c.mark for c in contacts}
            marks = ", ".join(mark for mark in coupling.circuit.shells[designation].marks if mark in used)
            yield Finding(
                rule="contact-unrated",
                severity="notice",
                where=f"{designation} {short}",
                message=f"no source gives a rating for contacts {marks}; the most is {show(value, 'A')} on {contact}",
                state=coupling.study.points[row].words,
                trailer=coupling.circuit.trailer,
                value=value,
                unit="A",
                advice="Read the rating on the part or its data sheet and state it as contact_rating under [rules].",
                source=NO_SOURCE,
            )


@rule(
    RuleInfo(
        id="conductor-current",
        cure="sizes",
        harm="fire",
        title="No conductor carries more than its ampacity",
        severity="error; warning where no table has the conductor",
        what=f"The current of every conductor, {_EVERY_CORNER}.",
        why="A conductor beyond its ampacity grows hotter than its insulation stands.",
        formula="ampacity = table value × sqrt((T insulation - T ambient) / (T insulation - 30 °C)) × bundle factor; "
        "for metric sizes the lower of two tables",
        limit="33 CFR 183.425 table 5 by AWG, SAE and metric area, DIN VDE 0298-4 table 11 for metric sizes, bundles "
        "as in boats: 1 and 2 conductors 1.00, 3 0.70, 4 to 6 0.60, 7 to 24 0.50.",
        sources=("S12", "S14", "S11", "S2"),
        tighten="insulation, ambient and bundle of each [[run]].",
    )
)
def conductor_current(case: Case) -> Iterator[Finding]:
    """No conductor carries more than its ampacity at its insulation, ambient and bundle, at any corner."""
    for coupling in case.solved:
        for conductor in coupling.circuit.of(Conductor):
            value, row = coupling.worst(conductor.ref)
            try:
                allowed = ampacity_a(conductor.size, conductor.insulation_c, conductor.ambient_c, conductor.bundle)
            except OutsideTable as reason:
                yield _no_ampacity(coupling, conductor, value, str(reason))
                continue
            if value > allowed.amps:
                words = f"{size_words(case, conductor)}, {conductor.circuit.replace('_', ' ')}"
                yield measured(
                    coupling,
                    conductor,
                    row,
                    rule="conductor-current",
                    message=f"{words}, carries {show(value, 'A')}, {show(allowed.amps, 'A')} allowed",
                    value=value,
                    limit=allowed.amps,
                    advice="Use a larger size, a higher temperature class, or fewer conductors in the bundle.",
                    source=allowed.source,
                )


def _no_ampacity(coupling: Coupling, conductor: Conductor, value: float, reason: str) -> Finding:
    return Finding(
        rule="conductor-current",
        severity="warning",
        where=f"{conductor.ref} {conductor.size.label}",
        message=f"no ampacity: {reason}",
        trailer=coupling.circuit.trailer,
        value=value,
        unit="A",
        advice="Use a size and an insulation class that the table has.",
        source="S12,S14",
        origin=conductor.origin,
    )


@rule(
    RuleInfo(
        id="fuse-load",
        cure="fuses",
        harm="dark lamp",
        title="No fuse carries more than its rating, nor for long more than a share of it",
        severity=f"error above the rating; warning above {_FUSE_SHARE.value:.0%} of it",
        what="The current of every fuse: against its rating at every corner; against the continuous share, a design "
        "value for ordinary conditions, at the running voltage.",
        why="A fuse above its rating opens on the road, and all lamps behind it go dark at once. Near its rating a "
        "blade fuse runs hot and ages.",
        formula="|I| of the fuse",
        limit=f"Its rating; {_FUSE_SHARE.value:.0%} of it for long.",
        sources=("S46", _FUSE_SHARE.source),
        tighten="fuse_share: the share of its rating that a fuse may carry for long.",
    )
)
def fuse_load(case: Case) -> Iterator[Finding]:
    """No fuse carries more than its rating at any corner; more than the continuous share at nominal is a warning."""
    for coupling in case.solved:
        for fuse in coupling.circuit.of(Fuse):
            value, row = coupling.worst(fuse.ref)
            if value > fuse.rating_a:
                yield measured(
                    coupling,
                    fuse,
                    row,
                    rule="fuse-load",
                    message=f"the {fuse.kind_word} carries {show(value, 'A')}, {show(fuse.rating_a, 'A')} allowed",
                    value=value,
                    limit=fuse.rating_a,
                    advice="It will open: use a larger one if the conductors allow it, or split the load.",
                    source="S46",
                )
                continue
            value, row = coupling.worst(fuse.ref, nominal=True)
            limit = fuse.rating_a * case.limits.fuse_factor
            if value > limit:
                yield measured(
                    coupling,
                    fuse,
                    row,
                    rule="fuse-load",
                    severity="warning",
                    message=f"the {fuse.kind_word} carries {show(value, 'A')}, {show(limit, 'A')} allowed",
                    value=value,
                    limit=limit,
                    advice="It runs hot beyond this share of its rating: "
                    "use the next larger one if the conductors allow it.",
                    source=case.limits.fuse_factor_source,
                )


@rule(
    RuleInfo(
        id="fuse-conductor",
        cure="sizes",
        harm="fire",
        title="No fuse is larger than the thinnest conductor behind it carries",
        severity="error; warning where the size of the conductor is assumed, because no run states it",
        what="Each fuse against every conductor behind it, up to the next fuse, load or supply.",
        why="A short at the far end of a thin conductor burns it before the fuse opens.",
        formula="fuse rating ≤ ampacity of the thinnest conductor",
        limit="The ampacity of that conductor, as in conductor-current.",
        sources=("S2", "S12", "S14"),
        tighten="size, insulation, ambient and bundle of each [[run]].",
    )
)
def fuse_conductor(case: Case) -> Iterator[Finding]:
    """No fuse is larger than the thinnest conductor behind it carries; an assumed size is a warning."""
    done: set[tuple[str, str]] = set()
    for coupling in case.solved:
        for fuse in coupling.circuit.of(Fuse):
            behind = coupling.circuit.behind(fuse)
            # A conductor that somebody measured says more than one whose size is assumed.
            for some in ([c for c in behind if c.ref not in case.unstated_sizes], behind):
                thinnest = weakest(some)
                if thinnest is None or fuse.rating_a <= thinnest.amps:
                    continue
                if (fuse.ref, thinnest.conductor.ref) not in done:
                    done.add((fuse.ref, thinnest.conductor.ref))
                    yield _too_large(case, coupling, fuse, thinnest)
                break


def _too_large(case: Case, coupling: Coupling, fuse: Fuse, thinnest: Weakest) -> Finding:
    conductor, limit = thinnest.conductor, thinnest.amps
    is_assumed = conductor.ref in case.unstated_sizes
    stretch = STRETCHES[conductor.stretch].words
    return Finding(
        rule="fuse-conductor",
        severity="warning" if is_assumed else "error",
        where=f"{fuse.ref} {fuse.title}",
        message=f"the {fuse.kind_word} lets {show(fuse.rating_a, 'A')} through {conductor.ref} {stretch} "
        f"({size_words(case, conductor)}), which carries {show(limit, 'A')}",
        trailer=coupling.circuit.trailer,
        value=fuse.rating_a,
        limit=limit,
        unit="A",
        margin=(limit - fuse.rating_a) / limit if limit > 0 else -1.0,
        advice="Look at the conductor and state its size in a [[run]]; if it is as thin as that, use a smaller "
        f"{fuse.kind_word}."
        if is_assumed
        else f"Use a smaller {fuse.kind_word}, a larger conductor, or a second fuse where the conductor gets thinner.",
        source=",".join(dict.fromkeys(["S2", *thinnest.source.split(",")])),
        origin=fuse.origin,
    )


@rule(
    RuleInfo(
        id="part-rating",
        cure="nothing",
        harm="part",
        title="No diode and no dropping resistor is overloaded",
        severity="error; notice where no rating is given",
        what=f"The forward current of every diode and the power of every dropping resistor, {_EVERY_CORNER}.",
        why="A diode that fails mostly fails shorted and no longer blocks; a resistor that drops 24 V to 12 V turns as "
        "much power into heat as its lamp.",
        formula="diode: I; resistor: P = I² R",
        limit="The rating stated in the rig.",
        sources=(RIG_FILE, NO_SOURCE),
        tighten="rating of a diode channel, power of a resistor channel.",
    )
)
def part_rating(case: Case) -> Iterator[Finding]:
    """No diode carries more than its rating, and no dropping resistor turns more power into heat than it may."""
    unrated: dict[str, Diode | Resistor] = {}
    for coupling in case.solved:
        parts: list[Diode | Resistor] = [*coupling.circuit.of(Diode), *coupling.circuit.of(Resistor)]
        for part in parts:
            amps, row = coupling.worst(part.ref)
            if isinstance(part, Diode):
                what, value, limit, unit = "carries", amps, part.rating_a, "A"
            else:
                what, value, limit, unit = "turns into heat", amps**2 * part.resistance_ohm, part.power_w, "W"
            if limit is None:
                unrated[part.ref] = part
            elif value > limit:
                yield measured(
                    coupling,
                    part,
                    row,
                    rule="part-rating",
                    message=f"{what} {show(value, unit)}, {show(limit, unit)} allowed",
                    value=value,
                    limit=limit,
                    unit=unit,
                    advice="Use a larger part and let air reach it; a relay or a converter wastes nothing.",
                    source=RIG_FILE,
                )
    for part in unrated.values():
        yield Finding(
            rule="part-rating",
            severity="notice",
            where=f"{part.ref} {part.title}".strip(),
            message="no rating is given, so it is not checked",
            advice="Read the rating on the part or its data sheet and state it.",
            source=NO_SOURCE,
            origin=part.origin,
        )
