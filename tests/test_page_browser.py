"""The page in a real browser, without a network: every state, touch, keyboard, search, print, accessibility."""

from __future__ import annotations

import base64
import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Any, TypeAlias

import pytest

from tests import steps
from tests.conftest import program
from wiregen.bundle.page.data import page_data
from wiregen.bundle.page.html import page_text
from wiregen.model.fault_guide import FaultGuide

WIREGEN = Path(__file__).parent.parent / "wiregen"
DEMO = WIREGEN / "bundle" / "demo" / "observatory-bus.toml"
FONTS = WIREGEN / "paper" / "pdf" / "fonts"
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True}
DESK = {"viewport": {"width": 1280, "height": 900}}
Made: TypeAlias = tuple[Path, dict[str, Any], tuple[FaultGuide, ...]]
#: Letters as narrow as a condensed sans-serif and as wide as a broad one, made of the font that wiregen ships: what a
#: phone falls back on is not known, and the fonts of the machine that runs the tests must not decide.
LETTERS = {"narrow letters": "82%", "wide letters": "120%"}
SCREENS = [(screen, "own letters") for screen in ("phone", "desk")]
every_font = pytest.mark.parametrize(
    "page", [*SCREENS, *itertools.product(("phone", "desk"), LETTERS)], ids="-".join, indirect=True
)
CONDITIONS = {"L": "live", "R": "return", "D": "dead", "F": "floating"}

#: Works the controls as a finger does, then reads what is shown: one call a state, because there are many.
CHOOSE_AND_READ = """([number, chosen]) => {
    chosen.forEach((value, control) => {
        const button = document.getElementById(`c-${control}-${value}`) ?? document.getElementById(`c-${control}-1`);
        const wanted = button.role === 'switch' ? String(value === 1) : 'true';
        if (button.getAttribute('aria-checked') !== wanted) button.click();
    });
    return [
        [...document.querySelectorAll(`#trailer-${number} [data-net]`)].map(
            e => [e.dataset.net, e.dataset.now, e.classList.contains('c-' + e.dataset.now)]),
        [...document.querySelectorAll(`#trailer-${number} tr[data-reading]`)].map(
            e => [e.dataset.reading, [...e.querySelectorAll('.n')].map(n => n.firstChild.data)]),
    ];
}"""

#: Puts a font under the names that page and drawing ask for first, and tells how wide its "M" then is.
SET_LETTERS = """async ([width, files]) => {
    for (const [weight, text] of files) {
        const bytes = Uint8Array.from(atob(text), letter => letter.charCodeAt(0));
        for (const name of ['Arial', 'Liberation Sans'])
            document.fonts.add(await new FontFace(name, bytes.buffer, {weight, sizeAdjust: width}).load());
    }
    const pen = document.createElement('canvas').getContext('2d');
    pen.font = '100px Arial';
    return pen.measureText('M').width;
}"""

#: Picks a symptom, presses one answer after another, and tells each question with its answers, and what is left.
WALK = """([number, symptom, answers]) => {
    const guide = document.querySelector(`#trailer-${number} .guide`);
    guide.open = true;
    const link = [...guide.querySelectorAll('.pick a')].find(a => a.hash === symptom);
    link.click();
    const walk = guide.querySelector('.walk');
    const tell = () => [walk.querySelector('h3').textContent,
        [...walk.querySelectorAll('.answers button')].map(b => b.textContent),
        [...walk.querySelectorAll('li')].map(one => one.textContent)];
    const told = [tell()];
    for (const answer of answers) {
        [...walk.querySelectorAll('.answers button')].find(b => b.textContent.split(' or ').includes(answer)).click();
        told.push(tell());
    }
    walk.querySelector('.ways button:last-child').click();
    return [told, walk.hidden && !guide.querySelector('.pick').hidden];
}"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Return the page of the example rig as a file, the data in it, and its fault guide."""
    loaded = steps.load(DEMO)
    page = steps.live_page(loaded, guides=steps.fault_guide(loaded))
    path = tmp_path_factory.mktemp("page") / "rig.html"
    path.write_text(page_text(page), encoding="utf-8")
    return path, page_data(page), page.guides


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Return a headless browser."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    arguments = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
    with playwright.sync_playwright() as started:
        opened = started.chromium.launch(executable_path=program("chromium"), args=arguments)
        yield opened
        opened.close()


