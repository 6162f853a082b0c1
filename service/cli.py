"""The ``custody`` command: parses, calls a duty, prints. Exit 0, 1 (found wrong), 2 (usage)."""

import json
from contextlib import ExitStack, closing
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from pathlib import Path
from ssl import SSLError
from typing import Annotated, Any
from uuid import uuid4

import typer
import uvicorn
from pydantic import ValidationError
from rich.console import Console
from rich.progress import Progress
from rich.table import Table
from typer.core import TyperGroup

from labels.stock import STOCKS
from scenario.demo import DemoError, Plan, run_demo
from service.app import create_app
from service.custody.identifiers import typed
from service.custody.verdict import Code
from service.custody.words import Role, Severity
from service.duties import importing, lookup, officer, ward
from service.duties.access import BusyError, Caller, UnusableError
from service.duties.setup_file import SetupError, read_site
from service.regimes.page import page
from service.settings import Settings
from service.store.store import Store
from service.terminal import (
    FOUND_WRONG,
    INTERRUPTED,
    console,
    lines,
    moment,
    ready,
    stop,
    text,
    write,
)

_at_end = ExitStack()
"""Closes what a command opened: a database left open leaves what is new beside its file."""


class _Custody(TyperGroup):
    """The commands; what ails the database ends any of them with a sentence."""

    def invoke(self, ctx: Any) -> Any:
        """Run a command."""
        try:
            with _at_end:
                return super().invoke(ctx)
        except (BusyError, UnusableError) as error:
            stop(str(error))


app = typer.Typer(
    cls=_Custody,
    no_args_is_help=True,
    add_completion=False,
    help="Register, label, hand over, treat and account for biomedical waste.",
)

FacilityOption = Annotated[
    str | None, typer.Option("--facility", help="Id of the facility, where there are several.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON for a script.")]


def _settings() -> Settings:
    try:
        return Settings()
    except ValidationError as error:
        wrong = error.errors(include_url=False)
        stop("; ".join(f"CUSTODY_{e['loc'][0]}".upper() + f": {e['msg']}" for e in wrong))


def _now() -> datetime:
    return datetime.now(UTC)


def _store() -> Store:
    return _at_end.enter_context(closing(Store(_settings().database_url)))


def _open(facility: str | None) -> tuple[Store, Caller]:
    """Open the store for the one facility, or for the one that is named."""
    store = _store()
    known = store.facilities()
    if facility is None and len(known) == 1:
        facility = known[0]
    if facility is None:
        stop(
            f"name one with --facility: {', '.join(known)}"
            if known
            else "nothing is set up here yet: run 'custody setup FILE' or try 'custody demo'"
        )
    if facility not in known:
        stop(f"facility '{facility}' is not set up; there are: {', '.join(known) or 'none'}")
    return store, Caller(facility, "command line", Role.ADMINISTRATOR)


@app.command()
def setup(file: Annotated[Path, typer.Argument(help="Set-up file of the site, TOML.")]) -> None:
    """Set up a facility from a file and print a token, or change its set-up and judge anew."""
    try:
        site = read_site(file)
        store = _store()
        version = officer.set_up(store, site, _now())
    except (SetupError, lookup.NotFoundError) as error:
        stop(str(error))
    caller = Caller(site.id, "command line", Role.ADMINISTRATOR)
    typer.echo(f"{site.name}: set-up {version} is in force, regime {site.regime}.")
    if version == 1:
        token = officer.admit(
            store, caller, "administrator", Role.ADMINISTRATOR, _now(), timedelta(days=90)
        )
        typer.echo(f"Token of the administrator, shown this once, valid 90 days:\n{token}")
    else:
        _rebuild(store, caller)


@app.command()
def admit(
    name: Annotated[str, typer.Argument(help="Name of the device or program.")],
    role: Annotated[Role, typer.Option(help="What it may do.")],
    days: Annotated[int, typer.Option(min=1, max=3650, help="Days the token is valid.")] = 90,
    facility: FacilityOption = None,
) -> None:
    """Let a device or program in: prints its token, once."""
    store, caller = _open(facility)
    try:
        typer.echo(officer.admit(store, caller, name, role, _now(), timedelta(days=days)))
    except ValueError as error:
        stop(str(error))


