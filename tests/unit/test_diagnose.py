"""Finding a fault: what people type, Bayes' rule, the next check, pairs, what cannot be told apart, guide, coverage."""

import contextlib
import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests import steps
from tests.fault_trials import BUS, Observer, demo_finder, drawn, manual, off_size, ours
from wiregen.errors import InputError
from wiregen.questions.faults.coverage import coverage
from wiregen.questions.faults.data import diagnosis_data
from wiregen.questions.faults.diagnosis import BRIGHT, DARK, DIM, FLASHES, LIT, LOOKS, SOME
from wiregen.questions.faults.finder import Finder
from wiregen.questions.faults.guide import fault_guide
from wiregen.questions.faults.guide_paper import coverage_text, guide_text
from wiregen.questions.faults.paper import diagnosis_text
from wiregen.questions.faults.session import Session, session_from
from wiregen.questions.faults.symptom import Saw, Symptom, measured_from, saw_from, tried_from
from wiregen.questions.faults.weigh import Reasoner


@pytest.fixture(scope="module")
def finder() -> Finder:
    return demo_finder("boat trailer")


def seen(finder: Finder, *texts: str) -> list[Symptom]:
    return [one for text in texts for one in saw_from(text, finder.book)]


def names(finder: Finder, saws) -> list[tuple[str, str, int]]:
    book = finder.book
    return [(book.settings[one.setting].words, book.watched[one.watched].name, one.look) for one in saws]


# --- what people type ---


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("brake: left stop dark", [("brake", "left stop and turn", DARK)]),
        ("Brake: the LEFT brake lamp is dim", [("brake", "left stop and turn", DIM)]),
        ("lights: E1 one out, E2 off", [("service lights", "tail E1", SOME), ("service lights", "tail E2", DARK)]),
        ("lights: one of the E2 lamps dead", [("service lights", "tail E2", SOME)]),
        ("left: left blinks", [("left turn", "left stop and turn", FLASHES)]),
        ("left: right ok", [("left turn", "right stop and turn", DARK)]),
        ("lights: tail too bright", [("service lights", "tail E1", BRIGHT), ("service lights", "tail E2", BRIGHT)]),
        ("brake: left unknown, right works", [("brake", "right stop and turn", LIT)]),
        ("brake: magnets dead", [("brake", "electric brakes", DARK)]),
    ],
)  # fmt: skip
def test_looks_are_read_as_people_say_them(finder, text, read):
    """Plain words, any case, several lamps a line; ok means what this lamp does when nothing is wrong."""
    assert names(finder, saw_from(text, finder.book)) == read


def test_what_is_written_is_read_back(finder):
    """The text kept of a symptom gives the same symptom again."""
    for text in ("hazard: tail E1 flashes dim", "service lights, brake: tail E2 some dark"):
        (one,) = saw_from(text, finder.book)
        assert saw_from(one.text, finder.book) == (one,)
    reading = measured_from("x2:5 trailer, brake 12,5 v", finder.book)
    assert (reading.text, measured_from(reading.text, finder.book)) == ("X2:5 trailer, brake 12.5 V", reading)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("left stop dark", "write the controls, a colon"),
        ("brake: left stop blue", "does not say what the lamp shows"),
        ("brake: fog dark", "no such lamp"),
        ("braek: left dark", "did you mean 'brake'"),
        ("reverse: left dark", "nothing on this vehicle"),
        ("service lights, brake, left turn: left dark", "is not worked out"),
    ],
)
def test_what_cannot_be_read_says_why(finder, text, words):
    """What is wrong, what is allowed, the nearest right word."""
    with pytest.raises(InputError, match=words):
        saw_from(text, finder.book)


@pytest.mark.parametrize(
    ("text", "words"),
    [("X2:5 brake", "reading is missing"), ("X9:5 brake 3 V", "no such place"), ("X2:5 brake 400 V", "no more than")],
)
def test_readings_that_cannot_be_read(finder, text, words):
    """A reading needs a place, controls and volts that such a circuit can have."""
    with pytest.raises(InputError, match=words):
        measured_from(text, finder.book)