@pytest.fixture(params=SCREENS, ids="-".join)
def page(browser: Any, made: Made, request: pytest.FixtureRequest) -> Iterator[Any]:
    """Open the page offline on a phone and on a desk, and fail on any error, warning or request but the file's own."""
    screen, letters = request.param
    context = browser.new_context(offline=True, reduced_motion="reduce", **(PHONE if screen == "phone" else DESK))
    opened = context.new_page()
    told: list[str] = []
    opened.on("console", lambda message: told.append(message.text))
    opened.on("pageerror", lambda error: told.append(str(error)))
    opened.on("request", lambda asked: told.append(asked.url))
    opened.goto(made[0].as_uri())
    if letters in LETTERS:
        set_letters(opened, LETTERS[letters])
    yield opened
    context.close()
    assert told == [made[0].as_uri()]


def set_letters(page: Any, width: str) -> None:
    """Show the page in the shipped font, its letters as wide as told, and see that they are."""
    files = [
        [weight, base64.b64encode((FONTS / f"LiberationSans-{name}.ttf").read_bytes()).decode()]
        for weight, name in (("400", "Regular"), ("700", "Bold"))
    ]
    # The "M" of Liberation Sans is 1706 of 2048 units wide, says the hmtx table of the font.
    assert page.evaluate(SET_LETTERS, [width, files]) == pytest.approx(float(width[:-1]) * 1706 / 2048, rel=0.01)


def press(page: Any, name: str, role: str = "switch") -> None:
    """Tap a control."""
    control = page.get_by_role(role, name=name, exact=True)
    if page.viewport_size["width"] < 600:
        control.tap()
    else:
        control.click()


def test_every_state_shown_is_the_one_computed(page: Any, made: Made) -> None:
    """In every setting of the controls of both trailers: wires, lamps and the table say what the data say."""
    controls = made[1]["controls"]
    for number, trailer in enumerate(made[1]["trailers"]):
        page.locator("#trailers button").nth(number).click()
        place = {name: row for row, name in enumerate(trailer["terminals"])}
        for count, chosen in enumerate(itertools.product(*(range(len(values)) for _, values in controls))):
            seen, rows = page.evaluate(CHOOSE_AND_READ, [number, list(chosen)])
            state = trailer["states"][trailer["rows"][count][0]]
            assert seen
            for net, now, has_class in seen:
                assert (now, has_class) == (CONDITIONS[state["c"][place[net]]], True)
            for reading, cells in rows:
                spans = [trailer["spans"][state["r"][int(at)]] for at in reading.split()]
                wanted = [None if span[0] is None else span[0] / 100 for span in spans]
                wanted.append(None if spans[0][3] is None else spans[0][3] / 1000)
                assert [None if cell in ("floats", "–") else float(cell) for cell in cells] == wanted


def test_every_value_lies_inside_the_range_beneath_it(page: Any) -> None:
    """The script writes the ends of a range rounded away from it."""
    press(page, "Service lights", "radio")
    press(page, "Brake")
    cells = page.eval_on_selector_all(
        "#trailer-0 td.n", "found => found.map(one => [one.firstChild.textContent, one.lastChild.textContent])"
    )
    pairs = [(float(value), [float(end) for end in ends.split("\u2026")]) for value, ends in cells if "\u2026" in ends]
    assert len(pairs) > 5
    assert [pair for pair in pairs if not pair[1][0] <= pair[0] <= pair[1][1]] == []


def test_controls_change_the_sentence_and_the_lamps(page: Any) -> None:
    """Braking with the service lights on is told in words, and its lamps are told as lit in the table."""
    assert page.inner_text("#now") == "all off: every lamp dark"
    press(page, "Service lights", "radio")
    press(page, "Brake")
    assert page.inner_text("#now").startswith("service lights, brake: -E1, -E2, -E3, -E4")
    shown = page.locator('tr[data-lamp="-E3"] .s').first
    assert shown.inner_text() == "lit"


@every_font
def test_keyboard_alone_works_the_controls(page: Any) -> None:
    """Space presses a switch; arrows move between the positions of the lever."""
    page.get_by_role("switch", name="Brake", exact=True).focus()
    page.keyboard.press("Space")
    assert page.inner_text("#now").startswith("brake")
    page.get_by_role("radio", name="None", exact=True).focus()
    page.keyboard.press("ArrowRight")
    assert page.get_by_role("radio", name="Left", exact=True).get_attribute("aria-checked") == "true"
    assert page.inner_text("#now").startswith("brake, left turn")


def test_both_halves_of_the_flash_can_be_held(page: Any) -> None:
    """Hazard lights show a lit and a dark half."""
    press(page, "Hazard")
    press(page, "Lit", "radio")
    assert "lit half of the flash: -E3, -E4 on" in page.inner_text("#now")
    press(page, "Dark", "radio")
    assert "dark half of the flash: every lamp dark" in page.inner_text("#now")


