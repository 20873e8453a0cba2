"""Every setting, read once from the environment; a setting that makes no sense stops the start.

Without any setting the program runs embedded: SQLite and jobs in one process, nothing else needed.
"""

import os
import re
import secrets
import ssl
import zoneinfo
from base64 import urlsafe_b64encode
from pathlib import Path
from urllib.parse import unquote, urlsplit

from cryptography.fernet import Fernet
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured, ValidationError
from django.core.validators import validate_email

from servicedesk.transport import broker_url

zoneinfo.reset_tzpath(())  # zone rules come from the pinned tzdata, not from the machine

BASE_DIR = Path(__file__).resolve().parent.parent


def text(name, default=""):
    return os.environ.get(f"SERVICEDESK_{name}", default).strip()


def yes_no(name, default):
    word = text(name, default).lower()
    if word not in {"yes", "no"}:
        raise ImproperlyConfigured(f"SERVICEDESK_{name} must be yes or no, not {word!r}")
    return word == "yes"


def whole(name, default, *, most):
    word = text(name, default)
    if not (word.isascii() and word.isdigit() and int(word) <= most):
        raise ImproperlyConfigured(
            f"SERVICEDESK_{name} must be a whole number from 0 to {most}, not {word!r}"
        )
    return int(word)


def address(name, schemes):
    """A URL from the environment with one of these schemes, taken apart; None when not set."""
    word = text(name)
    if not word:
        return None
    parts = urlsplit(word)
    try:
        wrong = parts.scheme not in schemes or (not parts.hostname and "socket" not in word)
        _ = parts.port
    except ValueError:
        wrong = True
    if wrong:
        wanted = " or ".join(f"{scheme}://" for scheme in schemes)
        raise ImproperlyConfigured(
            f"SERVICEDESK_{name} must begin with {wanted} and name a host; a port, if one is "
            "given, is a number up to 65535"
        )
    return parts


def kept_secret(name, make):
    """A secret from the environment; embedded, one is made once and kept in the data folder."""
    word = text(name)
    if word:
        return word
    if PRODUCTION:
        raise ImproperlyConfigured(f"SERVICEDESK_{name} must be set when PostgreSQL is used")
    path = DATA / name.lower().replace("_", "-")
    try:
        if not path.exists():
            path.touch(mode=0o600)
            path.write_text(make())
        return path.read_text().strip()
    except OSError as error:
        raise ImproperlyConfigured(f"SERVICEDESK_DATA: cannot use {path}: {error}") from None


DEMO = yes_no("DEMO", "no")
DATA = Path(text("DATA") or BASE_DIR / ".data").resolve()
DATABASE = None if DEMO else address("DATABASE_URL", ["postgresql", "postgres"])
REDIS = None if DEMO else address("REDIS_URL", ["redis", "rediss"])
PRODUCTION = DATABASE is not None
HTTPS = yes_no("HTTPS", "yes" if PRODUCTION else "no")
PROXIES = whole("PROXIES", "1" if HTTPS else "0", most=9)  # that say whom they pass on
TESTING = yes_no("TESTING", "no")  # the checks set it: quick password hashes, no data folder

try:
    DATA.mkdir(parents=True, exist_ok=True, mode=0o700)
except OSError as error:
    raise ImproperlyConfigured(f"SERVICEDESK_DATA: cannot use {DATA}: {error}") from None

SECRET_KEY = kept_secret("SECRET_KEY", lambda: secrets.token_urlsafe(48))
if len(SECRET_KEY) < 32:
    raise ImproperlyConfigured("SERVICEDESK_SECRET_KEY must have at least 32 characters")
SEAL_KEY = kept_secret("SEAL_KEY", lambda: urlsafe_b64encode(secrets.token_bytes(32)).decode())
try:
    Fernet(SEAL_KEY)
except ValueError:
    raise ImproperlyConfigured(
        "SERVICEDESK_SEAL_KEY must be 32 bytes in URL-safe base64, as Fernet.generate_key() prints"
    ) from None

DEBUG = False
ALLOWED_HOSTS = [h.strip() for h in text("HOSTS").split(",") if h.strip()] or (
    [] if PRODUCTION else ["*"]
)
if odd := [host for host in ALLOWED_HOSTS if not re.fullmatch(r"\*|[\w.-]+|\[[\da-f:]+\]", host)]:
    raise ImproperlyConfigured(
        f"SERVICEDESK_HOSTS takes names alone, such as ponds.example.com, not {odd[0]!r}"
    )
