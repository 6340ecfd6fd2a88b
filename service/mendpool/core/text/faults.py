"""Parts and the way they fail, named together: "brushes worn", "stuck thermostat"."""

from collections.abc import Iterable, Sequence

from mendpool.core.text.attempts import Span
from mendpool.core.text.phrases import Match
from mendpool.core.text.words import BREAK, NOT

_BETWEEN = 2


def faults_named(
    components: Iterable[Match], failures: Iterable[Match], words: Sequence[str]
) -> tuple[str, ...]:
    """Return ``component/failure`` for each part that stands beside a way of failing.

    Up to two words may come between, none of them a break or "not". A way of failing that
    is denied, and one that stands beside two parts as near, says nothing of either.

    Args:
        components: where parts are named.
        failures: where ways of failing are named.
        words: the text as stems, breaks and "not" among them.
    """
    named: dict[str, None] = {}
    parts = list(components)
    for failure in failures:
        if failure.negated:
            continue
        apart = {part: _apart(part, failure, words) for part in parts}
        near = min((gap for gap in apart.values() if gap is not None), default=None)
        nearest = {part.code for part in parts if near is not None and apart[part] == near}
        if len(nearest) == 1:
            named[f"{nearest.pop()}/{failure.code}"] = None
    return tuple(named)


def faults_denied(
    parts: Iterable[Span], failures: Iterable[Match], words: Sequence[str]
) -> tuple[str, ...]:
    """Return ``component/failure`` for each part said not to have failed so.

    "Brushes are not worn": the denial stands between the part and the way of failing, or
    before both; up to two words may come between, none of them a break.

    Args:
        parts: where parts are named, short names too.
        failures: where ways of failing are named.
        words: the text as stems, breaks and "not" among them.
    """
    denied: dict[str, None] = {}
    for failure in failures:
        if not failure.negated:
            continue
        apart = {p: gap for p in parts if (gap := _denied(p, failure, words)) is not None}
        near = min(apart.values(), default=None)
        nearest = {p.code for p, gap in apart.items() if gap == near and not p.only}
        if len(nearest) == 1:
            denied[f"{nearest.pop()}/{failure.code}"] = None
    return tuple(denied)


def _denied(part: Span, failure: Match, words: Sequence[str]) -> int | None:
    """How far a denied failure stands from a part before it, or right after it."""
    start, end = failure.places[0], failure.places[-1]
    after = part.first > end
    between = words[end + 1 : part.first] if after else words[part.last + 1 : start]
    if part.last >= start and not after:
        return None
    if (
        len(between) > _BETWEEN + 1
        or BREAK in between
        or (after and (NOT in between or between))
    ):
        return None
    return len(between)


def _apart(part: Match, failure: Match, words: Sequence[str]) -> int | None:
    """How many words stand between the two, None if they don't belong together."""
    if set(part.places) & set(failure.places):
        # The part is known by a phrase that holds its failure ("thermostat stuck").
        return -1
    first, last = sorted((part, failure), key=lambda match: match.places)
    between = words[first.places[-1] + 1 : last.places[0]]
    if len(between) > _BETWEEN or BREAK in between or NOT in between:
        return None
    return len(between)
