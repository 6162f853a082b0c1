"""The independent second writing of every regime, by its id: rows, and the day most begin on.

A row is (table, what it speaks of, statement, clause, status), with its days where they differ.
"""

from tests.outside import regime_table_england as england
from tests.outside import regime_table_india as india
from tests.outside import regime_table_us as us
from tests.outside import regime_table_who as who

TABLES: dict[str, tuple[str, list[tuple[str, ...]]]] = {
    "good-practice": (us.PRACTICE_SINCE, us.PRACTICE),
    "india-2016": (india.SINCE, india.ROWS),
    "who-2014": (who.SINCE, who.ROWS),
    "england-htm-07-01": (england.SINCE, england.ROWS),
    "us-federal": (us.FEDERAL_SINCE, us.FEDERAL),
    "us-florida": (us.FLORIDA_SINCE, us.FLORIDA),
    "us-north-carolina": (us.CAROLINA_SINCE, us.CAROLINA),
}
