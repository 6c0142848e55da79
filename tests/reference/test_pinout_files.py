"""The shipped connector wirings as files: sources, support, colours, shells that mate, faces and notices."""

import re
import tomllib
from collections import Counter
from pathlib import Path

import pytest

from wiregen.catalogue.circuits import GROUNDS
from wiregen.catalogue.connector import COLOURS, Connector, split_colour

ROOT = Path(__file__).parents[2]
SOURCES = tomllib.loads((ROOT / "wiregen/catalogue/sources.toml").read_text(encoding="utf-8"))
PINOUTS = {
    path.stem: Connector.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    for path in sorted((ROOT / "pinouts").glob("*.toml"))
}
ALL = pytest.mark.parametrize("pinout", PINOUTS.values(), ids=PINOUTS.keys())
CITED = re.compile(r"\[([A-Z]\d+b?(?: [A-Z]\d+b?)*)\]")


def _texts(pinout: Connector) -> list[str]:
    notes = [contact.note for contact in pinout.contact]
    notes += [proof.note for row in (pinout, *pinout.contact) for _, proof in row.proof if proof]
    return [*pinout.notices, *notes, pinout.face.note, pinout.colour_code, pinout.colour_code_other]


@ALL
def test_marks_are_unique(pinout):
    """No mark stands twice in one connector."""
    assert [mark for mark, count in Counter(row.mark for row in pinout.contact).items() if count > 1] == []


@ALL
def test_every_source_is_listed(pinout):
    """Every source key, also one cited in words, is in the list of sources or the file's own titles."""
    known = set(SOURCES) | set(pinout.source_titles)
    keys = {key for row in pinout.contact for key in row.sources} | set(pinout.face.sources)
    keys |= {key for shared in pinout.shared_rating for key in shared.sources}
    keys |= set(pinout.usual_size.sources if pinout.usual_size else ())
    keys |= {key for row in (pinout, *pinout.contact) for _, proof in row.proof if proof for key in proof.sources}
    keys |= {key for text in _texts(pinout) for group in CITED.findall(text) for key in group.split()}
    assert sorted(keys - known) == []


def test_sources_say_what_and_how_much_was_read():
    """Every source has a title, a place, how much was read and a kind; the key for memory says so."""
    lacking = [
        key for key, row in SOURCES.items() if any(not row.get(field) for field in ("title", "where", "read", "kind"))
    ]
    assert lacking == []
    assert SOURCES["memory"]["title"] == "No document seen"


def test_a_reader_can_find_every_source():
    """A source is named by title, place and how much was read; none is hidden, and none is a machine's answer."""
    told = {key: f"{row['title']} {row['where']} {row['kind']}".lower() for key, row in SOURCES.items()}
    assert [key for key, text in told.items() if re.search(r"withheld|automated|chat", text)] == []
    nowhere = [key for key, row in SOURCES.items() if row["where"].startswith(("nowhere", "no document"))]
    assert [key for key in nowhere if key not in ("memory", "ASSUMED") and not key.startswith("M-")] == []


@ALL
def test_support_matches_number_of_sources(pinout):
    """'two' names two sources that are not memory; 'memory' cites memory, and only 'memory' does."""
    proofs = [*pinout.contact, *(proof for row in (pinout, *pinout.contact) for _, proof in row.proof if proof)]
    assert [row for row in proofs if row.support == "two" and len(set(row.sources) - {"memory"}) < 2] == []
    assert [row for row in proofs if ("memory" in row.sources) != (row.support == "memory")] == []


@ALL
def test_a_proof_is_of_a_field_that_is_there(pinout):
    """Nothing is said of a colour, size, rating or return that a contact does not have."""
    idle = [
        (row.mark, field)
        for row in pinout.contact
        for field, proof in row.proof
        if proof and field not in pinout.fields(row)
    ]
    assert idle == []
    used = {field for row in pinout.contact for field in pinout.fields(row)}
    assert {field for field, proof in pinout.proof if proof} <= used


