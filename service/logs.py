"""The service's own log: one line an event on stderr, as text or as JSON.

Lines of the service and of the server that runs it come out alike. A line holds a sentence and the
named values below; never a header, a cookie or a body.
"""

import logging
import sys
from typing import Literal, TextIO

import structlog
from structlog.stdlib import ExtraAdder, ProcessorFormatter, add_log_level, add_logger_name

NAMED = frozenset({"method", "route", "status", "ms", "request", "facility", "actor"})
"""The values that a line may bear beside its sentence; whatever else was handed on is left out."""
OURS = ("custody", "uvicorn", "uvicorn.error")
Form = Literal["text", "json"]


def set_up(form: Form, stream: TextIO | None = None) -> None:
    """Have all that is logged from now on written so; on stderr unless said otherwise."""
    handler = logging.StreamHandler(stream or sys.stderr)
    handler.setFormatter(_formatter(form))
    root = logging.getLogger()
    root.handlers = [handler]
    root.setLevel(logging.WARNING)
    for name in OURS:
        logger = logging.getLogger(name)
        logger.handlers, logger.propagate = [], True
        logger.setLevel(logging.INFO)
    seen = logging.getLogger("uvicorn.access")  # it would write addresses as they were sent
    seen.handlers, seen.propagate = [], False


def _formatter(form: Form) -> ProcessorFormatter:
    """Write faults with their traces, but no value of a variable: one may be a secret."""
    if form == "json":
        last: list[structlog.types.Processor] = [
            structlog.processors.format_exc_info,
            structlog.processors.JSONRenderer(sort_keys=True),
        ]
    else:
        plain = structlog.dev.plain_traceback
        last = [structlog.dev.ConsoleRenderer(colors=False, exception_formatter=plain)]
    return ProcessorFormatter(
        foreign_pre_chain=[
            add_log_level,
            add_logger_name,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            ExtraAdder(allow=NAMED),
        ],
        processors=[ProcessorFormatter.remove_processors_meta, *last],
    )
