"""The application: the only place that joins settings, clock, store and doors."""

import logging
from asyncio import sleep
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from itertools import product

from anyio import create_task_group
from anyio.to_thread import current_default_thread_limiter
from fastapi import FastAPI
from fastapi.concurrency import run_in_threadpool

from service.api import access_problems, description, problems
from service.api.description import DescribedApi
from service.api.guard import Announced, BodyCap, NamedOnce, Room, SafeHeaders
from service.api.metrics import Meters, Timed
from service.api.routers import ROUTERS
from service.api.traffic import install_access
from service.custody.words import Role
from service.duties import evidence
from service.duties.access import Caller
from service.duties.evidence import Keeping
from service.duties.notices import tell
from service.notices.recipients import Notices, load
from service.pages.routers import ROUTERS as PAGES
from service.settings import Settings
from service.store.keyring import Keyring
from service.store.store import Store
from service.web.house import House

DOORS = "/v1/"
BRING_EVENTS = frozenset({"/v1/events"})
BUNDLES, PICTURES = "/v1/verifications", "/v1/codes"
SOON_S = 60
"""How soon after the start it is first seen to that every log was signed within a day."""
LOOK_S = 3_600
"""How often after that."""
TELL_S = 60
"""How often those outside are told of what is due, late or wrong."""

_log = logging.getLogger("custody")


def utc_now() -> datetime:
    """Give the time."""
    return datetime.now(UTC)


async def _tell_outside(store: Store, notices: Notices, clock: Callable[[], datetime]) -> None:
    """Have those outside told every minute of what is due, late or wrong."""
    from service.notices.deliver import deliverer  # clients of HTTP and SMTP, for this alone

    deliver = deliverer(notices.post, clock)
    while True:
        await sleep(TELL_S)
        for to in notices.to:
            try:
                await run_in_threadpool(tell, store, to, deliver, clock)
            except Exception:  # of one recipient; the others are told
                _log.exception("notices to %s of %s could not be made", to.name, to.facility)


async def _sign_daily(keeping: Keeping, clock: Callable[[], datetime]) -> None:
    """Have every log that grew signed once a day, asked or not."""
    await sleep(SOON_S)  # a service that is restarted every hour has its logs signed too
    while True:
        try:
            await run_in_threadpool(_sign_all, keeping, clock())
        except Exception:  # or it would never be signed again, and nobody would know
            _log.exception("the logs were not signed; it is tried again in %s s", LOOK_S)
        await sleep(LOOK_S)


def _sign_all(keeping: Keeping, now: datetime) -> None:
    for facility, log in product(keeping.store.facilities(), evidence.LOGS):
        caller = Caller(facility, "daily", Role.ADMINISTRATOR)
        try:
            evidence.sign_daily(keeping, caller, now, log)
        except Exception:  # of one log; the others are signed
            _log.exception("the %s log of %s was not signed", log.word, facility)


def create_app(
    settings: Settings,
    clock: Callable[[], datetime] = utc_now,
    store: Store | None = None,
) -> FastAPI:
    """Make the application; a store that is handed in stays open when the application ends.

    The interface's description is at ``/openapi.json``. Pages that show it fetch scripts from
    elsewhere, so there are none.

    Raises:
        NoticesError: the file that says who is told outside cannot be used.
    """
    notices = load(settings.notices) if settings.notices else None
    kept = store or Store(settings.database_url, settings.read_database_url)
    keeping = Keeping(kept, Keyring(settings.key_dir), settings.label_url)
    if store is None:
        try:
            kept.database.claim()
        except BaseException:
            kept.close()
            raise

    @asynccontextmanager
    async def life(_: FastAPI) -> AsyncIterator[None]:
        # A thread for every request, lest some be announced and wait for one; one to sign, and one
        # to tell those outside.
        current_default_thread_limiter().total_tokens = settings.requests_max + 2
        async with create_task_group() as beside:  # on its end, nothing is being signed any more
            beside.start_soon(_sign_daily, keeping, clock)
            if notices is not None:
                beside.start_soon(_tell_outside, kept, notices, clock)
            yield
            beside.cancel_scope.cancel()
        if store is None:
            kept.close()

    app = DescribedApi(
        title="Waste custody",
        version="1",
        summary=description.SUMMARY,
        description=description.DESCRIPTION,
        openapi_tags=description.TAGS,
        docs_url=None,
        redoc_url=None,
        lifespan=life,
        redirect_slashes=False,
    )
    app.state.house = House(keeping, clock, settings.trace_bytes_max)
    _surround(app, settings, kept)
    # Taken as they are: to include their routers would make each of them a second time.
    app.router.routes.extend(r for router in (*ROUTERS, *PAGES) for r in router.routes)
    problems.install(app, app.routes)
    access_problems.install(app)
    return app


def _surround(app: FastAPI, settings: Settings, kept: Store) -> None:
    """Put around the doors what stands around every answer; what comes later stands outside."""
    app.add_middleware(Announced, paths=BRING_EVENTS, expected=kept.expected)
    app.add_middleware(Room, requests_max=settings.requests_max, otherwise=problems.full_up)
    app.add_middleware(
        BodyCap,
        bytes_max=settings.body_bytes_max,
        wait_s_max=settings.body_s_max,
        larger={BUNDLES: settings.bundle_bytes_max, PICTURES: settings.picture_bytes_max},
    )
    app.add_middleware(NamedOnce, doors=DOORS, otherwise=problems.said_twice)
    app.add_middleware(SafeHeaders)
    app.state.meters = Meters(kept)
    app.add_middleware(Timed, meters=app.state.meters)
    install_access(app, settings)
