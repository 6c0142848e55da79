"""Sizes and fuses that are "auto": the optimum against brute force, what binds, what is written, what is refused."""

import itertools
import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from tests import steps
from tests.rigs import dump, load, rig
from wiregen.cli import app
from wiregen.errors import InputError
from wiregen.sizing import question as size_question
from wiregen.sizing.choose import Effort
from wiregen.sizing.data import size_data
from wiregen.sizing.paper import size_text
from wiregen.sizing.rig_values import replace_values, with_values
from wiregen.sizing.search import Flags, Task, cheapest

SUPPLY = {
    "kind": "converter", "fed_by": "box_feed", "output": "13.6 V", "continuous": "20 A", "fuse": "20 A",
    "current_limit": "45 A",
}  # fmt: skip
FEED = {"name": "box_feed", "live": "always", "source": "battery", "fuse": "20 A"}


def text(*, lead="1.5 m", cable="8 m", largest="2.5 mm²", lamps=4, size="auto", rest="6 mm²", fuse=None, **more) -> str:
    """Return a rig whose lamps, lead, cable and the cable's ground are to be sized."""
    run = {"insulation": "105 °C"}
    auto = {**run, "size": size, **({"largest": largest} if size == "auto" and largest else {})}
    runs = [
        {"from": "battery", "to": "socket", "length": "5 m", "size": rest, **run},
        {"from": "socket", "to": "chassis", "length": "1 m", "size": rest, **run},
        {"from": "battery", "to": "adapter", "length": "5 m", "size": rest, **run},
        {"from": "adapter", "to": "chassis", "length": "1 m", "size": rest, **run},
        {"from": "socket", "to": "adapter", "length": "1 m", "size": rest, **run},
        {"from": "adapter", "to": "trailer", "length": lead, **auto},
        {"from": "trailer", "to": "lamps", "length": cable, **auto},
        {"from": "trailer", "to": "lamps", "circuits": ["ground"], "length": cable, **auto},
    ]
    channel = {"input": "tail", "output": "tail", "rating": "30 A", "rated_for": "lamp"}
    return rig(
        channels=[{**channel, **({"fuse": fuse} if fuse else {})}],
        lamps=[{"function": "tail", "type": "r5w-12v", "count": lamps}],
        supply=SUPPLY,
        taps=[FEED],
        runs=runs,
        **more,
    )


def brute_kg(loaded) -> float | None:
    """Return the least copper of all combinations that the check lets pass, kg."""
    question = size_question.question_of(loaded, None, every=False)
    problem = question.problem
    chooser = size_question.chooser_for(question, Effort())
    assert chooser.run().is_proved
    every = itertools.product(*(range(len(slot.options)) for slot in problem.slots))
    for choice in sorted(every, key=problem.copper_kg):
        if not chooser.excuses.bad(size_question.outcome_of(question, choice)):
            return problem.copper_kg(choice)
    return None


@pytest.mark.slow
@pytest.mark.parametrize(
    ("cable", "lamps", "verdict"), [("8 m", 4, "sized"), ("9 m", 8, "sized"), ("26 m", 6, "nearest")]
)
def test_the_optimum_is_that_of_brute_force(cable: str, lamps: int, verdict: str) -> None:
    """Of all combinations of four sizes in three places none that does as well in the check has less copper."""
    loaded = load(text(cable=cable, lamps=lamps))
    found = steps.size(loaded, seconds=None)

    assert found.verdict == verdict
    assert found.is_proved
    assert found.gap == 0
    assert found.copper_after_kg == pytest.approx(brute_kg(loaded), abs=1e-12)


