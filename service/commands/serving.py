"""Serve the interface, and live through the demonstration."""

from pathlib import Path
from typing import Annotated

import typer
import uvicorn

from service import logs
from service.app import create_app
from service.commands.files import demand_folder
from service.commands.frame import app, settings
from service.notices.recipients import NoticesError
from service.settings import Settings
from service.terminal import FOUND_WRONG, USAGE, console, stop


@app.command()
def serve(
    host: Annotated[str | None, typer.Option(help="Address to listen on.")] = None,
    port: Annotated[int | None, typer.Option(min=1, max=65_535, help="Port to listen on.")] = None,
) -> None:
    """Serve the interface (JSON under /v1, its description at /openapi.json)."""
    run_server(settings(), host, port)


def run_server(given: Settings, host: str | None, port: int | None) -> None:
    """Serve until stopped."""
    logs.set_up(given.log_format)
    try:
        served = create_app(given)
    except NoticesError as error:
        stop(str(error))
    try:
        uvicorn.run(
            served,
            host=host or given.host,
            port=port or given.port,
            ssl_certfile=given.tls_certificate,
            ssl_keyfile=given.tls_key,
            server_header=False,
            proxy_headers=False,  # the application does it itself, for the proxies it was told of
            access_log=False,  # it would write addresses as they were sent
            log_config=None,
        )
    except OSError as error:
        served.state.house.store.close()  # it never began, so it does not do so at its end
        why = getattr(error, "reason", None) or error.strerror
        stop(f"certificate and key for TLS cannot be used: {why}")
    except SystemExit as error:  # it has said why: the port is taken, or the host is none
        raise typer.Exit(USAGE if error.code else 0) from error


@app.command()
def demo(
    out: Annotated[
        Path, typer.Option(help="Folder for its files, made in one that is there.")
    ] = Path("demo-out"),
    seed: Annotated[int, typer.Option(help="The same seed makes the same quarter.")] = 1,
    per_day: Annotated[int, typer.Option(min=10, max=400, help="Containers on a mean day.")] = 196,
    serve: Annotated[bool, typer.Option(help="Serve the record afterwards.")] = True,
) -> None:
    """Live through a quarter at an invented hospital: record, find, print, account, serve."""
    # Only the demonstration has use for the invented hospital.
    from scenario.demo import DemoError, Plan, run_demo

    demand_folder(out)
    made = Settings(
        database_url=f"sqlite:///{out / 'custody.sqlite3'}", key_dir=out / "custody-keys"
    )
    try:
        found_all = run_demo(made, Plan(out, seed, per_day), console)
    except DemoError as error:
        stop(str(error))
    if serve:
        run_server(made, None, None)
    raise typer.Exit(0 if found_all else FOUND_WRONG)