if PRODUCTION and not ALLOWED_HOSTS:
    raise ImproperlyConfigured("SERVICEDESK_HOSTS must name the hosts that pages are served at")
PUBLIC_ADDRESS = (text("ADDRESS") or "http://127.0.0.1:8000").rstrip("/")  # in links of mails
ADDRESS_IS_SET = address("ADDRESS", ["http", "https"]) is not None
if HTTPS:
    CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS if host != "*"]

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "axes",
    "csp",
    "django_filters",
    "django_htmx",
    "django_tables2",
    "customers.apps.CustomersConfig",
    "equipment.apps.EquipmentConfig",
    "servicedesk.apps.ServicedeskConfig",
]
MIDDLEWARE = [
    "servicedesk.middleware.WhoAsks",
    "django.middleware.security.SecurityMiddleware",
    "servicedesk.middleware.SmallOnTheLine",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django_permissions_policy.PermissionsPolicyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "servicedesk.middleware.Reader",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "servicedesk.middleware.ButtonsAlone",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "servicedesk.urls"
WSGI_APPLICATION = "servicedesk.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "servicedesk.context_processors.house",
            ]
        },
    }
]


def database():
    if DATABASE is None:
        return {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": DATA / "servicedesk.sqlite3",
            "OPTIONS": {
                "timeout": 20,
                # A read that later writes must not fail at once: take the write lock at BEGIN.
                "transaction_mode": "IMMEDIATE",
                # FULL, because a closing that was acknowledged to a phone must survive a power cut.
                "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
            },
        }
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": DATABASE.path.lstrip("/"),
        "USER": unquote(DATABASE.username or ""),
        "PASSWORD": unquote(DATABASE.password or ""),
        "HOST": DATABASE.hostname,
        "PORT": DATABASE.port or 5432,
        "CONN_MAX_AGE": 60,
        "CONN_HEALTH_CHECKS": True,
    }


DATABASES = {"default": database()}
CACHES = {
    "default": (
        {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS.geturl()}
        if REDIS
        else {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}
    ),
    "pace": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "LOCATION": "pace",
        "OPTIONS": {"MAX_ENTRIES": 20_000},
    },
}

AUTH_USER_MODEL = "customers.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
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
PASSWORD_HASHERS = (
    ["django.contrib.auth.hashers.MD5PasswordHasher"]
    if TESTING
    else [
        "django.contrib.auth.hashers.Argon2PasswordHasher",
        "django.contrib.auth.hashers.PBKDF2PasswordHasher",
    ]
)
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_TEMPLATE = "locked_out.html"
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign_in"

LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "servicedesk" / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATIC_ROOT = DATA / "static"
WHITENOISE_USE_FINDERS = not PRODUCTION
WHITENOISE_AUTOREFRESH = False
MEDIA_ROOT = DATA / "media"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": (
            "whitenoise.storage.CompressedManifestStaticFilesStorage"
            if PRODUCTION and not TESTING
            else "django.contrib.staticfiles.storage.StaticFilesStorage"
        )
    },
}

# What a page may load: only what this program serves itself.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "connect-src": [SELF],
        "font-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
        "object-src": [NONE],
    }
}
PERMISSIONS_POLICY = {"camera": "self", "geolocation": "self", "microphone": []}
SECURE_SSL_REDIRECT = HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS else None
SECURE_REDIRECT_EXEMPT = [r"^health/$"]
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
SECURE_HSTS_PRELOAD = HTTPS
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_NAME = "__Host-session" if HTTPS else "session"
SESSION_COOKIE_SECURE = HTTPS
SESSION_COOKIE_AGE = 12 * 3600
CSRF_COOKIE_NAME = "__Host-csrf" if HTTPS else "csrf"
CSRF_COOKIE_SECURE = HTTPS
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_NUMBER_FIELDS = 500
DATA_UPLOAD_MAX_NUMBER_FILES = 12

# Mail: without a relay, and always in the demo, mails go to a file outbox in the data folder.
SMTP = None if DEMO else address("SMTP_URL", ["smtp", "smtps", "smtp+starttls"])
MAIL_FROM = text("MAIL_FROM") or "service@example.com"
try:
    validate_email(MAIL_FROM)
except ValidationError:
    raise ImproperlyConfigured(
        "SERVICEDESK_MAIL_FROM must be an address alone, such as service@example.com, not "
        f"{MAIL_FROM!r}"
    ) from None
MAIL_FILES = DATA / "outbox"
SMTP_TIMEOUT_S = 10