@given(st.integers(0, 10_000))
@settings(max_examples=60, deadline=None)
def test_search_finds_what_trying_everything_finds(seed: int) -> None:
    """Random slots, costs and losses: the branch and bound takes what brute force takes.

    Every slot is felt by the first limit, if any, and by one of its own group, so that groups fall apart; what adds up
    may still be refused for the losses of neighbours together, as by a network that is no sum.
    """
    random = np.random.default_rng(seed)
    slots, options, limits = int(random.integers(1, 6)), 4, int(random.integers(1, 4))
    costs = np.sort(random.uniform(0.01, 2.0, (slots, options)), axis=1)
    losses = -np.sort(-random.uniform(0.0, 1.0, (slots, options, limits)), axis=1)
    losses[:, :, 1:] *= random.integers(0, 2, (slots, 1, limits - 1))
    room = losses.min(axis=1).sum(axis=0) + random.uniform(-0.1, 1.0, limits)
    most = random.uniform(0.5, 3.0)

    def does(choice: tuple[int, ...]) -> bool:
        own = [losses[n, option, 0] for n, option in enumerate(choice)]
        return sum(a * b for a, b in itertools.pairwise([*own, own[0]])) <= most

    task = Task(costs.tolist(), [range(options)] * slots, list(losses), room)
    found = cheapest(task, lambda choices, _: np.array([does(choice) for choice in choices]), does)
    fitting = [
        sum(costs[n][o] for n, o in enumerate(choice))
        for choice in itertools.product(range(options), repeat=slots)
        if (sum(losses[n][o] for n, o in enumerate(choice)) <= room).all() and does(choice)
    ]

    assert found.is_whole
    assert (found.choice is None) == (not fitting)
    if found.choice is not None:
        assert sum(costs[n][o] for n, o in enumerate(found.choice)) == pytest.approx(min(fitting))
        assert found.bound == pytest.approx(min(fitting))


@given(st.integers(0, 10_000), st.integers(1, 12))
@settings(max_examples=40, deadline=None)
def test_a_search_that_is_stopped_says_how_little_may_do(seed: int, steps_left: int) -> None:
    """Stopped after some steps: what it found is no less than the least there is, and its bound is no more."""
    random = np.random.default_rng(seed)
    slots, options = 6, 4
    costs = np.sort(random.uniform(0.01, 2.0, (slots, options)), axis=1)
    losses = -np.sort(-random.uniform(0.0, 1.0, (slots, options, 2)), axis=1)
    room = losses.min(axis=1).sum(axis=0) + random.uniform(0.5, 1.5, 2)
    task = Task(costs.tolist(), [range(options)] * slots, list(losses), room)

    def every(choices: Sequence[tuple[int, ...]], _: Sequence[int]) -> Flags:
        return np.ones(len(choices), dtype=bool)

    least = cheapest(task, every, lambda _: True).bound
    found = cheapest(task, every, lambda _: True, is_over=lambda steps: steps > steps_left)

    assert found.bound <= least + 1e-9
    if found.choice is not None:
        assert sum(costs[n][o] for n, o in enumerate(found.choice)) >= least - 1e-9


@pytest.mark.slow
@pytest.mark.parametrize("longer", ["8.5 m", "11 m"])
def test_more_length_is_never_less_copper(longer: str) -> None:
    """A longer cable takes more copper."""
    short, long = (steps.size(load(text(cable=cable, largest="6 mm²"))) for cable in ("8 m", longer))

    assert long.copper_after_kg > short.copper_after_kg


def test_what_binds_breaks_with_the_next_smaller_size() -> None:
    """The rule named as binding is what the check finds when the next smaller size stands in its place."""
    written = text(cable="9 m", lamps=8)
    found = steps.size(load(written))
    value = next(value for value in found.values if value.bound and value.bound.rule == "lamp-voltage")
    labels = [v.after for v in found.values]
    labels[found.values.index(value)] = value.smaller
    for label in labels:
        written = written.replace('"auto"', f'"{label}"', 1)
    written = written.replace('largest = "2.5 mm²"\n', "")
    rules = {(f.rule, f.where) for f in steps.check(load(written)).findings if f.severity != "notice"}

    assert (value.bound.rule, value.bound.where) in rules
    assert value.bound.margin >= -1e-6
    assert value.bound.margin_smaller < 0
    assert value.larger.margin > value.bound.margin


def test_a_conductor_can_be_bound_by_a_fuse() -> None:
    """A thinner feed sags more, so that a converter takes more than the stated fuse carries: told, without a crash."""
    runs = [
        {"from": "battery", "to": "adapter", "length": "30 m", "size": "auto", "insulation": "105 °C"},
        {"from": "adapter", "to": "chassis", "length": "1 m", "size": "6 mm²"},
        {"from": "adapter", "to": "trailer", "length": "1 m", "size": "10 mm²"},
        {"from": "trailer", "to": "lamps", "length": "3 m", "size": "10 mm²"},
    ]
    written = rig(
        channels=[{"input": "tail", "output": "tail", "rating": "30 A", "rated_for": "lamp"}],
        lamps=[{"function": "tail", "type": "r5w-12v", "count": 17}],
        supply=SUPPLY,
        taps=[{**FEED, "fuse": "5 A"}],
        runs=runs,
    )
    bound = steps.size(load(written)).values[0].bound

    assert (bound.rule, bound.where) == ("fuse-load", "-F1 fuse 5 A")
    assert bound.margin is None
    assert bound.margin_smaller < 0


