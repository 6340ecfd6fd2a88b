"""The rules the catalogue as a whole must keep; each fault names file and entry."""

from collections.abc import Callable, Iterator

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.model import SetKind
from mendpool.core.catalogue.vocabulary import nearest_code


def broken_rules(catalogue: Catalogue) -> list[str]:
    """Return a line for every broken rule; empty when the catalogue is whole."""
    return [line for rule in RULES for line in rule(catalogue)]


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


def no_unknown_codes(catalogue: Catalogue) -> Iterator[str]:
    """Nothing refers to a code that is not there."""
    v = catalogue.vocabulary
    for code in catalogue.symptoms:
        yield from _known(code, v.symptoms, f"symptoms.yaml: {code}")
    for code in catalogue.components:
        yield from _known(code, v.components, f"components/: {code}")
    for cause in catalogue.causes:
        name = f"causes/: {cause.key}"
        yield from _known(cause.component, v.components, name)
        yield from _known(cause.failure, v.failure_modes, name)
        for code in cause.symptoms:
            yield from _known(code, v.symptoms, name)
        for code in cause.follows:
            yield from _known(code, v.before, name)
        for remedy in cause.remedies:
            yield from _known(remedy.action, v.actions, name)
            for topic in remedy.cautions:
                yield from _known(topic, v.cautions, name)
            if remedy.action in {"bypass", "test", "substitute"}:
                yield f"{name}: {remedy.action} is no cure"
    for check in catalogue.checks.values():
        name = f"checks/: {check.code}"
        for topic in check.cautions:
            yield from _known(topic, v.cautions, name)
        if check.reading is not None:
            yield from _known(check.reading.quantity, v.readings, name)
            quantity = v.readings.get(check.reading.quantity)
            if quantity is not None:
                yield from _known(check.reading.point, quantity.points, name)
            if check.reading.condition is not None:
                yield from _known(check.reading.condition, v.conditions, name)
    for caution in catalogue.cautions:
        name = f"cautions.yaml: {caution.topic}"
        yield from _known(caution.topic, v.cautions, name)
        for code in caution.when.symptoms:
            yield from _known(code, v.symptoms, name)
        for code in caution.when.components:
            yield from _known(code, v.components, name)
        for code in caution.when.actions:
            yield from _known(code, v.actions, name)
        for code in caution.when.checks:
            yield from _known(code, catalogue.checks, name)
    for name, only in _set_kinds(catalogue):
        for field in SetKind.model_fields:
            if field == "phases":
                continue
            for code in getattr(only, field):
                yield from _known(code, v.machine[field], name)


def causes_are_whole(catalogue: Catalogue) -> Iterator[str]:
    """Each cause is written once, has weights, and something reaches it."""
    seen: set[str] = set()
    for cause in catalogue.causes:
        name = f"causes/: {cause.key}"
        if cause.key in seen:
            yield f"{name}: written twice"
        seen.add(cause.key)
        if not cause.symptoms:
            yield f"{name}: no symptom reaches it"
        for code, weights in cause.symptoms.items():
            if "usual" not in weights:
                yield f"{name}: {code}: no `usual` weight"
            elif weights["usual"] <= 0 and len(weights) > 1:
                yield f"{name}: {code}: `usual` must be above 0 where other weights stand on it"
            if any(weight < 0 for weight in weights.values()):
                yield f"{name}: {code}: a weight below 0"


def checks_are_whole(catalogue: Catalogue) -> Iterator[str]:
    """Each check's results fit its kind and its causes are in the catalogue."""
    keys = {cause.key for cause in catalogue.causes}
    components = {cause.component for cause in catalogue.causes}
    for check in catalogue.checks.values():
        name = f"checks/: {check.code}"
        if check.reading is not None and not set(check.found) <= {"low", "within", "high"}:
            yield f"{name}: a reading's results are low, within, high"
        if check.reading is not None and check.tells is not None:
            yield f"{name}: a reading can't settle what kind of set it is"
        if len(check.found) < 2:
            yield f"{name}: a check with one result tells nothing"
        if check.tells is None and sum(f.usual for f in check.found.values()) <= 0:
            yield f"{name}: no `usual` above 0"
        totals: dict[str, float] = {}
        for code, found in check.found.items():
            for key, percent in found.likely.items():
                totals[key] = totals.get(key, 0.0) + percent
                if key not in keys and key not in components:
                    near = nearest_code(key, keys | components)
                    yield f"{name}: {code}: no such cause {key}" + _meant(near)
        for key, total in totals.items():
            if total > 100.001:
                yield f"{name}: {key}: its results add up to {total:g} %"


def nothing_on_a_set_without_it(catalogue: Catalogue) -> Iterator[str]:
    """No weight for a set that has no such component (a brush on a brushless set)."""
    for cause in catalogue.causes:
        component = catalogue.components.get(cause.component)
        if component is None:
            continue
        for where in (component.only, cause.only):
            for code, weights in cause.symptoms.items():
                for kind, weight in weights.items():
                    field = field_of(catalogue, kind)
                    if kind == "usual":
                        continue
                    if field is None:
                        yield f"causes/: {cause.key}: {code}: no such kind of set {kind}"
                    elif weight > 0 and getattr(where, field) and kind not in getattr(where, field):
                        yield f"causes/: {cause.key}: {code}: {kind} sets have no such cause"
        for field in SetKind.model_fields:
            own, its = getattr(cause.only, field), getattr(component.only, field)
            if own and its and not set(own) <= set(its):
                yield f"causes/: {cause.key}: only.{field}: beyond the sets that have the component"


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
    no_unknown_codes,
    causes_are_whole,
    checks_are_whole,
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


def _set_kinds(catalogue: Catalogue) -> Iterator[tuple[str, SetKind]]:
    for symptom in catalogue.symptoms.values():
        yield f"symptoms.yaml: {symptom.code}", symptom.only
    for component in catalogue.components.values():
        yield f"components/: {component.code}", component.only
    for cause in catalogue.causes:
        yield f"causes/: {cause.key}", cause.only
    for check in catalogue.checks.values():
        yield f"checks/: {check.code}", check.only
    for caution in catalogue.cautions:
        yield f"cautions.yaml: {caution.topic}", caution.when.sets
    for limit in catalogue.limits:
        yield f"limits.yaml: {limit.quantity}", limit.only


def _known(code: str, codes: object, name: str) -> Iterator[str]:
    known = set(codes)  # type: ignore[call-overload]
    if code not in known:
        yield f"{name}: no such code {code}" + _meant(nearest_code(code, known))


def _meant(near: str | None) -> str:
    return f"; did you mean {near}?" if near else ""
