"""Rules on what is not there: fuses behind supplies, a supply with the key out, the right voltage on a connector."""

from __future__ import annotations

import pytest

from tests.findings import findings
from tests.rigs import RUNS as ALL_RUNS
from tests.rigs import rig

TAIL = {"input": "tail_left", "output": "tail", "rating": "10 A"}
RUNS = [{"from": "adapter", "to": "trailer", "length": "1 m", "size": "2.5 mm²"}]


def supply(**more: object) -> dict[str, object]:
    """Return a converter on the socket's permanent contact."""
    return {"kind": "converter", "fed_by": "charge", "output": "13.6 V", "continuous": "5 A", **more}


def test_a_converter_beyond_the_conductor_needs_a_fuse() -> None:
    """A current limit above what the thinnest conductor carries is an error; a fuse in the channel mends it."""
    big = supply(continuous="40 A")
    bare = findings(
        rig("iso-12098", "sae-j1239-4", channels=[TAIL], lamps=["tail"], supply=big, runs=RUNS), "unfused-supply"
    )
    channel = {**TAIL, "fuse": "7.5 A"}
    fused = findings(
        rig("iso-12098", "sae-j1239-4", channels=[channel], lamps=["tail"], supply=big, runs=RUNS), "unfused-supply"
    )

    assert [(f.severity, f.value, f.unit) for f in bare] == [("error", 60.0, "A")]
    assert bare[0].limit is not None
    # 33 CFR 183.425 table 5 (S12): 14 AWG, taken for 2.5 mm², carries 25 A at 80 °C, less at 50 °C ambient.
    assert bare[0].limit == pytest.approx(25 * (30 / 50) ** 0.5, rel=1e-3)
    assert "Fit a fuse of no more than 15 A" in bare[0].advice
    assert fused == []


def test_a_converter_that_only_by_an_assumed_limit_overloads_a_conductor_is_a_warning() -> None:
    """15 A continuous fit 2.5 mm², the 22.5 A that are assumed for its limit do not: read the data sheet."""
    runs = [{**run, "size": "2.5 mm²", "insulation": "80 °C"} for run in ALL_RUNS]

    def found(**more: object) -> list[tuple[str, bool]]:
        one = rig("iso-12098", "sae-j1239-4", channels=[TAIL], lamps=["tail"], supply=supply(**more), runs=runs)
        return [(f.severity, "assumed: 1.5 ×" in f.message) for f in findings(one, "unfused-supply")]

    assert found(continuous="15 A") == [("warning", True)]
    assert found(continuous="15 A", peak="21 A") == [("error", True)]
    assert found(continuous="15 A", current_limit="22 A") == [("error", False)]
    assert found(continuous="15 A", current_limit="19 A") == []


def test_an_assumed_conductor_size_makes_it_a_warning() -> None:
    """Where no run states a size, the usual one is taken, and the finding says so."""
    text = rig(
        "iso-12098", "sae-j1239-4", channels=[TAIL], lamps=["tail"],
        supply=supply(continuous="18 A", current_limit="18 A"), runs=RUNS,
    )  # fmt: skip
    found = findings(text, "unfused-supply")

    assert [f.severity for f in found] == ["warning"]
    assert "1.5 mm², size assumed, not stated" in found[0].message


def test_a_wire_behind_an_unfused_tap_is_named_once() -> None:
    """The missing fuse of a tap is `unfused-feed`'s finding, also for what the tap feeds on the trailer."""
    wire = {"input": "raw", "output": "tail", "device": "wire"}
    text = rig(
        "iso-12098", "sae-j1239-4", channels=[wire], lamps=["tail"], supply=None,
        taps=[{"name": "raw", "live": "always", "source": "battery"}], runs=RUNS,
    )  # fmt: skip

    assert findings(text, "unfused-supply") == []
    assert [f.severity for f in findings(text, "unfused-feed")] == ["error"]


def test_a_converter_that_limits_itself_needs_none() -> None:
    """A converter whose current limit the conductors carry is safe without a fuse on its output."""
    small = supply(continuous="3 A", current_limit="4 A")

    assert (
        findings(
            rig("iso-12098", "sae-j1239-4", channels=[TAIL], lamps=["tail"], supply=small, runs=RUNS), "unfused-supply"
        )
        == []
    )


@pytest.mark.parametrize(("fuse", "errors"), [(None, 1), ("10 A", 0)])
def test_a_centre_tap_needs_a_fuse_at_the_battery(fuse: str | None, errors: int) -> None:
    """A tap between the batteries is a battery feed like any other."""
    tap = {"kind": "centre_tap"} | ({"fuse": fuse} if fuse else {})
    found = findings(
        rig("iso-12098", "sae-j1239-4", channels=[TAIL], lamps=["tail"], supply=tap, runs=RUNS), "unfused-supply"
    )

    assert [f.severity for f in found] == ["error"] * errors


@pytest.mark.parametrize(("live", "warnings"), [("always", 0), ("ignition", 1)])
def test_a_feed_behind_the_ignition_is_a_warning(live: str, warnings: int) -> None:
    """With the key out position lamps and hazard lights must still burn."""
    text = rig(
        "iso-12098", "sae-j1239-4", channels=[TAIL], lamps=["tail"], supply=supply(fed_by="box"),
        taps=[{"name": "box", "live": live, "fuse": "10 A"}], runs=RUNS,
    )  # fmt: skip

    assert [f.severity for f in findings(text, "supply-ignition")] == ["warning"] * warnings


def test_24_v_on_a_12_v_connector_is_an_error_whatever_hangs_on_it() -> None:
    """A wire channel puts the vehicle's voltage on the outlet; a relay on the 12 V supply does not."""
    wire = {"input": "tail_left", "output": "tail", "device": "wire", "fuse": "5 A"}
    through = findings(rig("iso-12098", "sae-j1239-4", channels=[wire], lamps=["tail"], runs=RUNS), "connector-voltage")
    relayed = findings(
        rig("iso-12098", "sae-j1239-4", channels=[TAIL], lamps=["tail"], supply=supply(), runs=RUNS),
        "connector-voltage",
    )

    assert [(f.severity, f.where) for f in through] == [("error", "-X2:2")]
    assert through[0].value is not None
    assert through[0].value > 16.0
    assert relayed == []


def test_a_socket_for_12_v_on_a_24_v_vehicle_is_a_warning() -> None:
    """SAE J560 is for 12 V only (A2 of the pinout's sources); the same shell at 24 V is another standard."""
    channel = {"input": "tail", "output": "tail", "rating": "10 A"}
    text = rig("sae-j560", "sae-j1239-4", channels=[channel], lamps=["tail"], supply=supply(), runs=RUNS)

    assert "24 V" in findings(text, "connector-voltage")[0].message
