"""The label of a relay box: what it says, what it leaves out, and the verdict against a trailer."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from tests import steps
from tests.rigs import BOX_FEED, SUPPLY, load, rig, straight, trailer
from tests.steps import box
from wiregen.catalogue.lamps import find_lamp
from wiregen.cli import app
from wiregen.errors import InputError
from wiregen.paper.json_text import json_text
from wiregen.paper.terminal import terminal_text
from wiregen.questions.box.judge import allowed, judge, most_a
from wiregen.questions.box.label import label_of
from wiregen.questions.box.needs import needs
from wiregen.questions.box.paper import box_data, box_paper
from wiregen.questions.box.record import VERDICTS, ChannelNeed, Label, TrailerNeed

COMMON = (("21 W", find_lamp("p21w-12v")), ("LED stop", find_lamp("led-stop-12v")))
#: A label that leaves nothing open.
FULL = Label(channels=3, each_a=10.0, total_a=20.0, voltage_v=12.0, load="lamp", duty="continuous", up_to_c=60.0)
NOTHING = dict.fromkeys(("channels", "each", "total", "voltage", "load", "duty", "make", "peak", "up_to"))


def box_text(report, *, full=True):
    return terminal_text(box_paper(report, full=full))


def need(*steady_a, closing_a=None, contact_v=12.0, ambient_c=50.0, more_a=0.0):
    """What a made-up trailer asks for: one channel a current, ``more_a`` for electric brakes."""
    channels = tuple(
        ChannelNeed(channel=f"K{n}", feeds="tail", steady_a=a, state="service lights", closing_a=closing_a or a)
        for n, a in enumerate(steady_a, start=1)
    )
    total = sum(steady_a)
    return TrailerNeed(
        trailer="t", channels=channels, lamps_a=total, lamps_state="service lights", all_a=total + more_a,
        state="service lights, brake", cold_a=10 * total, besides="electric brakes" if more_a else "",
        contact_v=contact_v, ambient_c=ambient_c,
    )  # fmt: skip


def verdict(label, *needs_):
    return judge("r", "0", label, needs_, COMMON).verdict


# --- what is allowed ---------------------------------------------------------------------------------------------


def test_a_full_label_allows_what_is_printed():
    """Rated for lamps, for long, at the temperature of the box: each and total as printed, closing not judged apart."""
    limits = allowed(FULL, need(1.0))
    assert (limits.each_a, limits.closing_a, limits.total_a) == (10.0, None, 20.0)
    assert limits.each_rests == limits.total_rests == ()


@pytest.mark.parametrize(
    ("change", "each_a", "closing_a", "total_a", "rests"),
    [
        # 2/3 for long: S56 puts the short-time limit at 1.5 times the rating.
        ({"duty": "peak"}, 10 / 1.5, None, 20 / 1.5, ()),
        ({"duty": None}, 10 / 1.5, None, 20 / 1.5, ("duty",)),
        ({"load": "resistive"}, 10.0, 10.0, 20.0, ()),
        ({"load": None}, 10.0, 10.0, 20.0, ("load",)),
        ({"load": None, "make_a": 60.0}, 10.0, 60.0, 20.0, ()),
        # 2.5 % a kelvin above 40 °C, box at 50 °C: 75 %.
        ({"up_to_c": None}, 10.0, None, 15.0, ("up_to",)),
        ({"up_to_c": 45.0}, 10.0, None, 17.5, ()),
        ({"each_a": None}, 20 / 3, None, 20.0, ("each",)),
        ({"total_a": None}, 10.0, None, 10.0, ("total",)),
    ],
)
def test_what_is_not_said_counts_at_its_worst(change, each_a, closing_a, total_a, rests):
    """Each gap has the factor of its source, and every limit names the questions it rests on."""
    limits = allowed(replace(FULL, **change), need(1.0))
    assert limits.each_a == pytest.approx(each_a)
    assert limits.closing_a == (None if closing_a is None else pytest.approx(closing_a))
    assert limits.total_a == pytest.approx(total_a)
    assert set(limits.each_rests + limits.closing_rests + limits.total_rests) == set(rests)


@pytest.mark.parametrize(("printed_v", "contact_v", "factor"), [
    (12.0, 12.0, 1.0), (24.0, 12.0, 1.0), (12.0, 24.0, 0.5), (24.0, 24.0, 1.0), (None, 24.0, 0.5), (None, 12.0, 1.0),
])  # fmt: skip
def test_a_12_v_rating_counts_half_at_24_v(printed_v, contact_v, factor):
    """S41: 12 A and 6 A, lamps 20 A and 10 A side by side; a 24 V rating never counts more at 12 V."""
    label = replace(FULL, voltage_v=printed_v, load="resistive")
    limits = allowed(label, need(1.0, contact_v=contact_v))
    assert (limits.each_a, limits.closing_a) == (10.0 * factor, 10.0 * factor)
    assert ("voltage" in limits.each_rests) == (printed_v is None and contact_v == 24.0)


# --- verdicts ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("steady_a", "expected"),
    [(7.49, "passes with headroom"), (7.51, "passes"), (10.0, "passes"), (10.01, "fails")],
)
def test_an_output_passes_up_to_its_amps_and_has_headroom_at_three_quarters(steady_a, expected):
    """The edges of the three verdicts, one output of 10 A."""
    assert verdict(replace(FULL, channels=1, total_a=40.0), need(steady_a)) == expected


def test_the_sum_fails_although_every_output_passes():
    """Three outputs of 7 A are 21 A, and 20 A are printed."""
    report = judge("r", "0", FULL, [need(7.0, 7.0, 7.0)], COMMON)
    assert [line.what for line in report.lines if line.verdict == "fails"] == ["all outputs together"]
    assert verdict(FULL, need(6.0, 6.0, 6.0)) == "passes"


def test_brakes_on_the_same_supply_count_in_a_sum_of_their_own():
    """With 15 A of brakes the sum fails, without them it passes; a note tells both."""
    report = judge("r", "0", FULL, [need(2.0, 2.0, more_a=15.0 + 2.0)], COMMON)
    sums = {line.what: line.verdict for line in report.lines if "together" in line.what}
    assert sums == {
        "all outputs together": "passes with headroom",
        "all outputs and electric brakes together": "fails",
    }
    assert any("electric brakes" in note for note in report.notes)


@pytest.mark.parametrize(
    ("outputs", "expected"), [(1, "fails"), (2, "passes with headroom"), (3, "passes with headroom")]
)
def test_outputs_are_counted(outputs, expected):
    """One output too few fails; just enough takes no headroom from those in use."""
    assert verdict(replace(FULL, channels=outputs), need(1.0, 1.0)) == expected


def test_cold_lamps_fail_a_resistive_rating():
    """5 A of lamps close on 50 A: a resistive 10 A contact fails, one with 50 A make current passes."""
    asked = need(5.0, closing_a=50.0)
    assert verdict(replace(FULL, load="resistive"), asked) == "fails"
    assert verdict(replace(FULL, load="resistive", make_a=50.0), asked) == "passes"
    assert verdict(FULL, asked) == "passes with headroom"


def test_good_answers_could_make_it_pass():
    """The verdict at best tells a box that fails for what is not said from one that fails for what is said."""
    unsaid = judge("r", "0", replace(FULL, load=None), [need(5.0, closing_a=50.0)], COMMON)
    assert (unsaid.verdict, unsaid.at_best) == ("fails", "passes with headroom")
    assert "Good answers" in box_text(unsaid)
    said = judge("r", "0", replace(FULL, load="resistive", duty=None), [need(5.0, closing_a=50.0)], COMMON)
    assert (said.verdict, said.at_best) == ("fails", "fails")
    assert "No answer of the seller makes it pass" in box_text(said)


def test_an_empty_label_is_not_judged_and_asks_everything():
    """Nothing printed, nothing claimed: every gap is a question, the voltage only where 24 V are switched."""
    report = judge("r", "0", Label(), [need(1.0)], COMMON)
    assert report.verdict == report.at_best == "not judged"
    assert len(report.questions) == 6 + 3
    assert len(judge("r", "0", Label(), [need(1.0, contact_v=24.0)], COMMON).questions) == 7 + 3
    assert report.room == ()


@given(
    each=st.floats(0.1, 100), total=st.floats(0.1, 100), steady=st.floats(0.01, 50),
    load=st.sampled_from([None, "lamp", "resistive"]), duty=st.sampled_from([None, "peak", "continuous"]),
    up_to=st.sampled_from([None, 40.0, 60.0]), volts=st.sampled_from([None, 12.0, 24.0]),
)  # fmt: skip
def test_saying_more_never_makes_it_worse(each, total, steady, load, duty, up_to, volts):
    """The verdict with every gap at its best is never worse than the one with every gap at its worst."""
    label = Label(channels=1, each_a=each, total_a=total, load=load, duty=duty, up_to_c=up_to, voltage_v=volts)
    report = judge("r", "0", label, [need(steady, closing_a=10 * steady, contact_v=24.0)], COMMON)
    assert VERDICTS.index(report.at_best) <= VERDICTS.index(report.verdict)


# --- against a rig -----------------------------------------------------------------------------------------------

LAMPS = [{"function": "tail", "type": "r10w-12v", "count": 2}, "stop_turn_left", "stop_turn_right led-stop-12v"]
CHANNELS = [f"{name} > {name}" for name in ("tail", "stop_turn_left", "stop_turn_right")]
BOX = rig(channels=CHANNELS, lamps=LAMPS)


def test_needs_are_the_currents_of_the_rig():
    """Steady current near the lamps' own, closing current with cold filaments ten times, LED lamps once."""
    (asked,) = needs(load(BOX))
    tail, left, right = asked.channels
    assert tail.steady_a == pytest.approx(2 * 10.0 / 13.5, rel=0.03)
    assert tail.closing_a == pytest.approx(10 * tail.steady_a)
    assert left.closing_a == pytest.approx(10 * left.steady_a)
    assert right.closing_a == pytest.approx(right.steady_a)
    assert asked.lamps_a == pytest.approx(tail.steady_a + left.steady_a + right.steady_a, rel=0.01)