@given(
    text=st.text(st.sampled_from("abeiklmorstu :;,.-0123456789EXVvÄ×\n\t"), max_size=40),
    head=st.sampled_from(["", "brake: ", "X2:5 ", "bulb "]),
)
def test_no_text_breaks_the_readers(text, head):
    """Whatever is typed is read or refused in words."""
    book = demo_finder("boat trailer").book
    for read in (saw_from, measured_from, tried_from):
        with contextlib.suppress(InputError):
            assert read(head + text, book) is not None


@pytest.mark.parametrize("text", ["bulb E3", "bulb E3: maybe", "bulb E9: helps", "W7: helps"])
def test_tries_that_cannot_be_read(finder, text):
    """A try needs a bulb or fuse of this rig and what it did."""
    with pytest.raises(InputError):
        tried_from(text, finder.book)


# --- Bayes' rule ---


def test_posterior_is_bayes_rule_by_hand(finder):
    """Two cases alone in a book: prior times likelihood, over their sum."""
    book = finder.book
    rows = [0, [case.key for case in book.cases].index("E3 out")]
    small = replace(
        book,
        cases=tuple(book.cases[row] for row in rows),
        looks=book.looks[rows],
        volts_v=book.volts_v[rows],
        over_v=book.over_v[rows],
        trouble=("", ""),
        opened={},
    )
    reasoner = Reasoner(small)
    symptoms = seen(finder, "brake: left stop dark")
    likely = np.array([reasoner.likelihood(symptoms[0])[k] for k in (0, 1)])
    weight = np.array([case.weight for case in small.cases]) * likely
    assert reasoner.posterior(symptoms) == pytest.approx(weight / weight.sum())
    assert reasoner.posterior(symptoms)[1] > 0.99


def test_what_a_lamp_is_told_as_sums_to_one(finder):
    """Of every case the chances of all looks of a lamp sum to one."""
    total = sum(finder.reasoner.likelihood(Saw(4, 2, look, "")) for look in range(len(LOOKS)))
    assert total == pytest.approx(np.ones(len(finder.book.cases)))


def test_gain_is_never_negative_and_nothing_once_known(finder):
    """Expected information is at least zero; with one case left no check gives any."""
    p = finder.reasoner.posterior(seen(finder, "brake: left stop dark"))
    assert finder.reasoner.gain_of_readings(p).min() > -1e-5
    assert finder.reasoner.gain_of_looks(p).min() > -1e-9
    sure = np.zeros_like(p)
    sure[5] = 1.0
    assert np.abs(finder.reasoner.gain_of_readings(sure)).max() < 1e-5
    assert np.abs(finder.reasoner.gain_of_looks(sure)).max() < 1e-9


def test_one_wrong_word_does_not_hide_the_fault(finder):
    """A lamp told wrongly once is outweighed by what else was seen and tried."""
    symptoms = seen(finder, "brake: left stop dark, right stop lit", "left: left stop dark", "lights: tail E2 dim")
    symptoms.append(tried_from("bulb E3: helps", finder.book))
    assert finder.diagnose(symptoms).suspects[0].keys[0] == "E3 out"


# --- the next check ---


def test_effort_counts(finder):
    """Where a look and a reading tell the same, the look comes first; the box stays shut while there is another way."""
    found = finder.diagnose(seen(finder, "brake: left stop dark"))
    assert found.check is not None
    assert (found.check.kind, found.verdict) == ("look", "ask")


