"""A fit made in a process of its own, so that no question shares a processor's turn with it.

The process is a new one, not a copy of this; it yields to whatever else wants to run, and it
ends when this one does, however that comes about. It gives the fit back as bytes.
"""

import logging
import multiprocessing
import os
import threading
from dataclasses import dataclass
from multiprocessing import connection
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.expected import expectations
from mendpool.core.diagnosis.knowledge import Knowledge
from mendpool.store.engine import make_engine
from mendpool.store.pool_store import PoolStore
from mendpool.usecases.ledger_folder import LedgerFolder
from mendpool.usecases.make_fit import GivenUp, GoOn, made_fit

_log = logging.getLogger("mendpool")
_LOOK_AGAIN_S = 0.2
_END_S = 5
_YIELDING = 10


class NoProcess(Exception):
    """It could not be started, or it ended without a fit."""


@dataclass(frozen=True)
class Order:
    """What a process needs to make a fit.

    Args:
        database: the address of the pool's database.
        catalogue: the trade's knowledge.
        cut: the last line of the feed that counts.
        folder: where the ledger is kept.
    """

    database: str
    catalogue: Catalogue
    cut: int
    folder: LedgerFolder | None


def fit_apart(order: Order, go_on: GoOn) -> bytes:
    """Have a fit made in a process of its own.

    Args:
        order: what to make.
        go_on: asked now and then; the process is ended when it says no.

    Raises:
        GivenUp: `go_on` said no.
        NoProcess: it has to be made some other way.
    """
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    made = context.Process(target=_work, args=(theirs, order), name="mendpool fit", daemon=True)
    try:
        with ours:
            _start(made)
            theirs.close()
            return _await(ours, go_on)
    finally:
        theirs.close()
        _end(made)


def _start(made: Any) -> None:  # noqa: ANN401 - the class differs by platform
    try:
        made.start()
    except (OSError, AssertionError, ValueError, TypeError, RuntimeError) as error:
        # No room for another process, or none may be started from here.
        raise NoProcess(str(error)) from error


def _await(ours: "connection.Connection", go_on: GoOn) -> bytes:
    while go_on():
        if ours.poll(_LOOK_AGAIN_S):
            break
    else:
        raise GivenUp
    try:
        return ours.recv_bytes()
    except (EOFError, OSError) as error:
        raise NoProcess("it ended without a fit") from error


def _end(made: Any) -> None:  # noqa: ANN401 - as above
    if made.pid is None:
        return
    if made.is_alive():
        made.join(0.5)
    if made.is_alive():
        made.terminate()
        made.join(_END_S)
    if made.is_alive():
        made.kill()
        made.join()
    made.close()


def _work(theirs: "connection.Connection", order: Order) -> None:
    """Make the fit; this is all that the process does."""
    _end_with(multiprocessing.parent_process())
    if hasattr(os, "nice"):
        os.nice(_YIELDING)
    store = PoolStore(make_engine(order.database))
    expected = expectations(Knowledge(order.catalogue))
    theirs.send_bytes(made_fit(store, expected, order.cut, order.folder))
    theirs.close()


def _end_with(parent: Any) -> None:  # noqa: ANN401 - as above
    """End this process when the one that wants the fit has ended, killed or not."""

    def wait() -> None:
        connection.wait([parent.sentinel])
        os._exit(1)

    if parent is not None:
        threading.Thread(target=wait, daemon=True).start()
