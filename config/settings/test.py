"""Settings of the tests; the database under test is DATABASE_URL's, else SQLite in memory."""

import os
import tempfile

from config.logs import logging_to
from config.settings.base import *  # noqa: F403
from config.settings.base import RATE_LIMITS, STORAGES

SECRET_KEY = "tests-only-and-refused-in-production"  # noqa: S105
ALLOWED_HOSTS = ["testserver", "127.0.0.1", "localhost"]
_FILES = os.environ.get("TESTS_FILES") or tempfile.mkdtemp(prefix="doors-tests-")
STORAGES["default"]["OPTIONS"] = {"location": f"{_FILES}/files"}
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
EMAIL_FILE_PATH = f"{_FILES}/mail"
LOGGING = logging_to("json", level="WARNING")
# The whole suite asks from one address; the tests of the budgets set their own.
RATE_LIMITS = dict.fromkeys(RATE_LIMITS, (1000000, 60))
