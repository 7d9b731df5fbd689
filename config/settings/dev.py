"""One machine, nothing to install: SQLite, mail as files, no broker needed."""

from config.settings.base import *  # noqa: F403
from config.settings.base import STORAGES, VAR_DIR, env

SECRET_KEY = env.str("SECRET_KEY", default="development-only-and-refused-in-production")
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["127.0.0.1", "localhost", "[::1]"])
WEBHOOKS_TO_LOOPBACK = env.bool("WEBHOOKS_TO_LOOPBACK", default=True)
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
WHITENOISE_USE_FINDERS = True  # no collectstatic before the first run
(VAR_DIR / "static").mkdir(parents=True, exist_ok=True)
