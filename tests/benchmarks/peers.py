"""Others who do the same, as small and as honest as can be; each is a server of its own process.

``bare`` answers and does nothing: the limit of the framework. ``ordinary`` is what FastAPI's and
SQLModel's own tutorials lead to: a thread, a session and a commit for each request, with a hash
chain whose head is under a lock. ``locked`` is the usual way on PostgreSQL: the row of the
facility's head is locked by each request until it is committed.
"""

import hashlib
import sys
import threading
from collections.abc import Iterator
from datetime import datetime
from typing import Annotated, Any

import uvicorn
from fastapi import Depends, FastAPI
from sqlalchemy import Engine, event, text
from sqlmodel import Field, Session, SQLModel, create_engine, select

CONNECTIONS = 40


def bare() -> FastAPI:
    """Nothing but an answer."""
    app = FastAPI(openapi_url=None)

    @app.post("/v1/events")
    async def take() -> dict[str, str]:
        return {"outcome": "recorded"}

    @app.get("/health")
    async def health() -> dict[str, str]:
        return {"status": "ok"}

    return app


class Brought(SQLModel):
    """An event as it is sent."""

    id: str
    kind: str
    containers: list[str]
    occurred_at: datetime
    actor: str
    category: str
    unit: str
    container_kind: str
    weight_g: int


class Kept(SQLModel, table=True):
    """An event as it is kept, each with the hash of the one before in its own."""

    seq: int | None = Field(default=None, primary_key=True)
    id: str = Field(unique=True)
    kind: str
    container: str = Field(index=True)
    occurred_at: datetime = Field(index=True)
    actor: str
    category: str
    unit: str
    container_kind: str
    weight_g: int
    hash: str


def durable(url: str) -> Engine:
    """An engine that syncs every commit."""
    engine = create_engine(url, connect_args={"check_same_thread": False, "timeout": 30})

    @event.listens_for(engine, "connect")
    def on_connect(connection: Any, _: object) -> None:
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=FULL")

    return engine


def ordinary(url: str) -> FastAPI:
    """A session for each request."""
    app, engine, turn = FastAPI(), durable(url), threading.Lock()
    SQLModel.metadata.create_all(engine)

    def opened() -> Iterator[Session]:
        with Session(engine) as session:
            yield session

    @app.post("/v1/events")
    def take(brought: Brought, session: Annotated[Session, Depends(opened)]) -> Kept:
        with turn:
            last = session.exec(select(Kept).order_by(Kept.seq.desc()).limit(1)).first()  # type: ignore[union-attr]
            before = last.hash if last else ""
            told = brought.model_dump(mode="json")
            container = told.pop("containers")[0]
            digest = hashlib.sha256((before + brought.model_dump_json()).encode()).hexdigest()
            made = Kept.model_validate({**told, "container": container, "hash": digest})
            session.add(made)
            session.commit()
        session.refresh(made)
        return made

    @app.get("/health")
    def health() -> dict[str, str]:
        return {"status": "ok"}

    return app


def locked(url: str) -> FastAPI:
    """A row lock for each request, held until its commit is on the disk."""
    app = FastAPI(openapi_url=None)
    engine = create_engine(url, pool_size=CONNECTIONS)
    with engine.begin() as made:
        made.execute(text("CREATE TABLE IF NOT EXISTS head (facility text PRIMARY KEY, n bigint, "
                          "hash bytea)"))  # fmt: skip
        made.execute(text("CREATE TABLE IF NOT EXISTS kept (facility text, n bigint, id text "
                          "UNIQUE, body text, hash bytea, PRIMARY KEY (facility, n))"))  # fmt: skip
        made.execute(text("INSERT INTO head VALUES ('one', 0, '') ON CONFLICT DO NOTHING"))

    @app.post("/v1/events")
    def take(brought: Brought) -> dict[str, int]:
        body = brought.model_dump_json()
        with engine.begin() as connection:
            asked = text("SELECT n, hash FROM head WHERE facility = 'one' FOR UPDATE")
            n, before = connection.execute(asked).one()
            row = {"n": n + 1, "hash": hashlib.sha256(bytes(before) + body.encode()).digest(),
                   "id": brought.id, "body": body}  # fmt: skip
            connection.execute(text("INSERT INTO kept VALUES ('one', :n, :id, :body, :hash)"), row)
            connection.execute(
                text("UPDATE head SET n = :n, hash = :hash WHERE facility = 'one'"), row
            )
        return {"n": n + 1}

    @app.get("/health")
    def health() -> dict[str, str]:
        return {"status": "ok"}

    return app


def main(name: str, port: int, url: str) -> None:
    """Serve one of them, with the very server that the product has."""
    app = bare() if name == "bare" else {"ordinary": ordinary, "locked": locked}[name](url)
    uvicorn.run(app, port=port, access_log=False, log_level="error", server_header=False)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), sys.argv[3])
