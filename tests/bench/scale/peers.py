"""What people would use instead, each with its best usual settings, on the raw complaint.

English stop words are left out and words are stemmed wherever the tool offers it. RapidFuzz
compares with everything; no index of its own.
"""

import importlib
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path
from time import perf_counter
from typing import Any

import numpy as np
from rapidfuzz import fuzz, process
from rapidfuzz.utils import default_process

from mendpool.core.text.words import words_of
from mendpool.store.engine import sqlite_library

from tests.bench.scale.corpus import Corpus
from tests.bench.scale.drawn import Asked
from tests.bench.scale.sides import TOP, Missing, Way, resident, size_of, timed

STOP_WORDS = frozenset(
    [
        "a",
        "an",
        "and",
        "are",
        "as",
        "at",
        "be",
        "but",
        "by",
        "for",
        "if",
        "in",
        "into",
        "is",
        "it",
        "no",
        "not",
        "of",
        "on",
        "or",
        "such",
        "that",
        "the",
        "their",
        "then",
        "there",
        "these",
        "they",
        "this",
        "to",
        "was",
        "will",
        "with",
    ]
)
"""Lucene's English list, which bm25s uses as well."""

_FUZZY_FROM = 4
_FUZZY_BOOST = 0.3


def _needed(name: str) -> Any:
    try:
        return importlib.import_module(name)
    except ImportError as error:
        raise Missing(f"{name} is not installed") from error


class _Peer:
    """What the peers have in common: a folder, and nothing kept between questions."""

    def __init__(self, work: Path | None = None) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="peer-", dir=work))

    def forget(self) -> None:
        """Do nothing."""

    def disk(self) -> float | None:
        """Return what is in its folder."""
        return size_of(self._folder) or None

    def memory(self) -> float:
        """Return this process's."""
        return resident()

    def close(self) -> None:
        """Drop the folder."""
        shutil.rmtree(self._folder, ignore_errors=True)


class FullText(_Peer):
    """SQLite's FTS5: the porter stemmer, a file, its own bm25, any of the words."""

    def build(self, corpus: Corpus) -> float:
        """Fill the table."""
        texts = corpus.texts()
        started = perf_counter()
        self._db = sqlite_library().connect(str(self._folder / "text.db"))
        # Contentless, so that the texts are not stored twice; ranks are the same.
        self._db.execute(
            "CREATE VIRTUAL TABLE held USING fts5"
            "(text, content='', tokenize='porter unicode61')"
        )
        self._db.executemany("INSERT INTO held(rowid, text) VALUES (?, ?)", enumerate(texts, 1))
        self._db.execute("INSERT INTO held(held) VALUES ('optimize')")
        self._db.commit()
        return perf_counter() - started

    def ways(self) -> Mapping[str, Way]:
        """Return the one way."""
        return {"SQLite FTS5 bm25": timed(self._ask)}

    def _ask(self, question: Asked) -> list[int]:
        words = " OR ".join(f'"{word}"' for word in _words(question.text))
        found = self._db.execute(
            f"SELECT rowid FROM held WHERE held MATCH ? ORDER BY rank LIMIT {TOP}", (words,)
        )
        return [row[0] for row in found] if words else []


class Bm25s(_Peer):
    """bm25s: Lucene's formula, English stop words and stemmer; numba where it is installed."""

    def build(self, corpus: Corpus) -> float:
        """Index in memory, and save to see what it takes on disk."""
        self._library = _needed("bm25s")
        texts = corpus.texts()
        self._stemmer = _stemmer()
        self.backend = "numba" if _there("numba") else "numpy"
        started = perf_counter()
        tokens = self._tokens(texts)
        self._index = self._library.BM25(backend=self.backend)
        self._index.index(tokens, show_progress=False)
        took = perf_counter() - started
        self._index.save(str(self._folder))
        self._most = min(TOP, len(texts))
        self._ask(Asked("", {"complaint": texts[0]}))  # numba compiles at the first
        return took

    def ways(self) -> Mapping[str, Way]:
        """Return the one way."""
        return {f"bm25s ({self.backend})": timed(self._ask)}

    def _tokens(self, texts: list[str]) -> Any:
        return self._library.tokenize(
            texts, stopwords="en", stemmer=self._stemmer, show_progress=False
        )

    def _ask(self, question: Asked) -> list[int]:
        tokens = self._library.tokenize(
            [question.text],
            stopwords="en",
            stemmer=self._stemmer,
            show_progress=False,
            return_ids=False,
        )
        rows, scores = self._index.retrieve(
            tokens, k=self._most, show_progress=False, n_threads=0
        )
        pairs = zip(rows[0].tolist(), scores[0].tolist(), strict=True)
        return [row + 1 for row, score in pairs if score > 0]


