"""The cheapest choice of one option a slot under losses that add up: exact, by branch and bound.

Every slot has a list of options, each with a cost, and for every limit the losses of the options taken must not add up
to more than its room. The bound is that of Lagrange: with a price on every limit's losses the slots no longer touch
each other, and the sum of the cheapest options, less the price of the room, is below the cost of every choice that
keeps the limits. It holds for any prices; good ones are found by subgradient steps once, and the search then only adds
up. What adds up may still be refused by the caller, who knows more than sums.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from wiregen.errors import SolveError
from wiregen.model.study import Array
from wiregen.sizing.problem import Choice

#: A choice must be cheaper by this to count as cheaper, kg.
CHEAPER: Final = 1e-9
_PRICE_STEPS: Final = 300
_SLOWER: Final = 0.2
#: Parts of choices looked at before the search is given up; rigs in use need a few thousand.
_MOST_NODES: Final = 300_000

#: Whether a choice may become one that will do, when every slot behind the first so many may still take less.
Possible = Callable[[Choice], bool]


@dataclass(frozen=True)
class Task:
    """What to search.

    Attributes:
        costs: Cost of every option of every slot.
        allowed: Options of every slot that may be taken, in rising order: a later one loses less.
        losses: Losses of every option, one array a slot, of shape (options, limits).
        room: What the losses of each limit may add up to.
    """

    costs: Sequence[Sequence[float]]
    allowed: Sequence[Sequence[int]]
    losses: Sequence[Array]
    room: Array


def cheapest(task: Task, possible: Possible, accept: Possible, below: float = math.inf) -> Choice | None:
    """Return the cheapest choice that keeps all limits and is accepted; None where there is none.

    Args:
        task: Slots, costs and limits.
        possible: Told the best that a part of a choice can become; False where that will not do either.
        accept: Whether a choice will do.
        below: Only choices cheaper than this count.

    Raises:
        SolveError: The search was given up.
    """
    domains = [list(options) for options in task.allowed]
    count = -1
    while count != (count := sum(map(len, domains))):
        domains = _within_room(task, domains)
    return _Search(task, possible, accept, below, domains).run() if all(domains) else None


def _within_room(task: Task, domains: list[list[int]]) -> list[list[int]]:
    """Return the options that keep every limit while all other slots lose the least they can."""
    if not all(domains) or not len(task.room):
        return domains
    least = np.array([losses[options].min(axis=0) for losses, options in zip(task.losses, domains, strict=True)])
    room = task.room - least.sum(axis=0)
    return [
        [option for option in options if (losses[option] - least[slot] <= room).all()]
        for slot, (losses, options) in enumerate(zip(task.losses, domains, strict=True))
    ]


@dataclass
class _Search:
    task: Task
    possible: Possible
    accept: Possible
    best_cost: float
    domains: list[list[int]]
    best: Choice | None = None
    nodes: int = 0
    order: list[int] = field(default_factory=list)

    def run(self) -> Choice | None:
        task, domains = self.task, self.domains
        prices = _prices(task, domains)
        priced = [np.asarray(costs) + losses @ prices for costs, losses in zip(task.costs, task.losses, strict=True)]
        self.priced = [list(map(float, row)) for row in priced]
        self.credit = float(task.room @ prices)
        self.losses = [losses.tolist() for losses in task.losses]
        least = [losses[options].min(axis=0) for losses, options in zip(task.losses, domains, strict=True)]
        self.least = [row.tolist() for row in least]
        lowest = [min(self.priced[slot][o] for o in options) for slot, options in enumerate(domains)]
        spread = [max(self.priced[slot][o] for o in options) - lowest[slot] for slot, options in enumerate(domains)]
        # Slots in which a wrong option costs most come first.
        self.order = sorted(range(len(domains)), key=lambda slot: -spread[slot])
        self.lowest = lowest
        room = task.room - np.sum(least, axis=0)
        if len(task.room) and room.min() < 0:
            return None
        self._branch(0, [options[-1] for options in domains], list(map(float, room)), math.fsum(lowest), 0.0)
        return self.best

    def _branch(self, depth: int, choice: list[int], room: list[float], floor: float, cost: float) -> None:
        self.nodes += 1
        if self.nodes > _MOST_NODES:
            message = "the search for sizes was given up: too many sizes are open at once; state some of them"
            raise SolveError(message)
        if depth == len(self.order):
            if cost < self.best_cost - CHEAPER and self.accept(tuple(choice)):
                self.best, self.best_cost = tuple(choice), cost
            return
        slot = self.order[depth]
        priced, largest = self.priced[slot], choice[slot]
        for option in sorted(self.domains[slot], key=priced.__getitem__):
            bound = floor - self.lowest[slot] + priced[option]
            if bound - self.credit >= self.best_cost - CHEAPER:
                break  # the options behind it cost more still
            losses, least = self.losses[slot][option], self.least[slot]
            left = [have - loss + counted for have, loss, counted in zip(room, losses, least, strict=True)]
            if left and min(left) < 0:
                continue
            choice[slot] = option
            if self.possible(tuple(choice)):
                self._branch(depth + 1, choice, left, bound, cost + self.task.costs[slot][option])
        choice[slot] = largest


def _prices(task: Task, domains: list[list[int]]) -> Array:
    """Return prices of the limits' losses that make the bound high, by subgradient steps."""
    prices = np.zeros(len(task.room))
    if not len(prices):
        return prices
    losses = [row[options] for row, options in zip(task.losses, domains, strict=True)]
    costs = [np.asarray(row)[options] for row, options in zip(task.costs, domains, strict=True)]
    best, best_prices = -math.inf, prices
    for step in range(_PRICE_STEPS):
        picked = [int(np.argmin(cost + loss @ prices)) for cost, loss in zip(costs, losses, strict=True)]
        over = np.sum([loss[p] for loss, p in zip(losses, picked, strict=True)], axis=0) - task.room
        bound = math.fsum(float(cost[p]) for cost, p in zip(costs, picked, strict=True)) + float(prices @ over)
        if bound > best:
            best, best_prices = bound, prices
        length = float(np.linalg.norm(over))
        if length == 0 or ((over <= 0).all() and not prices.any()):
            break
        prices = np.maximum(0.0, prices + 0.25 * (abs(best) + 1e-6) / (1 + _SLOWER * step) / length * over)
    return best_prices
