"""Structured logs: one line an event, with request and organization ids, never a key or a body."""

from typing import Any

import structlog
from structlog.typing import Processor

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
        },
    }


def _rendered(form: str) -> list[Processor]:
    if form == "json":
        return [structlog.processors.format_exc_info, structlog.processors.JSONRenderer()]
    return [
        structlog.dev.ConsoleRenderer(
            colors=False, exception_formatter=structlog.dev.plain_traceback
        )
    ]