@app.command()
def revoke(
    name: Annotated[str, typer.Argument(help="Name of the device or program.")],
    facility: FacilityOption = None,
) -> None:
    """End every token of a device or program at once."""
    store, caller = _open(facility)
    ended = officer.turn_out(store, caller, name, _now())
    if not ended:
        stop(f"'{name}' holds no valid token", FOUND_WRONG)
    typer.echo(f"{ended} token(s) of '{name}' ended.")


@app.command()
def serve(
    host: Annotated[str | None, typer.Option(help="Address to listen on.")] = None,
    port: Annotated[int | None, typer.Option(min=1, max=65_535, help="Port to listen on.")] = None,
) -> None:
    """Serve the interface (JSON under /v1, its description at /openapi.json)."""
    run_server(_settings(), host, port)


def run_server(settings: Settings, host: str | None, port: int | None) -> None:
    """Serve until stopped."""
    try:
        uvicorn.run(
            create_app(settings),
            host=host or settings.host,
            port=port or settings.port,
            ssl_certfile=settings.tls_certificate,
            ssl_keyfile=settings.tls_key,
            server_header=False,
        )
    except SSLError as error:
        stop(f"certificate and key for TLS cannot be used: {error.reason or error}")


@app.command()
def labels(
    out: Annotated[Path, typer.Option(help="PDF file to write.")],
    count: Annotated[int, typer.Option(min=1, max=ward.LABELS_MAX)] = 40,
    stock: Annotated[str, typer.Option(help=f"One of: {', '.join(STOCKS)}.")] = "a4-8",
    containers: Annotated[
        list[str] | None, typer.Option("--container", help="Print this registered one, filled.")
    ] = None,
    facility: FacilityOption = None,
) -> None:
    """Print labels: blank and pre-numbered, or filled for containers that are registered."""
    ready(out)
    store, caller = _open(facility)
    url = _settings().label_url
    try:
        if containers:
            ids = [typed(container) for container in containers]
            pdf, shortened = ward.filled_labels(store, caller, ids, stock, url, _now())
            if shortened:
                fields = ", ".join(shortened).replace("_", " ")
                console.print(f"{stock} has no room to print in full: {fields}", highlight=False)
        else:
            asked = ward.BlankLabels(uuid4(), count, stock, url, "command line")
            pdf = ward.blank_labels(store, caller, asked, _now())[1]
    except (ValueError, lookup.NotFoundError) as error:
        stop(str(error))
    write(out, pdf)


@app.command(name="import")
def import_(
    file: Annotated[Path, typer.Argument(help="CSV or JSON Lines file of events.")],
    mapping: Annotated[Path | None, typer.Option(help="Mapping of its headers, TOML.")] = None,
    keeper: Annotated[str, typer.Option(help="Who kept the list.")] = "unknown",
    rejects: Annotated[Path | None, typer.Option(help="Where refused lines go.")] = None,
    facility: FacilityOption = None,
    as_json: JsonOption = False,
) -> None:
    """Import events from a list kept elsewhere; may be run again at any time."""
    store, caller = _open(facility)
    suffix = ".csv" if file.suffix.lower() == ".csv" else file.suffix
    rejects = rejects or file.with_name(f"{file.stem}-rejects{suffix}")
    try:
        with Progress(console=console, transient=True) as bar:
            task = bar.add_task("importing", total=None)
            report = importing.import_file(
                store,
                caller,
                file,
                importing.read_mapping(mapping) if mapping else importing.plain(keeper),
                _now(),
                rejects=rejects,
                progress=lambda done, whole: bar.update(task, completed=done, total=whole),
            )
    except (importing.MappingError, importing.UnreadableListError, OSError) as error:
        stop(str(error))
    except KeyboardInterrupt:
        stop("stopped: what was recorded is kept; run the same import again", INTERRUPTED)
    counted = ("lines", "recorded", "repeated", "refused", "violations")
    figures: dict[str, object] = {name: getattr(report, name) for name in counted}
    figures |= {"report": str(report.file)}
    figures |= {"rejects": str(report.rejects) if report.rejects else None}
    typer.echo(json.dumps(figures) if as_json else lines(figures))
    raise typer.Exit(FOUND_WRONG if report.refused else 0)


