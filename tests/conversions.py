"""Channels of the usual conversions between shared and separate stop and turn, for tests."""

from tests.rigs import PEDAL

XOR = ["tail_left or tail_right > tail", "stop xor turn_left > stop_turn_left", "stop xor turn_right > stop_turn_right"]
INTERRUPTED = [
    "tail_left or tail_right > tail",
    "(stop and not turn_left) or (turn_left and not stop) > stop_turn_left",
    "(stop and not turn_right) or (turn_right and not stop) > stop_turn_right",
]
SHARED_LAMPS = ["tail", "stop_turn_left", "stop_turn_right"]
SEPARATE_LAMPS = ["tail_left", "tail_right", "stop", "turn_left", "turn_right"]
ONE_TO_ONE = [f"{name} > {name}" for name in SEPARATE_LAMPS]
#: The stop tap behind the lighting switch: dead in blackout, as the vehicle's own stop lamps are.
STOP_TAP = {**PEDAL, "live": "brake and not blackout", "source": "lighting switch"}
TO_SEPARATE = [
    "tail > tail_left",
    "tail > tail_right",
    "pedal > stop",
    "stop_turn_left xor pedal > turn_left",
    "stop_turn_right xor pedal > turn_right",
]
HABIT = {"braking_holds_hazard_steady": True}
