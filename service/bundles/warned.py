"""What the reader of a bundle must know of its quarter, though everything in it holds."""

from datetime import datetime
from zoneinfo import ZoneInfo

from service.manifests.quarter import Quarter


def warned(quarter: Quarter, zone: ZoneInfo, now: datetime, began: datetime | None) -> list[str]:
    """Say why the figures of a quarter may not be the whole of it; nothing if they may be.

    Args:
        quarter: The quarter.
        zone: The facility's own time.
        now: The moment of the reckoning.
        began: When the log's first entry was recorded; None if before the quarter.
    """
    start, end = quarter.start(zone), quarter.end(zone)
    found = []
    if now < end:
        found.append(
            f"NOT FINISHED: {quarter} ends after {quarter.last_day}, and was reckoned at "
            f"{now.astimezone(zone):%Y-%m-%d %H:%M}, the facility's time. Its figures will change."
        )
    if began is None or began.astimezone(zone).date() <= start.astimezone(zone).date():
        return found
    when = f"{began.astimezone(zone):%Y-%m-%d}"
    where = "after this quarter had ended" if began >= end else f"after {quarter} had begun"
    found.append(
        f"BEFORE THE LOG: the log began on {when}, {where}. What was done before that day is in "
        "the figures only where it was recorded afterwards: few or no containers here do not show "
        "that there were few or none."
    )
    return found
