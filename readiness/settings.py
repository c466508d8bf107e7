"""Settings of the Holdair project; everything that differs between deployments comes from the environment.

Without any environment it is the one-machine deployment: SQLite in WAL mode, a file broker and an embedded
worker, all below ``var/``. ``docker-compose.yml`` shows the same code on PostgreSQL and Redis.
"""

import os
from contextlib import suppress
from pathlib import Path

import environ
from celery.schedules import crontab
from csp.constants import NONCE, NONE, SELF
from django.core.management.utils import get_random_secret_key

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()

VAR_DIR = Path(env.str("HOLDAIR_VAR", str(BASE_DIR / "var")))
VAR_DIR.mkdir(parents=True, exist_ok=True)


def _secret_key() -> str:
    """Return the key from the environment, else one made once and kept beside the database."""
    if key := env.str("HOLDAIR_SECRET_KEY", ""):
        return key
    kept = VAR_DIR / "secret_key"
    if not kept.exists():
        # Whole under a name of its own, then linked: of two processes that start at once, both read the first one's.
        half = VAR_DIR / f".secret_key.{os.getpid()}"
        with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as file:
            file.write(get_random_secret_key())
        with suppress(FileExistsError):
            os.link(half, kept)
        half.unlink()
    return kept.read_text().strip()


SECRET_KEY = _secret_key()
DEBUG = env.bool("HOLDAIR_DEBUG", False)
ALLOWED_HOSTS = env.list("HOLDAIR_HOSTS", default=["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("HOLDAIR_ORIGINS", default=[])

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "axes",
    "csp",
    "django_filters",
    "django_htmx",
    "rest_framework",
    "drf_spectacular",
    "shared",
    "inventory",
    "inspections",
    "readiness",
    "reports",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "shared.walls.MembershipMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "readiness.urls"
WSGI_APPLICATION = "readiness.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "shared.context.page",
            ],
            "builtins": ["shared.templatetags.holdair"],
        },
    }
]

DATABASES = {"default": env.db_url("DATABASE_URL", default=f"sqlite:///{VAR_DIR / 'holdair.sqlite3'}")}
DATABASES["default"]["CONN_MAX_AGE"] = env.int("HOLDAIR_CONN_MAX_AGE", 60)
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = {
        # IMMEDIATE takes the write lock at once, so two writers wait for each other instead of failing half-way.
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON;",
    }

AUTH_USER_MODEL = "shared.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "shared:sign-in"
LOGIN_REDIRECT_URL = "readiness:tonight"
LOGOUT_REDIRECT_URL = "shared:sign-in"
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_LOCKOUT_TEMPLATE = "shared/locked_out.html"

LANGUAGE_CODE = "en-us"
TIME_ZONE = "UTC"
USE_I18N = False
USE_TZ = True
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

STATIC_URL = "static/"
STATIC_ROOT = Path(env.str("HOLDAIR_STATIC", str(VAR_DIR / "static")))
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": env.str("HOLDAIR_STATICFILES", "django.contrib.staticfiles.storage.StaticFilesStorage")},
}
WHITENOISE_USE_FINDERS = True
MEDIA_ROOT = VAR_DIR / "files"

SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
# Secure cookies belong behind TLS; the one-machine default is plain HTTP on loopback.
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = env.bool("HOLDAIR_TLS", False)
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if env.bool("HOLDAIR_TLS", False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_HSTS_SECONDS = 31_536_000

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF, NONCE],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],  # blob: photos that a phone keeps until it can send them
        "object-src": [NONE],
        "base-uri": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "shared.tokens.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["shared.walls.Allowed"],
    "DEFAULT_PAGINATION_CLASS": "shared.pagination.Pages",
    "PAGE_SIZE": 50,
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["shared.parsers.FlatJSON"],
    "DEFAULT_FILTER_BACKENDS": ["shared.filters.DepartmentFilter"],
    # How many proxies stand in front: with none, what a sender says of his own address is not believed.
    "NUM_PROXIES": env.int("HOLDAIR_PROXIES", 0),
    "EXCEPTION_HANDLER": "shared.api.explain",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Holdair API",
    "DESCRIPTION": "Readiness of emergency decontamination lines: the cache, the evidence and the rating.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["shared.walls.Allowed"],
    "COMPONENT_SPLIT_REQUEST": True,
    "POSTPROCESSING_HOOKS": ["drf_spectacular.hooks.postprocess_schema_enums", "shared.schema.add_errors"],
}