class Tantivy(_Peer):
    """Tantivy: BM25 with English stemming, and the same with words one edit away."""

    def build(self, corpus: Corpus) -> float:
        """Write the index on one thread."""
        self._t = t = _needed("tantivy")
        texts = corpus.texts()
        started = perf_counter()
        builder = t.TextAnalyzerBuilder(t.Tokenizer.simple()).filter(t.Filter.lowercase())
        self._analyzer = (
            builder.filter(t.Filter.custom_stopword(sorted(STOP_WORDS)))
            .filter(t.Filter.stemmer("English"))
            .build()
        )
        schema = t.SchemaBuilder()
        schema.add_text_field("text", stored=False, tokenizer_name="ours")
        schema.add_unsigned_field("number", stored=True)
        self._schema = schema.build()
        index = t.Index(self._schema, path=str(self._folder))
        index.register_tokenizer("ours", self._analyzer)
        writer = index.writer(heap_size=256_000_000, num_threads=1)
        for number, text in enumerate(texts, 1):
            writer.add_document(t.Document(text=text, number=number))
        writer.commit()
        writer.wait_merging_threads()
        took = perf_counter() - started
        index.reload()
        self._searcher = index.searcher()
        return took

    def ways(self) -> Mapping[str, Way]:
        """Return both ways."""
        return {
            "Tantivy BM25": timed(lambda question: self._ask(question, fuzzy=False)),
            "Tantivy BM25 + fuzzy": timed(lambda question: self._ask(question, fuzzy=True)),
        }

    def _ask(self, question: Asked, *, fuzzy: bool) -> list[int]:
        t, should = self._t, self._t.Occur.Should
        parts = []
        for word in dict.fromkeys(self._analyzer.analyze(question.text)):
            parts.append((should, t.Query.term_query(self._schema, "text", word)))
            if fuzzy and len(word) >= _FUZZY_FROM:
                near = t.Query.fuzzy_term_query(self._schema, "text", word, distance=1)
                parts.append((should, t.Query.boost_query(near, _FUZZY_BOOST)))
        found = self._searcher.search(t.Query.boolean_query(parts), TOP, count=False)
        return [self._searcher.doc(address)["number"][0] for _, address in found.hits]


class RapidFuzz(_Peer):
    """RapidFuzz's token-set ratio with everything, one thread."""

    def build(self, corpus: Corpus) -> float:
        """Put every text into the form that is compared."""
        texts = corpus.texts()
        started = perf_counter()
        self._texts = [default_process(text) for text in texts]
        return perf_counter() - started

    def ways(self) -> Mapping[str, Way]:
        """Return the one way."""
        return {"RapidFuzz token set": timed(self._ask)}

    def _ask(self, question: Asked) -> list[int]:
        asked = default_process(question.text)
        alike = process.cdist(
            [asked], self._texts, scorer=fuzz.token_set_ratio, dtype=np.float32
        )[0]
        # By the negative: partition is slow where many equal values come last.
        most = min(TOP, len(alike) - 1)
        best = np.argpartition(-alike, most)[:TOP]
        return [int(row) + 1 for row in best[np.lexsort((best, -alike[best]))]]


def _words(text: str) -> list[str]:
    words = (word.text for word in words_of(text))
    return [w for w in dict.fromkeys(words) if w.isalnum() and w not in STOP_WORDS]


def _there(name: str) -> bool:
    try:
        importlib.import_module(name)
    except ImportError:
        return False
    return True


def _stemmer() -> Any:
    return importlib.import_module("Stemmer").Stemmer("english") if _there("Stemmer") else None