@ALL
def test_disagreement_is_explained(pinout):
    """Every row on which sources disagree says in its note what the other one says."""
    assert [row.mark for row in pinout.contact if row.support == "disagree" and len(row.note) < 20] == []


@ALL
def test_colours_are_iec_60757(pinout):
    """Every colour is one or two IEC 60757 codes; purple is VT."""
    codes = [code for row in pinout.contact for code in (row.colour, row.colour_other) if code]
    assert [code for code in codes if not all(part in COLOURS for part in split_colour(code))] == []


@ALL
def test_stop_turn_matches_circuits(pinout):
    """A combined wiring has combined contacts and no others; a separate one has none."""
    circuits = {circuit for row in pinout.contact for circuit in (row.choices or (row.circuit,))}
    combined = circuits & {"stop_turn_left", "stop_turn_right"}
    separate = circuits & {"stop", "turn_left", "turn_right"}
    if pinout.stop_turn == "combined":
        assert (len(combined), separate - {"stop"}) == (2, set())
    else:
        assert (len(combined), len(separate) in (0, 3)) == (0, True)


def test_wirings_without_stop_and_turn():
    """Only the supplementary connectors and the one for brakes carry neither stop nor turn (I5, I8b, P3, P7)."""
    bare = [
        stem
        for stem, pinout in PINOUTS.items()
        if not any("stop" in row.circuit or "turn_" in row.circuit for row in pinout.contact)
    ]
    assert sorted(bare) == ["iso-3731", "iso-3732", "iso-3732-uk-before-1998", "iso-7638"]


def test_shells_that_mate():
    """Wirings that mate share the shell text (N1, I12, U1, P1, P5, P9, P11); every other shell stands alone."""
    groups: dict[str, set[str]] = {}
    for stem, pinout in PINOUTS.items():
        groups.setdefault(pinout.shell, set()).add(stem)
    shared = sorted(sorted(group) for group in groups.values() if len(group) > 1)
    assert shared == [
        ["agricultural-7", "as-4735", "iso-1185", "sae-j560"],
        ["as-4177-7-round", "iso-1724", "nen-6120"],
        ["iso-11446", "iso-11446-before-2004"],
        ["iso-3732", "iso-3732-uk-before-1998"],
        ["military-12-commonwealth", "military-12-stanag", "military-12-us"],
    ]


@ALL
def test_every_wiring_says_what_to_know(pinout):
    """Every wiring tells the user to measure, and one that shares its shell says that a wrong one mates."""
    text = " ".join(pinout.notices)
    assert "Measure before connecting" in text
    if sum(other.shell == pinout.shell for other in PINOUTS.values()) > 1:
        assert "mate" in text


NOTICES = {
    "military-12-us": ["no stop-only contact", "REAR FOG LAMP ON", "never guess", "No current rating"],
    "military-12-stanag": ["One source only", "Positive earth", "never guess", "national deviations", "30 A"],
    "military-12-commonwealth": ["rear fog [N3]", "bridged", "never guess"],
    "iso-1185": ["key switch", "destroys a 12 V trailer", "must not bridge"],
    "as-4735": ["key switch", "destroys a 12 V trailer", "One source only"],
    "sae-j560": ["key switch", "destroys a 12 V trailer", "tie stop into turn", "not applicable to 24 V"],
    "iso-12098": ["must not bridge", "Do not tap"],
    "iso-1724": ["never on both", "before about 1991", "trailer brakes on", "In the PLUG 1, 3, 4 and 6 are pins"],
    "iso-11446": [
        "must not be joined",
        "DISPUTED",
        "Never tell 11 from 13 by colour",
        "9 by 13, 10 by 11",
        "over 9 or over 10",
    ],
    "iso-11446-before-2004": ["no return", "ONE return"],
    "iso-3732": ["before September 1998", "no return there", "only 2 and 5 are tubes"],
    "iso-3732-uk-before-1998": ["ONE earth", "Measure 7 against 3"],
    "iso-7638": ["DO NOT TAP", "keyed apart"],
    "nen-6120": ["METAL", "no default"],
    "agricultural-7": ["lights its stop lamps with the key on", "no default", "24 V"],
    "round-4": ["35 A", "do not mate"],
    "flat-5": ["two conventions", "no default", "one weak page"],
    "round-6": ["Two conventions", "no default", "Blue is no proof"],
    "sae-j2863": ["Two colour codes clash", "FUNCTION"],
    "as-4177-7": ["trailer brakes on", "third value"],
    "as-4177-7-round": ["trailer brakes on", "third value"],
}