# Celery. The broker only nudges: work that must not be lost is an outbox row (shared.outbox).
BROKER_DIR = VAR_DIR / "broker"
CELERY_BROKER_URL = env.str("CELERY_BROKER_URL", "filesystem://localhost")
if CELERY_BROKER_URL.startswith("filesystem:"):
    CELERY_BROKER_TRANSPORT = "shared.file_broker:Transport"
    for name in ("queue", "control"):
        (BROKER_DIR / name).mkdir(parents=True, exist_ok=True)
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": str(BROKER_DIR / "queue"),
        "data_folder_out": str(BROKER_DIR / "queue"),
        "control_folder": str(BROKER_DIR / "control"),
        "polling_interval": 0.2,
    }
else:
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": 120,
        "unacked_restore_interval": 5,
        "unacked_restore_throttle": 1,
        # A request that enqueues must not hang on a broker that is away: the sweep sends the row later.
        "socket_connect_timeout": 2,
        "socket_timeout": 5,
        "max_retries": 1,
        "interval_start": 0,
        "interval_step": 0.1,
    }
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_ENABLE_REMOTE_CONTROL = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_SERIALIZER = "json"
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE_FILENAME = str(VAR_DIR / "beat-schedule")
CELERY_BEAT_SCHEDULE = {
    "sweep the outbox": {
        "task": "shared.tasks.sweep_outbox",
        "schedule": env.float("HOLDAIR_SWEEP_SECONDS", 5.0),
        "options": {"expires": 30},
    },
    "re-rate what has come due": {
        "task": "readiness.tasks.rerate_due",
        "schedule": 60.0,
        "options": {"expires": 50},
    },
    "run the check values again": {
        "task": "reports.tasks.verify_again",
        "schedule": crontab(hour=4, minute=30, day_of_week="mon"),
        "options": {"expires": 24 * 3600},
    },
}
CELERY_BEAT_SCHEDULE["seal what was left unsealed"] = {
    "task": "shared.tasks.seal_records",
    "schedule": 600.0,
    "options": {"expires": 500},
}
CELERY_BEAT_SCHEDULE["try mail again that was given up"] = {
    "task": "shared.tasks.retry_mail",
    "schedule": 1800.0,
    "options": {"expires": 1500},
}
CELERY_BEAT_SCHEDULE["remind people of what falls due"] = {
    "task": "reports.tasks.remind",
    "schedule": env.float("HOLDAIR_REMIND_SECONDS", 900.0),
    "options": {"expires": 800},
}
CELERY_BEAT_SCHEDULE["show what has long been hidden, and what lies wet too long"] = {
    "task": "inspections.tasks.look_after_use",
    "schedule": 900.0,
    "options": {"expires": 800},
}
# An outbox row held longer than this without a renewed lease is taken for abandoned and sent again.
OUTBOX_LEASE_SECONDS = env.float("HOLDAIR_OUTBOX_LEASE_SECONDS", 30.0)

# An empty address, as a compose file passes on what nobody set, is none.
EMAIL_URL = env.email_url_config(env.str("EMAIL_URL", "") or "consolemail://")
vars().update(EMAIL_URL)  # EMAIL_BACKEND, EMAIL_HOST, EMAIL_PORT, EMAIL_HOST_USER, EMAIL_HOST_PASSWORD, EMAIL_USE_TLS …
EMAIL_TIMEOUT = 20
HOLDAIR_MAILS = bool(env.str("EMAIL_URL", ""))  # without a mail server, news stands on people's own pages
DEFAULT_FROM_EMAIL = env.str("HOLDAIR_MAIL_FROM", "Holdair <holdair@localhost>")
# Where people reach these pages: links in mails and calendars begin with it.
HOLDAIR_ADDRESS = env.str("HOLDAIR_ADDRESS", "http://127.0.0.1:8000")
# Hour of the department's own day from which reminders and the Monday digest are mailed.
HOLDAIR_REMIND_HOUR = env.int("HOLDAIR_REMIND_HOUR", 6)

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["stderr"], "level": env.str("HOLDAIR_LOG_LEVEL", "WARNING")},
}
