"""What holds everywhere. Anything that differs from place to place is read from the environment.

Every variable may also be given as a file: `SECRET_KEY_FILE=/run/secrets/key`.
"""

import logging
from datetime import timedelta
from pathlib import Path
from typing import Any

import environ
from csp.constants import NONE, SELF

from config.logs import configure_structlog, logging_to
from config.settings.accounts import *  # noqa: F403 - settings by being here
from config.settings.wiring import *  # noqa: F403 - settings by being here

env = environ.FileAwareEnv()

BASE_DIR = Path(__file__).resolve().parent.parent.parent
VAR_DIR = Path(env.str("VAR_DIR", default=str(BASE_DIR / "var")))

PRODUCTION = False
DEBUG = False  # even in development: every error is a problem document, never a page of ours
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=[])
PUBLIC_URL = env.str("PUBLIC_URL", default="http://127.0.0.1:8000").rstrip("/")

# --- what the service is made of ---------------------------------------------------------------

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "django_structlog",
    "csp",
    "corsheaders",
    "config",
    "doors",
    "inspections",
]
MIDDLEWARE = [
    "django_prometheus.middleware.PrometheusBeforeMiddleware",
    "config.http.middleware.RequestIdMiddleware",
    "config.http.middleware.HeaderLimitMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "corsheaders.middleware.CorsMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "config.http.budgets.BudgetHeadersMiddleware",
    "config.http.middleware.RequestLogMiddleware",  # below the static files, which leave no line
    "django.middleware.common.CommonMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_prometheus.middleware.PrometheusAfterMiddleware",
]
ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
APPEND_SLASH = False  # a redirect would lose the body of a POST: the slash form is a plain 404
CSRF_FAILURE_VIEW = "config.http.problems.csrf_failure"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {"context_processors": ["django.template.context_processors.request"]},
    }
]

# --- language and time -------------------------------------------------------------------------

LANGUAGE_CODE = "en"
LANGUAGES = [
    ("en", "English"),
    ("es", "Español"),
]  # another is a file of translations beside theirs
USE_I18N = True
TIME_ZONE = "UTC"
USE_TZ = True

# --- the database ------------------------------------------------------------------------------

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
DATABASES = {"default": env.db_url("DATABASE_URL", default=f"sqlite:///{VAR_DIR}/dev.sqlite3")}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # IMMEDIATE: a deferred transaction that turns into a writer fails at once, whatever the
    # timeout. WAL: readers go on reading while one writes.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
    }
else:
    DATABASES["default"] |= {
        "CONN_MAX_AGE": env.int("DATABASE_KEEP_SECONDS", default=60),
        "CONN_HEALTH_CHECKS": True,
        "DISABLE_SERVER_SIDE_CURSORS": True,  # a pooler in transaction mode does not keep them
        # nor prepared statements; and whoever waits for a dead host waits for nothing
        "OPTIONS": {"prepare_threshold": None, "connect_timeout": 5},
    }
RUNTIME_ROLE = env.str("RUNTIME_ROLE", default="doors_runtime")  # owns nothing, passes no wall

# --- files, mail -------------------------------------------------------------------------------

STORAGES: dict[str, dict[str, Any]] = {
    "default": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": VAR_DIR / "files"},  # without a base_url: nothing is public
    },
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
STATIC_URL = "/static/"
STATIC_ROOT = VAR_DIR / "static"
EMAIL_BACKEND = "config.mail.EmlFileBackend"
EMAIL_FILE_PATH = env.str("EMAIL_FILE_PATH", default=str(VAR_DIR / "mail"))
DEFAULT_FROM_EMAIL = env.str("FROM_EMAIL", default="Fire door records <records@doors.example>")

# --- HTTP --------------------------------------------------------------------------------------

DATA_UPLOAD_MAX_MEMORY_SIZE = 1_000_000  # bytes of a JSON body
DATA_UPLOAD_MAX_NUMBER_FIELDS = 100
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "no-referrer"  # addresses may hold one-use links
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "base-uri": [NONE],
        "connect-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "img-src": [SELF, "data:"],
        "script-src": [SELF],
        "style-src": [SELF],
    }
}
# Pages of other origins may use the API where they are named, with a key and never with a cookie.
CORS_ALLOWED_ORIGINS = env.list("CORS_ALLOWED_ORIGINS", default=[])
CORS_URLS_REGEX = r"^/(v1/|openapi\.json$)"
CORS_ALLOW_METHODS = ["DELETE", "GET", "HEAD", "PATCH", "POST", "PUT"]
CORS_ALLOW_HEADERS = [
    "accept",
    "authorization",
    "content-type",
    "idempotency-key",
    "if-match",
    "if-none-match",
    "x-request-id",
]
CORS_EXPOSE_HEADERS = [
    "Content-Digest",
    "Content-Disposition",
    "Deprecation",
    "ETag",
    "Idempotency-Replayed",
    "Link",
    "Location",
    "RateLimit",
    "RateLimit-Policy",
    "Retry-After",
    "Sunset",
    "X-Request-Id",
]
CORS_PREFLIGHT_MAX_AGE = 86_400  # seconds
LONGEST_HEADERS = 16_384  # bytes of a request's head, its first line included
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["doors.api.authentication.KeyAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["doors.api.permissions.KeyMayAct"],
    "DEFAULT_PARSER_CLASSES": ["doors.api.parsing.StrictJSONParser"],
    "DEFAULT_RENDERER_CLASSES": ["config.http.rendering.JSONRenderer"],
    "DEFAULT_CONTENT_NEGOTIATION_CLASS": "config.http.rendering.Negotiation",
    "DEFAULT_METADATA_CLASS": None,
    "DEFAULT_PAGINATION_CLASS": None,
    "DEFAULT_SCHEMA_CLASS": "config.http.schema.OperationSchema",
    "DEFAULT_THROTTLE_CLASSES": ["config.http.budgets.Budgets"],
    "EXCEPTION_HANDLER": "config.http.problems.problem_response",
    "UNAUTHENTICATED_USER": None,
    "URL_FORMAT_OVERRIDE": None,
    "FORMAT_SUFFIX_KWARG": None,
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}

