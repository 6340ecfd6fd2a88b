"""Which warnings an answer or a report must carry."""

from dataclasses import dataclass

from mendpool.core.catalogue.admits import admits, surely
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.caution_calls import CautionCalls
from mendpool.core.catalogue.caution_texts import caution_shown
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
    calls, topics = catalogue.caution_calls, situation.topics | situation.dangers
    owned = _called_for(calls, situation)
    called: dict[str, tuple[bool, bool, int, int]] = {}
    for place in owned | calls.by_codes("topic", topics):
        caution = catalogue.cautions[place]
        if not admits(caution.when.sets, situation.machine):
            continue
        best = called.get(caution.topic)
        # Of two texts the one that surely fits this set, then the graver.
        fits = surely(caution.when.sets, situation.machine)
        candidate = (place not in owned, not fits, caution.rank, place)
        if best is None or candidate < best:
            called[caution.topic] = candidate
    order = list(catalogue.vocabulary.cautions)
    ranked = sorted(
        called.items(),
        key=lambda item: (item[0] not in situation.dangers, item[1][2], order.index(item[0])),
    )
    return tuple(caution_shown(catalogue.cautions[place]) for _, (*_, place) in ranked)


def _called_for(calls: CautionCalls, situation: Situation) -> set[int]:
    """The cautions that something of the situation itself calls for."""
    owned = (
        calls.by_codes("symptom", situation.symptoms)
        | calls.by_codes("component", situation.components)
        | calls.by_codes("action", situation.actions)
        | calls.by_codes("check", situation.checks)
        | calls.by_readings(situation.readings)
        | situation.worded
    )
    if situation.whole:
        owned |= calls.always
    if situation.protection_defeated:
        owned |= calls.defeated
    return owned
