"""Words for a state or a corner: what is printed can be typed again, and what makes no sense is refused."""

import pytest

from wiregen.catalogue.circuits import SIGNALS
from wiregen.errors import InputError
from wiregen.model.corner import CORNERS, NOMINAL, Corner
from wiregen.model.state import Controls, State, every_controls
from wiregen.model.state_words import corner_from, states_from


def refusal(text: str, signals=SIGNALS) -> list[str]:
    with pytest.raises(InputError) as caught:
        states_from(text, signals)
    return [problem.message for problem in caught.value.problems]


@pytest.mark.parametrize("controls", list(every_controls(SIGNALS)), ids=lambda controls: controls.words)
def test_what_is_printed_can_be_typed_again(controls):
    """Every setting is read back from its own words, and each half of the flash from its own."""
    assert states_from(controls.words, SIGNALS) == (controls, (True, False))
    for lit in (True, False):
        words = State(controls, lit=lit, flashing=True).words
        assert states_from(words, SIGNALS) == (controls, (lit,))


@pytest.mark.parametrize(
    ("text", "controls"),
    [
        ("lights, brake, left", Controls("service", brake=True, turn="left")),
        ("  Turn  RIGHT ,HAZARD", Controls(turn="right", hazard=True)),
        ("blackout, fog, reverse", Controls("blackout", fog=True, reverse=True)),
        ("brake, brake", Controls(brake=True)),
        ("off", Controls()),
        ("all off", Controls()),
    ],
)
def test_short_forms_are_taken(text, controls):
    """Short words, any case, any blanks, and a control said twice."""
    assert states_from(text, SIGNALS)[0] == controls


def test_contradictions_are_refused_together():
    """Two places of one control, and rest beside a control, are all named in one run."""
    assert refusal("left, right, service lights, blackout, off") == [
        "--state: 'left' and 'right' cannot both hold",
        "--state: 'service lights' and 'blackout' cannot both hold",
        "--state: 'all off' and 'right' cannot both hold",
    ]


@pytest.mark.parametrize(
    ("text", "nearest"), [("brakes", "brake"), ("left trun", "left turn"), ("hazards", "hazard"), ("lihgts", "lights")]
)
def test_a_wrong_word_gives_the_nearest_right_one(text, nearest):
    """A slip of the hand is answered with the word that was meant."""
    (message,) = refusal(text)
    assert f"did you mean '{nearest}'?" in message
    assert "service lights, blackout, brake" in message


@pytest.mark.parametrize("text", ["", " , ", "brake,"])
def test_an_empty_word_is_refused(text):
    """Nothing between two commas is a slip, not a control at rest."""
    assert "a control name is missing" in refusal(text)[0]


def test_a_control_the_vehicle_has_not_is_refused():
    """Fog on a vehicle whose socket and taps do not react to it would be the same state under a false name."""
    assert refusal("brake, fog", {"brake", "lights"}) == [
        "--state 'fog': nothing on this vehicle's socket or taps reacts to it"
    ]


@pytest.mark.parametrize("corner", [NOMINAL, *CORNERS], ids=lambda corner: corner.words)
def test_every_corner_is_read_back_from_its_words(corner):
    """What a finding or a reading prints can be typed behind --corner."""
    assert corner_from(corner.words) == corner


def test_corners_in_other_words():
    """Nominal, and a supply level at the temperatures as given."""
    assert corner_from("nominal") == NOMINAL
    assert corner_from("Low,HOT") == Corner("low", "hot")
    assert corner_from("charging") == Corner("charging", "given")
    assert corner_from("cold") == Corner("running", "cold")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("battery low, charging high", "two corners at once"),
        ("hot, cold", "two corners at once"),
        ("batery low", "did you mean 'battery low'?"),
        ("", "is no corner"),
    ],
)
def test_a_corner_that_is_none_is_refused(text, words):
    """Two supplies, two temperatures, or a word that is none."""
    with pytest.raises(InputError, match=words.replace("?", r"\?")):
        corner_from(text)
