"""Rules on what else hangs on the vehicle's fuses, its ground contact and its bulb-failure warning."""

from __future__ import annotations

import pytest

from tests.findings import at_nominal, carried, findings, one, place
from tests.rigs import RUNS, rig, straight, trailer

FEED = {"circuits": ["stop", "turn_left", "turn_right"], "fuse": "10 A"}


def lead(count: int = 1, **feed: object) -> str:
    """A straight lead to a 24 V trailer: the trailer's stop lamps hang on the vehicle's fuse."""
    vehicle = {"fuse": [{**FEED, **feed}]}
    return straight("iso-1185", "iso-1185", [{"function": "stop", "count": count}], vehicle=vehicle)


# --- vehicle-fuse-share ----------------------------------------------------------------------------------------------


def test_what_a_trailer_leaves_of_a_vehicle_fuse():
    """Two lamps on a 10 A fuse: told what the vehicle's own lamps may take of the 75 % (M-FUSE)."""
    text = lead(2)
    found = one(text, "vehicle-fuse-share")
    amps = carried(text, "-F1")
    assert found.severity == "notice"
    assert found.value == pytest.approx(amps)
    assert f"may take no more than {7.5 - amps:.3g} A" in found.message
    place(found, text, "[[vehicle.fuse]]")


def test_a_trailer_that_takes_little_is_not_told():
    """Relay coils take less than a tenth of the fuse: nothing to say about the vehicle's own lamps."""
    relays = rig("iso-1185", channels=["stop > stop_turn_left"], lamps=["stop_turn_left"], vehicle={"fuse": [FEED]})
    assert findings(relays, "vehicle-fuse-share") == []


@pytest.mark.parametrize(("over", "severity"), [(7.6, "warning"), (10.1, "error")])
def test_own_load_counts_on_the_vehicle_s_fuse(over, severity):
    """Trailer and own lamps above 75 % are a warning, above the rating an error; just below there is nothing."""
    amps = carried(lead(), "-F1")

    def text(total_a: float) -> str:
        return lead(own_load=f"{total_a - amps:.6f} A")

    found = one(text(over), "vehicle-fuse-share")
    assert (found.severity, found.value) == (severity, pytest.approx(over, abs=1e-4))
    assert "Do not fit a larger fuse" in found.advice
    assert findings(text(7.4), "vehicle-fuse-share") == []


def test_own_load_in_watts_holds_at_the_running_voltage():
    """140 W at 28 V are 5 A."""
    amps = carried(lead(), "-F1")
    found = one(lead(4, own_load="140 W"), "vehicle-fuse-share")
    assert found.value == pytest.approx(5.0 + carried(lead(4), "-F1"), rel=1e-6)
    assert amps > 0.7


# --- shared-ground ---------------------------------------------------------------------------------------------------


def two(own_ground: bool = False, count: int = 2) -> str:
    """Two trailers behind one adapter on the socket's one ground contact."""
    lamps = [{"function": "tail", "type": "p21w-12v", "count": 2}]
    trailers = [trailer("sae-j2863", lamps, name=name) for name in ("boat", "box")[:count]]
    supply = {"kind": "converter", "fed_by": "charge", "output": "13.6 V", "continuous": "20 A"}
    return rig(
        "iso-12098", channels=["tail_left > tail"], trailers=trailers, supply=supply, adapter={"own_ground": own_ground}
    )


def test_connectors_in_parallel_share_a_ground_contact():
    """Both trailers return over contact 4: their sum is told; alone, or with a ground of its own, nothing is."""
    found = one(two(), "shared-ground")
    assert (found.severity, found.where.split()[0]) == ("notice", "-X1:4")
    assert found.value == pytest.approx(2 * carried(two(count=1), "-X1:4"), rel=1e-6)
    assert "from boat and" in found.message
    assert findings(two(count=1), "shared-ground") == []
    assert findings(two(own_ground=True), "shared-ground") == []


def test_a_shared_ground_contact_beyond_its_rating():
    """A contact rating below the sum, but not below either part, is an error of this rule alone."""
    amps = carried(two(count=1), "-X1:4")
    text = two().replace("[adapter]", f'[rules]\ncontact_rating = "{amps * 1.5:.6f} A"\n\n[adapter]', 1)
    assert one(text, "shared-ground").severity == "error"
    assert findings(text, "contact-current") == []


# --- bulb-monitor ----------------------------------------------------------------------------------------------------


def watched(socket: str = "iso-12098", **vehicle: object) -> str:
    return rig(socket, channels=["stop > stop_turn_left"], lamps=["stop_turn_left"], vehicle=vehicle)


def test_relay_coils_behind_a_vehicle_that_watches_its_lamps():
    """A coil takes 80 mA where 21 W at 28 V are 0.75 A: a notice, also where a European socket only makes it likely."""
    found = one(watched(bulb_monitor=True), "bulb-monitor")
    coil_a = carried(watched(), "-K1")
    assert found.severity == "notice"
    assert f"no more than {coil_a * 1000:.3g} mA on stop, where one 21 W lamp takes 0.75 A" in found.message
    assert found.source == "common practice, no source"
    assert one(watched(), "bulb-monitor").message.endswith("if this vehicle watches its lamps")
    assert at_nominal(watched()).current_a("-K1").max() < 0.1


def test_vehicles_of_which_nobody_expects_it_are_left_alone():
    """Stated false, a military socket, or lamps on a straight lead: nothing."""
    assert findings(watched(bulb_monitor=False), "bulb-monitor") == []
    assert findings(watched("military-12-stanag"), "bulb-monitor") == []
    runs = [run for run in RUNS if run["from"] != "adapter" or run["to"] != "chassis"]
    lamps = ["stop", "turn_left", "turn_right"]
    bulbs = straight("iso-1185", "iso-1185", lamps, vehicle={"bulb_monitor": True}, runs=runs)
    assert findings(bulbs, "bulb-monitor") == []
