"""The questions of ``wiregen new``: which come, in which order, and whether an answer will do."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal, TypeAlias, TypeVar, cast

from wiregen.catalogue.circuits import CIRCUITS
from wiregen.catalogue.connector import Connector
from wiregen.errors import InputError, Problem, QuantityError, nearest
from wiregen.quantity import parse, show
from wiregen.questions.draft.answers import (
    LONGEST_NAME,
    LONGEST_PLACE,
    MOST_CONTINUOUS_A,
    MOST_MAGNETS,
    MOST_TRAILERS,
    Answers,
    Choices,
    Feed,
    LampTechnology,
    SupplyKind,
    TrailerAnswers,
    Units,
    is_trailer_plug,
    is_vehicle_socket,
)
from wiregen.questions.draft.channels import chosen
from wiregen.questions.draft.contacts import with_sizes
from wiregen.questions.draft.loads import contact_feeds, is_us_practice
from wiregen.questions.draft.plan import make_draft

Kind = Literal["text", "choice", "yes_no", "count", "amps"]


@dataclass(frozen=True, slots=True)
class Choice:
    """One of several answers.

    Attributes:
        value: What to type.
        title: What it is, in a few words.
    """

    value: str
    title: str


#: Answer that leaves a contact open.
LATER: Final = "later"
_LATER: Final = Choice(LATER, "leave it open and measure")
_UNITS: Final = (Choice("metric", "mm² and m"), Choice("us", "AWG and ft"))
_LAMPS: Final = (
    Choice("filament", "bulbs"),
    Choice("led", "LED lamps"),
    Choice("mixed", "bulbs, the small ones LED"),
)
_SUPPLIES: Final = (
    Choice("converter", "step-down converter from 24 V"),
    Choice("centre_tap", "tap between the two batteries"),
    Choice("battery", "12 V battery of its own"),
)
_FEEDS: Final = (Choice("contact", "permanent contact of the socket"), Choice("battery", "own wire from the battery"))
_SHELL: Final = "Shells alone do not tell: several wirings mate. Measure before you believe a name."
_STOP_WINS: Final = "Does the pedal hold the lamps steady while the hazard lights run?"
_YES_NO: Final = {"yes": "yes", "y": "yes", "no": "no", "n": "no"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question.

    Attributes:
        key: Name of the answer.
        text: The question, short.
        kind: What an answer looks like.
        choices: For a choice: what may be answered. Its number in this list, from 1, is an answer too.
        default: Answer taken for an empty text; None where one must be given.
        help: What to know before answering; may be empty.
        highest: For a count or a current: the highest value; for a text: the most characters.
        taken: Texts that are used already.
    """

    key: str
    text: str
    kind: Kind
    choices: tuple[Choice, ...] = ()
    default: str | None = None
    help: str = ""
    highest: float = LONGEST_NAME
    taken: tuple[str, ...] = ()

    @property
    def prompt(self) -> str:
        """The question with its default, on one line."""
        if self.kind == "yes_no":
            return f"{self.text} [{'Y/n' if self.default == 'yes' else 'y/N'}] "
        return f"{self.text} [{self.default}] " if self.default else f"{self.text} "

    @property
    def takes(self) -> str:
        """What may be answered, in words: ``metric or us``, ``0 to 8``."""
        most = f"{self.highest:g}"
        words = {
            "text": f"At most {most} characters.",
            "choice": f"One of: {', '.join(choice.value for choice in self.choices)}.",
            "yes_no": "yes or no.",
            "count": f"0 to {most}.",
            "amps": f"At most {most} A, such as 15 A{f'; or {LATER}' if self.default == LATER else ''}.",
        }[self.kind]
        return words if self.default is not None else f"{words} Needed."

    def problem(self, text: str) -> str:
        """Return why an answer will not do, with what would; an empty text when it will."""
        text = text.strip()
        if not text:
            return "" if self.default is not None else "An answer is needed here."
        return {
            "text": self._text_problem,
            "choice": self._choice_problem,
            "yes_no": self._yes_no_problem,
            "count": self._count_problem,
            "amps": self._amps_problem,
        }[self.kind](text)

    def read(self, text: str) -> str:
        """Return an answer that has no problem in its plain form: a choice by its value, ``yes`` or ``no``."""
        text = text.strip() or (self.default or "")
        if self.kind == "yes_no":
            return _YES_NO[text.lower()]
        if self.kind == "choice":
            return self._chosen(text) or text
        return text

    def _text_problem(self, text: str) -> str:
        if len(text) > self.highest:
            return f"{self.highest:g} characters at most, not {len(text)}."
        if any("\ud800" <= letter <= "\udfff" for letter in text):
            return "This text has a broken character."
        return f"{text!r} is used already: choose another name." if text in self.taken else ""

    def _chosen(self, text: str) -> str | None:
        values = [choice.value for choice in self.choices]
        if text.lower() in values:
            return text.lower()
        if text.isascii() and text.isdigit() and 1 <= int(text) <= len(values):
            return values[int(text) - 1]
        return None

    def _choice_problem(self, text: str) -> str:
        if self._chosen(text) is not None:
            return ""
        values = [choice.value for choice in self.choices]
        return f"{text!r} is not one of them{nearest(text.lower(), values) or '.'} Possible: {', '.join(values)}"

    def _yes_no_problem(self, text: str) -> str:
        return "" if text.lower() in _YES_NO else f"{text!r} is neither 'yes' nor 'no'."

    def _count_problem(self, text: str) -> str:
        if text.isascii() and text.isdigit() and len(text) < 9 and int(text) <= self.highest:
            return ""
        return f"A whole number from 0 to {self.highest:g} is wanted, not {text!r}."

    def _amps_problem(self, text: str) -> str:
        if self.default == LATER and text.lower() == LATER:
            return ""
        try:
            amps = parse(text, "current")
        except QuantityError as reason:
            return f"{reason}."
        return "" if 0 < amps <= self.highest else f"More than 0 and at most {self.highest:g} A is wanted."


