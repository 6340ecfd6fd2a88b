"""The bench runs with whatever is installed, and its table has a row for each side."""

import pytest

from tests.bench.scale.__main__ import main
from tests.bench.scale.corpus import Corpus, corpus
from tests.bench.scale.drawn import Pieces, Pool
from tests.bench.scale.judged import interval, ndcg
from tests.bench.scale.table import Row, against_the_best, growth_of, in_a_row

_FEW = ("ours", "fts5", "rapidfuzz")
_ROWS = (
    "ours SQLite: index", "ours SQLite: search", "ours SQLite: answer", "SQLite FTS5 bm25",
    "RapidFuzz token set",
)  # fmt: skip


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Pool:
    return Pool(tmp_path_factory.mktemp("bench"), seed=11, piece=40)


@pytest.fixture(scope="module")
def small(drawn: Pool) -> Corpus:
    return corpus(drawn, 300, 40)


def test_a_piece_of_a_pool_is_what_the_simulator_draws() -> None:
    pieces = Pieces(11)
    assert list(pieces.between(range(12)))[:5] == pieces.reports(5)


def test_a_larger_corpus_goes_on_with_retellings_of_the_same_causes(small: Corpus) -> None:
    texts, causes = small.texts(), small.causes()
    cases = [case for _, case in small.cases()]
    assert len(texts) == len(causes) == len(cases) == 300
    assert len(set(texts)) > 260  # a short one may come out the same
    assert set(causes[40:]) == set(causes[:40])


def test_a_word_is_lost_to_the_text_and_to_our_terms_together(small: Corpus) -> None:
    # What was drawn stands at places 1 to 40; a retelling of it 40, 80 … places on.
    texts = small.texts()
    kept = changed = 0
    for place, (_, case) in enumerate(small.cases()):
        if place < 40:
            continue
        words = set(texts[place].lower().replace(",", " ").replace(".", " ").split())
        was = set(texts[(place + 1) % 40].lower().replace(",", " ").replace(".", " ").split())
        kept += len(words & was)
        changed += len(was - words)
        assert '"w:' in case
    assert 0.05 < changed / (kept + changed) < 0.35


def test_the_table_has_a_row_for_each_side(
    drawn: Pool, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tests.bench.scale.__main__.Pool", lambda *_: drawn)
    few = ["--questions", "4", "--engines", *_FEW, "--together"]
    main(["--sizes", "300", "--drawn", "40", *few])
    printed = capsys.readouterr().out.splitlines()
    for side in _ROWS:
        assert any(side in line and line.lstrip().startswith("300") for line in printed)
    assert any("less that of" in line for line in printed)


def test_a_whole_answer_is_set_beside_the_constant_route_that_was_asked_the_same_way() -> None:
    whole, constant = "ours SQLite: HTTP", "(SQLite: constant route)"
    rows = [
        Row(10, whole, 1.0, None, 1.0, [20.0], {0: 0.5}),
        Row(10, constant, 1.0, None, 1.0, [4.0]),
        Row(10, in_a_row(whole), 1.0, None, 1.0, [12.0]),
        Row(10, in_a_row(constant), 1.0, None, 1.0, [1.5]),
        Row(10, "peer", 1.0, None, 1.0, [1.0], {0: 0.4}),
    ]
    told = [line.split()[-1] for line in against_the_best(rows) if "constant" in line]
    assert told == ["5.0", "8.0"]


def test_growth_is_the_largest_size_over_the_smallest() -> None:
    small = Row(10, "ours", 2.0, 1.0, 100.0, [1.0, 2.0, 3.0])
    large = Row(1000, "ours", 8.0, None, 150.0, [3.0, 6.0, 9.0])
    line = growth_of({10: [small], 1000: [large]})[-1]
    assert line.split() == ["ours", "3.0", "3.0", "4.0", "1.5"]


def test_ndcg_of_a_worked_example() -> None:
    # By hand: relevant at 1 and 3: (1 + 1/log2(4)) over the ten discounts' sum, 4.5436.
    causes = ["a", "b", "a"]
    assert ndcg([1, 2, 3], causes, "a") == pytest.approx(1.5 / 4.543559338, abs=1e-9)
    assert ndcg([], causes, "a") == 0


def test_the_interval_of_a_difference_holds_it_and_only_pairs_count() -> None:
    ours = {number: 0.5 + 0.01 * (number % 5) for number in range(50)}
    theirs = dict.fromkeys(range(10, 70), 0.3)
    gap, low, high, many = interval(ours, theirs)
    assert many == 40
    assert low < gap < high
    assert gap == pytest.approx(0.22)
    assert low > 0.2
