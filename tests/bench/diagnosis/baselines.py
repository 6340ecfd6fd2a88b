"""What people would use instead, on the same questions: reports by words, causes by counts."""

from collections import Counter
from collections.abc import Iterable, Sequence
from math import log

import numpy as np
from rapidfuzz import fuzz, process

from mendpool.core.text.words import stem, words_of

from tests.bench.diagnosis.coop_cases import Asked

_K1, _B = 1.5, 0.75


class Bm25:
    """Past reports by BM25 of the raw complaint, made ready once for many questions."""

    def __init__(self, pool: Sequence[Asked]) -> None:
        self._pool = pool
        texts = [_tokens(asked.words) for asked in pool]
        mean = sum(len(t) for t in texts) / max(1, len(texts))
        self._length = np.array([1 - _B + _B * len(t) / max(mean, 1e-9) for t in texts])
        self._rows: dict[str, list[tuple[int, int]]] = {}
        for row, text in enumerate(texts):
            for word, times in Counter(text).items():
                self._rows.setdefault(word, []).append((row, times))

    def order(self, words: str) -> list[Asked]:
        """Return the pool, the best report first, ties by id."""
        scores = np.zeros(len(self._pool))
        for word in sorted(set(_tokens(words))):
            found = self._rows.get(word)
            if not found:
                continue
            rows, times = np.array(found).T
            idf = log(1 + (len(self._pool) - len(found) + 0.5) / (len(found) + 0.5))
            scores[rows] += idf * times * (_K1 + 1) / (times + _K1 * self._length[rows])
        return _by_score(self._pool, scores)


class Fuzzy:
    """Past reports by RapidFuzz's token-set ratio of the raw complaint."""

    def __init__(self, pool: Sequence[Asked]) -> None:
        self._pool = pool
        self._texts = [asked.words for asked in pool]

    def order(self, words: str) -> list[Asked]:
        """Return the pool, the best report first, ties by id."""
        if not self._pool:
            return []
        scores = process.cdist([words], self._texts, scorer=fuzz.token_set_ratio)[0]
        return _by_score(self._pool, scores)


def nearest_by_bm25(question: Asked, pool: Sequence[Asked]) -> list[str]:
    """Causes of past reports by BM25 of the raw complaint (k1 1.5, b 0.75), best first."""
    return causes_of(Bm25(pool).order(question.words))


def nearest_by_rapidfuzz(question: Asked, pool: Sequence[Asked]) -> list[str]:
    """Causes of past reports by token-set ratio of the raw complaint, best first."""
    return causes_of(Fuzzy(pool).order(question.words))


def commonest_for_the_symptom(question: Asked, pool: Sequence[Asked]) -> list[str]:
    """The commonest causes among reports that share the first symptom understood."""
    wanted = question.case.symptoms[:1]
    same = [a for a in pool if a.truth and set(wanted) & set(a.case.symptoms)]
    counted = Counter(a.truth for a in (same or [a for a in pool if a.truth]))
    return [t for t, _ in sorted(counted.items(), key=lambda item: (-item[1], item[0])) if t]


def causes_of(reports: Iterable[Asked]) -> list[str]:
    """Return the causes of reports in order, each once."""
    return list(dict.fromkeys(asked.truth for asked in reports if asked.truth))


def _by_score(pool: Sequence[Asked], scores: np.ndarray) -> list[Asked]:
    rounded = np.round(scores.astype(float), 9)
    ids = np.array([asked.case.id for asked in pool])
    return [pool[row] for row in np.lexsort((ids, -rounded))]


def _tokens(text: str) -> list[str]:
    return [stem(w.text) for w in words_of(text) if w.text != "|"]