def test_a_contact_is_found(page: Any) -> None:
    """The search leaves the rows that fit, and marks the part on the drawing."""
    page.fill("#search", "x1 j")
    left = page.locator("#trailer-0 tr[data-words]:not([hidden])")
    assert left.count() == 1
    assert "right stop and turn" in left.inner_text()
    assert page.locator("#trailer-0 .drawing .found").count() == 1


@every_font
def test_tapping_a_wire_reads_it(page: Any) -> None:
    """A tap on a conductor tells its volts and amps."""
    press(page, "Service lights", "radio")
    page.evaluate("document.querySelector('#trailer-0 [data-ref=\"-W9\"] .wire').dispatchEvent("
                  "new MouseEvent('click', {bubbles: true}))")  # fmt: skip
    assert page.inner_text("#picked").startswith("W9")
    assert "dead, 0.0" in page.inner_text("#picked")


@every_font
def test_nothing_is_wider_than_the_screen(page: Any) -> None:
    """Neither phone nor desk scrolls sideways, whatever the state; buttons are large enough for a thumb."""
    for name in ("Hazard", "Brake"):
        press(page, name)
    width = page.viewport_size["width"]
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    sizes = page.evaluate("[...document.querySelectorAll('button')].filter(b => b.offsetParent).map("
                          "b => [b.offsetWidth, b.offsetHeight])")  # fmt: skip
    assert all(wide >= 44 and high >= 44 for wide, high in sizes)


def visible(page: Any, name: str, role: str = "button") -> Any:
    """The first visible control of a name, whichever trailer it belongs to."""
    return page.get_by_role(role, name=name).locator("visible=true").first


def open_guide(page: Any) -> None:
    """Open the fault guide of the trailer that is shown."""
    page.locator("#trailer-0 .guide > summary").click()


def test_every_list_of_the_guide_is_walked_as_the_record_says(page: Any, made: Made) -> None:
    """From each symptom of both trailers, expected answer after expected answer, to the suspects that are left."""
    for number, guide in enumerate(made[2]):
        page.locator("#trailers button").nth(number).click()
        assert guide.entries
        for at, entry in enumerate(guide.entries, start=1):
            answers = [step.expect for step in entry.steps]
            told, is_back = page.evaluate(WALK, [number, f"#g{number}-{at}", answers])
            assert is_back
            for (heading, shown, _), step in zip(told[:-1], entry.steps, strict=True):
                assert step.words in heading
                words = {word for answer in shown for word in answer.split(" or ")}
                assert words == {step.expect, *(branch for branch, _ in step.branches), "Something else"}
            assert tuple(told[-1][2]) == entry.left


def test_other_answers_lead_to_their_suspects(page: Any, made: Made) -> None:
    """Each answer of each first check that names suspects shows exactly those."""
    tried = 0
    entries = made[2][0].entries
    pictures = {picture for entry in entries for picture in entry.pictures}
    for at, entry in enumerate(entries, start=1):
        for step in entry.steps[:1]:
            for shows, suspects in step.branches:
                if step.access == "lamps" and (step.setting, shows) in pictures:
                    continue
                told, _ = page.evaluate(WALK, [0, f"#g0-{at}", [shows]])
                assert tuple(told[-1][2]) == suspects
                tried += 1
    assert tried > 10


@every_font
def test_keyboard_alone_walks_through_the_guide(page: Any, made: Made) -> None:
    """Enter opens the guide, picks a symptom, answers and goes back; the heading of each step has the focus."""
    entries = made[2][0].entries
    at, entry = next((at, one) for at, one in enumerate(entries, start=1) if len(one.steps) > 2)
    page.locator("#trailer-0 .guide > summary").focus()
    page.keyboard.press("Enter")
    page.locator(f'#trailer-0 .pick a[href="#g0-{at}"]').first.focus()
    page.keyboard.press("Enter")
    focused = "document.activeElement.textContent"
    assert page.evaluate(focused) == page.inner_text("#trailer-0 .walk h3")
    assert entry.steps[0].words in page.evaluate(focused)
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert entry.steps[1].words in page.evaluate(focused)
    visible(page, "Back").focus()
    page.keyboard.press("Enter")
    assert entry.steps[0].words in page.evaluate(focused)
    visible(page, "Something else").focus()
    page.keyboard.press("Enter")
    assert "No likely single fault" in page.evaluate(focused)
    visible(page, "Start again").focus()
    page.keyboard.press("Enter")
    assert page.evaluate(focused) == "What do you see?"