_T = TypeVar("_T")
_Asking: TypeAlias = Generator[Question, None, _T]


def questions(given: Mapping[str, str], pinouts: Mapping[str, Connector]) -> Iterator[Question]:
    """Yield the questions that ``given`` does not answer yet, looking at it again after each one.

    An answer that is still missing when the next question is asked for counts as the default.

    Args:
        given: Answers by key, as typed. The caller adds to it between two questions.
        pinouts: Every pinout that may be chosen, by name.

    Raises:
        InputError: An answer will not do, or one without a default is missing.
    """
    return _Interview(given, pinouts).run()


def answers_of(given: Mapping[str, str], pinouts: Mapping[str, Connector]) -> Answers:
    """Return the answers, with the default wherever ``given`` has none.

    Raises:
        InputError: An answer will not do, one without a default is missing, or one belongs to no question.
    """
    interview = _Interview(given, pinouts)
    for _ in interview.run():
        pass
    if interview.answers is None:  # the generator ends only when it has set them
        message = "the questions did not come to an end"
        raise InputError(message)
    strangers = [key for key in given if key not in interview.asked]
    if strangers:
        problems = [Problem(f"{key!r} is not asked here{nearest(key, interview.asked)}") for key in strangers]
        raise InputError([*problems, Problem(f"asked here: {', '.join(interview.asked)}")])
    return interview.answers