def test_check_chooses_and_lists_what_it_chose() -> None:
    """A rig with "auto" is checked with the values chosen, clean of what they cure, and lists them as assumed."""
    report = steps.check(steps.load_text(text()))
    chosen = [row for row in report.assumptions if row.name == "chosen_size"]

    assert len(chosen) == 3
    assert [f for f in report.findings if f.rule == "lamp-voltage"] == []


def test_a_fuse_is_the_smallest_that_keeps_every_rule() -> None:
    """The fuse chosen breaks nothing; the next smaller one breaks the rule that is named as binding."""
    found = steps.size(load(text(lamps=8, size="4 mm²", fuse="auto")))
    fuse = next(value for value in found.values if value.kind == "fuse")
    chosen, smaller = (
        {f.rule for f in steps.check(load(text(lamps=8, size="4 mm²", fuse=rating))).findings if f.value}
        for rating in (fuse.after, fuse.smaller)
    )

    assert (fuse.after, fuse.smaller) == ("5 A", "4 A")
    assert fuse.bound.rule in smaller
    assert fuse.bound.rule not in chosen


def test_a_rig_that_no_size_saves_gets_what_comes_nearest() -> None:
    """Thirty metres of at most 2.5 mm² to many lamps: every value is chosen, and what is missing is said."""
    written = text(cable="30 m", lamps=12)
    found = steps.size(load(written))
    worst = max((one for one in found.missing if one.finding.rule == "lamp-voltage"), key=lambda one: one.share)

    assert found.verdict == "nearest"
    assert "" not in {value.after for value in found.values}
    assert worst.share == pytest.approx(-worst.finding.margin)
    assert {cause.size for cause in worst.obstacles} == {"2.5 mm²"}
    assert all(cause.is_chosen for cause in worst.obstacles)
    assert "lamp-voltage" in {finding.rule for finding in steps.check(steps.load_text(written)).findings}


def test_the_stated_wire_in_the_way_is_named_with_the_size_that_would_do() -> None:
    """The trailer's own thin wire is named with its line; with the size named instead, nothing is missing there."""
    runs = [
        {"from": "battery", "to": "adapter", "length": "5 m", "size": "6 mm²"},
        {"from": "adapter", "to": "chassis", "length": "1 m", "size": "6 mm²"},
        {"from": "adapter", "to": "trailer", "length": "1.5 m", "size": "auto"},
        {"from": "trailer", "to": "lamps", "length": "7 m", "size": "6 mm²"},
        {"from": "trailer", "to": "lamps", "circuits": ["ground"], "length": "9 m", "size": "0.5 mm²"},
    ]
    parts = {
        "channels": [{"input": "tail", "output": "tail", "rating": "30 A", "rated_for": "lamp", "fuse": "7.5 A"}],
        "lamps": [{"function": "tail", "type": "r5w-12v", "count": 17}],
        "supply": SUPPLY,
        "taps": [FEED],
    }
    found = steps.size(load(rig(runs=runs, **parts)))
    (worst,) = (one for one in found.missing if one.finding.rule == "lamp-voltage")
    cause = worst.obstacles[0]
    runs[-1]["size"] = cause.enough
    mended = steps.size(load(rig(runs=runs, **parts)))

    assert cause.words == "the trailer's ground wire from the plug to the splice"
    assert (cause.size, cause.is_chosen, cause.origin is not None) == ("0.5 mm²", False, True)
    assert cause.gain > worst.share > 0
    assert "lamp-voltage" not in {one.finding.rule for one in mended.missing}


def test_a_warning_never_blocks() -> None:
    """A lamp far down a stated wire loses more than 5 % whatever the sizes: they are chosen all the same."""
    found = steps.size(load(text(lamps=12, cable="12 m", rest="1.5 mm²")))

    assert found.verdict == "sized"
    assert "lamp-voltage" in {finding.rule for finding in found.left if finding.severity == "warning"}


