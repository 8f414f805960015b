"""Settings for the bench and for a real server, driven by environment variables.

DAYBOOK_DATA     folder of the database file, uploads and keys (default .daybook)
DATABASE_URL     postgres://… for PostgreSQL; SQLite in the data folder when unset
DEBUG            1 while developing; anything else is a real server
SECRET_KEY       else a key made once in the data folder
SECRET_KEY_FALLBACKS  older keys, comma separated, while one is being changed
PUBLIC_URL       the address that people and QR codes use
ALLOWED_HOSTS    comma separated; the host of PUBLIC_URL is always allowed
BEHIND_TLS       0 when the server is reached over plain http on a trusted network
"""

from __future__ import annotations

import os
import secrets
from pathlib import Path
from urllib.parse import urlsplit

import dj_database_url
from csp.constants import NONE, SELF

HOME = Path(__file__).resolve().parent.parent
DATA = Path(os.environ.get("DAYBOOK_DATA", HOME / ".daybook")).resolve()
FILES = DATA / "files"
DEBUG = os.environ.get("DEBUG") == "1"
PUBLIC_URL = os.environ.get("PUBLIC_URL", "http://127.0.0.1:8000").rstrip("/")
BEHIND_TLS = os.environ.get("BEHIND_TLS", "1" if PUBLIC_URL.startswith("https://") else "0") == "1"
VERSION = "0.1.0"


def _secret_key() -> str:
    """Return the key from the environment, or one made once and kept readable by this user alone."""
    if given := os.environ.get("SECRET_KEY"):
        return given
    kept = DATA / "secret-key"
    if not kept.exists():
        DATA.mkdir(parents=True, exist_ok=True)
        handle = os.open(kept, os.O_WRONLY | os.O_CREAT, 0o600)
        with os.fdopen(handle, "w") as file:
            file.write(secrets.token_urlsafe(64))
    return kept.read_text()


SECRET_KEY = _secret_key()
SECRET_KEY_FALLBACKS = [key for key in os.environ.get("SECRET_KEY_FALLBACKS", "").split(",") if key]
_public_host = urlsplit(PUBLIC_URL).hostname or "127.0.0.1"
ALLOWED_HOSTS = [
    host for host in (*os.environ.get("ALLOWED_HOSTS", "127.0.0.1,localhost").split(","), _public_host) if host
]
CSRF_TRUSTED_ORIGINS = [PUBLIC_URL]

INSTALLED_APPS = [
    "studio.apps.HouseConfig",
    "studio.apps.StockroomConfig",
    "studio.apps.WholeConfig",
    "recipes.apps.RecipesConfig",
    "jobs.apps.JobsConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "template_partials.apps.SimpleAppConfig",
    "csp",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "studio.kit.access.AccessMiddleware",
    "studio.house.clock.HouseTimeMiddleware",
    "studio.house.own_saves.OwnSavesMiddleware",
    "studio.whole.views.BusyMiddleware",
    "studio.house.form_keys.LostKeys",
]

ROOT_URLCONF = "studio.urls"
WSGI_APPLICATION = "studio.wsgi.application"
AUTH_USER_MODEL = "studio.Person"
LOGIN_URL = "studio:log_in"
LOGIN_REDIRECT_URL = "studio:today"
LOGOUT_REDIRECT_URL = "studio:log_in"
CSRF_FAILURE_VIEW = "studio.whole.views.form_too_old"

_loaders = [
    "django.template.loaders.filesystem.Loader",
    "django.template.loaders.app_directories.Loader",
]
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [HOME / "templates"],
        "OPTIONS": {
            "loaders": [
                ("template_partials.loader.Loader", _loaders if DEBUG else [
                    ("django.template.loaders.cached.Loader", _loaders),
                ]),
            ],
            "builtins": ["template_partials.templatetags.partials", "studio.house.templatetags.figures"],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "studio.house.frame.page_frame",
            ],
        },
    },
]

DATABASES = {
    "default": dj_database_url.parse(
        os.environ.get("DATABASE_URL") or f"sqlite:///{DATA / 'daybook.sqlite3'}",
        conn_max_age=60, conn_health_checks=True,
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # Immediate transactions: a writer waits for its turn at the start, not in the middle.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 10,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON;",
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in ("UserAttributeSimilarityValidator", "MinimumLengthValidator", "CommonPasswordValidator")
]

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"  # the house's own zone is a setting of the house: see studio.house.clock
USE_I18N = True
USE_TZ = True
LOCALE_PATHS = [HOME / "studio" / "locale"]

STATIC_URL = "static/"
STATICFILES_DIRS = [HOME / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True  # a studio starts with one command: nothing is collected
WHITENOISE_AUTOREFRESH = DEBUG

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE], "script-src": [SELF], "style-src": [SELF], "img-src": [SELF], "font-src": [SELF],
        "connect-src": [SELF], "form-action": [SELF], "frame-ancestors": [NONE], "base-uri": [NONE],
        "manifest-src": [SELF],
    }
}
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_AGE = 60 * 60 * 24 * 14
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = BEHIND_TLS
SECURE_SSL_REDIRECT = BEHIND_TLS
SECURE_REDIRECT_EXEMPT = [r"^health/$"]
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_TLS else None
SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365 if BEHIND_TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = BEHIND_TLS
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
