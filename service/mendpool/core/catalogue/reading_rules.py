"""The rules that limits, patterns and the words of readings must keep."""

from collections.abc import Callable, Iterable, Iterator

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.model import SetKind
from mendpool.core.catalogue.vocabulary import Vocabulary, nearest_code


def broken_reading_rules(catalogue: Catalogue) -> list[str]:
    """Return a line for every broken rule; empty when all is whole."""
    return [line for rule in READING_RULES for line in rule(catalogue)]


def limits_know_their_codes(catalogue: Catalogue) -> Iterator[str]:
    """Quantities, points, conditions, symptoms and topics of the limits exist."""
    v = catalogue.vocabulary
    for limit in catalogue.limits:
        name = f"limits.yaml: {limit.quantity}/{limit.points[0]}"
        for point in limit.points:
            yield from _place(v, limit.quantity, point, name)
        yield from _codes(limit.conditions, v.conditions, name)
        for codes in (*limit.shows.values(), *limit.rules_out.values()):
            yield from _codes(codes, v.symptoms, name)
        if limit.swing is not None:
            yield from _codes((limit.swing.shows,), v.symptoms, name)
        if limit.danger is not None:
            yield from _codes((limit.danger.topic,), v.cautions, name)
        for kind in (limit.surely, limit.unclassed):
            yield from _kinds(v, kind, name)


def every_point_has_a_limit(catalogue: Catalogue) -> Iterator[str]:
    """Each quantity at each point has a band, or says which figure is missing."""
    judged = {(limit.quantity, point) for limit in catalogue.limits for point in limit.points}
    for code, quantity in catalogue.vocabulary.readings.items():
        for point in quantity.points:
            if (code, point) not in judged:
                yield f"limits.yaml: {code}: no entry for {point}"


def every_limit_can_be_reached(catalogue: Catalogue) -> Iterator[str]:
    """No entry stands behind one that takes all its readings."""
    taken: set[tuple[str, str]] = set()
    for limit in catalogue.limits:
        places = {(limit.quantity, point) for point in limit.points}
        for place in sorted(places & taken):
            yield f"limits.yaml: {place[0]}/{place[1]}: stands behind an entry that takes all"
        open_to_all = not (
            limit.conditions or limit.which or limit.classes or limit.size
            or limit.rated_volts or limit.rated_hz or limit.value_in or limit.percent_in
            or limit.only != SetKind() or limit.surely != SetKind()
        )  # fmt: skip
        if open_to_all and limit.basis in {"absolute", "per 12 volts of battery"}:
            taken |= places


def patterns_know_their_codes(catalogue: Catalogue) -> Iterator[str]:
    """Codes of the patterns exist, and each is written once."""
    v = catalogue.vocabulary
    seen: set[str] = set()
    for pattern in catalogue.patterns:
        name = f"patterns.yaml: {pattern.code}"
        if pattern.code in seen:
            yield f"{name}: written twice"
        yield from _codes(pattern.unless, seen, name)
        seen.add(pattern.code)
        for part in pattern.parts:
            for point in part.points:
                yield from _place(v, part.quantity, point, name)
            yield from _codes(part.conditions, v.conditions, name)
        yield from _codes((*pattern.shows, *pattern.rules_out), v.symptoms, name)
        yield from _codes(pattern.cautions, v.cautions, name)
        if pattern.compare is not None:
            yield from _codes(pattern.compare.by_duty, v.machine["duty"], name)
        for kind in (pattern.only, pattern.surely):
            yield from _kinds(v, kind, name)


def words_know_their_codes(catalogue: Catalogue) -> Iterator[str]:
    """Codes and groups named in the words of readings exist; each point can be said."""
    v, words = catalogue.vocabulary, catalogue.reading_words
    name = "reading-words.yaml"
    said = {(place.quantity, place.point) for place in words.places}
    for place in words.places:
        yield from _place(v, place.quantity, place.point, f"{name}: places")
        yield from _codes(place.said, words.heard, f"{name}: places: {place.point}")
    for code, quantity in v.readings.items():
        for point in quantity.points:
            if (code, point) not in said:
                yield f"{name}: places: no words for {code} at {point}"
    yield from _codes(words.conditions, v.conditions, f"{name}: conditions")
    named = (
        *words.conditions.values(), *words.signs.values(), *words.stages.values(),
        *words.which_words.values(), words.weak, words.open_words, words.zero_words,
        words.mark_before, words.expected_before, words.once_words, words.now_words,
    )  # fmt: skip
    for groups in named:
        yield from _codes(groups, words.heard, name)


def bounds_know_their_codes(catalogue: Catalogue) -> Iterator[str]:
    """Defaults and bounds name codes that exist, and every quantity is bounded."""
    v, words = catalogue.vocabulary, catalogue.reading_words
    name = "reading-words.yaml"
    for code in (*words.default_points, *words.bare_units, *words.open_line):
        yield from _codes((code,), v.readings, name)
    for code, point in words.default_points.items():
        yield from _place(v, code, point, f"{name}: default_points")
    for bound in words.plausible:
        yield from _codes((bound.quantity,), v.readings, f"{name}: plausible")
        for point in bound.points:
            yield from _place(v, bound.quantity, point, f"{name}: plausible")
    for code in v.readings:
        if not any(bound.quantity == code and not bound.points for bound in words.plausible):
            points = {p for b in words.plausible if b.quantity == code for p in b.points}
            if not points.issuperset(v.readings[code].points):
                yield f"{name}: plausible: no bounds for {code}"


READING_RULES: tuple[Callable[[Catalogue], Iterator[str]], ...] = (
    limits_know_their_codes,
    every_point_has_a_limit,
    every_limit_can_be_reached,
    patterns_know_their_codes,
    words_know_their_codes,
    bounds_know_their_codes,
)


def _place(vocabulary: Vocabulary, quantity: str, point: str, name: str) -> Iterator[str]:
    if quantity not in vocabulary.readings:
        yield from _codes((quantity,), vocabulary.readings, name)
    else:
        yield from _codes((point,), vocabulary.readings[quantity].points, name)


def _codes(codes: Iterable[str], known: Iterable[str], name: str) -> Iterator[str]:
    there = set(known)
    for code in codes:
        if code not in there:
            near = nearest_code(code, there)
            yield f"{name}: no such code {code}" + (f"; did you mean {near}?" if near else "")


def _kinds(vocabulary: Vocabulary, kind: SetKind, name: str) -> Iterator[str]:
    for field in SetKind.model_fields:
        if field != "phases":
            yield from _codes(getattr(kind, field), vocabulary.machine[field], name)
