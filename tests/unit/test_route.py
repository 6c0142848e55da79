"""Routing of the channels between columns, and the heights of rows."""

import random
from itertools import combinations, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiregen.draw.schematic.layout import DrawnPart, Port, layout
from wiregen.draw.schematic.route import CLEAR_MM, LEFT, RIGHT, RouteTap, route

PITCH_MM = 8.0


def swapped(order):
    """Return the taps of a channel whose nets come from the left in order and leave on the right in another."""
    taps = [RouteTap(f"n{i}", PITCH_MM * i, True) for i in range(len(order))]
    return taps + [RouteTap(f"n{net}", PITCH_MM * i, False) for i, net in enumerate(order)]


def place(position, tracks):
    return {LEFT: -1, RIGHT: tracks}.get(position, position)


def overlaps(routed):
    """Return the pairs of wires of different nets that lie on one another."""
    found = []
    for a, b in combinations(routed.wires, 2):
        if a.net == b.net:
            continue
        (ax0, ay0), (ax1, ay1) = sorted((place(p, routed.tracks), y) for p, y in (a.start, a.end))
        (bx0, by0), (bx1, by1) = sorted((place(p, routed.tracks), y) for p, y in (b.start, b.end))
        level = ay0 == ay1 and by0 == by1 and abs(ay0 - by0) < CLEAR_MM and min(ax1, bx1) > max(ax0, bx0)
        upright = ax0 == ax1 == bx0 == bx1 and min(ay1, by1) > max(ay0, by0)
        if level or upright:
            found.append((a, b))
    return found


def islands(routed, net):
    """Return how many pieces a net falls apart into, and the edge heights it reaches."""
    wires = [wire for wire in routed.wires if wire.net == net]
    groups = []
    for wire in wires:
        touching = [g for g in groups if any(touch(wire, other, routed.tracks) for other in g)]
        groups = [g for g in groups if g not in touching] + [[wire, *(w for g in touching for w in g)]]
    ends = {(p, y) for wire in wires for p, y in (wire.start, wire.end) if p in (LEFT, RIGHT)}
    return len(groups), ends


def touch(a, b, tracks):
    def span(wire):
        xs = sorted(place(p, tracks) for p, _ in (wire.start, wire.end))
        ys = sorted(y for _, y in (wire.start, wire.end))
        return *xs, *ys

    ax0, ax1, ay0, ay1 = span(a)
    bx0, bx1, by0, by1 = span(b)
    return ax0 <= bx1 and bx0 <= ax1 and ay0 <= by1 + 1e-6 and by0 <= ay1 + 1e-6


def test_300_random_permutations_never_overlap():
    """Contacts permuted on one grid on both sides, the worst case there is: no two nets ever lie on one another."""
    chance = random.Random(20260504)
    for _ in range(300):
        order = list(range(chance.choice((4, 7, 12, 13))))
        chance.shuffle(order)
        taps = swapped(order)
        routed = route(taps)
        assert overlaps(routed) == []
        for net in {tap.net for tap in taps}:
            wanted = {(LEFT if tap.from_left else RIGHT, tap.y) for tap in taps if tap.net == net}
            assert islands(routed, net) == (1, wanted)


taps_of_a_channel = st.lists(
    st.tuples(st.integers(0, 5), st.integers(0, 11), st.booleans()), min_size=1, max_size=16, unique_by=lambda t: t[1:]
)


@given(taps_of_a_channel)
def test_any_channel_is_routed_whole_and_apart(rows):
    """Nets with any number of ends on either side: each in one piece, with exactly its own ends, none on another."""
    taps = [RouteTap(f"n{net}", PITCH_MM / 2 * row, left) for net, row, left in rows]
    routed = route(taps)
    assert overlaps(routed) == []
    for net in {tap.net for tap in taps}:
        members = {(LEFT if tap.from_left else RIGHT, tap.y) for tap in taps if tap.net == net}
        if len(members) > 1:
            assert islands(routed, net) == (1, members)


@given(st.permutations(range(5)), st.integers(0, 3))
def test_order_of_trunks_has_the_fewest_crossings(order, lower):
    """With the right side moved by half a row no order is forbidden; none of all 120 has fewer crossings."""
    shift = PITCH_MM / 2 + lower * PITCH_MM
    taps = [RouteTap(f"n{i}", PITCH_MM * i, True) for i in range(5)]
    taps += [RouteTap(f"n{net}", PITCH_MM * i + shift, False) for i, net in enumerate(order)]
    spans = {net: (PITCH_MM * net, PITCH_MM * i + shift) for i, net in enumerate(order)}

    def crossings(trunks):
        total = 0
        for a, b in combinations(trunks, 2):
            low, high = sorted(spans[a])
            total += low < spans[b][0] < high
            low, high = sorted(spans[b])
            total += low < spans[a][1] < high
        return total

    assert route(taps).crossings == min(crossings(trunks) for trunks in permutations(range(5)))