# A routing service with the table interface of OSRM; without one drives are guessed.
ROADS = None if DEMO else address("ROADS_URL", ["http", "https"])
ROADS_URL = ROADS.geturl().rstrip("/") if ROADS else ""
if ROADS and (ROADS.query or ROADS.fragment):
    raise ImproperlyConfigured(
        "SERVICEDESK_ROADS_URL is the address of the routing service alone, such as "
        "http://127.0.0.1:5000, without a question mark and what follows it"
    )

# A forecast service with the interface of Open-Meteo; without one weather comes from files alone.
WEATHER = None if DEMO else address("WEATHER_URL", ["http", "https"])
WEATHER_URL = WEATHER.geturl().rstrip("/") if WEATHER else ""
if WEATHER and (WEATHER.query or WEATHER.fragment):
    raise ImproperlyConfigured(
        "SERVICEDESK_WEATHER_URL is the address of the forecast service alone, such as "
        "http://127.0.0.1:8080/v1/forecast, without a question mark and what follows it"
    )

# Jobs: rows say what is owed, messages only wake; everything also comes round by itself.
JOB_BEAT_S = 1 if TESTING else 20
CELERY_BROKER_URL = "memory://localhost"
CELERY_BROKER_TRANSPORT_OPTIONS = {"polling_interval": 0.1}
if REDIS:
    CELERY_BROKER_URL = broker_url(REDIS.geturl())
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": 3600,
        "unacked_restore_interval": 10,
        "unacked_restore_throttle": 1,
        "socket_timeout": 5,
        "socket_connect_timeout": 3,
        "socket_keepalive": True,
        "health_check_interval": 10,
        # Whoever wakes a job while Redis is down waits a moment, not for seconds.
        "max_retries": 1,
        "interval_start": 0,
        "interval_step": 0.1,
    }
    if REDIS.scheme == "rediss":
        CELERY_BROKER_USE_SSL = {"ssl_cert_reqs": ssl.CERT_REQUIRED}
    CELERY_TASK_ACKS_LATE = True
    CELERY_TASK_REJECT_ON_WORKER_LOST = True
    CELERY_TASK_SOFT_TIME_LIMIT = 600
    CELERY_TASK_TIME_LIMIT = 660
    CELERY_WORKER_MAX_TASKS_PER_CHILD = 500
    CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_RESULT_BACKEND = None
CELERY_WORKER_ENABLE_REMOTE_CONTROL = False
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_WORKER_SEND_TASK_EVENTS = False
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_MAX_LOOP_INTERVAL = 5


def every(job, seconds):
    return {
        "task": f"servicedesk.tasks.{job}",
        "schedule": seconds,
        "options": {"expires": max(10, seconds)},
    }


CELERY_BEAT_SCHEDULE = {
    "beat": every("beat", JOB_BEAT_S),
    "send_reminders": every("send_reminders", JOB_BEAT_S),
    "send_alarms": every("send_alarms", JOB_BEAT_S),
    "watch_check_ins": every("watch_check_ins", 60),
    "queue_reminders": every("queue_reminders", 900),
    "ask_owners": every("ask_owners", 21_600),  # looks at every site; a day more is no harm
    "refresh_due": every("refresh_due", 60),  # mostly there is nothing to do; else one more part
    "assess_systems": every("assess_systems", 60),  # mostly nothing; else a piece of its round
    "open_tickets": every("open_tickets", 300),
    "watch_systems": every("watch_systems", 3600),
    "look_after_restarts": every("look_after_restarts", 3600),
    "watch_photos": every("watch_photos", 21_600),
    "settle_recalls": every("settle_recalls", 3600),
    "settle_defects": every("settle_defects", 600),
    "write_reports": every("write_reports", 60),  # mostly nothing is owed
    "keep_winters": every("keep_winters", 3600),  # winters to ask about, notices to chase
    "ask_roads": every("ask_roads", 21_600),
    "learn_roads": every("learn_roads", 21_600),
    "fetch_weather": every("fetch_weather", 21_600),
    "watch_weather": every("watch_weather", 3600),
    "start_plans": every("start_plans", 5),
    "collect_plans": every("collect_plans", 2),
    "start_what_ifs": every("start_what_ifs", 5),
    "collect_what_ifs": every("collect_what_ifs", 5),
}

MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"
DJANGO_TABLES2_TEMPLATE = "servicedesk/table.html"
FORM_RENDERER = "django.forms.renderers.DjangoTemplates"
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {"servicedesk": {"level": "INFO"}, "axes": {"level": "ERROR"}},
}
SILENCED_SYSTEM_CHECKS = []
