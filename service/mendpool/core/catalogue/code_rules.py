"""The rules that nothing refers to a code that is not there."""

from collections.abc import Callable, Collection, Iterable, Iterator

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.model import SetKind
from mendpool.core.catalogue.vocabulary import nearest_code

_NO_CURE = frozenset({"bypass", "test", "substitute"})
_VERDICTS = ("low", "within", "high", "unjudged", "*", "")


def entries_are_in_the_vocabulary(catalogue: Catalogue) -> Iterator[str]:
    """No entry for a code that the wire format does not have."""
    v = catalogue.vocabulary
    for code in catalogue.symptoms:
        yield from known([code], v.symptoms, f"symptoms.yaml: {code}")
    for code in catalogue.components:
        yield from known([code], v.components, f"components/: {code}")


def causes_know_their_codes(catalogue: Catalogue) -> Iterator[str]:
    """Codes of the causes and their remedies exist; a get-by is no remedy."""
    v = catalogue.vocabulary
    for cause in catalogue.causes:
        name = f"causes/: {cause.key}"
        yield from known([cause.component], v.components, name)
        yield from known([cause.failure], v.failure_modes, name)
        yield from known(cause.symptoms, v.symptoms, name)
        yield from known(cause.follows, v.before, name)
        for remedy in cause.remedies:
            yield from known([remedy.action], v.actions, name)
            yield from known(remedy.cautions, v.cautions, name)
            if remedy.action in _NO_CURE:
                yield f"{name}: {remedy.action} is no cure"


def checks_know_their_codes(catalogue: Catalogue) -> Iterator[str]:
    """Codes of the checks exist: topics, where a reading is taken, the field it settles."""
    v = catalogue.vocabulary
    for check in catalogue.checks.values():
        name = f"checks/: {check.code}"
        yield from known(check.cautions, v.cautions, name)
        if check.reading is not None:
            place = check.reading
            yield from _place(catalogue, place.quantity, place.point, name)
            if place.condition is not None:
                yield from known([place.condition], v.conditions, name)
        if check.tells is not None:
            yield from known([check.tells], SetKind.model_fields, name)
            yield from known(check.found, v.machine.get(check.tells, check.found), name)


def cautions_know_their_codes(catalogue: Catalogue) -> Iterator[str]:
    """A caution with a wrong trigger would never be shown."""
    v = catalogue.vocabulary
    for caution in catalogue.cautions:
        name = f"cautions.yaml: {caution.topic}"
        yield from known([caution.topic], v.cautions, name)
        yield from known(caution.when.symptoms, v.symptoms, name)
        yield from known(caution.when.components, v.components, name)
        yield from known(caution.when.actions, v.actions, name)
        yield from known(caution.when.checks, catalogue.checks, name)
        for pattern in caution.when.readings:
            place, _, verdict = pattern.partition(":")
            quantity, _, point = place.partition("@")
            yield from _place(catalogue, quantity, point, name)
            yield from known([verdict], _VERDICTS, name)


def sets_and_words_know_their_codes(catalogue: Catalogue) -> Iterator[str]:
    """Codes in the words of sets and of what people did exist."""
    v, sets = catalogue.vocabulary, catalogue.sets
    yield from known(sets.protections, v.components, "sets.yaml: protections")
    yield from known(sets.needs_proving, v.actions, "sets.yaml: needs_proving")
    for field, told in sets.says.items():
        yield from known([field], v.machine, "sets.yaml: says")
        yield from known(told, v.machine.get(field, told), f"sets.yaml: says: {field}")
    for field, entries in sets.mix.items():
        name = f"sets.yaml: mix: {field}"
        yield from known([field], SetKind.model_fields, name)
        for entry in entries:
            yield from known(entry.fuel, v.machine["fuel"], name)
            yield from known(entry.shares, v.machine.get(field, entry.shares), name)
    yield from known(catalogue.words.actions, v.actions, "words.yaml: actions")
    yield from known(catalogue.words.results, v.results, "words.yaml: results")
    yield from known(catalogue.words.failures, v.failure_modes, "words.yaml: failures")
    yield from known(catalogue.words.before, v.before, "words.yaml: before")
    tries = catalogue.words.tries
    yield from known([*tries.also, *tries.alone], v.actions, "words.yaml: tries")
    yield from known(tries.alone.values(), v.components, "words.yaml: tries: alone")
    for short in tries.short_names:
        name = f"words.yaml: tries: short_names: {short.phrase}"
        yield from known([short.component], v.components, name)
        yield from known(short.actions, v.actions, name)


def kinds_of_set_exist(catalogue: Catalogue) -> Iterator[str]:
    """Each `only` names kinds of set that there are."""
    for name, only in _set_kinds(catalogue):
        for field in SetKind.model_fields:
            codes = [str(code) for code in getattr(only, field)]
            yield from known(codes, catalogue.vocabulary.machine[field], name)


def gates_know_their_codes(catalogue: Catalogue) -> Iterator[str]:
    """A gate with a wrong trigger would leave somebody in danger."""
    v = catalogue.vocabulary
    for gate in catalogue.gates:
        name = f"gates.yaml: {gate.code}"
        yield from known(gate.symptoms, v.symptoms, name)
        yield from known(gate.dangers, v.cautions, name)
        yield from known(gate.cautions, v.cautions, name)
        if not gate.symptoms and not gate.dangers:
            yield f"{name}: nothing calls for it"


CODE_RULES: tuple[Callable[[Catalogue], Iterator[str]], ...] = (
    entries_are_in_the_vocabulary,
    causes_know_their_codes,
    checks_know_their_codes,
    cautions_know_their_codes,
    gates_know_their_codes,
    sets_and_words_know_their_codes,
    kinds_of_set_exist,
)


def known(codes: Iterable[str], there: Collection[str], name: str) -> Iterator[str]:
    """Yield a line for each code that is not there, with the nearest one."""
    for code in codes:
        if code not in there:
            yield f"{name}: no such code {code}" + meant(nearest_code(code, there))


def meant(near: str | None) -> str:
    """Return the end of a line that offers the nearest code, if one is near."""
    return f"; did you mean {near}?" if near else ""


def _place(catalogue: Catalogue, quantity: str, point: str, name: str) -> Iterator[str]:
    readings = catalogue.vocabulary.readings
    yield from known([quantity], readings, name)
    if quantity in readings:
        yield from known([point], [*readings[quantity].points, "*", ""], name)


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
    said = [(trap.phrase, trap.only) for trap in catalogue.words.traps]
    said += [(short.phrase, short.only) for short in catalogue.words.tries.short_names]
    yield from ((f"words.yaml: {phrase}", only) for phrase, only in said)
