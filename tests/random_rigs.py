"""Rigs made at random, for property tests: any input on any output, any device, lamps on any contact."""

from hypothesis import strategies as st

from tests.rigs import SUPPLY, rig

VEHICLES = {
    "military-12-us": ["tail", "stop_turn_left", "stop_turn_right", "blackout_tail", "blackout_stop", "pedal"],
    "iso-12098": ["tail_left", "tail_right", "stop", "turn_left", "turn_right", "reverse", "fog", "charge"],
}
PLUGS = {
    "sae-j2863": ["tail", "stop_turn_left", "stop_turn_right", "reverse"],
    "iso-11446": ["tail_left", "tail_right", "stop", "turn_left", "turn_right", "reverse", "fog"],
    "military-12-us": ["tail", "stop_turn_left", "blackout_tail"],
}


@st.composite
def random_rigs(draw: st.DrawFn) -> str:
    """Rigs as users make them by mistake: any input on any output, any device, lamps on any contact."""
    socket, plug = draw(st.sampled_from(sorted(VEHICLES))), draw(st.sampled_from(sorted(PLUGS)))
    inputs, outputs = VEHICLES[socket], PLUGS[plug]
    channels = []
    for _ in range(draw(st.integers(1, 5))):
        device = draw(st.sampled_from(["relay", "solid_state", "step_down", "wire"]))
        first, second = draw(st.sampled_from(inputs)), draw(st.sampled_from(inputs))
        joint = draw(st.sampled_from(["", " and ", " or ", " xor ", " and not "]))
        logic = f"{first}{joint}{second}" if joint and device in ("relay", "solid_state") else first
        channels.append(
            {
                "input": logic,
                "output": draw(st.lists(st.sampled_from(outputs), min_size=1, max_size=2)),
                "device": device,
                **({} if device == "wire" else {"rating": "20 A"}),
                **draw(st.sampled_from([{}, {"fuse": "5 A"}])),
            }
        )
    lamps = [
        {"function": draw(st.sampled_from(outputs)), "count": draw(st.integers(1, 4))}
        for _ in range(draw(st.integers(0, 4)))
    ]
    supply = draw(st.sampled_from([SUPPLY, {"kind": "battery"}, {"kind": "centre_tap", "fuse": "20 A"}]))
    more = draw(st.sampled_from([{}, {"hitch_resistance": "0.5 ohm"}, {"ties": [["1", "2"]]}, {"ties": [["3", "5"]]}]))
    if plug == "military-12-us":
        more = {"ties": [["A", "E"]]} if "ties" in more else more
    own = draw(st.booleans())
    return rig(
        socket,
        plug,
        channels=channels,
        lamps=lamps,
        supply=supply,
        pedal=True,
        adapter={"own_ground": own},
        **more,
    )
