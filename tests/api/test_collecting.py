"""What stays is set aside from the search for cycles, and old engines need no such search."""

import gc
import weakref
from collections.abc import Iterator

import pytest

from mendpool.collecting import Collecting
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.fit import Fit
from mendpool.core.record.report import Question


@pytest.fixture
def frozen_no_longer() -> Iterator[None]:
    """Nothing that a test sets aside stays so."""
    yield
    gc.unfreeze()


@pytest.mark.usefixtures("frozen_no_longer")
def test_what_is_alive_after_a_long_search_is_set_aside() -> None:
    collecting = Collecting(long_s=0.0)
    collecting.begin()
    try:
        before = gc.get_freeze_count()
        stays = [[number] for number in range(5000)]
        gc.collect()
        assert gc.get_freeze_count() - before >= len(stays)
    finally:
        collecting.end()


@pytest.mark.usefixtures("frozen_no_longer")
def test_a_short_search_sets_nothing_aside() -> None:
    collecting = Collecting(long_s=60.0)
    collecting.begin()
    try:
        before = gc.get_freeze_count()
        stays = [[number] for number in range(5000)]
        gc.collect()
        assert gc.get_freeze_count() <= before
        assert len(stays) == 5000
    finally:
        collecting.end()


def test_an_engine_whose_fit_is_old_goes_without_a_search() -> None:
    engine = Engine(packaged_catalogue()).with_fit(Fit(reports=1))
    question = Question(complaint="cranks but will not start, smells of fuel")
    understood = engine.understand(question)
    engine.answer(question, understood, [], 0)
    held = [weakref.ref(part) for part in (engine, engine.word_rates, engine.weights)]
    gc.disable()
    try:
        del engine
        assert [ref() for ref in held] == [None, None, None]
    finally:
        gc.enable()