def test_the_rigs_own_converter_cuts_no_current_of_the_need():
    """A 1 A converter in the rig does not hide what the lamps ask of a box."""
    small = rig(channels=CHANNELS, lamps=LAMPS, supply={**SUPPLY, "continuous": "1 A"}, taps=[BOX_FEED])
    ask = [[one.steady_a for one in needs(load(text))[0].channels] for text in (small, BOX)]
    assert ask[0] == pytest.approx(ask[1])


def test_a_24_v_trailer_is_switched_at_24_v():
    """Where the trailer has 24 V lamps the box's contacts switch 24 V."""
    (asked,) = needs(load(straight("iso-12098", "iso-12098", ["tail_left", "stop"])))
    assert asked.contact_v == 24.0
    assert asked.channels[1].steady_a == pytest.approx(1.0, rel=0.1)


@pytest.mark.parametrize(("kind", "word"), [("p21w-12v", "21 W"), ("r5w-12v", "5 W"), ("led-stop-12v", "LED stop")])
@pytest.mark.parametrize("load_class", ["lamp", "resistive"])
def test_as_many_more_lamps_as_are_said_pass_and_one_more_does_not(kind, word, load_class):
    """The number said fits by the lamp's highest current, and fitted to the rig it passes; one more does not fit."""
    lamps = [{"function": "tail", "type": "r5w-12v", "count": 1}]
    label = Label(
        channels=1, each_a=5.0 if load_class == "lamp" else 45.0, total_a=100.0, load=load_class, duty="continuous",
        up_to_c=60.0,
    )  # fmt: skip
    (room,) = box(load(rig(lamps=lamps)), label).room
    count = dict(room.lamps)[word]
    assert count > 0
    (asked,) = needs(load(rig(lamps=lamps)))
    lamp, limits = find_lamp(kind), allowed(label, asked)

    def fits(more):
        extra = more * most_a(lamp)
        closing = extra * (10 if lamp.technology == "filament" else 1)
        steady = asked.channels[0].steady_a + extra <= limits.each_a
        return steady and (limits.closing_a is None or asked.channels[0].closing_a + closing <= limits.closing_a)

    assert fits(count)
    assert not fits(count + 1)
    more = {"function": "tail", "type": kind, "count": count}
    assert box(load(rig(lamps=[*lamps, more])), label).verdict in ("passes", "passes with headroom")