def test_checks_worth_the_same_keep_their_order(finder, monkeypatch):
    """What is lost when gains are rounded, a part in ten thousand either way, moves no check of any list."""
    exact = Reasoner.gain_of_readings
    guide = fault_guide(finder)
    noise = np.random.default_rng(7)

    def rounded(self: Reasoner, p):
        gain = exact(self, p)
        return gain * (1 + noise.uniform(-1e-4, 1e-4, gain.shape))

    monkeypatch.setattr(Reasoner, "gain_of_readings", rounded)
    assert guide_text([fault_guide(finder)]) == guide_text([guide])


def test_a_skipped_check_is_not_asked_again(finder):
    """What cannot be done now is left out."""
    symptoms = seen(finder, "brake: left stop dark")
    first = finder.diagnose(symptoms).check
    second = finder.diagnose(symptoms, [first.key]).check
    assert second.key != first.key


def test_outcomes_can_be_noted_as_they_stand(finder):
    """Every outcome of a check is a symptom that reads back."""
    check = finder.diagnose(seen(finder, "brake: left stop dark")).check
    for outcome in check.outcomes:
        assert saw_from(outcome.symptom, finder.book)


def test_found_at_last(finder):
    """Bulb changed, lamp works: one suspect is left, with what to do."""
    symptoms = seen(
        finder, "brake: left stop dark, right stop lit, tail dark", "hazard: left stop dark, right stop flashes"
    )
    symptoms.append(tried_from("bulb E3: helps", finder.book))
    found = finder.diagnose(symptoms)
    assert (found.verdict, found.suspects[0].keys[0], found.check) == ("found", "E3 out", None)


def test_two_faults_are_offered_where_one_is_not_enough(finder):
    """Left stop lamp dark and one marker lamp dark by itself: no single fault, but two lamps out."""
    symptoms = seen(
        finder,
        "brake: left stop dark, right stop lit, tail dark",
        "lights: E2 some dark, E1 lit",
        "left: left stop dark",
        "right: right stop flashes",
    )
    found = finder.diagnose(symptoms)
    assert found.verdict == "unexplained"
    first = found.pairs[0]
    assert {first[0], first[1]} == {"left stop and turn lamp E3 is out", "one of tail lamps E2 is out"}
    text = diagnosis_text(found)
    assert "No single fault shows all of this" in text
    assert max(len(line) for line in text.splitlines()) <= 80


def test_pairs_on_request(finder):
    """Asked for, two faults at once are told beside single ones; both together show what was seen."""
    symptoms = seen(finder, "brake: left stop dark, right stop dark", "left: left dark")
    assert finder.diagnose(symptoms).pairs == ()
    found = finder.diagnose(symptoms, pairs=True)
    assert found.verdict == "ask"
    assert any(
        {"left stop and turn lamp E3 is out", "right stop and turn lamp E4 is out"} == {first, second}
        for first, second, _ in found.pairs
    )
    assert "Two faults at once" in diagnosis_text(found)


def test_what_nothing_tells_apart_is_said(finder):
    """Relay contact and fuse-to-relay joints have no place for a lead between them: the rest is called alike."""
    symptoms = seen(finder, "brake: left stop dark, right stop lit", "hazard: left stop dark, right stop flashes")
    everything = {f"meter {p.name}, {c.words}" for p in finder.book.points for c in finder.book.settings}
    everything |= {f"try {ref}" for ref in finder.reasoner.tries} | {f"look {c.words}" for c in finder.book.settings}
    found = finder.diagnose(symptoms, everything)
    assert (found.verdict, found.check) == ("alike", None)
    assert "No check here can tell the rest apart" in diagnosis_text(found)


def test_shorts_tell_both_before_and_after(finder):
    """A wire on ground: dark after, and the fuse with what it carried before."""
    row = [case.key for case in finder.book.cases].index("W18 short")
    p = np.zeros(len(finder.book.cases))
    p[row] = 1.0
    assert finder.suspects(p)[0].story.startswith("fuse F5 opens (")


