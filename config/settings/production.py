"""The service for real. Refuses, at import, what would be unsafe: no process even starts."""

from django.core.exceptions import ImproperlyConfigured

from config.logs import logging_to
from config.settings.base import *  # noqa: F403
from config.settings.base import DATABASES, env
from config.settings.refusals import refusals

PRODUCTION = True
SECRET_KEY = env.str("SECRET_KEY")
SECRET_KEY_FALLBACKS = env.list("SECRET_KEY_FALLBACKS", default=[])  # the old one while rotating
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS")
PUBLIC_URL = env.str("PUBLIC_URL").rstrip("/")

RATE_LIMITS_IN = "redis"
SECURE_SSL_REDIRECT = env.bool("SSL_REDIRECT", default=True)
SECURE_REDIRECT_EXEMPT = [r"^livez$", r"^readyz$"]  # asked by the platform, without TLS
SECURE_HSTS_SECONDS = 31_536_000
SECURE_HSTS_INCLUDE_SUBDOMAINS = True
SECURE_HSTS_PRELOAD = True
CSRF_COOKIE_SECURE = True
CSRF_COOKIE_NAME = "__Host-csrf"
SESSION_COOKIE_SECURE = True
SESSION_COOKIE_NAME = "__Host-session"
if env.bool("BEHIND_TLS_PROXY", default=False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

vars().update(env.email_url("EMAIL_URL"))
EMAIL_TIMEOUT = 20  # seconds
LOGGING = logging_to(env.str("LOG_FORMAT", default="json"), level=env.str("LOG_LEVEL", "INFO"))

DEBUG = env.bool("DEBUG", default=False)  # read only to be refused
if _refused := refusals(
    engine=DATABASES["default"]["ENGINE"],
    debug=DEBUG,
    secret_key=SECRET_KEY,
    allowed_hosts=ALLOWED_HOSTS,
    public_url=PUBLIC_URL,
):
    raise ImproperlyConfigured("; ".join(f"{name} {why}" for name, why in _refused.items()))
