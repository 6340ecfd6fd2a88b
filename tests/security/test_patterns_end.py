"""Row 19 (ASVS 1.3.12): no text that can be sent keeps a pattern busy.

Every pattern meets texts by way of what reads them, so these are pumped: the longest text there
is, of one piece over and over, through understanding, advice and scrubbing.
"""

import time
from contextlib import suppress

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.errors import RefusedInput
from mendpool.core.record.fields import clean_text
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Question
from mendpool.main import scrubber

PUMPS = (
    "a", "1", "A1", "1 ", "1.", "1-", "a-", "a.", "a@", "1/", "V ", "- ", ". ", "1e", "+1",
    "psi ", "not ", "3 V to ", "1        ", "a ", "Aa ", "residual        3",
    "is        ", "é1,", "12:3", "://", "N 1 ", "0 1 2 ", "\n1", "oil switch ", "call ",
)  # fmt: skip
STARTS = ("", "residual 3", "call 0")
SIZE, MOST_S = 4000, 2.0
# The worst took 0.3 s where nothing else ran; a busy machine takes its time.


@pytest.mark.parametrize("pump", PUMPS, ids=repr)
def test_the_longest_text_of_anything_is_read_in_good_time(
    engine: Engine, catalogue: Catalogue, pump: str
) -> None:
    scrub = scrubber(catalogue, "GB")
    for start in STARTS:
        text = clean_text((start + pump * SIZE)[: SIZE - 1] + "!")
        begun = time.process_time()
        with suppress(RefusedInput):
            engine.understand(Question(complaint=text))
        reader = engine.plain_reader
        reader.advice(reader.spoken(text, Machine()))
        scrub({"complaint": text})
        assert time.process_time() - begun < MOST_S


def test_thousands_of_spaces_are_read_as_a_few(engine: Engine) -> None:
    # Split among the places of a pattern where space may stand, these took minutes.
    begun = time.process_time()
    question = Question(complaint="residual 3" + " " * 3900 + "x dead")
    assert question.complaint == "residual 3" + " " * 8 + "x dead"
    engine.understand(question)
    assert time.process_time() - begun < MOST_S
