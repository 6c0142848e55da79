"""The order of work. Also the Python interface, for programs and notebooks.

    rig file ─► load ─► build ─► study ─► check ─► report
                          ├─► chart ─► text, CSV, Markdown, HTML, SVG
                          ├─► draw ─► schematic, connector faces
                          └─► readings, shorts, netlists, live_page

``steps`` are the stages in their order, ``design`` gathers what the rules look at, ``results`` and ``meter`` answer
what people ask. Each step imports what it needs when it is called, so that a chart does not pay for a solver.
"""

from wiregen.bundle import notebook  # noqa: F401 - hands the records their writers
from wiregen.bundle.packet.ask import harness, packet
from wiregen.bundle.page.ask import live_page
from wiregen.design.gather import case_of
from wiregen.design.meter import netlists, readings
from wiregen.design.results import chart, chart_scenes, check, draw, explain, rules
from wiregen.design.steps import (
    answer_keys,
    behaviour,
    build,
    fault_study,
    new_rig,
    schema,
    short_study,
    study,
)
from wiregen.questions.diff.ask import diff, marked_chart
from wiregen.questions.faults.ask import fault_book, fault_coverage, fault_finder, fault_guide, trailer_names
from wiregen.questions.record.ask import judge, read_form, record_path, records, rows_of, sheet_rows, together
from wiregen.questions.shorts.ask import shorts
from wiregen.questions.ways.ask import box, compare, comparison_scene
from wiregen.sizing.ask import size, sized, write_sizes
from wiregen.sizing.opening import load, load_text, read

__all__ = [
    "answer_keys",
    "behaviour",
    "box",
    "build",
    "case_of",
    "chart",
    "chart_scenes",
    "check",
    "compare",
    "comparison_scene",
    "diff",
    "draw",
    "explain",
    "fault_book",
    "fault_coverage",
    "fault_finder",
    "fault_guide",
    "fault_study",
    "harness",
    "judge",
    "live_page",
    "load",
    "load_text",
    "marked_chart",
    "netlists",
    "new_rig",
    "packet",
    "read",
    "read_form",
    "readings",
    "record_path",
    "records",
    "rows_of",
    "rules",
    "schema",
    "sheet_rows",
    "short_study",
    "shorts",
    "size",
    "sized",
    "study",
    "together",
    "trailer_names",
    "write_sizes",
]