def test_every_trailer_is_judged_and_the_worst_decides():
    """A box that serves the light trailer and not the other fails, unless one trailer is asked for."""
    both = [
        trailer("sae-j2863", [{"function": "tail", "type": "p21w-12v", "count": 6}], name="heavy"),
        trailer("sae-j1239-4", ["tail"], name="light"),
    ]
    loaded = load(rig(trailers=both))
    label = replace(FULL, channels=1)
    assert box(loaded, label).verdict == "fails"
    assert box(loaded, label, "light").verdict == "passes with headroom"


# --- words and options -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("full", [True, False])
@pytest.mark.parametrize("label", [Label(), FULL, replace(FULL, load=None, peak_a=25.0, make_a=60.0)])
def test_the_terminal_holds_80_columns(label, full):
    """No line is wider; label, questions, verdict and last word are there."""
    text = box_text(box(load(BOX), label), full=full)
    assert max(len(line) for line in text.splitlines()) <= 80
    for words in ("Label: ", "ASK THE SELLER", "qualified people have the last"):
        assert words in text
    first = {line.split()[0].strip(":,") for line in text.splitlines()[:5] if line}
    assert first & {"FAILS", "UNKNOWN", "PASSES"}


def test_the_demo_fits_30_lines():
    """A label that says little, against the bus: the verdict, what fails, the questions, the rest as a count."""
    demo = Path(__file__).parents[2] / "wiregen" / "bundle" / "demo" / "observatory-bus.toml"
    label = Label(channels=4, each_a=20.0, total_a=40.0)
    text = box_text(box(steps.load(demo), label), full=False)
    assert len(text.splitlines()) <= 30
    assert "FAILS: 3 of 17 checks, all on what the label does not say." in text
    assert "PASS: 14 checks. Least spare: K1 (tail), cold lamps, boat trailer: 39 % left." in " ".join(text.split())


