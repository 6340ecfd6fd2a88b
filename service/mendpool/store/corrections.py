"""Words that members put back after the scrubber took them: counted by word, never by who.

Whose a word is stands beside it so that it is counted once and goes when he takes it back or
is forgotten. No day stands there, and nothing of the report that it came from.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, delete, func, insert, select

from mendpool.core.errors import TooManyOf
from mendpool.store.again import undone_again
from mendpool.store.room import Room
from mendpool.store.tables import CORRECTION

Correction = tuple[str, str]
"""A word in lower case, and what it was taken for."""


@dataclass(frozen=True, slots=True)
class Counted:
    """A word, what it was taken for, and how many people put it back."""

    word: str
    kind: str
    people: int


class Corrections(Room):
    """Keeps the words that were put back."""

    @undone_again
    def keep_corrections(
        self, member_id: int, words: Sequence[Correction], most: int
    ) -> list[Correction]:
        """Keep words of a member; those that are there stay as they are.

        Returns:
            All of the member's, in alphabetical order.

        Raises:
            TooManyOf: the member would have more than `most`.
        """
        with self._writing() as connection:
            there = set(_held(connection, member_id))
            new = [one for one in dict.fromkeys(words) if one not in there]
            if len(there) + len(new) > most:
                raise TooManyOf(f"A member puts back at most {most} words.", for_good=True)
            rows = [{"member_id": member_id, "word": w, "kind": kind} for w, kind in new]
            if rows:
                connection.execute(insert(CORRECTION), rows)
            return sorted({*there, *new})

    def corrections_of(self, member_id: int) -> list[Correction]:
        """Return a member's own words, in alphabetical order."""
        with self._reading() as connection:
            return sorted(_held(connection, member_id))

    @undone_again
    def take_back_correction(self, member_id: int, word: str) -> None:
        """Erase a word of a member, whatever it was taken for; one that is not there too."""
        with self._writing() as connection:
            theirs = CORRECTION.c.member_id == member_id
            connection.execute(delete(CORRECTION).where(theirs, CORRECTION.c.word == word))

    @undone_again
    def erase_correction(self, word: str) -> int:
        """Erase a word, whoever put it back; return how many did."""
        with self._writing() as connection:
            done = connection.execute(delete(CORRECTION).where(CORRECTION.c.word == word))
            return int(done.rowcount)

    def corrections(self) -> list[Counted]:
        """Return every word with how many people put it back, the most first."""
        people = func.count().label("people")
        asked = select(CORRECTION.c.word, CORRECTION.c.kind, people)
        with self._reading() as connection:
            rows = connection.execute(
                asked.group_by(CORRECTION.c.word, CORRECTION.c.kind)
            ).all()
        counted = [Counted(row.word, row.kind, row.people) for row in rows]
        # Sorted here: the databases differ in how they order letters.
        return sorted(counted, key=lambda one: (-one.people, one.word, one.kind))


def _held(connection: Connection, member_id: int) -> Iterator[Correction]:
    asked = select(CORRECTION.c.word, CORRECTION.c.kind)
    for row in connection.execute(asked.where(CORRECTION.c.member_id == member_id)):
        yield row.word, row.kind
