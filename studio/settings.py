"""Settings for the bench and for a real server, driven by environment variables.

DAYBOOK_DATA     folder of the database file, uploads and keys (default .daybook)
DATABASE_URL     postgres://… for PostgreSQL; SQLite in the data folder when unset
KEPT_FILES       s3://BUCKET/FOLDER?endpoint=https://…&region=… for papers and pictures in an S3-compatible store, its
                 key in AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY; the data folder when unset
DEBUG            1 while developing; anything else is a real server
SECRET_KEY       else a key made once in the data folder
SECRET_KEY_FALLBACKS  older keys, comma separated, while one is being changed
PUBLIC_URL       the address that people and QR codes use
ALLOWED_HOSTS    comma separated; the host of PUBLIC_URL is always allowed
SMTP_HOST        the mail server that quotes are sent by; without one, and without MAIL_FOLDER, none are
SMTP_PORT, SMTP_USER, SMTP_PASSWORD, SMTP_SECURITY   of it; security: starttls (default), tls or none
MAIL_FOLDER      a folder that letters are written into instead, a file each: for the demo and for trying
BEHIND_TLS       0 when the server is reached over plain http on a trusted network
"""

from __future__ import annotations

import os
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit

import dj_database_url
from csp.constants import NONE, SELF

from studio.kit import data_folder, kept_where

HOME = Path(__file__).resolve().parent.parent
DATA = Path(os.environ.get("DAYBOOK_DATA", HOME / ".daybook")).resolve()
FILES = DATA / "files"
DEBUG = os.environ.get("DEBUG") == "1"
PUBLIC_URL = os.environ.get("PUBLIC_URL", "http://127.0.0.1:8000").rstrip("/")
BEHIND_TLS = os.environ.get("BEHIND_TLS", "1" if PUBLIC_URL.startswith("https://") else "0") == "1"
VERSION = "0.1.0"


data_folder.make_private(DATA)
SECRET_KEY = os.environ.get("SECRET_KEY") or data_folder.secret_key(DATA)
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
    "django_tasks",
    "django_tasks_db",
    "axes",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "django_otp.plugins.otp_static",
]

MIDDLEWARE = [
    "studio.house.answers.BareHeads",
    "studio.house.answers.Compressed",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "studio.house.answers.NotKept",
    "csp.middleware.CSPMiddleware",
    "studio.whole.trouble.TroubleMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "studio.house.bodies.BodyLimits",
    "studio.kit.access.AccessMiddleware",
    "studio.house.sessions.LastSeen",
    "studio.house.idle_lock.LockMiddleware",
    "studio.house.unseen_letters.UnseenLetters",
    "studio.house.door.OneTimePassword",
    "studio.house.at_hand.AtHandMiddleware",
    "studio.house.clock.HouseTimeMiddleware",
    "studio.house.own_saves.OwnSavesMiddleware",
    "studio.whole.views.BusyMiddleware",
    "studio.house.form_keys.LostKeys",
    "axes.middleware.AxesMiddleware",
    "studio.house.sent_twice.SentTwice",
]

ROOT_URLCONF = "studio.urls"
WSGI_APPLICATION = "studio.wsgi.application"
AUTH_USER_MODEL = "studio.Person"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
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
    if not str(DATABASES["default"]["NAME"]).startswith((":memory:", "file:")):
        # A missing file is made by `manage.py migrate` alone: it must never silently become an empty studio.
        DATABASES["default"]["NAME"] = data_folder.existing(Path(DATABASES["default"]["NAME"]))
    # Immediate transactions: a writer waits for its turn at the start, not in the middle.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 10,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON;",
    }
#: long work is carried by rows of the same database (studio.house.long_work)
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# Wrong passwords: so many of a name from one address, then a pause (studio.house.log_in_throttle).
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"], "ip_address", "username"]
AXES_HANDLER = "studio.house.log_in_throttle.Throttle"
AXES_USERNAME_CALLABLE = "studio.house.log_in_throttle.name_code_of"
AXES_CLIENT_IP_CALLABLE = "studio.house.log_in_throttle.address_of"
AXES_LOCKOUT_CALLABLE = "studio.house.log_in_throttle.answer_stays"
AXES_RESET_ON_SUCCESS = True
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_DISABLE_ACCESS_LOG = True
AXES_ENABLE_ADMIN = AXES_VERBOSE = False
AXES_SENSITIVE_PARAMETERS = ["username"]

