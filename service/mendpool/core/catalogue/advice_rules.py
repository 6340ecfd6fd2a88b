"""What dangerous advice and possible figures must keep to; each fault names its entry."""

from collections.abc import Iterator

from mendpool.core.catalogue.advice import Advice
from mendpool.core.catalogue.catalogue import Catalogue


def broken_advice_rules(catalogue: Catalogue) -> Iterator[str]:
    """Yield a line for every entry that can't be used."""
    seen: set[str] = set()
    for advice in catalogue.advice:
        if advice.code in seen:
            yield f"advice.yaml: {advice.code}: written twice"
        seen.add(advice.code)
        for says in (*_words(advice), *_codes(advice, catalogue)):
            yield f"advice.yaml: {advice.code}: {says}"
    yield from _possible(catalogue)


def _words(advice: Advice) -> Iterator[str]:
    if bool(advice.deeds) != bool(advice.things):
        yield "deeds and things go together"
    if not (advice.said or advice.deeds):
        yield "no words to know it by"
    if not all(p.strip() for p in (*advice.said, *advice.deeds, *advice.things)):
        yield "an empty phrase"


def _codes(advice: Advice, catalogue: Catalogue) -> Iterator[str]:
    if all(caution.topic != advice.topic for caution in catalogue.cautions):
        yield f"{advice.topic}: no caution of this topic"
    for action in advice.done.actions:
        if action not in catalogue.vocabulary.actions:
            yield f"{action}: no such action"


def _possible(catalogue: Catalogue) -> Iterator[str]:
    quantities = catalogue.vocabulary.readings
    for quantity in quantities:
        if quantity not in catalogue.possible:
            yield f"possible.yaml: {quantity}: no entry for this quantity"
    for quantity, possible in catalogue.possible.items():
        if quantity not in quantities:
            yield f"possible.yaml: {quantity}: no such quantity"
        if not possible.low < possible.high:
            yield f"possible.yaml: {quantity}: low must be under high"
