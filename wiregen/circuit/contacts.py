"""Turn the logic of a channel into a contact network: ``and`` is series, ``or`` parallel, ``not`` a break contact."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from wiregen.model.contacts import CLOSED, OPEN, Break, ChangeOver, Make, Network, Parallel, Series
from wiregen.model.logic import Expression

#: A comparison of up to so many circuits is known by its truth table, however it is written.
_MOST_COMPARED: Final = 6
#: Networks of more contacts than this are not given: nobody wires them by hand (common practice, no source).
MOST_CONTACTS: Final = 48


class _TooLargeError(Exception):
    """A network has grown past ``MOST_CONTACTS``."""


@dataclass(frozen=True, slots=True)
class _Logic:
    """A part of the expression.

    Attributes:
        true: Network that is closed while it is true.
        false: Network that is closed while it is false.
        count: Contacts of the larger of the two.
        odd_of: Circuits of which an odd number is true exactly when it is; None when it is no such count.
        flipped: Whether that count has to be even instead.
    """

    true: Network
    false: Network
    count: int
    odd_of: tuple[str, ...] | None = None
    flipped: bool = False


def contact_network(expression: Expression) -> Network | None:
    """Return the relay contacts that do the logic of ``expression``, one relay for each circuit it reads.

    Change-over contacts are taken where two or more circuits are compared by ``xor``, and where the whole expression
    comes to the same; ``xor`` of anything else is written out with ``and``, ``or`` and ``not``. Members that say the
    same twice are left out, but the network need not be the smallest there is.

    Returns:
        The network, or None when it would have more than ``MOST_CONTACTS`` contacts.
    """
    odd = _oddness(expression)
    if odd is not None:
        return ChangeOver(expression.names, odd=odd)
    stack: list[_Logic] = []
    try:
        # The logic itself is kept as words in postfix order, so that no depth of brackets can exhaust the stack.
        for word in expression.postfix:
            if word == "not":
                stack.append(_not(stack.pop()))
            elif word in _OPERATORS:
                right, left = stack.pop(), stack.pop()
                stack.append(_OPERATORS[word](left, right))
            elif word in _CONSTANTS:
                stack.append(_constant(true=_CONSTANTS[word]))
            else:
                stack.append(_count_of((word,), flipped=False))
    except _TooLargeError:
        return None
    return stack[0].true


def _oddness(expression: Expression) -> bool | None:
    """Return whether the expression is true for an odd count of true circuits; None when it is no such count."""
    names = expression.names
    if not 2 <= len(names) <= _MOST_COMPARED:
        return None
    at_rest = expression.value(lambda _: False)
    for row in range(1, 2 ** len(names)):
        signals = {name: bool(row >> k & 1) for k, name in enumerate(names)}
        is_odd = sum(signals.values()) % 2 == 1
        if expression.value(signals) is not (at_rest is not is_odd):
            return None
    return not at_rest


def _constant(*, true: bool) -> _Logic:
    return _count_of((), flipped=true)


def _count_of(circuits: tuple[str, ...], *, flipped: bool) -> _Logic:
    """Return the logic that is true while an odd number of the circuits is, or an even one when ``flipped``."""
    poles = len(circuits) if len(circuits) < 2 else 2 * len(circuits) - 2
    odd: Network
    even: Network
    match circuits:
        case ():
            odd, even = OPEN, CLOSED
        case (circuit,):
            odd, even = Make(circuit), Break(circuit)
        case _:
            odd, even = ChangeOver(circuits, odd=True), ChangeOver(circuits, odd=False)
    true, false = (even, odd) if flipped else (odd, even)
    return _limited(_Logic(true, false, poles, circuits, flipped))


def _not(logic: _Logic) -> _Logic:
    return _Logic(logic.false, logic.true, logic.count, logic.odd_of, not logic.flipped)


def _and(left: _Logic, right: _Logic) -> _Logic:
    return _made(_series(left.true, right.true), _parallel(left.false, right.false))


def _or(left: _Logic, right: _Logic) -> _Logic:
    return _made(_parallel(left.true, right.true), _series(left.false, right.false))


def _xor(left: _Logic, right: _Logic) -> _Logic:
    if left.odd_of is not None and right.odd_of is not None:
        # A circuit on both sides says nothing.
        shared = {*left.odd_of} & {*right.odd_of}
        circuits = tuple(circuit for circuit in (*left.odd_of, *right.odd_of) if circuit not in shared)
        return _count_of(circuits, flipped=left.flipped != right.flipped)
    _limited(left, right)
    return _made(
        _parallel(_series(left.true, right.false), _series(left.false, right.true)),
        _parallel(_series(left.true, right.true), _series(left.false, right.false)),
    )


_OPERATORS: Final = {"and": _and, "or": _or, "xor": _xor}
_CONSTANTS: Final = {"always": True, "never": False}


def _made(true: Network, false: Network) -> _Logic:
    for network, flipped in ((true, False), (false, True)):
        if isinstance(network, Make):
            return _count_of((network.circuit,), flipped=flipped)
    if CLOSED in (true, false):
        return _constant(true=true == CLOSED)
    return _limited(_Logic(true, false, max(_count(true), _count(false))))


def _limited(*parts: _Logic) -> _Logic:
    if sum(part.count for part in parts) > MOST_CONTACTS:
        raise _TooLargeError
    return parts[0]


def _count(network: Network) -> int:
    match network:
        case Make() | Break():
            return 1
        case ChangeOver(circuits):
            return 2 * len(circuits) - 2
        case Series(members) | Parallel(members):
            return sum(_count(member) for member in members)


def _series(one: Network, other: Network) -> Network:
    members = [
        part for network in (one, other) for part in (network.members if isinstance(network, Series) else (network,))
    ]
    return _joined(members, Series, OPEN)


def _parallel(one: Network, other: Network) -> Network:
    members = [
        part for network in (one, other) for part in (network.members if isinstance(network, Parallel) else (network,))
    ]
    return _joined(members, Parallel, CLOSED)


def _joined(members: list[Network], kind: type[Series] | type[Parallel], ruling: Network) -> Network:
    """Join members, each once; ``ruling`` is the member that decides the whole alone."""
    kept = tuple(dict.fromkeys(members))
    makes = {member.circuit for member in kept if isinstance(member, Make)}
    if ruling in kept or any(isinstance(member, Break) and member.circuit in makes for member in kept):
        return ruling
    return kept[0] if len(kept) == 1 else kind(kept)
