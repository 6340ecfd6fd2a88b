"""Statements that go by the driver alone: those of every request and of every report kept.

SQLAlchemy takes as long to run a statement as SQLite does, several times as long where other
work came between. So it makes the text and says how values are told to a driver and back,
once for each kind of database, and what is asked often is then run without it: on the same
connection, in the same transaction, its errors told as SQLAlchemy tells them.
"""

from collections import namedtuple
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from sqlalchemy import Connection, Dialect, Insert, Select
from sqlalchemy.engine.interfaces import DBAPICursor
from sqlalchemy.exc import DBAPIError
from sqlalchemy.types import TypeEngine

Values = Mapping[str, Any]
_Told = Callable[[Any], Any] | None


class Asked:
    """A SELECT, run by the driver alone.

    It begins no transaction: where several looks must agree, begin one or write.
    """

    def __init__(self, statement: Select[Any]) -> None:
        """Take the statement; it may hold no list that grows with its values."""
        self._statement = statement
        self._texts: dict[str, _Text] = {}
        columns = statement.selected_columns
        self._types = [column.type for column in columns]
        self._row = _rows_of([column.key or "" for column in columns])
        self._read: dict[str, list[tuple[int, Callable[[Any], Any]]]] = {}

    def first(self, connection: Connection, values: Values) -> Any:  # noqa: ANN401 - a row
        """Return the first row with its columns by name, None where there is none."""
        row = self._sent(connection, values, _first)
        return None if row is None else self._row_of(connection, row)

    def all(self, connection: Connection, values: Values) -> list[Any]:
        """Return every row with its columns by name."""
        rows = self._sent(connection, values, _all)
        return [self._row_of(connection, row) for row in rows]

    def _sent(
        self, connection: Connection, values: Values, read: Callable[[DBAPICursor], Any]
    ) -> Any:  # noqa: ANN401 - what `read` gives
        dialect = connection.dialect
        text = self._texts.get(dialect.name)
        if text is None:
            text = self._made(dialect)
        return _sent(connection, text.sql, text.told(values), read)

    def _row_of(self, connection: Connection, row: Sequence[Any]) -> Any:  # noqa: ANN401 - a row
        read = list(row)
        for place, told in self._read[connection.dialect.name]:
            read[place] = told(read[place])
        return self._row(*read)

    def _made(self, dialect: Dialect) -> "_Text":
        found = [_here(kind, dialect).result_processor(dialect, None) for kind in self._types]
        self._read[dialect.name] = [(n, one) for n, one in enumerate(found) if one is not None]
        text = self._texts[dialect.name] = _text_of(self._statement, dialect)
        return text


class Added:
    """An INSERT of rows whole, run by the driver alone."""

    def __init__(self, statement: Insert, columns: Sequence[str]) -> None:
        """Take the statement and the columns that are given; the others keep their default."""
        self._statement = statement
        self._columns = columns
        self._texts: dict[str, _Text] = {}

    def add(self, connection: Connection, rows: Sequence[Values]) -> None:
        """Add rows, each with a value for every column."""
        dialect = connection.dialect
        text = self._texts.get(dialect.name)
        if text is None:
            text = self._texts[dialect.name] = _text_of(
                self._statement, dialect, column_keys=list(self._columns), for_executemany=True
            )
        if len(rows) == 1:
            _sent(connection, text.sql, text.told(rows[0]))
        else:
            many = [text.told(row) for row in rows]
            _sent(connection, text.sql, many, many=True)


def _rows_of(names: Sequence[str]) -> Callable[..., Any]:
    making: Any = namedtuple  # noqa: PYI024 - the names are the statement's
    made: Callable[..., Any] = making("Row", names)
    return made


def run(connection: Connection, sql: str) -> None:
    """Run a text that takes nothing and gives nothing, by the driver alone."""
    _sent(connection, sql, ())


class _Text(NamedTuple):
    """A statement as a driver takes it: with names, or by place where it knows none.

    `given` holds what the statement itself gives, as a number written in it.
    """

    sql: str
    given: Values
    names: Sequence[tuple[str, _Told]]
    by_place: bool

    def told(self, values: Values) -> Any:  # noqa: ANN401 - a tuple or a mapping
        if self.given:
            values = {**self.given, **values}
        if self.by_place:
            return tuple(
                [values[name] if how is None else how(values[name]) for name, how in self.names]
            )
        return {
            name: values[name] if how is None else how(values[name]) for name, how in self.names
        }


def _text_of(
    statement: Select[Any] | Insert,
    dialect: Dialect,
    **more: Any,  # noqa: ANN401 - SQLAlchemy's own
) -> _Text:
    made: Any = statement.compile(dialect=dialect, **more)
    names = made.positiontup if dialect.positional else list(made.params)
    binds = {one: made.binds[one] for one in names}
    how = {one: _here(b.type, dialect).bind_processor(dialect) for one, b in binds.items()}
    given = {one: made.params[one] for one, b in binds.items() if not b.required}
    # By place a name may stand twice.
    return _Text(str(made), given, [(one, how[one]) for one in names], dialect.positional)


def _here(kind: TypeEngine[Any], dialect: Dialect) -> TypeEngine[Any]:
    return kind.dialect_impl(dialect)


def _first(cursor: DBAPICursor) -> Sequence[Any] | None:
    row: Sequence[Any] | None = cursor.fetchone()
    return row


def _all(cursor: DBAPICursor) -> Sequence[Sequence[Any]]:
    rows: Sequence[Sequence[Any]] = cursor.fetchall()
    return rows


def _nothing(cursor: DBAPICursor) -> None:
    del cursor


def _sent(
    connection: Connection,
    sql: str,
    told: Any,  # noqa: ANN401 - a driver's values, or a list of them
    read: Callable[[DBAPICursor], Any] = _nothing,
    *,
    many: bool = False,
) -> Any:  # noqa: ANN401 - what `read` gives
    """Have the driver run a statement; return what is read of it."""
    raw, dialect = connection.connection, connection.dialect
    cursor, driver = raw.cursor(), dialect.loaded_dbapi
    try:
        # Who listens to the engine's statements hears of these too.
        heard = connection.engine.dispatch.before_cursor_execute
        if heard:
            heard(connection, cursor, sql, told, None, many)
        (cursor.executemany if many else cursor.execute)(sql, told)
        return read(cursor)
    except driver.Error as error:
        lost = dialect.is_disconnect(error, raw.dbapi_connection, cursor)
        if lost:
            connection.invalidate(error)
        # The values are people's texts, so they are not handed on.
        raise DBAPIError.instance(
            sql, None, error, driver.Error, connection_invalidated=lost, dialect=dialect
        ) from error
    finally:
        cursor.close()
