"""Ends of a range, rounded away from it: no reading inside a range is called wrong for the last digit of its print."""

from __future__ import annotations

from wiregen.quantity import whole_down, whole_up


def fixed(value: float, digits: int) -> str:
    """Return a number with so many digits behind the point, and nothing without a sign."""
    text = f"{value:.{digits}f}"
    return text.removeprefix("-") if not text.strip("-0.") else text


def steps(value: float, scale: float, *, up: bool) -> int:
    """Return an end in whole steps of one in ``scale``, the next one outside the range.

    Args:
        value: The end, in any unit.
        scale: Steps to one of that unit.
        up: Whether it is the upper end.
    """
    return whole_up(value * scale) if up else whole_down(value * scale)


def end(value: float, digits: int, *, up: bool) -> str:
    """Return an end of a range with so many digits behind the point."""
    scale = 10**digits
    return fixed(steps(value, scale, up=up) / scale, digits)
