"""One settings file. The environment decides; README.md lists the variables.

Without any variable this is a local installation on SQLite, reachable from this machine only.
With THIRTYSIX_PRODUCTION=1 it insists on a secret, host names and TLS.
"""

import secrets
from pathlib import Path

import environ
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from config import env

BASE_DIR = Path(__file__).resolve().parent.parent
LOCAL_DIR = BASE_DIR / ".local"  # database, secret: never in version control
PRODUCTION = env.flag("THIRTYSIX_PRODUCTION")
SERVES_PAGES = env.flag("THIRTYSIX_SERVES_PAGES")  # set by wsgi.py; a migration may take its time
DEBUG = env.flag("THIRTYSIX_DEBUG")


def _local_secret() -> str:
    """A random secret of this checkout, made at the first start."""
    LOCAL_DIR.mkdir(exist_ok=True)
    path = LOCAL_DIR / "secret-key"
    if not path.exists():
        path.touch(mode=0o600)
        path.write_text(secrets.token_urlsafe(64))
    return path.read_text()


SECRET_KEY = env.text("SECRET_KEY")
if not SECRET_KEY:
    if PRODUCTION:
        raise ImproperlyConfigured("Set SECRET_KEY to a long random text.")
    SECRET_KEY = _local_secret()

ALLOWED_HOSTS = [h for h in env.text("ALLOWED_HOSTS").split(",") if h]
if PRODUCTION and not ALLOWED_HOSTS:
    raise ImproperlyConfigured("Set ALLOWED_HOSTS to the host names of this server.")
ALLOWED_HOSTS = ALLOWED_HOSTS or ["localhost", "127.0.0.1", "[::1]"]
CSRF_TRUSTED_ORIGINS = [o for o in env.text("CSRF_TRUSTED_ORIGINS").split(",") if o]

INSTALLED_APPS = [
    "config.apps.HouseConfig",
    "patients",
    "programs.staff",
    "programs.enrolment",
    "programs.prescription",
    "programs.attendance",
    "assessments",
    "reports",
    "config.apps.OurAdminConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "crispy_forms",
    "csp",
    "django_htmx",
    "simple_history",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "programs.staff.no_store.NoStoreMiddleware",
    "programs.staff.nul.NoNulMiddleware",
    "csp.middleware.CSPMiddleware",
    "programs.staff.kept.KeptFormMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "programs.staff.idle.IdleSignOutMiddleware",
    "programs.staff.wall_clock.WallClockMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
FORM_RENDERER = "patients.rendering.FormRenderer"
TEMPLATES = [
    {"BACKEND": "patients.rendering.Questions", "DIRS": [], "APP_DIRS": False, "OPTIONS": {}},
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "programs.staff.context.workplace",
            ]
        },
    },
]
CRISPY_ALLOWED_TEMPLATE_PACKS = ["house"]  # templates/house/
CRISPY_TEMPLATE_PACK = "house"

# --- database -----------------------------------------------------------------------------
# One box: SQLite in WAL mode. IMMEDIATE transactions wait for the write lock instead of failing
# half-way; therefore ATOMIC_REQUESTS stays off, or a plain GET would wait as well.
#
# With synchronous=NORMAL a power cut can take the last commits, a crash of the program never
# does; a clinic that must not lose even those sets SQLITE_SYNCHRONOUS=FULL.
SQLITE_SYNCHRONOUS = env.text("SQLITE_SYNCHRONOUS", "NORMAL")
if SQLITE_SYNCHRONOUS not in {"NORMAL", "FULL"}:
    raise ImproperlyConfigured("SQLITE_SYNCHRONOUS must be NORMAL or FULL.")
SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": (
        f"PRAGMA journal_mode=WAL; PRAGMA synchronous={SQLITE_SYNCHRONOUS}; "
        "PRAGMA temp_store=MEMORY; PRAGMA mmap_size=134217728; PRAGMA cache_size=-20000;"
    ),
}
# A worker is killed after 30 s and the browser left with nothing (gunicorn's default). Whatever
# hangs in the database ends before that, so that a page can say so: 3 s to connect, 5 for a lock,
# 8 for a statement, and 10 for an answer of any kind, from a server that is frozen (database.py).
SERVING_OPTIONS = {
    "connect_timeout": 3,
    "options": "-c statement_timeout=8s -c lock_timeout=5s",
}
DATABASE_ANSWERS_WITHIN_SECONDS = 10
DATABASE_URL = env.text("DATABASE_URL")
if DATABASE_URL:
    DATABASES = {"default": environ.Env.db_url_config(DATABASE_URL)}
    DATABASES["default"].setdefault("CONN_MAX_AGE", 60)
else:
    LOCAL_DIR.mkdir(exist_ok=True)
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": LOCAL_DIR / "thirtysix.sqlite3",
        }
    }
if DATABASES["default"]["ENGINE"].endswith("postgresql"):
    # After a restart of the database the first request finds its kept connection dead otherwise.
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True
    if SERVES_PAGES:
        limited = SERVING_OPTIONS | DATABASES["default"].get("OPTIONS", {})
        DATABASES["default"]["OPTIONS"] = limited
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"] |= {"OPTIONS": SQLITE_OPTIONS, "CONN_MAX_AGE": None}
    # Tests use a real file too: only there do WAL, locks and several connections behave as in use.
    DATABASES["default"]["TEST"] = {"NAME": LOCAL_DIR / "test.sqlite3"}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- people -------------------------------------------------------------------------------
AUTH_USER_MODEL = "staff.User"
AUTHENTICATION_BACKENDS = ["programs.staff.backend.RoleBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "staff:login"
LOGIN_REDIRECT_URL = "home"

# How many proxies of ours stand in front and add to X-Forwarded-For; without one it counts nothing.
PROXIES_IN_FRONT = env.integer("PROXIES_IN_FRONT", 0)

# --- the browser --------------------------------------------------------------------------
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_EXPIRE_AT_BROWSER_CLOSE = True
CSRF_COOKIE_HTTPONLY = True
CSRF_FAILURE_VIEW = "config.errors.csrf_failure"
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "connect-src": [SELF],
        "font-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}
if PRODUCTION:
    SECURE_SSL_REDIRECT = True
    SECURE_HSTS_SECONDS = env.integer("HSTS_SECONDS", 31_536_000)
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    if env.flag("BEHIND_TLS_PROXY"):
        SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

# --- files in -----------------------------------------------------------------------------
FILE_UPLOAD_HANDLERS = [
    "programs.enrolment.lists.uploads.SizeCappedUploadHandler",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
]
FILE_UPLOAD_MAX_MEMORY_SIZE = 6 * 1024 * 1024  # above the list limit: every list fits in memory
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

# --- words, time, files out ---------------------------------------------------------------
LANGUAGE_CODE = "en-us"
TIME_ZONE = "UTC"
USE_I18N = False
USE_TZ = True
STATIC_URL = "static/"
STATIC_ROOT = BASE_DIR / "staticfiles" if PRODUCTION else None
STATICFILES_DIRS = [BASE_DIR / "config" / "static"]
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "config.plotly_files.PlotlyFinder",
]
WHITENOISE_USE_FINDERS = not PRODUCTION
WHITENOISE_AUTOREFRESH = DEBUG
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": (
            "whitenoise.storage.CompressedManifestStaticFilesStorage"
            if PRODUCTION
            else "django.contrib.staticfiles.storage.StaticFilesStorage"
        )
    },
}
# --- what goes wrong ----------------------------------------------------------------------
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"answered_elsewhere": {"()": "config.errors.AnsweredElsewhere"}},
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {
        "log": {
            "class": "logging.StreamHandler",
            "formatter": "line",
            "filters": ["answered_elsewhere"],
        }
    },
    "loggers": {
        "thirtysix": {"handlers": ["log"], "level": "INFO"},
        "django": {"handlers": ["log"], "level": "ERROR"},
    },
}

SIMPLE_HISTORY_HISTORY_CHANGE_REASON_USE_TEXT_FIELD = False
# Columns an index carries along are for PostgreSQL; SQLite leaves them out and loses nothing else.
SILENCED_SYSTEM_CHECKS = ["models.W040"]
