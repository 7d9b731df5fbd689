"""Humans who sign in to pages: their passwords, attempts, sessions and cookies; and tokens."""

from datetime import timedelta

import environ

AUTH_USER_MODEL = "doors.Account"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ["email"]},
    },
]
PASSWORD_RESET_TIMEOUT = 3_600  # seconds for which a link of a forgotten password is good
COUNT_AT_DOOR = "config.http.budgets.count_at_door"  # of sending a form by a door's code
COUNT_ATTEMPT = "config.http.budgets.count_attempt"  # of signing in, by pages
# Whether a key may be exchanged for a token of minutes, at /oauth/token (RFC 6749, section 4.4).
OAUTH_TOKENS = environ.FileAwareEnv().bool("OAUTH_TOKENS", default=False)
OAUTH_TOKEN_LIVES = timedelta(minutes=10)
SESSION_ENGINE = "doors.web.sessions"
SESSION_COOKIE_AGE = 12 * 60 * 60  # seconds: a working day
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
