"""The application: the only place that joins settings, clock, store and doors."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime

from fastapi import FastAPI

from service.api import description, problems
from service.api.description import DescribedApi
from service.api.doors import House
from service.api.guard import BodyCap, SafeHeaders
from service.api.routers import ROUTERS
from service.settings import Settings
from service.store.store import Store


def utc_now() -> datetime:
    """Give the time."""
    return datetime.now(UTC)


def create_app(
    settings: Settings,
    clock: Callable[[], datetime] = utc_now,
    store: Store | None = None,
) -> FastAPI:
    """Make the application; a store that is handed in stays open when the application ends.

    The interface's description is at ``/openapi.json``. Pages that show it fetch scripts from
    elsewhere, so there are none.
    """
    kept = store or Store(settings.database_url)

    @asynccontextmanager
    async def life(_: FastAPI) -> AsyncIterator[None]:
        yield
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
    app.state.house = House(kept, clock, settings.label_url)
    app.add_middleware(BodyCap, bytes_max=settings.body_bytes_max)
    app.add_middleware(SafeHeaders)
    problems.install(app, [*app.routes, *(r for router in ROUTERS for r in router.routes)])
    for router in ROUTERS:
        app.include_router(router)
    return app