def test_a_fuse_that_a_thin_wire_overloads_grows() -> None:
    """A converter on a thin feed takes more than 5 A carry for long: the fuse grows where it may, else the wire."""
    runs = [
        {"from": "battery", "to": "adapter", "length": "30 m", "size": "auto", "insulation": "105 °C"},
        {"from": "adapter", "to": "chassis", "length": "1 m", "size": "6 mm²"},
        {"from": "adapter", "to": "trailer", "length": "1 m", "size": "10 mm²"},
        {"from": "trailer", "to": "lamps", "length": "3 m", "size": "10 mm²"},
    ]
    parts = {
        "channels": [{"input": "tail", "output": "tail", "rating": "30 A", "rated_for": "lamp"}],
        "lamps": [{"function": "tail", "type": "r5w-12v", "count": 17}],
        "supply": SUPPLY,
        "runs": runs,
    }
    grown, stated = (steps.size(load(rig(taps=[{**FEED, "fuse": fuse}], **parts))) for fuse in ("auto", "5 A"))
    smaller = {"wire": stated.values[0].smaller, "bound by": stated.values[0].bound.rule}

    assert [value.after for value in grown.values] == ["7.5 A", "1 mm²"]
    assert stated.copper_after_kg > grown.copper_after_kg
    assert smaller == {"wire": "1 mm²", "bound by": "fuse-load"}


@pytest.mark.parametrize(
    ("takes", "wanted"),
    [
        ({"smallest": "2.5 mm²", "largest": "4 mm²"}, {"2.5 mm²", "3 mm²", "4 mm²"}),
        ({"smallest": "16 AWG", "largest": "14 AWG"}, {"1.5 mm²", "2 mm²"}),
    ],
)
def test_a_contact_gets_no_wire_that_it_does_not_take(tmp_path: Path, takes: dict[str, str], wanted: set[str]) -> None:
    """Where the pinout says which sizes a terminal takes, no other is chosen, however much is lost in it."""
    contacts = [
        {"mark": mark, "circuit": circuit, "function": circuit, "sources": ["memory"], "support": "memory",
         "takes": takes}
        for mark, circuit in (("1", "ground"), ("2", "tail"))
    ]  # fmt: skip
    plug = {"title": "Plug", "short": "plug", "shell": "plug", "voltage_v": [12], "stop_turn": "separate"}
    (tmp_path / "plug.toml").write_text(dump({**plug, "contact": contacts}), encoding="utf-8")
    thin, thick = (
        steps.size(load(text(plug="plug", cable=cable, lamps=12, largest=None), tmp_path)) for cable in ("1 m", "70 m")
    )

    assert {value.after for found in (thin, thick) for value in found.values} <= wanted
    assert thick.verdict == "nearest"
    with pytest.raises(InputError, match=r"contact 2 .*, contact 1 .*a run each"):
        steps.size(load(text(plug="plug", largest="1 mm²"), tmp_path))


def test_build_refuses_what_is_still_to_be_chosen() -> None:
    """Nothing is built of a rig in which "auto" stands; the message names the place."""
    with pytest.raises(InputError, match=r"run\.5\.size"):
        steps.build(load(text()))


def test_what_is_the_vehicles_stays() -> None:
    """With every value asked for, the vehicle's own conductors and fuses are not among them."""
    written = text(size="2.5 mm²", vehicle={"fuse": [{"circuits": ["tail"], "fuse": "10 A"}]})
    found = steps.size(load(written), every=True)

    assert {value.path for value in found.values} & {"run.0.size", "run.1.size", "vehicle.feed.0.fuse"} == set()
    assert {"run.2.size", "run.5.size", "vehicle.tap.0.fuse"} <= {value.path for value in found.values}
    with pytest.raises(InputError, match="current is wanted"):
        load(text(vehicle={"fuse": [{"circuits": ["tail"], "fuse": "auto"}]}))


def test_series_is_that_of_the_rig_and_never_mixed() -> None:
    """AWG beside AWG, the wanted one where asked, and a question where the rig mixes two."""
    assert steps.size(load(text(rest="8 AWG", largest=None))).series == "AWG"
    assert {v.after.split()[-1] for v in steps.size(load(text(largest=None)), series="sae").values} == {"SAE"}
    with pytest.raises(InputError, match="--series awg, sae or mm2"):
        steps.size(load(text(rest="8 AWG")))
    with pytest.raises(InputError, match="did you mean 'awg'"):
        steps.size(load(text()), series="agw")


