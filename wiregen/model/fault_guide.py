"""What is printed or shown of the search for faults: the guide by symptom, and how well faults can be found at all."""

from __future__ import annotations

from dataclasses import dataclass

from wiregen.model.shown import Shown


@dataclass(frozen=True, slots=True, kw_only=True)
class GuideStep:
    """One check of a guide.

    Attributes:
        words: What to do.
        access: Where: lamps, lamp, connector, vehicle, adapter.
        setting: The controls in words; empty where they do not matter.
        target: Name of the meter point, or designation of the bulb or fuse; empty for a look.
        well: What it shows on a rig in order.
        expect: What it most likely shows with this symptom; the guide goes on from there. Empty where it ends here.
        branches: (what it shows, suspects then, in words) for everything else it may show.
    """

    words: str
    access: str
    setting: str
    target: str
    well: str
    expect: str
    branches: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GuideEntry:
    """One symptom with its checks.

    Attributes:
        symptom: In words, as it is typed for ``wiregen fault``.
        controls: The setting in which it shows, in words.
        pictures: (setting, what is seen) of this symptom and of those with the same suspects, as a look words them.
        shown: (name, what it shows) of each lamp or load that is not as it should be.
        suspects: (words, share) of the likely ones.
        steps: The checks in order; each follows what the one before most likely shows.
        left: Suspects at the end of that way, in words.
        danger: What else may be wrong then that can hurt; empty for nothing.
    """

    symptom: str
    controls: str
    pictures: tuple[tuple[str, str], ...]
    shown: tuple[tuple[str, str], ...]
    suspects: tuple[tuple[str, float], ...]
    steps: tuple[GuideStep, ...]
    left: tuple[str, ...]
    danger: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultGuide(Shown):
    """The guide of one rig with one trailer.

    Attributes:
        title: Title of the rig.
        trailer: The trailer.
        digest: Digest of the rig file.
        entries: One a symptom, the likely ones first.
        cautions: What can hurt.
    """

    title: str
    trailer: str
    digest: str
    entries: tuple[GuideEntry, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """How one fault is found.

    Attributes:
        key: Key of the case.
        words: In words.
        kind: Key of its kind.
        checks: Checks after the complaint, without a mistake.
        effort: What they cost, in looks at the lamps.
        left: How many suspects are left that no check tells apart.
        danger: What it does that can hurt; empty for nothing.
    """

    key: str
    words: str
    kind: str
    checks: int
    effort: float
    left: int
    danger: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestPoint:
    """A place that a meter does not reach, or only in the adapter, and what bringing it out would give.

    Attributes:
        terminal: The terminal.
        words: In words.
        where: ``hidden`` or ``adapter``.
        splits: By how much the chance falls that two faults which look alike cannot be told apart, 0 to 1.
    """

    terminal: str
    words: str
    where: str
    splits: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage(Shown):
    """How well the faults of a rig with one trailer can be found.

    Attributes:
        title: Title of the rig.
        trailer: The trailer.
        digest: Digest of the rig file.
        silent: Faults that no lamp and no brake shows; those that can hurt first.
        unseen: Faults that no lamp shows but that the driver feels, such as dead brakes.
        found: How each other fault is found.
        mean_checks: Checks on average, by weight.
        worst: The fault that takes most checks.
        mean_effort: Effort on average, by weight.
        points: Test points that would help most, the best first.
    """

    title: str
    trailer: str
    digest: str
    silent: tuple[Found, ...]
    unseen: tuple[Found, ...]
    found: tuple[Found, ...]
    mean_checks: float
    worst: Found | None
    mean_effort: float
    points: tuple[TestPoint, ...]