def given_of(answers: Answers) -> dict[str, str]:
    """Return the mapping that ``answers_of`` turns into these answers."""
    given = {
        "units": answers.units,
        "vehicle": answers.vehicle_name,
        "title": answers.title,
        "socket": answers.socket,
        "supply": answers.supply,
        "location": answers.location,
    }
    given |= {f"socket.contact.{mark}": circuit for mark, circuit in answers.socket_choices}
    if answers.stop_wins:
        given["stop_wins"] = "yes"
    if answers.continuous_a is not None:
        given["continuous"] = f"{answers.continuous_a!r} A"
    if answers.feed is not None:
        given["feed"] = answers.feed
    if answers.feed == "contact":
        given["feed_fuse"] = LATER if answers.feed_fuse_a is None else f"{answers.feed_fuse_a!r} A"
    for number, trailer in enumerate(answers.trailers, start=1):
        start = f"trailer.{number}"
        given |= {
            f"{start}.name": trailer.name,
            f"{start}.plug": trailer.plug,
            f"{start}.lamps": trailer.lamps,
            f"{start}.wide": "yes" if trailer.wide else "no",
        }
        given |= {f"{start}.contact.{mark}": circuit for mark, circuit in trailer.choices}
        if trailer.magnets:
            given[f"{start}.magnets"] = str(trailer.magnets)
        if number < len(answers.trailers):
            given[f"{start}.another"] = "yes"
    return given


