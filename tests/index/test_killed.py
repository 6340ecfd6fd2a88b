"""A process that is killed outright while it writes the index, again and again."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from mendpool.index.finder import Finder
from mendpool.index.folder import Folder

from tests.factories import make_id

WRITER = """
import sys
from pathlib import Path
from uuid import UUID
from mendpool.index.finder import Finder
from mendpool.index.folder import Folder
folder = Folder(Path(sys.argv[1]), "1")
loaded = folder.load()
finder = Finder(sliced_from=64) if loaded is None else Finder.of(loaded.closed, sliced_from=64)
first = int(sys.argv[2])
while True:
    for seq in range(finder.seq + 1, finder.seq + 8):
        finder.add(seq, UUID(int=first + seq), ["w:a", f"w:own{seq}"])
        finder.reached(seq)
    with folder.writing() as mine:
        assert mine
        folder.publish(finder.tidy(whole=seq % 3 == 0), f"at {seq}")
    print(seq, flush=True)
"""


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="no such signal here")
def test_killed_outright_it_goes_on_from_a_whole_state(tmp_path: Path) -> None:
    first, told = make_id(1).int - 1, 0
    for number in range(12):
        process = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(tmp_path), str(first)],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert process.stdout is not None
        told = int(process.stdout.readline())
        time.sleep(0.003 * number)
        process.send_signal(signal.SIGKILL)
        rest, _ = process.communicate(timeout=30)
        told = int((rest.split() or [told])[-1])
        loaded = Folder(tmp_path, "1").load()
        assert loaded is not None, "never half of it"
        finder = Finder.of(loaded.closed, sliced_from=64)
        assert told <= finder.seq <= told + 7, "what was published is there"
        seqs = [hit.seq for hit in finder.search({"w:a": 1}, 10**6)]
        assert seqs == list(range(1, finder.seq + 1))
        assert [h.seq for h in finder.search({f"w:own{finder.seq}": 9})] == [finder.seq]
    assert told >= 12 * 7