@app.command()
def violations(
    at: Annotated[str | None, typer.Option(help="As it stood then, ISO time with zone.")] = None,
    code: Annotated[Code | None, typer.Option(help="Only this code.")] = None,
    severity: Annotated[Severity | None, typer.Option(help="Only this severity.")] = None,
    everything: Annotated[bool, typer.Option("--all", help="Closed ones too.")] = False,
    limit: Annotated[int, typer.Option(min=1, max=lookup.PAGE_MAX)] = 200,
    facility: FacilityOption = None,
    as_json: JsonOption = False,
) -> None:
    """List what is late, wrong, unsafe or lost, and what to do next; exit 1 if anything is."""
    store, caller = _open(facility)
    then = moment(at) if at else _now()
    asked = lookup.ViolationFilter(
        at=then, code=code, severity=severity, standing=not everything, limit=limit
    )
    found = [v for _, v in lookup.violations(store, caller, asked)]
    if as_json:
        typer.echo(json.dumps([v._asdict() for v in found], default=text))
    else:
        local = store.rules(caller.facility).local
        for v in found:
            typer.echo(f"{local(v.opened_at)}  {v.severity:6}  {v.code:23}  {v.container}")
            typer.echo(f"    {v.message}\n    {v.clause}\n    Next: {v.next_action}")
        first = "the first " if len(found) == limit else ""
        typer.echo(f"{first}{len(found)} violation(s) at {local(then)}", err=True)
    raise typer.Exit(FOUND_WRONG if found else 0)


class Form(StrEnum):
    """The forms a manifest can be written in."""

    ZIP = "zip"
    PDF = "pdf"
    XLSX = "xlsx"
    CSV = "csv"


@app.command()
def manifest(
    quarter: Annotated[str, typer.Argument(help="Such as 2026-Q3.")],
    out: Annotated[Path, typer.Option(help="File to write: .zip, .pdf, .xlsx or .csv.")],
    facility: FacilityOption = None,
) -> None:
    """Write the manifest of a quarter."""
    ready(out)
    store, caller = _open(facility)
    try:
        form = Form(out.suffix.lower().removeprefix("."))
        with console.status("reckoning"):
            paper = officer.paper(store, caller, quarter, form.value, _now())
    except ValueError as error:
        stop(
            str(error)
            if out.suffix in {f".{f}" for f in Form}
            else f"'{out.name}' must end in .zip, .pdf, .xlsx or .csv"
        )
    write(out, paper)


@app.command()
def regimes(
    regime_id: Annotated[str | None, typer.Argument(help="Show this one whole.")] = None,
    as_json: JsonOption = False,
) -> None:
    """List the regimes that come with the service, or show one."""
    if regime_id is None:
        known = [lookup.regime(i) for i in lookup.regime_ids()]
        if as_json:
            typer.echo(json.dumps([{"id": r.id, "title": r.title} for r in known]))
        else:
            table = Table("id", "title", "jurisdiction")
            for r in known:
                table.add_row(r.id, r.title, r.jurisdiction)
            Console().print(table)
        return
    try:
        found = lookup.regime(regime_id)
    except lookup.NotFoundError as error:
        stop(str(error))
    typer.echo(found.model_dump_json(by_alias=True) if as_json else page(found))


@app.command()
def rebuild(facility: FacilityOption = None) -> None:
    """Derive containers, deadlines and violations anew from the record."""
    _rebuild(*_open(facility))


def _rebuild(store: Store, caller: Caller) -> None:
    with Progress(console=console, transient=True) as bar:
        task = bar.add_task("rebuilding", total=None)
        for done, whole in officer.rebuild(store, caller):
            bar.update(task, completed=done, total=whole)
    typer.echo("What is on record is judged by the set-up and the rules in force.")


@app.command()
def demo(
    out: Annotated[Path, typer.Option(help="Folder for the files it writes.")] = Path("demo-out"),
    seed: Annotated[int, typer.Option(help="The same seed makes the same quarter.")] = 1,
    per_day: Annotated[int, typer.Option(min=10, max=400, help="Containers on a mean day.")] = 196,
    serve: Annotated[bool, typer.Option(help="Serve the record afterwards.")] = True,
) -> None:
    """Live through a quarter at an invented hospital: record, find, print, account, serve."""
    settings = Settings(database_url=f"sqlite:///{out / 'custody.sqlite3'}")
    try:
        found_all = run_demo(settings, Plan(out, seed, per_day), console)
    except (DemoError, OSError) as error:
        stop(str(error))
    if serve:
        run_server(settings, None, None)
    raise typer.Exit(0 if found_all else FOUND_WRONG)
