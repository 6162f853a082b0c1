"""How often a costly property is tried: a part of its examples in each run, all of them on demand.

``CUSTODY_TRIES=all`` in the environment has all tried; what is drawn is the same each time.
"""

import os


def tries(many: int) -> int:
    """Give how many examples to draw of those that a thorough run draws."""
    return many if os.environ.get("CUSTODY_TRIES") == "all" else max(8, many // 5)