def test_dead_brakes_are_a_danger(finder):
    """A fault that takes the trailer's brakes says so beside its name."""
    row = [case.key for case in finder.book.cases].index("F8 open")
    p = np.zeros(len(finder.book.cases))
    p[row] = 1.0
    assert finder.suspects(p)[0].danger == "the trailer does not brake as it should"


def test_diagnosis_as_data(finder):
    """JSON holds what the text says."""
    data = json.loads(json.dumps(diagnosis_data(finder.diagnose(seen(finder, "brake: left stop dark")))))
    assert (data["verdict"], data["trailer"]) == ("ask", "boat trailer")
    assert data["check"]["outcomes"][0]["probability"] <= 1


# --- how well it finds ---


def test_finds_better_than_the_fixed_order():
    """Fixed seed, an observer who errs: the true fault first, in a fraction of the checks of source to lamp."""
    finder = demo_finder("light trailer")
    cases = drawn(finder, 20, seed=7)
    mine = [ours(finder, Observer(finder.book, case, 100 + number)) for number, case in enumerate(cases)]
    fixed = [manual(finder, Observer(finder.book, case, 100 + number)) for number, case in enumerate(cases[:6])]
    assert sum(trial.rank == 1 for trial in mine) >= 18
    assert sum(trial.rank <= 3 for trial in mine) >= 19
    checks = float(np.mean([trial.checks for trial in mine]))
    assert checks <= 0.4 * float(np.mean([trial.checks for trial in fixed]))


def test_sizes_between_those_of_the_library_are_found(finder):
    """A poor joint of 0.7, 1.4 or 3.2 ohm, which no case has: named first in most searches."""
    joints = off_size(finder)[::6]
    trials = [ours(finder, Observer(made, row, number, 0.0, case)) for number, (made, row, case) in enumerate(joints)]
    assert sum(trial.rank <= 3 for trial in trials) >= 0.8 * len(trials)


# --- guide and coverage ---


def test_guide_of_the_demo():
    """Every list begins with a symptom, holds checks with what they show here, and ends with a suspect."""
    guide = fault_guide(demo_finder("light trailer"))
    assert len(guide.entries) >= 5
    for entry in guide.entries:
        assert entry.steps or len(entry.suspects) == 1
        assert entry.left
        assert all(step.expect for step in entry.steps)
    text = guide_text([guide])
    assert "Red lead on X3:" in text
    assert max(len(line) for line in text.splitlines()) <= 80


def test_coverage_of_the_demo(finder):
    """Dead brakes stand first, as no lamp shows them; a ground with a second way stays silent; a point is proposed."""
    report = coverage(demo_finder("light trailer"))
    silent = {one.key for one in report.silent}
    assert {"X1:D open", "X1:L open"} <= silent
    assert 1 < report.mean_checks < 8
    assert report.worst is not None
    assert report.points
    text = coverage_text([report])
    assert max(len(line) for line in text.splitlines()) <= 80


# --- sessions ---


def test_a_session_is_read_back():
    """What is kept is what is read."""
    session = Session("abc", "boat trailer").also("saw", "brake: left dark").also("skipped", "look brake")
    assert session_from(session.as_text(), "s") == session
    assert session.without_last().texts("skipped") == ()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        "[1]",
        '{"wiregen_fault_session": 1}',
        '{"wiregen_fault_session": 1, "digest": "a", "trailer": "b", "seen": [1]}',
        "[" * 5000,
    ],
)
def test_another_file_is_no_session(text):
    """Anything else is refused with its name."""
    with pytest.raises(InputError, match=r"my\.json: this is no session"):
        session_from(text, "my.json")


def test_several_trailers_need_a_name():
    """A rig with two trailers asks which one; a wrong name gets the nearest."""
    loaded = steps.load(BUS)
    with pytest.raises(InputError, match="boat trailer, light trailer"):
        steps.fault_book(loaded)
    with pytest.raises(InputError, match="did you mean 'boat trailer'"):
        steps.fault_book(loaded, "boat trailr")
