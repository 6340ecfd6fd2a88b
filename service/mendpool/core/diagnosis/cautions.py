"""Which warnings an answer or a report must carry."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from mendpool.core.catalogue.admits import admits, surely
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.caution_texts import caution_shown
from mendpool.core.catalogue.model import Caution
from mendpool.core.record.answer import CautionShown
from mendpool.core.record.machine import Machine


@dataclass(frozen=True, slots=True)
class Situation:
    """What calls for cautions.

    Args:
        machine: the set.
        symptoms, components, actions, checks: codes in play, of the question and its steps.
        readings: ``quantity@point:verdict``.
        worded: places in the catalogue's cautions whose words the text uses.
        topics: topics called for outright (a dangerous reading, a step's own cautions).
        dangers: of these, what a reading showed: they come first.
        protection_defeated: one is bridged, found or left.
        whole: an answer to someone at work on a set, which carries those that hold always.
    """

    machine: Machine
    symptoms: frozenset[str] = frozenset()
    components: frozenset[str] = frozenset()
    actions: frozenset[str] = frozenset()
    checks: frozenset[str] = frozenset()
    readings: frozenset[str] = frozenset()
    worded: frozenset[int] = frozenset()
    topics: frozenset[str] = frozenset()
    dangers: frozenset[str] = frozenset()
    protection_defeated: bool = False
    whole: bool = True


def cautions_for(catalogue: Catalogue, situation: Situation) -> tuple[CautionShown, ...]:
    """Return the cautions called for: what a reading showed first, then by rank.

    One text a topic, the one most to the point; topics in the vocabulary's order.
    """
    called: dict[str, tuple[bool, bool, int, int]] = {}
    for place, caution in enumerate(catalogue.cautions):
        if not admits(caution.when.sets, situation.machine):
            continue
        own = _called_for(place, caution, situation)
        if own or caution.topic in situation.topics | situation.dangers:
            best = called.get(caution.topic)
            # Of two texts the one that surely fits this set, then the graver.
            fits = surely(caution.when.sets, situation.machine)
            candidate = (not own, not fits, caution.rank, place)
            if best is None or candidate < best:
                called[caution.topic] = candidate
    order = list(catalogue.vocabulary.cautions)
    ranked = sorted(
        called.items(),
        key=lambda item: (item[0] not in situation.dangers, item[1][2], order.index(item[0])),
    )
    return tuple(caution_shown(catalogue.cautions[place]) for _, (*_, place) in ranked)


def _called_for(place: int, caution: Caution, situation: Situation) -> bool:
    when = caution.when
    return (
        (when.always and situation.whole)
        or place in situation.worded
        or bool(situation.symptoms.intersection(when.symptoms))
        or bool(situation.components.intersection(when.components))
        or bool(situation.actions.intersection(when.actions))
        or bool(situation.checks.intersection(when.checks))
        or (when.protection_defeated and situation.protection_defeated)
        or _reading_called(when.readings, situation.readings)
    )


def _reading_called(wanted: Sequence[str], readings: Iterable[str]) -> bool:
    for pattern in wanted:
        place, _, verdict = pattern.partition(":")
        quantity, _, point = place.partition("@")
        for reading in readings:
            their_place, _, their_verdict = reading.partition(":")
            their_quantity, _, their_point = their_place.partition("@")
            if (
                quantity == their_quantity
                and point in ("*", "", their_point)
                and verdict in ("*", "", their_verdict)
            ):
                return True
    return False
