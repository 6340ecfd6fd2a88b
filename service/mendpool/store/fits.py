"""Fits: what was learned from the feed up to a cut, kept so that every copy has the same."""

from datetime import datetime

from sqlalchemy import Connection, bindparam, delete, func, insert, select

from mendpool.core.errors import Conflict
from mendpool.store.again import undone_again
from mendpool.store.lines import add_lines, last_number
from mendpool.store.room import AnyRow, Room
from mendpool.store.tables import CHANGE, FIT
from mendpool.store.values import Fit

FIT_COLUMNS = (FIT.c.seq, FIT.c.cut_seq, FIT.c.catalogue_version, FIT.c.made_at, FIT.c.body)

_NEWEST = (
    select(*FIT_COLUMNS)
    .where(FIT.c.catalogue_version == bindparam("version"))
    .order_by(FIT.c.cut_seq.desc())
    .limit(1)
)
_LAST_WITHDRAWAL = select(func.coalesce(func.max(CHANGE.c.seq), 0)).where(
    CHANGE.c.kind == "withdrawal"
)


def fit_of(row: AnyRow) -> Fit:
    """Make the value of a row that has `FIT_COLUMNS`."""
    return Fit(row.seq, row.cut_seq, row.catalogue_version, row.made_at, row.body)


class Fits(Room):
    """Keeps the newest fit of each catalogue version."""

    @undone_again
    def save_fit(self, cut_seq: int, catalogue_version: str, body: bytes, now: datetime) -> Fit:
        """Keep a fit, announce it in the feed and drop the ones it replaces.

        A fit holds words and counts of the reports it was made from. So the older fits of
        its version go, and with it every fit from before the last withdrawal.

        Args:
            cut_seq: the last number of the feed it was made from; withdrawals up to there
                must be left out of it.
            catalogue_version: of the catalogue it was made with, at most 80 characters.
            body: opaque.
            now: aware.

        Returns:
            The fit kept: this one, or the stored one when that reaches as far or further.

        Raises:
            Conflict: a report was withdrawn after the cut, or the cut lies beyond the feed;
                make the fit anew.
        """
        with self._writing() as connection:
            newest = _newest(connection, catalogue_version)
            if newest is not None and newest.cut_seq >= cut_seq:
                return newest
            last = last_number(connection)
            withdrawal = int(connection.execute(_LAST_WITHDRAWAL).scalar_one())
            if not withdrawal <= cut_seq <= last:
                raise Conflict("a report was withdrawn since this fit was begun")
            fit = Fit(last + 1, cut_seq, catalogue_version, now, body)
            replace_fit(connection, fit, withdrawal)
            add_lines(connection, [(fit.seq, "fit", str(fit.seq))], now)
        return fit

    def newest_fit(self, catalogue_version: str) -> Fit | None:
        """Return the fit of this catalogue version that reaches furthest, if there is one."""
        with self._reading() as connection:
            return _newest(connection, catalogue_version)

    def last_withdrawal(self) -> int:
        """Return the number of the newest withdrawal, 0 when nothing was ever taken back."""
        with self._reading() as connection:
            return int(connection.execute(_LAST_WITHDRAWAL).scalar_one())


def replace_fit(connection: Connection, fit: Fit, withdrawal: int) -> None:
    """Keep a fit in place of the older ones of its version and of all from before a number."""
    connection.execute(
        delete(FIT).where(
            (FIT.c.catalogue_version == fit.catalogue_version) | (FIT.c.seq < withdrawal)
        )
    )
    connection.execute(
        insert(FIT),
        {
            "seq": fit.seq,
            "cut_seq": fit.cut_seq,
            "catalogue_version": fit.catalogue_version,
            "made_at": fit.made,
            "body": fit.body,
        },
    )


def _newest(connection: Connection, catalogue_version: str) -> Fit | None:
    row = connection.execute(_NEWEST, {"version": catalogue_version}).first()
    return None if row is None else fit_of(row)
