"""How the web process serves: threads, because a request mostly waits for the database.

The application is loaded before a port is opened, so unsafe settings never answer a request.
"""

import os
import tempfile
from typing import Protocol

# Before the application is loaded: a folder of this start alone, in which its processes count.
os.environ.setdefault("PROMETHEUS_MULTIPROC_DIR", tempfile.mkdtemp(prefix="doors-counts-"))

bind = os.environ.get("BIND", "127.0.0.1:8000")
worker_class = "gthread"
workers = int(os.environ.get("WEB_WORKERS", "2"))
threads = int(os.environ.get("WEB_THREADS", "4"))
preload_app = True
timeout = 60  # seconds; longer work is a job, never a request
graceful_timeout = 30
keepalive = 5
max_requests = 5_000  # a worker is renewed before it can grow
max_requests_jitter = 500
limit_request_line = 4_094
limit_request_fields = 50
limit_request_field_size = 8_190
control_socket_disable = True  # nobody steers it but by signals
accesslog = None  # the service writes one line a request itself, without query and keys


class Worker(Protocol):
    """What is asked of a process of the server."""

    pid: int


def child_exit(server: object, worker: Worker) -> None:
    """Let go of the gauges of a process that has ended; what it counted stays counted."""
    from prometheus_client import multiprocess  # noqa: PLC0415 (it reads the folder when imported)

    multiprocess.mark_process_dead(worker.pid)