@pytest.mark.parametrize(
    ("steady_a", "words"),
    [(7.5, "25 % left"), (9.99, "0 % left"), (10.0, "0 % left"), (10.01, "1 % over"), (91.1, "9.1 times")],
)
def test_what_is_left_or_missing_is_said_in_words(steady_a, words):
    """By hand for an output of 10 A: a share that is left is rounded down, one that is missing up."""
    text = " ".join(box_text(judge("r", "0", FULL, (need(steady_a),), COMMON)).split())
    assert f" 10 A {words} " in text
    assert "margin" not in text


def test_an_output_without_room_is_not_said_to_take_amps():
    """A contact that closes on more than it may takes no lamp more, whatever is left of its steady current."""
    text = " ".join(box_text(box(load(BOX), replace(FULL, load="resistive", each_a=1.0, make_a=None))).split())
    assert "none of these: 21 W, 5 W, LED stop" in text


def test_the_words_of_the_verdict_are_explained():
    """Each word in capitals before a line stands in the legend, with the share of room that counts."""
    text = " ".join(box_text(judge("r", "0", FULL, (need(5.0),), COMMON)).split())
    legend = (
        "PASS: at least 25% of what is allowed is left. TIGHT: less is left, but it is enough. UNKNOWN: the label says"
    )
    assert legend in text


def test_json_holds_every_line():
    """Numbers, verdicts and questions for machines; no NaN."""
    report = box(load(BOX), replace(FULL, channels=None))
    data = json.loads(json_text(box_data(report)))
    assert [line["verdict"] for line in data["lines"]] == [line.verdict for line in report.lines]
    assert data["lines"][0]["allowed"] is None
    assert data["verdict"] == "not judged"


def test_what_is_typed_is_read():
    """Trade words with units; 24, 24V and 24 V are one voltage; 'not stated' is the same as nothing."""
    made = label_of(**{**NOTHING, "channels": 7, "each": "5 A", "total": "20000 mA", "voltage": "24V", "load": "Lamp",
                       "duty": "not stated", "up_to": "140 °F"})  # fmt: skip
    assert made == Label(channels=7, each_a=5.0, total_a=20.0, voltage_v=24.0, load="lamp", up_to_c=pytest.approx(60.0))


def test_every_option_that_cannot_be_read_is_told_at_once():
    """One run names all of them, each with what is allowed and the nearest word."""
    with pytest.raises(InputError) as caught:
        label_of(**{**NOTHING, "channels": 0, "each": "5", "total": "0 A", "voltage": "36 V", "load": "lamb"})
    words = str(caught.value)
    for part in ("--channels 0", "--each: '5' has no unit", "--total '0 A'", "--voltage '36 V'", "did you mean 'lamp'"):
        assert part in words


@pytest.mark.parametrize(
    ("options", "status"),
    [
        (["--channels", "3", "--each", "10 A", "--total", "20 A", "--load", "lamp", "--duty", "continuous"], 0),
        (["--channels", "3", "--each", "1 A", "--total", "20 A", "--load", "lamp", "--duty", "continuous"], 1),
        ([], 1),
        (["--each", "5"], 2),
        (["--trailer", "nobody"], 2),
    ],
)
def test_exit_status(tmp_path, options, status):
    """0 passes, 1 fails or cannot be judged, 2 bad input."""
    path = tmp_path / "rig.toml"
    path.write_text(BOX, encoding="utf-8")
    assert CliRunner().invoke(app, ["box", str(path), *options]).exit_code == status