#: NIST SP 800-63B asks for eight letters at least, and fifteen where nothing else is asked for: twelve are four short
#: words or one of our own one-time passwords, and guessing is held back. Nothing else is asked of a password but that
#: it is not a common one; the other end is there because every letter is worked on.
PASSWORD_LENGTH = (12, 200)
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "studio.house.passwords.RightLength"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"  # the house's own zone is a setting of the house: see studio.house.clock
USE_I18N = True
USE_TZ = True
LOCALE_PATHS = [HOME / "studio" / "locale"]

#: an order of sixty lines is sent as sixty rows of some thirty fields
DATA_UPLOAD_MAX_NUMBER_FIELDS = 4000
#: text of one form, whatever pictures are sent with it (see studio.house.bodies)
DATA_UPLOAD_MAX_MEMORY_SIZE = 1_500_000
DATA_UPLOAD_MAX_NUMBER_FILES = 20

STATIC_URL = "static/"
STATICFILES_DIRS = [HOME / "static"]
STATIC_ROOT = HOME / ".static"  # collected by a server as it starts: studio.kit.static_names
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "kept": kept_where.storage(os.environ.get(kept_where.VARIABLE, "")),  # studio.house.kept_files
    "staticfiles": {"BACKEND": "studio.kit.static_names.HashedNames"},
}
WHITENOISE_USE_FINDERS = True  # by their plain names: papers, and where nothing could be collected
WHITENOISE_AUTOREFRESH = DEBUG
WHITENOISE_KEEP_ONLY_HASHED_FILES = True
# pressed already, or never asked for by a browser
WHITENOISE_SKIP_COMPRESS_EXTENSIONS = ("woff", "woff2", "ttf", "png", "jpg", "jpeg", "gif", "webp")

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE], "script-src": [SELF], "style-src": [SELF], "img-src": [SELF], "font-src": [SELF],
        "connect-src": [SELF], "form-action": [SELF], "frame-ancestors": [NONE], "base-uri": [NONE],
        "manifest-src": [SELF],
    }
}
SESSION_ENGINE = "studio.house.sessions"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_AGE = 60 * 60 * 24 * 14
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = BEHIND_TLS
if BEHIND_TLS:  # a browser takes such a cookie from this host alone, over TLS
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrftoken"
SECURE_SSL_REDIRECT = BEHIND_TLS
SECURE_REDIRECT_EXEMPT = [r"^health/$"]
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_TLS else None
SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365 if BEHIND_TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = BEHIND_TLS
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

SMTP_SECURITY = os.environ.get("SMTP_SECURITY", "starttls")
#: the demo writes its letters into its own folder, whatever the environment says
MAIL_FOLDER = str(DATA / "mail") if DATA.name == ".daybook-demo" else os.environ.get("MAIL_FOLDER", "")
EMAIL_HOST = "" if MAIL_FOLDER else os.environ.get("SMTP_HOST", "")
EMAIL_PORT = int(os.environ.get("SMTP_PORT") or (465 if SMTP_SECURITY == "tls" else 587))
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = os.environ.get("SMTP_USER", ""), os.environ.get("SMTP_PASSWORD", "")
EMAIL_USE_TLS, EMAIL_USE_SSL = SMTP_SECURITY == "starttls", SMTP_SECURITY == "tls"
#: whoever presses the button waits no longer for the mail server
EMAIL_TIMEOUT = 20
EMAIL_FILE_PATH = MAIL_FOLDER or None
EMAIL_BACKEND = ("django.core.mail.backends.filebased.EmailBackend" if MAIL_FOLDER
                 else "jobs.private_links.mail_server.EmailBackend")
SENDS_MAIL = bool(EMAIL_HOST or MAIL_FOLDER)

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"kept": {"()": "studio.house.log_file.WithoutContacts",
                            "format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {
        "console": {"class": "logging.StreamHandler", "formatter": "kept"},
        "kept": {"class": "studio.house.log_file.LogFile", "folder": str(DATA / "log"), "formatter": "kept"},
        # of its own: whatever addresses are asked for by nobody, what happened at the door stays
        "door": {"class": "studio.house.log_file.LogFile", "folder": str(DATA / "log"), "name": "door.log",
                 "formatter": "kept"},
    },
    "root": {"handlers": ["console", "kept"], "level": "WARNING"},
    # what happens at the door goes to the file alone
    "loggers": {"daybook.security": {"handlers": ["door"], "level": "INFO", "propagate": False}},
}
