"""Structured logs: one line an event, with request and organization ids, never a key or a body.

Of an exception its kind and its frames are written, never its message, which may hold what
somebody sent; of what a database refused, also the state and the names of its constraint.
"""

import sys
import traceback
from collections.abc import Iterator
from typing import Any

import structlog
from structlog.typing import EventDict, Processor, WrappedLogger

_NAMED = ("constraint_name", "table_name", "column_name", "datatype_name")


def without_messages(logger: WrappedLogger, method: str, event: EventDict) -> EventDict:
    """Replace whatever exception stands in an event by what may be written of it."""
    info = event.pop("exc_info", None)
    event.pop("error", None)  # some libraries give an exception as text beside itself
    raised = event.pop("exception", None)
    if info is True:
        info = sys.exc_info()
    if info:
        raised = info[1] if isinstance(info, tuple) else info
    if isinstance(raised, BaseException):
        event["exception"] = "\n".join(_told(raised))
    return event


def _told(raised: BaseException) -> Iterator[str]:
    cause = raised.__cause__ or (None if raised.__suppress_context__ else raised.__context__)
    if cause is not None:
        yield from _told(cause)
    yield f"{type(raised).__module__}.{type(raised).__qualname__}{_refused(raised)}"
    for frame in traceback.extract_tb(raised.__traceback__):
        yield f"  {frame.filename}:{frame.lineno} {frame.name}"


def _refused(raised: BaseException) -> str:
    """Return how a database names its refusal: a state, and names of ours; no value of a row."""
    state = getattr(raised, "sqlstate", None) or getattr(raised, "sqlite_errorname", None)
    found = [] if state is None else [str(state)]
    named = getattr(raised, "diag", None)
    found += [str(value) for name in _NAMED if (value := getattr(named, name, None))]
    return f" ({', '.join(found)})" if found else ""


SHARED: list[Processor] = [
    structlog.contextvars.merge_contextvars,
    structlog.stdlib.add_logger_name,
    structlog.stdlib.add_log_level,
    structlog.processors.TimeStamper(fmt="iso", utc=True),
]


def configure_structlog() -> None:
    """Send what our own code logs through the standard library's handlers."""
    structlog.configure(
        processors=[
            structlog.stdlib.filter_by_level,
            *SHARED,
            structlog.stdlib.PositionalArgumentsFormatter(),
            structlog.stdlib.ProcessorFormatter.wrap_for_formatter,
        ],
        logger_factory=structlog.stdlib.LoggerFactory(),
        cache_logger_on_first_use=True,
    )


def logging_to(form: str, *, level: str) -> dict[str, Any]:
    """Return Django's LOGGING for `form`, "console" or "json", from `level` upwards."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "lines": {
                "()": structlog.stdlib.ProcessorFormatter,
                "foreign_pre_chain": SHARED,
                "processors": [
                    structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                    without_messages,
                    *_rendered(form),
                ],
            }
        },
        "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "lines"}},
        "root": {"handlers": ["stderr"], "level": level},
        "loggers": {
            # They log a refused or failed request a second time, with its whole path or host.
            "django.request": {"level": "CRITICAL"},
            "django.security": {"level": "CRITICAL"},
            "django.server": {"level": "WARNING"},
            # They write the message of what a task raised; the failed task has its own line.
            "celery.app.trace": {"level": "CRITICAL"},
            "celery.worker.request": {"level": "CRITICAL"},
        },
    }


def _rendered(form: str) -> list[Processor]:
    if form == "json":
        return [structlog.processors.JSONRenderer()]
    return [structlog.dev.ConsoleRenderer(colors=False)]
