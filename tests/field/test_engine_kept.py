"""Words that were cut before are the words as cut now; what was tampered with is cut anew."""

import io
import pickle
import zlib
from pathlib import Path
from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.report import Question
from mendpool_field.engine_kept import ready_engine

from tests.bench.diagnosis.simulator.pool import Simulator
from tests.bench.diagnosis.simulator.world import TUNING


def answered(engine: Engine, question: Question) -> bytes:
    answer = engine.answer(question, engine.understand(question), (), 0)
    return answer.model_dump_json(by_alias=True, exclude_unset=True).encode()


def kept(cache: Path) -> Path:
    (file,) = cache.glob("words-*.bin")
    return file


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory, catalogue: Catalogue) -> Path:
    folder = tmp_path_factory.mktemp("words")
    ready_engine(catalogue, folder)
    return folder


def test_it_answers_to_the_same_byte(catalogue: Catalogue, engine: Engine, cache: Path) -> None:
    before = kept(cache).read_bytes()
    ready = ready_engine(catalogue, cache)
    assert kept(cache).read_bytes() == before, "read, not made again"
    for drawn in Simulator(engine, TUNING).questions(40):
        question = drawn.asked.question
        assert answered(ready, question) == answered(engine, question)
    pool_words = {"quokka": 5, "zibeline": 3}
    text = "the qoukka is out of zibelin, no outptu"
    machine = Question(machine={"fuel": "diesel"}, complaint=text).machine  # type: ignore[arg-type]
    mine, theirs = (e.plain_reader.knowing(pool_words) for e in (ready, engine))
    assert mine.read(text, machine) == theirs.read(text, machine)


class _Harm:
    def __reduce__(self) -> tuple[Any, tuple[str]]:
        return eval, ("(_ for _ in ()).throw(SystemExit(9))",)


def _harm_by_a_function_of_ours() -> bytes:
    # A function of the core is no class: it is not called either.
    return b"cmendpool.core.text.words\nstem\n(S'running'\ntR."


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"no zlib",
        zlib.compress(b"no pickle"),
        zlib.compress(pickle.dumps(("no reader", "no words"))),
        zlib.compress(pickle.dumps(_Harm())),
        zlib.compress(_harm_by_a_function_of_ours()),
    ],
    ids=["empty", "torn", "no pickle", "other things", "eval", "a function"],
)
def test_what_is_no_kept_words_is_made_again(
    catalogue: Catalogue, cache: Path, tmp_path: Path, content: bytes
) -> None:
    file = tmp_path / kept(cache).name
    file.write_bytes(content)
    ready = ready_engine(catalogue, tmp_path)
    question = Question.model_validate({"machine": {}, "complaint": "no power"})
    assert answered(ready, question)
    assert len(kept(tmp_path).read_bytes()) > 10_000


def test_a_folder_that_can_not_be_written_costs_time_only(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("")
    assert ready_engine(catalogue, tmp_path / "file" / "cache").catalogue is catalogue


def test_nothing_but_classes_of_the_core_is_looked_up(catalogue: Catalogue) -> None:
    from mendpool_field.engine_kept import _Reading  # noqa: PLC0415

    reading = _Reading(io.BytesIO(), catalogue)
    for module, name in (
        ("os", "system"),
        ("builtins", "getattr"),
        ("mendpool.core.text.words", "stem"),
        ("mendpool.core.text.words", "re.compile"),
        ("mendpool.main", "create_app"),
    ):
        with pytest.raises(pickle.UnpicklingError):
            reading.find_class(module, name)
