"""Compare ways to convert: ask for the numbers of each, then for what they speak.

The numbers come from a function that the pipeline hands in; nothing here knows how a rig is built or solved.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from wiregen.convert.ways import Way
from wiregen.model.comparison import Comparison, WayResult
from wiregen.questions.ways.recommend import recommend


def compare(
    title: str,
    digest: str,
    trailers: tuple[str, ...],
    ways: Sequence[Way],
    ask: Callable[[Way], WayResult],
    questions: tuple[str, ...] = (),
) -> Comparison:
    """Return every way with its numbers and the recommendation.

    Args:
        title: Title of the rig.
        digest: Digest of the rig file and its pinouts.
        trailers: Names of the trailers compared.
        ways: The ways, in the order to print.
        ask: Converts the rig in one way, studies and checks it.
        questions: What the rig does not say.
    """
    results = tuple(ask(way) for way in ways)
    return Comparison(
        title=title,
        digest=digest,
        trailers=trailers,
        ways=results,
        recommendation=recommend(results),
        questions=questions,
    )
