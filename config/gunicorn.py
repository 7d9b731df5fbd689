"""How the web process serves: threads, because a request mostly waits for the database.

The application is loaded before a port is opened, so unsafe settings never answer a request.
"""

import os

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