@pytest.mark.parametrize("stem", NOTICES)
def test_safety_notices(stem):
    """The hazards found while collecting the tables reach the user of the wiring they belong to."""
    text = " ".join(PINOUTS[stem].notices)
    assert [words for words in NOTICES[stem] if words not in text] == []


@ALL
def test_no_face_is_verified(pinout):
    """No face was held against a real part, so none may say so, and each says what is unsure."""
    assert pinout.face.verified is False
    assert re.search(r"not known|unknown|[Nn]o document|no angle", pinout.face.note) is not None


@ALL
def test_face_positions_are_whole_and_apart(pinout):
    """Either every contact has a place or none has, and no two contacts share one."""
    places = [row.face for row in pinout.contact if row.face]
    assert len(places) in (0, len(pinout.contact))
    spots = {(p.angle_deg if p.radius else 0.0, p.radius, p.x, p.y) for p in places}
    assert len(spots) == len(places)


def test_wirings_without_known_positions():
    """Where nothing is known of the positions no contact has a place."""
    blind = [stem for stem, pinout in PINOUTS.items() if not any(row.face for row in pinout.contact)]
    assert sorted(blind) == [
        *("agricultural-7", "iso-11446", "iso-11446-before-2004", "iso-12098", "iso-3732-uk-before-1998", "iso-7638"),
        *("nen-6120", "round-4", "round-6"),
    ]


def test_rows_run_in_the_printed_order():
    """Flat connectors: contacts lie in the printed order from -1 to 1."""
    flats = [pinout for pinout in PINOUTS.values() if pinout.face.shape == "row"]
    assert len(flats) == 3
    for pinout in flats:
        across = [row.face.x for row in pinout.contact]
        assert across == sorted(across)
        assert (across[0], across[-1]) == (-1, 1)


def test_military_faces_are_one_face():
    """The three wirings of the military shell draw the same face, because it is one part."""
    faces = [{row.mark: row.face for row in PINOUTS[stem].contact} for stem in PINOUTS if stem.startswith("military")]
    assert faces == [faces[0]] * 3


@ALL
def test_groups_name_contacts_that_exist(pinout):
    """Ties and shared ratings name marks of the same connector; a load with a return of its own is no ground."""
    marks = {row.mark for row in pinout.contact}
    named = {mark for group in pinout.ties for mark in group}
    named |= {mark for shared in pinout.shared_rating for mark in shared.marks}
    assert sorted(named - marks) == []
    returning = [row for row in pinout.contact if row.returns_by]
    assert [row.mark for row in returning if row.circuit in GROUNDS] == []
    assert [row.mark for row in returning if pinout.return_of(row).circuit not in GROUNDS] == []


def test_clock_positions():
    """Clockwise order round the face without the centre: 7-way (P37 P39), ISO 1724 (P12 P21 P38), heavy (I5)."""
    order = {
        stem: " ".join(
            row.mark for row in sorted(PINOUTS[stem].contact, key=lambda row: row.face.angle_deg) if row.face.radius
        )
        for stem in ("sae-j2863", "iso-1724", "sae-j560")
    }
    assert order == {"sae-j2863": "4 6 2 1 5 3", "iso-1724": "1 2 3 4 5 6", "sae-j560": "1 2 3 4 5 6"}
