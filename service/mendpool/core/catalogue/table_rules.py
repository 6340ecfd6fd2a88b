"""The rules that tables, the words of workings and the proving run must keep."""

from collections.abc import Iterable, Iterator

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.caution_texts import called_by
from mendpool.core.catalogue.vocabulary import nearest_code


def broken_table_rules(catalogue: Catalogue) -> list[str]:
    """Return a line for every broken rule; empty when all is whole."""
    return [*_tables(catalogue), *_workings(catalogue), *_proving(catalogue)]


def _tables(catalogue: Catalogue) -> Iterator[str]:
    """Codes named in the tables exist."""
    v, tables = catalogue.vocabulary, catalogue.tables
    yield from _codes(tables.fuels.rows, v.machine["fuel"], "tables.yaml: fuels")
    yield from _codes(tables.classes.usual, v.machine["duty"], "tables.yaml: classes")
    yield from _codes(tables.classes.moving, v.conditions, "tables.yaml: classes")
    for code, held in tables.classes.judged.items():
        yield from _codes((code,), v.readings, "tables.yaml: classes")
        if code in v.readings:
            yield from _codes(held.points, v.readings[code].points, "tables.yaml: classes")
    healthy = tables.healthy
    yield from _codes(healthy.percent_by, v.readings, "tables.yaml: healthy")
    for code, scaled in healthy.scaled_by.items():
        yield from _codes((code,), v.readings, "tables.yaml: healthy")
        if code in v.readings:
            yield from _codes(scaled.points, v.readings[code].points, "tables.yaml: healthy")


def _workings(catalogue: Catalogue) -> Iterator[str]:
    """Topics named by the workings exist."""
    for name, text in catalogue.workings.items():
        topics = (*text.cautions, *text.dangers.values())
        yield from _topics(topics, catalogue, f"workings.yaml: {name}")


def _topics(topics: Iterable[str], catalogue: Catalogue, name: str) -> Iterator[str]:
    """Topics exist, and where a code picks one of a topic's texts, it picks one."""
    for named in topics:
        topic, _, code = named.partition(":")
        yield from _codes((topic,), catalogue.vocabulary.cautions, name)
        texts = [caution for caution in catalogue.cautions if caution.topic == topic]
        if code and not any(called_by(caution, code) for caution in texts):
            yield f"{name}: no text of {topic} is called for by {code}"


def _proving(catalogue: Catalogue) -> Iterator[str]:
    """Places and topics of the proving run exist."""
    v = catalogue.vocabulary
    for step in catalogue.proving:
        name = f"proving.yaml: {step.code}"
        yield from _topics(step.cautions, catalogue, name)
        if step.reading is None:
            continue
        yield from _codes((step.reading.quantity,), v.readings, name)
        if step.reading.quantity in v.readings:
            yield from _codes(
                (step.reading.point,), v.readings[step.reading.quantity].points, name
            )
        if step.reading.condition is not None:
            yield from _codes((step.reading.condition,), v.conditions, name)


def _codes(codes: Iterable[str], known: Iterable[str], name: str) -> Iterator[str]:
    there = set(known)
    for code in codes:
        if code not in there:
            near = nearest_code(code, there)
            yield f"{name}: no such code {code}" + (f"; did you mean {near}?" if near else "")