def test_straight_wires_need_no_track():
    """Nets that keep their height go straight through and take no room."""
    routed = route(swapped([0, 1, 2, 3]))
    assert routed.tracks == 0
    assert [(wire.start, wire.end) for wire in routed.wires] == [
        ((LEFT, PITCH_MM * i), (RIGHT, PITCH_MM * i)) for i in range(4)
    ]


def test_two_swapped_contacts_get_one_step():
    """Two nets that must each be left of the other are the case no order solves: one of them takes a step."""
    routed = route(swapped([1, 0]))
    assert overlaps(routed) == []
    assert routed.tracks == 3
    assert sum(wire.start[0] == wire.end[0] for wire in routed.wires) == 3


def test_dots_stand_only_where_three_wires_meet():
    """A bus has a dot at every branch between its ends, none at its corners, and none where nets only cross."""
    taps = [
        RouteTap("bus", 0.0, True),
        RouteTap("bus", 8.0, False),
        RouteTap("bus", 16.0, False),
        RouteTap("bus", 24.0, False),
    ]
    taps += [RouteTap("other", 12.0, True), RouteTap("other", 12.0, False)]
    routed = route(taps)
    assert [(net, y) for net, _, y in routed.dots] == [("bus", 8.0), ("bus", 16.0)]
    assert routed.crossings == 1


def test_routing_does_not_depend_on_the_order_of_the_taps():
    """The same wires give the same picture in whatever order they are named."""
    taps = swapped([3, 1, 0, 4, 2])
    assert route(taps) == route(reversed(taps))


def row(column, name, left, right, **kwargs):
    return DrawnPart(
        key=name, column=column, width=8, up=3, down=3, ports=(Port(left, False), Port(right, True)), **kwargs
    )


def test_a_chain_lies_on_one_line():
    """Parts joined end to end lie on one line, also where the wire passes a column it has nothing in."""
    parts = [row(0, "a", "x", "n1"), row(1, "b", "n1", "n2"), row(3, "c", "n2", "y"), row(2, "d", "p", "q")]
    placed = layout(parts)
    assert placed.y["a"] == placed.y["b"] == placed.y["c"]
    assert abs(placed.y["d"] - placed.y["a"]) >= 4.0


def test_parts_of_a_column_keep_apart():
    """Whatever hangs on what, parts of one column never touch, and nothing lies above the top."""
    chance = random.Random(5)
    for _ in range(40):
        nets = [f"n{chance.randrange(9)}" for _ in range(40)]
        parts = [row(i % 4, f"p{i}", nets[2 * i], nets[2 * i + 1]) for i in range(16)]
        placed = layout(parts, gap_mm=1.0)
        for a, b in combinations(parts, 2):
            if a.column == b.column:
                assert abs(placed.y[a.key] - placed.y[b.key]) >= 6.0 - 1e-6
        assert min(placed.y.values()) >= 3.0 - 1e-6


def test_nothing_passes_between_the_contacts_of_a_shell():
    """What passes a connector's column goes above or below all its contacts."""
    contacts = [row(1, f"x{i}", f"l{i}", f"r{i}", block="X1", rank=i) for i in range(4)]
    ends = [row(0, f"a{i}", f"s{i}", f"l{i}") for i in range(4)] + [row(2, f"b{i}", f"r{i}", f"t{i}") for i in range(4)]
    taps = [row(0, "tap", "s1", "t1"), row(0, "low", "s2", "t2", foot=True)]
    placed = layout([*contacts, *ends, *taps])
    inside = [placed.y[part.key] for part in contacts]
    passing = [y for _, column, y in placed.lanes if column == 1]
    assert len(passing) == 2
    assert all(not min(inside) < y < max(inside) for y in passing)


def test_spare_height_widens_the_gaps_evenly():
    """Room to spare goes between the rows, up to a limit, and never beyond the room."""
    parts = [row(0, f"p{i}", f"l{i}", f"r{i}", rank=i) for i in range(6)]
    tight = layout(parts, gap_mm=1.0)
    wide = layout(parts, gap_mm=1.0, fill_mm=50.0)
    steps = {round(wide.y[f"p{i + 1}"] - wide.y[f"p{i}"], 2) for i in range(5)}
    assert tight.height == pytest.approx(6 * 6 + 5 * 1.0)
    assert tight.height < wide.height <= 50.0
    assert len(steps) == 1
