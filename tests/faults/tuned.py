"""The service with one setting of SQLite changed from outside; the product has no switch for this.

``python -m tests.faults.tuned synchronous=NORMAL serve``: commits that are not synced, the control
that a power cut must catch out. ``wal_autocheckpoint=50``: the log is worked into the file often.
"""

import sys
from typing import Any

from sqlalchemy import event
from sqlalchemy.pool import Pool

from service.cli import app


def _tune(connection: Any, _record: object, _proxy: object) -> None:
    connection.execute(f"PRAGMA {setting}")


if __name__ == "__main__":
    setting = sys.argv.pop(1)
    event.listen(Pool, "checkout", _tune)
    app()
