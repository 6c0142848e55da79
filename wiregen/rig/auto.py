"""The word "auto" where a conductor size or a fuse rating may stand: what it becomes, and where it stands.

A rig that was read may hold ``AUTO_SIZE`` and ``AutoAmps``. They mean nothing to a circuit: ``wiregen.pipeline`` puts
chosen values in their place before anything is built, and the build refuses a rig in which one is left.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Annotated, Any, Final, Literal

from pydantic import ValidatorFunctionWrapHandler, WithJsonSchema, WrapValidator

from wiregen.errors import QuantityError
from wiregen.quantity import ConductorSize
from wiregen.rig.values import Amps, Size

AUTO: Final = "auto"
#: Stands for a conductor size that is still to be chosen.
AUTO_SIZE: Final = ConductorSize(math.nan, "mm2", AUTO)

KeyPath = tuple[str | int, ...]


class AutoAmps(float):
    """Stands for a fuse rating that is still to be chosen."""


AUTO_AMPS: Final = AutoAmps(math.nan)


def _or_auto(mark: object) -> Callable[[Any, ValidatorFunctionWrapHandler], Any]:
    def read(value: Any, handler: ValidatorFunctionWrapHandler) -> Any:  # noqa: ANN401 - whatever the file holds
        if isinstance(value, AutoAmps) or value is mark:
            return value
        if isinstance(value, str) and value.strip() == AUTO:
            return mark
        if isinstance(value, str) and get_close_matches(value.strip().lower(), [AUTO], cutoff=0.6):
            message = f'{value!r} is neither a value nor "auto"; did you mean "auto"?'
            raise QuantityError(message)
        return handler(value)

    return read


def _schema(*examples: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "examples": [*examples, AUTO]})


SizeOrAuto = Annotated[Size, WrapValidator(_or_auto(AUTO_SIZE)), _schema("2.5 mm²", "14 AWG", "14 SAE")]
FuseAmps = Annotated[Amps, WrapValidator(_or_auto(AUTO_AMPS)), _schema("15 A", "7.5 A")]

#: Keys of a rig file that may be "auto", and the attributes they become.
_ATTRIBUTES: Final = {"size": "size", "fuse": "fuse_a"}


@dataclass(frozen=True, slots=True)
class Slot:
    """One place in a rig file where a size or a fuse rating stands or may stand.

    Attributes:
        path: Keys down to it: ``("run", 3, "size")``.
        kind: What it takes.
        value: What stands there: ``AUTO_SIZE`` or an ``AutoAmps`` where it is to be chosen.
    """

    path: KeyPath
    kind: Literal["size", "fuse"]
    value: ConductorSize | float

    @property
    def is_auto(self) -> bool:
        """Whether it is still to be chosen."""
        return is_auto(self.value)


def is_auto(value: object) -> bool:
    """Return whether a value stands for one that is still to be chosen."""
    return value is AUTO_SIZE or value == AUTO_SIZE or isinstance(value, AutoAmps)


def slots(rig: Any) -> Iterator[Slot]:  # noqa: ANN401 - a Rig; its module imports this one
    """Yield every size and fuse that may be chosen and that a rig states, in the order of the file's tables.

    The fuses of [[vehicle.fuse]] are not among them: they are the vehicle's own and feed its own lamps too.
    """
    vehicle, adapter = rig.vehicle, rig.adapter
    owners: list[tuple[KeyPath, Any]] = [
        *((("vehicle", "tap", index), tap) for index, tap in enumerate(vehicle.tap)),
        *([(("adapter", "supply"), adapter.supply)] if adapter.supply else []),
        *((("adapter", "channel", index), channel) for index, channel in enumerate(adapter.channel)),
        *((("trailer", index, "battery"), trailer.battery) for index, trailer in enumerate(rig.trailer)),
    ]
    for path, owner in owners:
        if owner is not None and owner.fuse_a is not None:
            yield Slot((*path, "fuse"), "fuse", owner.fuse_a)
    for index, run in enumerate(rig.run):
        if run.size is not None:
            yield Slot(("run", index, "size"), "size", run.size)


def with_values(rig: Any, values: Mapping[KeyPath, ConductorSize | float | None]) -> Any:  # noqa: ANN401 - a Rig
    """Return a rig with other sizes and fuse ratings; None stands for one that is left out."""
    for path, value in values.items():
        rig = _with(rig, path, value)
    return rig


def _with(record: Any, path: KeyPath, value: object) -> Any:  # noqa: ANN401 - any record, or a tuple of them
    head, rest = path[0], path[1:]
    if isinstance(head, int):
        return tuple(_with(one, rest, value) if index == head else one for index, one in enumerate(record))
    name = _ATTRIBUTES.get(head, head)
    return record.model_copy(update={name: _with(getattr(record, name), rest, value) if rest else value})