def test_a_misspelt_auto_is_told() -> None:
    """The word is told with its place."""
    with pytest.raises(InputError, match='did you mean "auto"'):
        load(text(size="atuo"))


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_writing_changes_only_the_values(tmp_path: Path, end: str, mark: str) -> None:
    """Comments, layout, line ends and byte order mark stay: only the lines of the values differ."""
    lines = [
        "# head", "[[run]]  # first", 'from = "a"', "size   =  'auto'   # ä comment", "", "[adapter.supply]",
        '  fuse = "auto"# close', "run2 = [ 1,", "  2 ]", "# tail",
    ]  # fmt: skip
    path = tmp_path / "rig.toml"
    data = (mark + end.join(lines) + end).encode()
    path.write_bytes(data)
    replace_values(path, data, {("run", 0, "size"): "2.5 mm²", ("adapter", "supply", "fuse"): "15 A"})
    made = path.read_bytes().decode()
    old, new = data.decode().split(end), made.split(end)

    assert [(a, b) for a, b in zip(old, new, strict=True) if a != b] == [
        ("size   =  'auto'   # ä comment", 'size   =  "2.5 mm²"   # ä comment'),
        ('  fuse = "auto"# close', '  fuse = "15 A"# close'),
    ]
    assert [name.name for name in tmp_path.iterdir()] == ["rig.toml"]


def test_a_file_that_changed_meanwhile_is_left_alone(tmp_path: Path) -> None:
    """What somebody else wrote since is not overwritten."""
    path = tmp_path / "rig.toml"
    path.write_text('size = "4 mm²"\n', "utf-8")

    with pytest.raises(InputError, match="changed while"):
        replace_values(path, b'size = "auto"\n', {("size",): "6 mm²"})
    assert path.read_text("utf-8") == 'size = "4 mm²"\n'


def test_values_in_inline_tables_are_written() -> None:
    """A run written on one line keeps its form."""
    made = with_values('run = [{ from = "a", size = "auto" }]  # one\n', {("run", 0, "size"): "16 AWG"})

    assert made == 'run = [{ from = "a", size = "16 AWG" }]  # one\n'


def test_the_command_writes_and_tells(tmp_path: Path) -> None:
    """It exits with 0, writes the values, and has nothing to choose the second time; no line is wider than 80."""
    path = tmp_path / "rig.toml"
    path.write_text("# mine\n" + text(fuse="5 A"), "utf-8")
    first = CliRunner().invoke(app, ["size", str(path), "--write"])
    second = CliRunner().invoke(app, ["size", str(path)])
    written = path.read_text("utf-8")

    assert (first.exit_code, second.exit_code) == (0, 0), first.output
    assert '"auto"' not in written
    assert written.startswith("# mine\n")
    assert "Nothing to choose" in second.output
    assert max(map(len, first.output.splitlines())) <= 80


def test_the_command_fails_where_nothing_will_do(tmp_path: Path) -> None:
    """It exits with 1, tells first what is in the way, and writes what comes nearest; no file is bad input."""
    path = tmp_path / "rig.toml"
    path.write_text(text(cable="30 m", lamps=12), "utf-8")
    told = CliRunner().invoke(app, ["size", str(path), "--seconds", "0"])
    result = CliRunner().invoke(app, ["size", str(path), "--write", "--json"])

    assert (told.exit_code, result.exit_code) == (1, 1)
    assert "NO CHOICE KEEPS EVERY RULE" in told.stdout
    assert told.stdout.index("in the way:") < told.stdout.index("\nadapter to trailer\n")
    assert max(map(len, told.stdout.splitlines())) <= 80
    assert json.loads(result.stdout)["verdict"] == "nearest"
    assert '"auto"' not in path.read_text("utf-8")
    assert CliRunner().invoke(app, ["size", str(tmp_path / "none.toml")]).exit_code == 2
    assert CliRunner().invoke(app, ["size", str(path), "--seconds", "-1"]).exit_code == 2


def test_json_has_the_promised_keys() -> None:
    """Machines find the same keys whatever was chosen."""
    found = steps.size(load(text()))
    data = size_data(found)

    assert set(data) == {
        "title", "digest", "verdict", "series", "copper_before_kg", "copper_after_kg", "values", "missing", "left",
        "checks", "is_proved", "bound_kg", "gap", "written",
    }  # fmt: skip
    assert set(data["values"][0]) == {
        "key", "place", "kind", "words", "parts", "length_m", "before", "after", "copper_before_kg", "copper_after_kg",
        "bound", "is_explained", "smaller", "larger",
    }  # fmt: skip
    assert "Copper of these wires" in size_text(found)
