"""What the index is held against: SQLite's full text and a plain walk over posting lists."""

import sqlite3
from collections.abc import Mapping, Sequence

import numpy as np

_MOST = 300


class FullText:
    """FTS5 over the same terms, each made one token; ranked by its own bm25."""

    def __init__(self) -> None:
        self._db = sqlite3.connect(":memory:")
        self._db.execute(
            "CREATE VIRTUAL TABLE held USING fts5(terms, content='', tokenize='ascii')"
        )

    def add(self, rows: Sequence[Sequence[str]], first: int) -> None:
        """Add reports under the numbers from `first` on."""
        told = [
            (first + place, " ".join(map(_token, terms))) for place, terms in enumerate(rows)
        ]
        self._db.executemany("INSERT INTO held(rowid, terms) VALUES (?, ?)", told)
        self._db.commit()

    def search(self, weights: Mapping[str, int]) -> list[int]:
        """Return the numbers of the best."""
        wanted = " OR ".join(map(_token, weights))
        query = f"SELECT rowid FROM held WHERE held MATCH ? ORDER BY rank LIMIT {_MOST}"
        return [row[0] for row in self._db.execute(query, (wanted,))]


def _token(term: str) -> str:
    """Return a term as one word of letters and digits, no two terms the same."""
    return "".join(c if c.isalnum() else f"x{ord(c):x}x" for c in term)


class Scatter:
    """Posting lists, each added to an array of scores; the best picked by partition."""

    def __init__(self) -> None:
        self._lists: dict[str, list[int]] = {}
        self._rows: dict[str, np.ndarray[tuple[int], np.dtype[np.int64]]] = {}
        self._count = 0

    def add(self, rows: Sequence[Sequence[str]]) -> None:
        """Add reports."""
        for terms in rows:
            for term in terms:
                self._lists.setdefault(term, []).append(self._count)
            self._count += 1

    def close(self) -> None:
        """Make the lists arrays."""
        self._rows = {t: np.array(r, dtype=np.int64) for t, r in self._lists.items()}
        self._lists = {}

    def search(self, weights: Mapping[str, int]) -> list[tuple[int, int]]:
        """Return the best scores and their rows; ties by row."""
        scores = np.zeros(self._count, dtype=np.int64)
        for term, weight in weights.items():
            rows = self._rows.get(term)
            if rows is not None:
                scores[rows] += weight
        # By the negative: partition is slow where many equal zeros come last.
        kept = np.argpartition(-scores, min(_MOST, self._count - 1))[:_MOST]
        return sorted((-int(scores[row]), int(row)) for row in kept if scores[row])
