"""What is tested, by room.

Some images forbid kept bytecode. Then every worker, and every process that a test starts, would
compile all of mendpool anew. It is allowed here because this is imported before all else.
"""

import os
import sys

os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
# A terminal's size is none of a worker's, and comes to it only because readline says it aloud.
for name in ("COLUMNS", "LINES"):
    os.environ.pop(name, None)
