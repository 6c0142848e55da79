"""Read what a user typed from a label."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from wiregen.quantity import Dimension
    from wiregen.questions.box.record import Label

#: Words for what a label leaves out; the same as leaving the option out.
_NOTHING: Final = ("not stated", "unknown", "none", "")
_MOST_OUTPUTS: Final = 100
_MOST_A: Final = 1000.0


def label_of(
    *,
    channels: int | None,
    each: str | None,
    total: str | None,
    voltage: str | None,
    load: str | None,
    duty: str | None,
    make: str | None,
    peak: str | None,
    up_to: str | None,
) -> Label:
    """Return a label from the texts of the options.

    Raises:
        InputError: With every option that cannot be read.
    """
    from wiregen.errors import InputError, Problem
    from wiregen.questions.box.record import Label

    problems: list[str] = []
    if channels is not None and not 1 <= channels <= _MOST_OUTPUTS:
        problems.append(f"--channels {channels}: 1 to {_MOST_OUTPUTS} outputs are wanted")
    volts = _word("--voltage", _bare_volts(voltage), ("12 V", "24 V"), problems)
    label = Label(
        channels=channels,
        each_a=_amps("--each", each, problems),
        total_a=_amps("--total", total, problems),
        voltage_v=None if volts is None else float(volts.removesuffix(" V")),
        load=_word("--load", load, ("resistive", "lamp"), problems),  # type: ignore[arg-type]
        duty=_word("--duty", duty, ("continuous", "peak"), problems),  # type: ignore[arg-type]
        make_a=_amps("--make", make, problems),
        peak_a=_amps("--peak", peak, problems),
        up_to_c=_quantity("--up-to", up_to, "temperature", problems),
    )
    if problems:
        raise InputError([Problem(words) for words in problems])
    return label


def _bare_volts(text: str | None) -> str | None:
    """Return a system voltage as labels and people write it: ``24``, ``24V`` and ``24 V`` are the same."""
    if text is None:
        return None
    number = text.strip().upper().removesuffix("DC").strip().removesuffix("V").strip()
    return f"{number} V" if number in ("12", "24") else text


def _word(option: str, text: str | None, allowed: tuple[str, ...], problems: list[str]) -> str | None:
    from wiregen.errors import guess

    if text is None or text.strip().lower() in _NOTHING:
        return None
    found = next((word for word in allowed if word.lower() == text.strip().lower()), None)
    if found is None:
        problems.append(
            f"{option} {text!r} is not known{guess(text.lower(), allowed)} Allowed: {', '.join(allowed)}, 'not stated'"
        )
    return found


def _amps(option: str, text: str | None, problems: list[str]) -> float | None:
    value = _quantity(option, text, "current", problems)
    if value is not None and not 0 < value <= _MOST_A:
        problems.append(f"{option} {text!r}: more than 0 A and no more than {_MOST_A:g} A is wanted")
        return None
    return value


def _quantity(option: str, text: str | None, dimension: Dimension, problems: list[str]) -> float | None:
    from wiregen.errors import QuantityError
    from wiregen.quantity import parse

    if text is None or text.strip().lower() in _NOTHING:
        return None
    try:
        return parse(text, dimension)
    except QuantityError as reason:
        problems.append(f"{option}: {reason}")
        return None
