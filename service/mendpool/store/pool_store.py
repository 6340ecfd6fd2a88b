"""The store as its users see it: one class over one engine."""

from mendpool.store.bulk import Bulk
from mendpool.store.cases import Cases
from mendpool.store.corrections import Corrections
from mendpool.store.engine import erase_remnants
from mendpool.store.feed import Feed
from mendpool.store.fits import Fits
from mendpool.store.invitations import Invitations
from mendpool.store.judgements import Judgements
from mendpool.store.members import Members
from mendpool.store.parcels import Parcels
from mendpool.store.photos import Photos
from mendpool.store.pool import Pool
from mendpool.store.report_lists import ReportReading
from mendpool.store.reports import ReportWriting
from mendpool.store.sessions import Sessions
from mendpool.store.turns import Turns
from mendpool.store.usage import Usage


class PoolStore(
    Pool,
    Members,
    Invitations,
    Sessions,
    ReportWriting,
    ReportReading,
    Judgements,
    Corrections,
    Photos,
    Bulk,
    Cases,
    Feed,
    Fits,
    Parcels,
    Turns,
    Usage,
):
    """Remembers reports, members, the feed and fits. One for a process, used by any thread."""

    def erase_remnants(self) -> None:
        """Rewrite the database without what was withdrawn; see `engine.erase_remnants`."""
        erase_remnants(self.engine)

    def let_go(self) -> None:
        """Close every connection nobody uses; the next who asks opens one."""
        self.engine.dispose()
        if self.replica is not None:
            self.replica.engine.dispose()
