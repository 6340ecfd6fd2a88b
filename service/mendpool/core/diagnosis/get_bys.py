"""Ways others ran for now: apart from the fixes, each with its risk and how to undo it."""

from collections import defaultdict
from collections.abc import Sequence

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.planning import GetByWords
from mendpool.core.diagnosis.facts import Facts
from mendpool.core.evidence.attempts import gets_by
from mendpool.core.evidence.case import Case
from mendpool.core.record.answer import GetBy

_SURE = 0.8
"""A symptom is taken for sure from here on."""

_AT_ONCE = "Undo it as soon as the real fault is mended."
_WORKED = frozenset({"fixed", "improved"})
_NOT_DONE = frozenset({"found-good", "found-bad", "part-no-good"})


def same_trouble(cases: Sequence[tuple[Case, float]], facts: Facts) -> list[tuple[Case, float]]:
    """Return the past cases that share a sure symptom; where none is, likeness must do.

    A get-by is shown for what it got round: of another trouble it is a temptation only.
    """
    sure = {code for code, confidence in facts.symptoms.items() if confidence >= _SURE}
    return [pair for pair in cases if not sure or not sure.isdisjoint(pair[0].symptoms)]


def shown_get_bys(
    cases: Sequence[tuple[Case, float]], catalogue: Catalogue, admitted: frozenset[str]
) -> tuple[GetBy, ...]:
    """Return the get-bys of cases like this one, the most used first.

    Args:
        admitted: components that this kind of set has.
    """
    protections = frozenset(catalogue.sets.protections)
    counted: dict[tuple[str, str], list[tuple[int, bool, bool]]] = defaultdict(list)
    for case, _ in cases:
        for attempt in case.attempts:
            if attempt.action == "test" or attempt.result in _NOT_DONE:
                continue
            if attempt.component in admitted and gets_by(case, attempt, protections):
                worked = attempt.result in _WORKED
                counted[(attempt.component, attempt.action)].append(
                    (case.group, worked, case.defeated)
                )
    shown = []
    for (component, action), rows in counted.items():
        label = catalogue.components[component].label
        words = words_for(component, catalogue)
        defeats = component in protections or any(defeated for _, _, defeated in rows)
        shown.append(
            GetBy(
                component=component,
                action=action,
                worked=sum(worked for _, worked, _ in rows),
                tried=len(rows),
                people=len({group for group, _, _ in rows}),
                protection_defeated=defeats,
                risk=_risk(catalogue, component, defeats=defeats),
                time_limit=words.time_limit,
                restore=f"{_AT_ONCE} {words.restore.format(part=label)}",
            )
        )
    return tuple(sorted(shown, key=lambda g: (-g.tried, g.component, g.action)))


def words_for(component: str, catalogue: Catalogue) -> GetByWords:
    """Return the words of a get-by: those of its component, else those of its group."""
    group = catalogue.vocabulary.component_groups[component]
    own = [entry for entry in catalogue.get_bys if component in entry.components]
    return next(iter(own or [e for e in catalogue.get_bys if group in e.groups]))


def _risk(catalogue: Catalogue, component: str, *, defeats: bool) -> str:
    """The catalogue's own words: of this component if it has some, else of the topic."""
    topic = "protection-defeated"
    own = [c for c in catalogue.cautions if component in c.when.components and c.topic == topic]
    general = [c for c in catalogue.cautions if c.topic == topic]
    chosen = sorted(own or general, key=lambda c: (c.rank, c.says))
    said = chosen[0].says if chosen else ""
    return said if defeats else f"A get-by is not a repair. {said}"
