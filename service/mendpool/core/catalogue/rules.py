"""The rules the catalogue as a whole must keep; each fault names file and entry."""

from collections.abc import Callable, Iterator, Mapping, Sequence

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.code_rules import CODE_RULES, meant
from mendpool.core.catalogue.model import SetKind
from mendpool.core.catalogue.vocabulary import nearest_code

_VERDICTS = frozenset({"low", "within", "high"})


def broken_rules(catalogue: Catalogue) -> list[str]:
    """Return a line for every broken rule; empty when the catalogue is whole."""
    return [line for rule in (*CODE_RULES, *RULES) for line in rule(catalogue)]


def every_code_is_written(catalogue: Catalogue) -> Iterator[str]:
    """Each code of the vocabulary has its entry."""
    for code in catalogue.vocabulary.symptoms:
        if code not in catalogue.symptoms:
            yield f"symptoms.yaml: {code}: no entry for this code"
    for code in catalogue.vocabulary.components:
        if code not in catalogue.components:
            yield f"components/: {code}: no entry for this code"
    topics = {caution.topic for caution in catalogue.cautions}
    for code in catalogue.vocabulary.cautions:
        if code not in topics:
            yield f"cautions.yaml: {code}: no text for this topic"


def causes_are_whole(catalogue: Catalogue) -> Iterator[str]:
    """Each cause is written once and has weights, one of them above 0."""
    seen: set[str] = set()
    for cause in catalogue.causes:
        name = f"causes/: {cause.key}"
        if cause.key in seen:
            yield f"{name}: written twice"
        seen.add(cause.key)
        if not any(w > 0 for weights in cause.symptoms.values() for w in weights.values()):
            yield f"{name}: no symptom reaches it"
        for code, weights in cause.symptoms.items():
            if "usual" not in weights:
                yield f"{name}: {code}: no `usual` weight"
            elif weights["usual"] <= 0 and len(weights) > 1:
                yield f"{name}: {code}: `usual` must be above 0 where other weights stand on it"
            if any(weight < 0 for weight in weights.values()):
                yield f"{name}: {code}: a weight below 0"


def every_cause_is_checked(catalogue: Catalogue) -> Iterator[str]:
    """Some check tells of each cause: else nothing but a repair could show it."""
    told = {
        key
        for check in catalogue.checks.values()
        for found in check.found.values()
        for key in found.likely
    }
    for cause in catalogue.causes:
        if cause.key not in told and cause.component not in told:
            yield f"causes/: {cause.key}: no check reaches it"


def checks_are_whole(catalogue: Catalogue) -> Iterator[str]:
    """Each check's results fit its kind."""
    for check in catalogue.checks.values():
        name = f"checks/: {check.code}"
        if check.reading is not None and not set(check.found) <= _VERDICTS:
            yield f"{name}: a reading's results are low, within, high"
        if check.reading is not None and check.tells is not None:
            yield f"{name}: a reading can't settle what kind of set it is"
        if len(check.found) < 2:
            yield f"{name}: a check with one result tells nothing"
        if check.tells is None and sum(f.usual for f in check.found.values()) <= 0:
            yield f"{name}: no `usual` above 0"


def checks_tell_of_causes_there(catalogue: Catalogue) -> Iterator[str]:
    """The causes a check tells of are in the catalogue."""
    there = set(_keys_of(catalogue))
    for check in catalogue.checks.values():
        for code, found in check.found.items():
            for key in found.likely:
                if key not in there:
                    near = nearest_code(key, there)
                    yield f"checks/: {check.code}: {code}: no such cause {key}" + meant(near)


def results_add_up(catalogue: Catalogue) -> Iterator[str]:
    """Under no cause do a check's results go beyond 100 %."""
    keys_of = _keys_of(catalogue)
    for check in catalogue.checks.values():
        totals: dict[str, float] = {}
        for found in check.found.values():
            for key, percent in _spread(found.likely, keys_of).items():
                totals[key] = totals.get(key, 0.0) + percent
        for key, total in totals.items():
            if total > 100.001:
                yield f"checks/: {check.code}: {key}: its results add up to {total:g} %"


def _keys_of(catalogue: Catalogue) -> dict[str, list[str]]:
    """The causes that a ``component`` or a ``component/failure`` stands for."""
    keys: dict[str, list[str]] = {}
    for cause in catalogue.causes:
        keys.setdefault(cause.component, []).append(cause.key)
        keys[cause.key] = [cause.key]
    return keys


def _spread(
    likely: Mapping[str, float], keys_of: Mapping[str, Sequence[str]]
) -> dict[str, float]:
    """Per cent by cause: a cause's own figure goes before its component's."""
    by_cause: dict[str, float] = {}
    for key in sorted(likely, key=lambda key: "/" in key):
        for cause in keys_of.get(key, ()):
            by_cause[cause] = likely[key]
    return by_cause


def nothing_on_a_set_without_it(catalogue: Catalogue) -> Iterator[str]:
    """No weight for a set that has no such component (a brush on a brushless set)."""
    for cause in catalogue.causes:
        component = catalogue.components.get(cause.component)
        if component is None:
            continue
        for code, weights in cause.symptoms.items():
            for kind, weight in weights.items():
                name = f"causes/: {cause.key}: {code}"
                yield from _on_such_a_set(
                    catalogue, kind, weight, (component.only, cause.only), name
                )
        for field in SetKind.model_fields:
            own, its = getattr(cause.only, field), getattr(component.only, field)
            if own and its and not set(own) <= set(its):
                yield (
                    f"causes/: {cause.key}: only.{field}: "
                    "beyond the sets that have the component"
                )


def _on_such_a_set(
    catalogue: Catalogue, kind: str, weight: float, kinds: tuple[SetKind, ...], name: str
) -> Iterator[str]:
    if kind == "usual":
        return
    field = field_of(catalogue, kind)
    if field is None:
        kinds_there = [
            code for codes in catalogue.vocabulary.machine.values() for code in codes
        ]
        yield f"{name}: no such kind of set {kind}" + meant(nearest_code(kind, kinds_there))
    elif weight > 0 and any(
        getattr(only, field) and kind not in getattr(only, field) for only in kinds
    ):
        yield f"{name}: {kind} sets have no such cause"


def everything_has_a_cause(catalogue: Catalogue) -> Iterator[str]:
    """Each symptom has causes; each component fails somehow."""
    reached = {code for cause in catalogue.causes for code in cause.symptoms}
    for code in catalogue.vocabulary.symptoms:
        if code not in reached:
            yield f"symptoms.yaml: {code}: no cause gives this symptom"
    failing = {cause.component for cause in catalogue.causes}
    for code in catalogue.vocabulary.components:
        if code not in failing:
            yield f"components/: {code}: no cause names it"


RULES: tuple[Callable[[Catalogue], Iterator[str]], ...] = (
    every_code_is_written,
    causes_are_whole,
    every_cause_is_checked,
    checks_are_whole,
    checks_tell_of_causes_there,
    results_add_up,
    nothing_on_a_set_without_it,
    everything_has_a_cause,
)


def field_of(catalogue: Catalogue, kind: str) -> str | None:
    """Return which field of a machine a code such as ``diesel`` belongs to.

    Codes that two fields share (``electric`` does not) are looked up in the order of
    `SetKind`.
    """
    for field in SetKind.model_fields:
        if kind in catalogue.vocabulary.machine.get(field, {}):
            return field
    return None
