"""A comparison of ways to convert as Markdown, CSV and JSON."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict
from typing import Any, Final

from wiregen.check.data import finding_data
from wiregen.model.comparison import Comparison, LampLight, WayResult
from wiregen.paper.safe_text import escape_markdown, guard_csv
from wiregen.questions.ways.words import (
    CAUTION,
    WHAT_COLUMNS_MEAN,
    facts,
    light_text,
    numbers,
    parts_text,
    rules_text,
)

_HEADINGS: Final = (
    *("Way", "Errors", "Warnings", "Light, least–most", "Heat, W", "From 24 V, A"),
    *("Imbalance, Ah/h", "Parts", "Trailer stays 12 V"),
)
_COLUMNS: Final = (
    *("way", "title", "fits", "recommended", "as_in_rig_file", "errors", "warnings", "error_rules", "warning_rules"),
    *("least_light", "least_light_lamp", "least_light_v", "most_light", "heat_w", "heat_most", "from_24v_a", "tap_a"),
    *("imbalance_ah_per_h", "parts", "parts_by_kind", "stays_12v", "lamps_to_change", "brakes", "trailer"),
    *("other_vehicles", "why_not"),
)


def comparison_markdown(comparison: Comparison) -> str:
    """Return the comparison as GitHub Markdown: the table, the recommendation, each way in full."""
    found = comparison.recommendation
    lines = [f"# Ways to convert: {escape_markdown(comparison.title)}", ""]
    lines += [f"- trailers: {escape_markdown(', '.join(comparison.trailers))}", f"- digest: {comparison.digest}", ""]
    lines += [_row(_HEADINGS), "|" + "---|" * len(_HEADINGS)]
    for way in comparison.ways:
        name = f"**{way.title}**" if way.id in found.ways else way.title
        lines.append(_row((name + (" (as in the rig file)" if way.is_present else ""), *_cells(way))))
    lines += ["", f"Bold: recommended. {WHAT_COLUMNS_MEAN}", "", "## Recommendation", ""]
    lines += [escape_markdown(found.words), ""]
    lines += [f"- {escape_markdown(words)}" for words in found.reasons]
    lines += [f"- Close call: {escape_markdown(words)}" for words in found.close_calls]
    lines += ["", "Mind:", "", *(f"- {escape_markdown(words)}" for words in found.cautions)]
    if comparison.questions:
        lines += ["", "Not said in the rig file:", ""]
        lines += [f"- {escape_markdown(words)}" for words in comparison.questions]
    for way in comparison.ways:
        lines += ["", f"## {way.title}", ""]
        lines += [f"- {word}: {escape_markdown(sentence)}" for word, sentence in facts(way)]
    return "\n".join([*lines, "", CAUTION]) + "\n"


def _cells(way: WayResult) -> tuple[str, ...]:
    if way.fit == "no":
        return ("not on this rig", *("" for _ in _HEADINGS[2:]))
    return (*numbers(way), "yes" if way.stays_12v else "no")


def _row(cells: tuple[str, ...]) -> str:
    return "| " + " | ".join(cells) + " |"


def comparison_csv(comparison: Comparison) -> str:
    r"""Return one line a way, units in the column names, ``\r\n`` line ends; formulas are guarded."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    for way in comparison.ways:
        record = _record(way, comparison.recommendation.ways)
        writer.writerow([guard_csv(record.get(column, "")) for column in _COLUMNS])
    return text.getvalue()


def _record(way: WayResult, recommended: tuple[str, ...]) -> dict[str, str]:
    record = {
        "way": way.id,
        "title": way.title,
        "fits": "yes" if way.fit == "fits" else "no",
        "stays_12v": "yes" if way.stays_12v else "no",
        "trailer": way.trailer_words,
        "other_vehicles": way.other_words,
        "why_not": "; ".join(way.why_not),
        "lamps_to_change": str(sum(change.count for change in way.changes)),
    }
    if way.fit == "no":
        return record
    return record | {
        "recommended": "yes" if way.id in recommended else "no",
        "as_in_rig_file": "yes" if way.is_present else "no",
        "errors": str(way.count("error")),
        "warnings": str(way.count("warning")),
        "error_rules": rules_text(way, "error"),
        "warning_rules": rules_text(way, "warning"),
        "least_light": light_text(way.lowest),
        "least_light_lamp": way.lowest.lamp if way.lowest else "",
        "least_light_v": f"{way.lowest.volts_v:.2f}" if way.lowest else "",
        "most_light": light_text(way.highest),
        "heat_w": f"{way.heat_w:.1f}",
        "heat_most": way.heat_places[0][0] if way.heat_places else "",
        "from_24v_a": f"{way.from_24v_a:.2f}",
        "tap_a": f"{way.tap_a:.2f}",
        "imbalance_ah_per_h": f"{way.imbalance_ah_per_h:.2f}",
        "parts": str(way.part_count),
        "parts_by_kind": parts_text(way),
        "brakes": way.brake_words,
    }


def comparison_data(comparison: Comparison) -> dict[str, Any]:
    """Return the comparison as plain data; every finding of every way with it."""
    return {
        "title": comparison.title,
        "digest": comparison.digest,
        "trailers": list(comparison.trailers),
        "recommendation": asdict(comparison.recommendation),
        "questions": list(comparison.questions),
        "ways": [_way_data(way) for way in comparison.ways],
    }


def _way_data(way: WayResult) -> dict[str, Any]:
    data = asdict(way)
    for name in ("heat_w", "from_24v_a", "tap_a", "imbalance_ah_per_h"):
        data[name] = round(data[name], 6)
    data["errors"], data["warnings"] = way.count("error"), way.count("warning")
    data["findings"] = [finding_data(finding) for finding in way.findings]
    data["lowest"], data["highest"] = _light_data(way.lowest), _light_data(way.highest)
    data["behind_12v"] = [_light_data(light) for light in way.behind_12v]
    data["heat_places"] = {kind: round(watts, 6) for kind, watts in way.heat_places}
    data["resistors"] = [
        {key: round(value, 6) if isinstance(value, float) else value for key, value in asdict(row).items()}
        for row in way.resistors
    ]
    return data


def _light_data(light: LampLight | None) -> dict[str, Any] | None:
    if light is None:
        return None
    share = None if light.share is None else round(light.share, 6)
    return {**asdict(light), "volts_v": round(light.volts_v, 6), "share": share}