# How much may be asked: (requests at once, seconds in which a spent budget is full again).
RATE_LIMITS = {
    "key": (env.int("RATE_PER_KEY", default=600), 60),
    "organization": (env.int("RATE_PER_ORGANIZATION", default=3_000), 60),
    "address": (env.int("RATE_PER_ADDRESS", default=120), 60),  # of those who need no key
    "long_work": (env.int("RATE_OF_LONG_WORK", default=30), 60),  # packets, imports, exports
    "measurements": (env.int("RATE_OF_MEASUREMENTS", default=120), 60),  # traces, kept nowhere
    "files": (env.int("RATE_OF_FILES", default=300), 60),  # PDFs, photos, exported files
    "invitations": (env.int("RATE_OF_INVITATIONS", default=60), 3_600),  # mails to strangers
    "door": (20, 600),  # forms sent by one code at a door, from wherever
    "sign_in": (20, 60),  # attempts from one address on one account
    "failed_authentication": (20, 60),  # of one address with one key's public part
}
RATE_LIMITS_IN = "memory"  # exact in one process; production keeps them in Redis
PROXIES_BEFORE_US = env.int("PROXIES_BEFORE_US", default=0)  # whose X-Forwarded-For is believed

EXPORTS_KEPT_FOR = timedelta(days=7)  # their files; the record of who had what stays
IDEMPOTENCY_KEPT_FOR = timedelta(days=7)  # a telephone may be without a network that long

LATE_UPLOADS_KEPT_FOR = timedelta(days=7)  # a visit made before its author's leave ended

# --- webhooks ----------------------------------------------------------------------------------

WEBHOOKS_TO_LOOPBACK = False  # whether this very machine may be called, over http too: never real
WEBHOOK_CA_FILE = env.str("WEBHOOK_CA_FILE", default="")  # authorities to trust beside the usual

# --- work behind the requests ------------------------------------------------------------------

REDIS_URL = env.str("REDIS_URL", default="redis://127.0.0.1:6379/0")
# A message not acknowledged within this time is handed out again. It stands in all three places,
# since the shortest wins; no task may run longer.
VISIBILITY_TIMEOUT = 1_800  # seconds
CELERY_BROKER_URL = REDIS_URL
CELERY_BROKER_TRANSPORT_OPTIONS = {"visibility_timeout": VISIBILITY_TIMEOUT}
CELERY_RESULT_BACKEND_TRANSPORT_OPTIONS = {"visibility_timeout": VISIBILITY_TIMEOUT}
CELERY_VISIBILITY_TIMEOUT = VISIBILITY_TIMEOUT
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True  # else a killed worker's message counts as done
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_TIME_LIMIT = 900
CELERY_TASK_SOFT_TIME_LIMIT = 840
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_SOFT_SHUTDOWN_TIMEOUT = 20
CELERY_WORKER_CANCEL_LONG_RUNNING_TASKS_ON_CONNECTION_LOSS = True
CELERY_WORKER_MAX_TASKS_PER_CHILD = 100
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULER = "celery.beat:Scheduler"  # remembers nothing: its usual file corrupts

# --- the API's document ------------------------------------------------------------------------

SPECTACULAR_SETTINGS = {
    "TITLE": "Fire door records",
    "DESCRIPTION": (
        "Visits to fire doors, judged against cited requirements; what is due, what is wrong, "
        "who was told, and what was filed with the authority."
    ),
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SCHEMA_PATH_PREFIX": "/v1",
    "SERVE_INCLUDE_SCHEMA": False,
    "COMPONENT_SPLIT_REQUEST": True,
    "ENUM_GENERATE_CHOICE_DESCRIPTION": False,
    "WEBHOOKS": [
        f"inspections.api.events.{name}"
        for name in (
            *("visit_recorded", "deficiency_opened", "deficiency_repaired", "deficiency_proven"),
            *("deficiency_withdrawn", "trend_expected_to_fail", "submittal_filed"),
            *("submittal_returned", "submittal_accepted", "duty_due", "grant_given"),
            *("grant_end_set", "job_ended", "webhook_tested"),
        )
    ],
    "SORT_OPERATION_PARAMETERS": False,
    # Without the hook that names enumerations: every second noun here has a `state`.
    "POSTPROCESSING_HOOKS": [
        "config.http.schema.add_problems",
        "config.http.library.add_library_schemas",
        "config.http.words.add_words",
        "config.http.examples.add_examples",
    ],
}

# --- logs, counts -------------------------------------------------------------------------------

METRICS_TOKEN = env.str("METRICS_TOKEN", default="")  # production answers /metrics to it alone
DJANGO_STRUCTLOG_CELERY_ENABLED = True
DJANGO_STRUCTLOG_TRUST_UPSTREAM_REQUEST_ID = True  # RequestIdMiddleware has validated it
DJANGO_STRUCTLOG_USER_ID_FIELD = ""
DJANGO_STRUCTLOG_STATUS_START_LOG_LEVEL = logging.DEBUG  # one line a request is enough
LOG_FORMAT = env.str("LOG_FORMAT", default="console")
LOG_LEVEL = env.str("LOG_LEVEL", default="INFO")
LOGGING = logging_to(LOG_FORMAT, level=LOG_LEVEL)
configure_structlog()