@every_font
def test_the_guide_warns_and_fits_the_screen(page: Any, made: Made) -> None:
    """Cautions stand first; a symptom that may be dangerous says so; all fits the width, links are thumb-sized."""
    open_guide(page)
    assert "Never fit a larger fuse" in page.inner_text("#trailer-0 .guide .warn")
    sizes = page.evaluate(
        "[...document.querySelectorAll('#trailer-0 .pick a')].map(a => [a.offsetWidth, a.offsetHeight])"
    )
    assert all(wide >= 44 and high >= 44 for wide, high in sizes)
    page.locator("#trailer-0 .pick a").filter(has_text="electric brakes: dead").first.click()
    assert "does not brake" in page.inner_text("#trailer-0 .walk .danger")
    under = page.evaluate("document.querySelector('.controls').getBoundingClientRect().bottom")
    assert page.locator("#trailer-0 .walk h3").bounding_box()["y"] >= under
    page.locator("#trailer-0 .lists > summary").click()
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]


@every_font
def test_page_is_accessible(page: Any) -> None:
    """The accessibility checker axe finds nothing: lamps on, and at each stage of the fault guide."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
    script = Path(axe.__file__).with_name("axe.min.js").read_text("utf-8")
    press(page, "Service lights", "radio")
    page.evaluate(script)
    assert violations(page) == []
    open_guide(page)
    page.locator("#trailer-0 .lists > summary").click()
    assert violations(page, "#trailer-0 .guide") == []
    page.locator('#trailer-0 .pick a[href="#g0-2"]').first.click()
    assert violations(page, "#trailer-0 .walk") == []
    page.locator("#trailer-0 .answers button").nth(-2).click()
    assert violations(page, "#trailer-0 .walk") == []


@every_font
def test_keyboard_alone_scrolls_a_table(page: Any) -> None:
    """On a screen too narrow for a table, the table takes the focus, has a name, and an arrow key moves it."""
    page.set_viewport_size({"width": 200, "height": 640})
    wide = "[...document.querySelectorAll('#trailer-0 .table')].findIndex(one => one.scrollWidth > one.clientWidth)"
    place = page.evaluate(wide)
    assert place >= 0
    table = page.locator("#trailer-0 .table").nth(place)
    assert page.get_by_role("region", name=table.locator("caption").inner_text(), exact=True).count() == 1
    table.focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_function("place => document.querySelectorAll('#trailer-0 .table')[place].scrollLeft > 0", arg=place)


def violations(page: Any, part: str = "html") -> list[tuple[str, list[str]]]:
    """What axe has to say about a part of the page as it is shown."""
    found = page.evaluate("part => axe.run(document.querySelector(part))", part)
    return [(one["id"], [node["html"][:90] for node in one["nodes"]]) for one in found["violations"]]


def test_without_scripts_the_first_state_is_there(browser: Any, made: Made) -> None:
    """Scripts off: the drawing and the table show everything off, and say so."""
    context = browser.new_context(java_script_enabled=False, offline=True, reduced_motion="reduce", **PHONE)
    page = context.new_page()
    page.goto(made[0].as_uri())
    assert "Scripts are off" in page.inner_text("body")
    assert page.locator('tr[data-lamp="-E1"] .s').first.inner_text() == "dark"
    assert page.locator("#trailer-0 .net.c-live").count() > 0
    assert not page.get_by_role("switch", name="Brake", exact=True).is_visible()
    page.locator("#trailer-0 .guide > summary").click()
    entry = made[2][0].entries[0]
    for words in (entry.symptom, entry.steps[0].words, entry.steps[-1].expect, entry.left[0]):
        assert words in page.inner_text("#g0-1")
    assert not page.locator("#trailer-0 .walk").is_visible()
    page.locator('#trailer-0 .pick a[href="#g0-3"]').first.click()
    assert 0 <= page.locator("#g0-3").bounding_box()["y"] < 300
    context.close()


def test_page_prints(browser: Any, made: Made, tmp_path: Path) -> None:
    """Printed, it leaves out the controls and keeps drawing, tables and cautions."""
    context = browser.new_context(offline=True, **DESK)
    page = context.new_page()
    page.goto(made[0].as_uri())
    page.emulate_media(media="print")
    assert not page.locator(".controls").is_visible()
    assert page.locator("#trailer-0 .drawing svg").is_visible()
    paper = tmp_path / "page.pdf"
    page.pdf(path=str(paper), prefer_css_page_size=True)
    assert paper.stat().st_size > 10_000
    context.close()
