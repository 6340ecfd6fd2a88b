"""How often a sign-in failed of late, from one address, in this process.

No code can be guessed: each has 256 random bits. What is kept from harm is whoever reads the
logs, and who guesses hears that it is of no use. So the counting is plain: in the process, by
the address that connects, which behind a proxy is the proxy's. A right code is let in always:
or one who guesses without end would keep all others out.
"""

import math
import threading
from collections import OrderedDict, deque
from datetime import datetime

FAILURES_A_MINUTE = 30
ADDRESSES_MOST = 1_000
_MINUTE_S = 60


class Guesses:
    """Counts for one process. Safe for threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._failed: OrderedDict[str, deque[float]] = OrderedDict()

    def wait(self, address: str, now: datetime) -> int:
        """Return for how many seconds a wrong code is told to wait; 0 is not at all."""
        at = now.timestamp()
        with self._lock:
            failed = self._failed.get(address)
            while failed and not 0 <= at - failed[0] < _MINUTE_S:
                failed.popleft()  # a clock put back must keep nobody out
            if not failed or len(failed) < FAILURES_A_MINUTE:
                return 0
            return max(1, math.ceil(failed[0] + _MINUTE_S - at))

    def failed(self, address: str, now: datetime) -> None:
        """Note that one failed."""
        with self._lock:
            failed = self._failed.setdefault(address, deque(maxlen=FAILURES_A_MINUTE))
            failed.append(now.timestamp())
            self._failed.move_to_end(address)
            while len(self._failed) > ADDRESSES_MOST:
                self._failed.popitem(last=False)
