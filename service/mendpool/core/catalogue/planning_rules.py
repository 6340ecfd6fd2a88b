"""The rules of what a plan goes by: every code is known, and nothing is left without words."""

from collections.abc import Callable, Iterator

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.code_rules import known


def broken_planning_rules(catalogue: Catalogue) -> list[str]:
    """Return a line for every broken rule; empty when all is well."""
    return [line for rule in RULES for line in rule(catalogue)]


def covers_are_known(catalogue: Catalogue) -> Iterator[str]:
    """What a step opens is written, with its minutes, and something lies behind each."""
    used: set[str] = set()
    for check in catalogue.checks.values():
        if check.opens is not None:
            used.add(check.opens)
            yield from known([check.opens], catalogue.openings, f"checks/: {check.code}")
    for cause in catalogue.causes:
        for remedy in cause.remedies:
            if remedy.opens is not None:
                used.add(remedy.opens)
                yield from known([remedy.opens], catalogue.openings, f"causes/: {cause.key}")
    for code in catalogue.openings:
        if code not in used:
            yield f"openings.yaml: {code}: nothing lies behind it"


def hands_know_their_codes(catalogue: Catalogue) -> Iterator[str]:
    """Actions exist; what is bought and what is called otherwise is needed somewhere."""
    hands, needs = catalogue.planning.hands, needs_of(catalogue)
    name = "planning.yaml: hands"
    yield from known(hands.parts_for, catalogue.vocabulary.actions, name)
    yield from known((*hands.bought, *hands.people), needs, name)
    yield from known(hands.tools, needs, name)
    yield from known(
        catalogue.planning.undoable, catalogue.vocabulary.actions, "planning.yaml: undoable"
    )
    seen: dict[str, str] = {}
    for code, aliases in hands.tools.items():
        for alias in aliases:
            if seen.setdefault(alias, code) != code:
                yield f"{name}: {alias}: stands for {seen[alias]} and for {code}"


def the_load_that_matters_knows_its_codes(catalogue: Catalogue) -> Iterator[str]:
    """Symptoms and the check exist, the words have a place for the load."""
    must, name = catalogue.planning.must_run, "planning.yaml: must_run"
    yield from known(must.symptoms, catalogue.vocabulary.symptoms, name)
    yield from known([must.check], catalogue.checks, name)
    for field in ("how", "stagger"):
        if "{load}" not in getattr(must, field):
            yield f"{name}: {field}: no place for {{load}}"
    seen: dict[str, str] = {}
    for code, load in must.loads.items():
        for alias in load.aliases:
            if seen.setdefault(alias, code) != code:
                yield f"{name}: {alias}: stands for {seen[alias]} and for {code}"


def get_bys_have_their_words(catalogue: Catalogue) -> Iterator[str]:
    """Every group has words, and every protection has words of its own."""
    v = catalogue.vocabulary
    groups = set(v.component_groups.values())
    for number, entry in enumerate(catalogue.get_bys, start=1):
        name = f"get-bys.yaml: entry {number}"
        yield from known(entry.components, v.components, name)
        yield from known(entry.groups, groups, name)
    told = {group for entry in catalogue.get_bys for group in entry.groups}
    for group in sorted(groups - told):
        yield f"get-bys.yaml: {group}: no words for this group"
    own = {code for entry in catalogue.get_bys for code in entry.components}
    for code in catalogue.sets.protections:
        if code not in own:
            yield f"get-bys.yaml: {code}: a protection needs words of its own"


def needs_of(catalogue: Catalogue) -> frozenset[str]:
    """Return everything that a check or a remedy needs."""
    needs = {need for check in catalogue.checks.values() for need in check.needs}
    for cause in catalogue.causes:
        needs |= {need for remedy in cause.remedies for need in remedy.needs}
    return frozenset(needs)


RULES: tuple[Callable[[Catalogue], Iterator[str]], ...] = (
    covers_are_known,
    hands_know_their_codes,
    the_load_that_matters_knows_its_codes,
    get_bys_have_their_words,
)
