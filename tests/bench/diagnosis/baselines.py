"""What people would use instead, on the same questions."""

from collections import Counter
from collections.abc import Sequence
from math import log

from rapidfuzz import fuzz

from mendpool.core.text.words import stem, words_of

from tests.bench.diagnosis.coop_cases import Asked


def nearest_by_bm25(question: Asked, pool: Sequence[Asked]) -> list[str]:
    """Causes of past reports by BM25 of the raw complaint (k1 1.5, b 0.75), best first."""
    texts = [_tokens(asked.words) for asked in pool]
    mean = sum(len(t) for t in texts) / max(1, len(texts))
    df = Counter(word for text in texts for word in set(text))
    scored = []
    for asked, text in zip(pool, texts, strict=True):
        counts, score = Counter(text), 0.0
        for word in set(_tokens(question.words)):
            tf = counts[word]
            if tf:
                idf = log(1 + (len(pool) - df[word] + 0.5) / (df[word] + 0.5))
                score += idf * tf * 2.5 / (tf + 1.5 * (0.25 + 0.75 * len(text) / mean))
        scored.append((-score, asked.case.id, asked.truth))
    return _distinct(truth for _, _, truth in sorted(scored, key=lambda s: s[:2]))


def nearest_by_rapidfuzz(question: Asked, pool: Sequence[Asked]) -> list[str]:
    """Causes of past reports by token-set ratio of the raw complaint, best first."""
    scored = sorted(
        (-fuzz.token_set_ratio(question.words, asked.words), asked.case.id, asked.truth or "")
        for asked in pool
    )
    return _distinct(truth for _, _, truth in scored)


def commonest_for_the_symptom(question: Asked, pool: Sequence[Asked]) -> list[str]:
    """The commonest causes among reports that share the first symptom understood."""
    wanted = question.case.symptoms[:1]
    same = [a for a in pool if a.truth and set(wanted) & set(a.case.symptoms)]
    counted = Counter(a.truth for a in (same or [a for a in pool if a.truth]))
    return [t for t, _ in sorted(counted.items(), key=lambda item: (-item[1], item[0])) if t]


def _tokens(text: str) -> list[str]:
    return [stem(w.text) for w in words_of(text) if w.text != "|"]


def _distinct(truths: object) -> list[str]:
    return list(dict.fromkeys(t for t in truths if t))  # type: ignore[attr-defined]