class _Interview:
    """Asks one thing after the other; what has been answered decides what comes next."""

    def __init__(self, given: Mapping[str, str], pinouts: Mapping[str, Connector]) -> None:
        self.given = given
        self.pinouts = pinouts
        self.asked: dict[str, None] = {}
        self.answers: Answers | None = None

    def _ask(self, question: Question) -> _Asking[str]:
        """Yield the question if it has no answer yet, then return the answer in its plain form."""
        self.asked[question.key] = None
        if question.key not in self.given:
            yield question
        text = self.given.get(question.key, "")
        if problem := question.problem(text):
            message = f"{question.key}: {question.text} {problem}"
            raise InputError(message)
        return question.read(text)

    def run(self) -> Iterator[Question]:
        """Ask everything in turn; ``answers`` is set at the end."""
        units = yield from self._pick("units", "Metric or US units?", _UNITS, "metric")
        vehicle = yield from self._text("vehicle", "What is the vehicle called?", "24 V vehicle")
        title = yield from self._text("title", "Title of the sheets?", f"{vehicle[:40]}, trailer adapter")
        sockets = self._offered(is_vehicle_socket)
        socket_name = yield from self._pick("socket", "Which trailer socket has it?", sockets, None, _SHELL)
        socket_choices = yield from self._contacts("socket", self.pinouts[socket_name])
        socket = chosen(self.pinouts[socket_name], dict(socket_choices))
        stop_wins = False
        if socket.stop_turn == "combined":
            stop_wins = yield from self._yes_no("stop_wins", _STOP_WINS, "Hazard lights on, then press the pedal.")
        trailers = yield from self._trailers()
        supply = yield from self._pick("supply", "Where does the adapter's 12 V come from?", _SUPPLIES, "converter")
        draft = Answers(
            title=title,
            vehicle_name=vehicle,
            socket=socket_name,
            trailers=trailers,
            socket_choices=socket_choices,
            stop_wins=stop_wins,
            supply=cast("SupplyKind", supply),
            units=cast("Units", units),
        )
        if supply == "converter":
            draft = yield from self._converter(draft, socket)
        place = Question(
            key="location", text="Where is the adapter mounted?", kind="text", default="", highest=LONGEST_PLACE
        )
        location = yield from self._ask(place)
        self.answers = replace(draft, location=location)

    def _text(self, key: str, text: str, default: str, taken: tuple[str, ...] = ()) -> _Asking[str]:
        return (yield from self._ask(Question(key=key, text=text, kind="text", default=default, taken=taken)))

    def _yes_no(self, key: str, text: str, hint: str = "") -> _Asking[bool]:
        question = Question(key=key, text=text, kind="yes_no", default="no", help=hint)
        return (yield from self._ask(question)) == "yes"

    def _pick(
        self, key: str, text: str, choices: tuple[Choice, ...], default: str | None, hint: str = ""
    ) -> _Asking[str]:
        question = Question(key=key, text=text, kind="choice", choices=choices, default=default, help=hint)
        return (yield from self._ask(question))

    def _offered(self, fits: Callable[[Connector], bool]) -> tuple[Choice, ...]:
        return tuple(Choice(name, pinout.short) for name, pinout in sorted(self.pinouts.items()) if fits(pinout))

    def _contacts(self, start: str, pinout: Connector) -> _Asking[Choices]:
        """Ask for every contact that the trade wires in several ways."""
        found = []
        for contact in pinout.on("choose"):
            choices = (*(Choice(name, CIRCUITS[name].word) for name in contact.choices), _LATER)
            text = f"What is on contact {contact.mark} of {pinout.short}?"
            circuit = yield from self._pick(f"{start}.contact.{contact.mark}", text, choices, LATER, contact.note)
            if circuit != LATER:
                found.append((contact.mark, circuit))
        return tuple(found)

    def _trailers(self) -> _Asking[tuple[TrailerAnswers, ...]]:
        found: list[TrailerAnswers] = []
        while True:
            trailer = yield from self._trailer(len(found) + 1, tuple(one.name for one in found))
            found.append(trailer)
            if len(found) == MOST_TRAILERS:
                return tuple(found)
            more = yield from self._yes_no(f"trailer.{len(found)}.another", "Another trailer at other times?")
            if not more:
                return tuple(found)

    def _trailer(self, number: int, taken: tuple[str, ...]) -> _Asking[TrailerAnswers]:
        start = f"trailer.{number}"
        name = yield from self._text(f"{start}.name", "What is the trailer called?", f"trailer {number}", taken)
        plugs = self._offered(is_trailer_plug)
        plug_name = yield from self._pick(f"{start}.plug", "Which plug does it have?", plugs, None, _SHELL)
        choices = yield from self._contacts(start, self.pinouts[plug_name])
        plug = chosen(self.pinouts[plug_name], dict(choices))
        lamps = yield from self._pick(f"{start}.lamps", "Which lamps does it have?", _LAMPS, "led")
        width = "Is it 80 in wide or wider?" if is_us_practice(plug) else "Is it wider than 2.1 m?"
        wide = yield from self._yes_no(f"{start}.wide", width)
        magnets = "0"
        if plug.on("brake"):
            question = Question(
                key=f"{start}.magnets",
                text="How many electric brake magnets?",
                kind="count",
                default="0",
                help="One to a wheel; 0 for overrun brakes or none.",
                highest=MOST_MAGNETS,
            )
            magnets = yield from self._ask(question)
        return TrailerAnswers(
            name=name,
            plug=plug_name,
            lamps=cast("LampTechnology", lamps),
            wide=wide,
            magnets=int(magnets),
            choices=choices,
        )

    def _converter(self, draft: Answers, socket: Connector) -> _Asking[Answers]:
        size = make_draft(draft, self.pinouts).supply
        question = Question(
            key="continuous",
            text="Continuous output of the converter?",
            kind="amps",
            default=f"{size.continuous_a:g} A",
            help=f"The lamps and magnets take {show(size.load_a, 'A')} together. The peak on the label does not count.",
            highest=MOST_CONTINUOUS_A,
        )
        draft = replace(draft, continuous_a=parse((yield from self._ask(question)), "current"))
        if not socket.on("charge"):
            if self.given.get("feed") == "battery":
                self.asked["feed"] = None  # the only answer there is need not be asked for, but may be given
            return replace(draft, feed="battery")
        feed_a = make_draft(draft, self.pinouts).supply.feed_a
        text = f"What feeds the converter? It draws up to {show(feed_a, 'A')}."
        best = "contact" if contact_feeds(with_sizes(socket, draft.units), feed_a) else "battery"
        draft = replace(draft, feed=cast("Feed", (yield from self._pick("feed", text, _FEEDS, best))))
        if draft.feed == "battery":
            return draft
        fuse = Question(
            key="feed_fuse",
            text="Rating of the vehicle's fuse behind that contact?",
            kind="amps",
            default=LATER,
            help=f"Go and look. The converter wants {make_draft(draft, self.pinouts).supply.feed_fuse_a:g} A; "
            f"'{LATER}' leaves it open, and the check asks for it.",
            highest=MOST_CONTINUOUS_A,
        )
        rating = yield from self._ask(fuse)
        return draft if rating.lower() == LATER else replace(draft, feed_fuse_a=parse(rating, "current"))
