"""How long somebody waits after failed attempts to sign in. Nobody is ever shut out for good.

A subject is what attempts are counted on: a person from one address, a badge on one device, a
device. The first failures are free; then each doubles the wait, from 2 s up to a bound.
"""

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import IPv6Address, IPv6Network, ip_address

FIRST = timedelta(seconds=2)
"""The first wait."""

ASKEW = timedelta(minutes=5)
"""An attempt that lies further ahead was counted before the clock was put back: it holds no one."""

_FAILURES_MOST = 1_000_000
_DOUBLINGS_MOST = 20


@dataclass(frozen=True, slots=True)
class Limit:
    """The rule for one sort of subject.

    Attributes:
        free: Failures without a wait.
        most: The longest wait.
        forgotten: The failures count no more when the last lies so far back. It is long enough that
            a pause never gains more guesses than patience does.
    """

    free: int
    most: timedelta
    forgotten: timedelta


BY_ACCOUNT = Limit(5, timedelta(minutes=15), timedelta(hours=24))
"""A person's password from one address, and the codes of their second factor."""

BY_BADGE = Limit(5, timedelta(seconds=60), timedelta(hours=1))
"""A badge on one device."""

BY_DEVICE = Limit(5, timedelta(seconds=60), timedelta(hours=1))
"""All badges on one device."""

BY_SOURCE = Limit(50, timedelta(seconds=2), timedelta(hours=1))
"""All names from one address. Many desks may share it: it slows a search through names and the
growth of what is kept of it, and holds nobody up for longer than 2 s."""

BY_ENTRY = Limit(20, timedelta(minutes=15), timedelta(hours=24))
"""Refusals of one person for one reason, as far as the access log tells of each."""

FORGOTTEN = max(each.forgotten for each in (BY_ACCOUNT, BY_BADGE, BY_DEVICE, BY_SOURCE, BY_ENTRY))
"""What is older than this counts for no subject."""

Standing = tuple[int, datetime]
"""How many attempts failed in a row, and when the last did."""


def subject(kind: str, *names: str) -> str:
    """Give the name under which attempts are counted: a hash, so that it tells nothing."""
    return hashlib.sha256(json.dumps([kind, *names]).encode()).hexdigest()


def source_of(address: str) -> str:
    """Give what counts as one source: an IPv4 address, or the /64 network of an IPv6 address.

    A customer is given at least a /64 (RFC 6177), and could otherwise guess from each address anew.
    """
    try:
        found = ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if not isinstance(found, IPv6Address):
        return str(found)
    if found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(IPv6Network((found, 64), strict=False))


def wait(limit: Limit, failures: int) -> timedelta:
    """Give how long somebody waits after so many failures."""
    doublings = failures - limit.free
    if doublings < 0:
        return timedelta(0)
    return min(limit.most, FIRST * (1 << min(doublings, _DOUBLINGS_MOST)))


def next_at(limit: Limit, standing: Standing | None, now: datetime) -> datetime:
    """Give when the next attempt may come: ``now`` or later."""
    if standing is None or _over(limit, standing, now):
        return now
    failures, last_at = standing
    return max(now, last_at + wait(limit, failures))


def counted(limit: Limit, standing: Standing | None, now: datetime) -> Standing:
    """Count one more failure."""
    if standing is None or _over(limit, standing, now):
        return 1, now
    failures, last_at = standing
    return min(failures + 1, _FAILURES_MOST), max(last_at, now)


def taken_back(
    standing: Standing | None, before: Standing | None, after: Standing
) -> Standing | None:
    """Take one attempt back that turned out right, and leave those of others.

    Args:
        standing: What stands now.
        before: What stood before it was counted.
        after: What stood once it was.
    """
    if standing is None or standing == after:
        return before
    failures, last_at = standing  # others were counted meanwhile
    return failures - 1, last_at


def _over(limit: Limit, standing: Standing, now: datetime) -> bool:
    _, last_at = standing
    return now - last_at >= limit.forgotten or last_at - now > ASKEW
