"""Results show themselves in a notebook, through the methods that notebooks look for."""

from pathlib import Path
from xml.etree import ElementTree

from tests import steps
from wiregen.paper.safe_text import escape_html
from wiregen.paper.words import marks

DEMO = Path(__file__).parent.parent.parent / "wiregen" / "bundle" / "demo" / "bad-example.toml"
LOADED = steps.load(DEMO)


def test_drawings_show_as_svg() -> None:
    """Each scene gives the very SVG that is written to a file."""
    for scene in steps.draw(LOADED).values():
        root = ElementTree.fromstring(scene._repr_svg_() or "")
        assert root.tag == "{http://www.w3.org/2000/svg}svg"


def test_chart_and_page_stand_in_frames_of_their_own() -> None:
    """Their style sheets must not leak into the notebook."""
    for made in (steps.chart(LOADED), steps.live_page(LOADED)):
        shown = made._repr_html_()
        assert shown is not None
        assert shown.startswith("<iframe sandbox=")
        assert shown.count("<") == 2


def test_report_readings_and_changes_show_as_tables() -> None:
    """A table with every finding, every reading, every change, and the words escaped."""
    report = steps.check(LOADED)
    shown = report._repr_html_() or ""
    assert [one.message for one in report.findings if escape_html(marks(one.message)) not in plain(shown)] == []
    assert "DO NOT BUILD YET" in shown
    sheet = steps.readings(LOADED, "brake")
    rows = plain(sheet._repr_html_() or "").count('<tr role="row"><th scope="row"')
    assert rows == sum(len(state.readings) for state in sheet.states)
    hostile = steps.load_text(DEMO.read_text("utf-8").replace('name = "', 'name = "<img src=x>', 1))
    changes = steps.diff(LOADED, hostile)
    assert "<img" not in (changes._repr_html_() or "")
    assert (changes._repr_html_() or "").count('<tr role="row"><th scope="row"') == len(changes.changes)


def plain(shown: str) -> str:
    """A page without the places where a line may break and without glue."""
    return shown.replace("<wbr>", "").replace("\N{NO-BREAK SPACE}", " ")
