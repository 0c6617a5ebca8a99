"""Holds every setting; reads the environment and the settings file of the installation."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from django.utils.csp import CSP
from environs import Env

from config.file_store import file_store
from config.headers import static_headers
from config.mail import mail_server
from config.sqlite import connection_options

BASE_DIR = Path(__file__).resolve().parent.parent
# Database, uploads, caches, settings file: everything a machine makes by running.
VAR_DIR = Path(os.environ.get("VAR_DIR") or BASE_DIR / "var").resolve()
VAR_DIR.mkdir(parents=True, exist_ok=True)

# Compiled kernels live with everything else a machine makes; to be told before numba is imported.
KERNELS_DIR = Path(os.environ.setdefault("NUMBA_CACHE_DIR", str(VAR_DIR / "numba")))

SETTINGS_FILE = VAR_DIR / "settings.env"  # written by the command ``start``
FIRST_RUN_CODE = VAR_DIR / "first_run_code"
env = Env()
for each in (SETTINGS_FILE, BASE_DIR / ".env"):
    env.read_env(each, recurse=False)

DEBUG = env.bool("DEBUG", False)
IS_DEMO = env.bool("DEMO", False)  # set by the command ``demo``: invented data, known passwords


def _local_secret() -> str:
    """Return the secret of this folder, made on first use, so that a demo needs no set-up."""
    path = VAR_DIR / "secret_key"
    if not path.exists():
        path.touch(mode=0o600)
        path.write_text(secrets.token_urlsafe(50))
    return path.read_text()


HAS_OWN_SECRET = bool(env.str("SECRET_KEY", ""))
SECRET_KEY = env.str("SECRET_KEY", "") or _local_secret()
SITE_URL = env.str("SITE_URL", "http://localhost:8000")
IS_HTTPS = SITE_URL.startswith("https://")
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", ["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS: list[str] = env.list("CSRF_TRUSTED_ORIGINS", [SITE_URL] if IS_HTTPS else [])
# A folder of weather files, one a year (EPW, TMY3, PVGIS): five near a place give its good and bad years.
WEATHER_YEARS = env.str("WEATHER_YEARS", "")
# Threads that work on one question about shade. More answer one person sooner and leave less for the others.
SHADE_THREADS = env.int("SHADE_THREADS", 1)

INSTALLED_APPS = [
    "common",
    "jobs",
    "checklists",
    "config",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "crispy_forms",
    "crispy_bootstrap5",
    "django_htmx",
    "django_tasks_db",
]

MIDDLEWARE = [
    "config.health.middleware.HealthMiddleware",
    "config.health.middleware.RequestIdMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "config.compress.CompressText",
    "config.headers.PrivatePages",
    "django.middleware.csp.ContentSecurityPolicyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "config.start.views.FirstRunMiddleware",
    "config.middleware.ShopMiddleware",
    "config.second_factor.OwnersSecondFactor",
    "config.middleware.PaperMiddleware",
    "config.health.store.StoreMiddleware",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "config.templates.ShopTemplates",
        "NAME": "django",
        "DIRS": [BASE_DIR / "templates"],
        "OPTIONS": {
            "loaders": [
                (
                    "django.template.loaders.cached.Loader",
                    ["config.language.said.Loader", "django.template.loaders.app_directories.Loader"],
                )
            ],
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.csp",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "config.context.shop",
            ],
            "builtins": ["common.templatetags.show", "config.language.said", "django.templatetags.i18n"],
        },
    },
]

_NAME = "demo" if IS_DEMO else "coachlight"
DATABASES = {"default": env.dj_db_url("DATABASE_URL", f"sqlite:///{VAR_DIR / _NAME}.sqlite3")}
# Each thread keeps its connection: with SQLite, closing the last one copies the whole log into the file.
DATABASES["default"] |= {"CONN_MAX_AGE": None, "CONN_HEALTH_CHECKS": True}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        # FULL: a tick that was acknowledged must survive a power cut.
        "init_command": "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;",
        **connection_options(),
    }
# Counters against guessing must be the same for all processes; one process keeps them in its memory.
IS_SHARED = env.int("WEB_PROCESSES", 1) > 1 or not DATABASES["default"]["ENGINE"].endswith("sqlite3")
_MEMORY = "django.core.cache.backends.locmem.LocMemCache"
CACHES = {
    "default": {
        "BACKEND": "config.shared_cache.SharedCache" if env.bool("SHARED_CACHE", IS_SHARED) else _MEMORY,
        "LOCATION": "shared_cache",
        "OPTIONS": {"MAX_ENTRIES": 50_000},  # who fills it must not push the counts of others out
    },
    "local": {"BACKEND": _MEMORY, "LOCATION": "local"},  # copies of seconds, each process its own
}
SILENCED_SYSTEM_CHECKS: list[str] = env.list("SILENCED_SYSTEM_CHECKS", [])
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTHENTICATION_BACKENDS = ["config.accounts.ShopBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "jobs:job_board"
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_ADAPTER = "config.accounts.ClosedSignUp"
# Guessing is slowed in config/sign_in.py; of allauth's own limits these would let one lock out others.
ACCOUNT_RATE_LIMITS = {"login": None, "login_failed": "10/5m/key"}  # the latter: codes, after the password
ACCOUNT_USER_MODEL_USERNAME_FIELD = "username"

MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_ADAPTER = "config.second_factor.Factors"
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_ALLOW_UNVERIFIED_EMAIL = True  # addresses are those the owner entered; nobody signs up
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = not IS_HTTPS  # browsers allow it on localhost only
MFA_TOTP_ISSUER = "Coachlight"
MFA_TOTP_TOLERANCE = 1  # a code of the half minute before or after counts: clocks differ

# Every letter is stored first ("default"); a worker carries it to the mail server ("post").
MAIL_SERVER = mail_server(env, is_debug=DEBUG)
MAIL_IS_SET_UP = bool(MAIL_SERVER)
DEFAULT_FROM_EMAIL = env.str("MAIL_FROM", "coachlight@localhost")
MAIL_DOMAIN = DEFAULT_FROM_EMAIL.rpartition("@")[2].rstrip("> ")
MAILERS = {
    "default": {"BACKEND": "config.mail.Outbox"},
    "post": MAIL_SERVER or {"BACKEND": "django.core.mail.backends.dummy.EmailBackend"},
}

LANGUAGE_CODE = "en-us"
# A person's own choice; pages for customers stay in the language of the source.
LANGUAGES = [("en-us", "English"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "config" / "locale"]
FORMAT_MODULE_PATH = ["config.formats"]
TIME_ZONE = "UTC"
USE_I18N = True
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
STATIC_ROOT.mkdir(exist_ok=True)  # the static server warns about a folder that is not there
STATICFILES_DIRS = [BASE_DIR / "static"]
MEDIA_ROOT = env.path("MEDIA_ROOT", VAR_DIR / ("demo-media" if IS_DEMO else "media"))
FIXTURE_DIRS = [BASE_DIR / "fixtures"]
BACKUP_DIR = env.path("BACKUP_DIR", VAR_DIR / "backups")
BACKUP_PASSPHRASE = env.str("BACKUP_PASSPHRASE", "")
STORAGES = {
    "default": file_store(env),
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "config.storage.HashedStaticFiles"
    },
}
WHITENOISE_USE_FINDERS = DEBUG
WHITENOISE_ADD_HEADERS_FUNCTION = static_headers

TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": []}}

CRISPY_ALLOWED_TEMPLATE_PACKS = "bootstrap5"
CRISPY_TEMPLATE_PACK = "bootstrap5"
CRISPY_FAIL_SILENTLY = not DEBUG

SECURE_CSP = {
    "default-src": [CSP.NONE],  # every source a page may use is named below
    "script-src": [CSP.SELF, CSP.NONCE],
    "style-src": [CSP.SELF],
    "font-src": [CSP.SELF],
    "img-src": [CSP.SELF, "data:", "blob:"],
    "connect-src": [CSP.SELF],
    "worker-src": [CSP.SELF],
    "manifest-src": [CSP.SELF],
    "object-src": [CSP.NONE],
    "base-uri": [CSP.NONE],
    "frame-ancestors": [CSP.NONE],
    "form-action": [CSP.SELF],
}
WATCH_CSP = env.bool("WATCH_CSP", DEBUG)  # pages count breaches of the policy where a test can read them
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = IS_HTTPS
# "__Host-": a browser takes such a cookie from this very host over TLS only, for all of it.
COOKIE_PREFIX = "__Host-" if IS_HTTPS else ""
SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = f"{COOKIE_PREFIX}sessionid", f"{COOKIE_PREFIX}csrftoken"
MESSAGE_STORAGE = "config.short_messages.ShortMessages"
KNOWN_COOKIE_NAME = f"{COOKIE_PREFIX}known"  # a browser that signed in before: config/sign_in.py
CSRF_COOKIE_HTTPONLY = True  # scripts take the token from the page
SECURE_SSL_REDIRECT = env.bool("SECURE_SSL_REDIRECT", IS_HTTPS)
SECURE_HSTS_SECONDS = env.int("SECURE_HSTS_SECONDS", 31536000 if IS_HTTPS else 0)
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = IS_HTTPS
BEHIND_PROXY = env.bool("BEHIND_PROXY", False)
# How many proxies of our own stand in front: each appends an address to X-Forwarded-For.
TRUSTED_PROXIES = env.int("TRUSTED_PROXIES", 1 if BEHIND_PROXY else 0)
if BEHIND_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

# Who draws an uploaded picture anew, in a process of its own; named here because jobs knows no checklists.
PICTURE_READER = "checklists.photos.photos.photo_read"
DATA_UPLOAD_MAX_MEMORY_SIZE = 20 * 1024 * 1024  # a photo of 15 MB and its form
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000  # a long load audit is one form

METRICS_TOKEN = env.str("METRICS_TOKEN", "")  # who may read /metrics; without one, this machine only

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {
        "request": {"()": "config.health.logs.WithRequest"},
        "refusals": {"()": "config.health.logs.NoTracebackOfRefusals"},
    },
    "formatters": {
        "text": {"format": "{levelname} {name} {request_id} {message}", "style": "{"},
        "json": {
            "()": "pythonjsonlogger.json.JsonFormatter",
            "format": "{asctime}{levelname}{name}{request_id}{message}{status_code}",
            "style": "{",
            "rename_fields": {"asctime": "time", "levelname": "level", "name": "logger"},
        },
    },
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "filters": ["request", "refusals"],
            "formatter": env.str("LOG_FORMAT", "text" if DEBUG else "json"),
        }
    },
    "root": {"handlers": ["console"], "level": env.str("LOG_LEVEL", "WARNING")},
}
