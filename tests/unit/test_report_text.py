"""What a check prints about the room that is left."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.rigs import load, rig
from tests.steps import check
from wiregen.model.finding import Headroom
from wiregen.questions.verdict.paper import report_text

LAMPS = (("21 W", 1), ("5 W", 6), ("LED stop", 0))


@pytest.mark.parametrize(
    ("spare_a", "lamps", "words"),
    [
        (2.63, LAMPS, "(bound by -F2 fuse 5 A); enough for 1 × 21 W or 6 × 5 W"),
        (0.1, (("21 W", 0), ("5 W", 0)), "(bound by -F2 fuse 5 A); too little for 1 × 21 W or 5 W"),
        (-0.1, LAMPS, "(bound by -F2 fuse 5 A): nothing may be added"),
    ],
)
def test_room_is_told_as_one_kind_of_lamp_or_another(
    spare_a: float, lamps: tuple[tuple[str, int], ...], words: str
) -> None:
    """Kinds that fit stand with 'or', never as a sum; kinds of which none fits are left out."""
    row = Headroom(
        channel="K1", trailer="trailer", carried_a=1.14, spare_a=spare_a, bound_by="-F2 fuse 5 A", lamps=lamps
    )
    told = " ".join(report_text(replace(check(load(rig())), headroom=(row,))).split())
    assert words in told
    assert "LED stop" not in told
