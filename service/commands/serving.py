"""Serve the interface, and live through the demonstration."""

from pathlib import Path
from ssl import SSLError
from typing import Annotated

import typer
import uvicorn

from scenario.demo import DemoError, Plan, run_demo
from service.app import create_app
from service.commands.frame import app, settings
from service.settings import Settings
from service.terminal import FOUND_WRONG, console, stop


@app.command()
def serve(
    host: Annotated[str | None, typer.Option(help="Address to listen on.")] = None,
    port: Annotated[int | None, typer.Option(min=1, max=65_535, help="Port to listen on.")] = None,
) -> None:
    """Serve the interface (JSON under /v1, its description at /openapi.json)."""
    run_server(settings(), host, port)


def run_server(given: Settings, host: str | None, port: int | None) -> None:
    """Serve until stopped."""
    try:
        uvicorn.run(
            create_app(given),
            host=host or given.host,
            port=port or given.port,
            ssl_certfile=given.tls_certificate,
            ssl_keyfile=given.tls_key,
            server_header=False,
        )
    except SSLError as error:
        stop(f"certificate and key for TLS cannot be used: {error.reason or error}")


@app.command()
def demo(
    out: Annotated[Path, typer.Option(help="Folder for the files it writes.")] = Path("demo-out"),
    seed: Annotated[int, typer.Option(help="The same seed makes the same quarter.")] = 1,
    per_day: Annotated[int, typer.Option(min=10, max=400, help="Containers on a mean day.")] = 196,
    serve: Annotated[bool, typer.Option(help="Serve the record afterwards.")] = True,
) -> None:
    """Live through a quarter at an invented hospital: record, find, print, account, serve."""
    made = Settings(
        database_url=f"sqlite:///{out / 'custody.sqlite3'}", key_dir=out / "custody-keys"
    )
    try:
        found_all = run_demo(made, Plan(out, seed, per_day), console)
    except (DemoError, OSError) as error:
        stop(str(error))
    if serve:
        run_server(made, None, None)
    raise typer.Exit(0 if found_all else FOUND_WRONG)
