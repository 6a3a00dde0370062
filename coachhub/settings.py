"""All settings, each from one environment variable with a safe default.

The embedded default needs no server: SQLite, a broker of files, media on disk, all under ``var/``.
The scaled form is the same code with DATABASE_URL, BROKER_URL and S3_* set.
"""

from __future__ import annotations

import os
import secrets
from datetime import timedelta
from pathlib import Path

from coachhub import env

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = Path(env.text("COACHHUB_VAR", str(BASE_DIR / "var"))).resolve()

DEBUG = env.flag("COACHHUB_DEBUG", False)
EMBEDDED = not env.text("DATABASE_URL")


def _secret_key() -> str:
    given = env.text("COACHHUB_SECRET_KEY")
    if given:
        return given
    # The embedded form keeps one made at first start: signed links must outlive a restart.
    path = VAR_DIR / "secret.key"
    VAR_DIR.mkdir(parents=True, exist_ok=True)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text().strip()
    with os.fdopen(handle, "w") as file:
        key = secrets.token_urlsafe(50)
        file.write(key)
    return key


SECRET_KEY = _secret_key()
SITE_NAME = env.text("COACHHUB_SITE_NAME", "Farlesson")
SITE_URL = env.text("COACHHUB_SITE_URL", "http://127.0.0.1:8000").rstrip("/")
ALLOWED_HOSTS = env.listing("COACHHUB_HOSTS", "127.0.0.1,localhost,[::1],testserver")
CSRF_TRUSTED_ORIGINS = env.listing("COACHHUB_ORIGINS")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "django_otp.plugins.otp_static",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "coachhub.common",
    "coachhub.accounts",
    "coachhub.camps",
    "coachhub.videos",
    "coachhub.swings",
    "coachhub.feedback",
    "coachhub.progress",
    "coachhub.web",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "coachhub.web.middleware.SecurityHeaders",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "coachhub.web.middleware.UserTimeZone",
    "coachhub.web.middleware.UserUnits",
    "coachhub.web.middleware.UserLanguage",
    "coachhub.web.middleware.Doors",
]

ROOT_URLCONF = "coachhub.urls"
WSGI_APPLICATION = "coachhub.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": False,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "coachhub.web.context.site",
            ],
            "loaders": [
                (
                    "coachhub.web.wording.templates.CachedLoader",
                    ["django.template.loaders.filesystem.Loader"],
                )
                if not DEBUG
                else "coachhub.web.wording.templates.Loader"
            ],
            "builtins": ["coachhub.web.templatetags.site"],
        },
    }
]

DATABASES = {
    "default": dict(env.database(env.text("DATABASE_URL") or f"sqlite:///{VAR_DIR / 'coachhub.sqlite3'}"))
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "accounts.User"
LOGIN_URL = "account:sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "account:sign-in"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]

LANGUAGE_CODE = "en"
# A language is offered once its catalogue holds every message: `manage.py words` says what is missing.
LANGUAGES = [("en", "English"), ("de", "Deutsch")]
FORM_RENDERER = "coachhub.web.wording.fields.Renderer"
LOCALE_PATHS = [BASE_DIR / "coachhub" / "locale"]
LANGUAGE_COOKIE_SAMESITE = "Lax"
TIME_ZONE = "UTC"
USE_I18N = True
USE_TZ = True

STATIC_URL = "/static/"
STATIC_ROOT = VAR_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "coachhub" / "web" / "static"]

MEDIA_ROOT = VAR_DIR / "media"
S3_BUCKET = env.text("S3_BUCKET")
_media_storage: dict[str, object] = {
    "BACKEND": "django.core.files.storage.FileSystemStorage",
    "OPTIONS": {"location": str(MEDIA_ROOT), "base_url": None, "file_permissions_mode": 0o600},
}
if S3_BUCKET:
    _media_storage = {
        "BACKEND": "storages.backends.s3.S3Storage",
        "OPTIONS": {
            "bucket_name": S3_BUCKET,
            "endpoint_url": env.text("S3_ENDPOINT") or None,
            "access_key": env.text("S3_ACCESS_KEY") or None,
            "secret_key": env.text("S3_SECRET_KEY") or None,
            "region_name": env.text("S3_REGION") or None,
            # The older signature is refused by newer stores and regions.
            "signature_version": "s3v4",
            "querystring_auth": True,
            "querystring_expire": 600,
            "default_acl": None,
            "file_overwrite": False,
        },
    }
STORAGES = {
    "default": _media_storage,
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "coachhub.web.storage.HashedModules"
    },
}
# The proxy answers for media when this names its internal location; empty: Django sends the bytes itself.
MEDIA_ACCEL_PREFIX = env.text("MEDIA_ACCEL_PREFIX")
MEDIA_LINK_SECONDS = env.number("MEDIA_LINK_SECONDS", 900, low=30)

UPLOAD_DIR = Path(env.text("UPLOAD_DIR", str(VAR_DIR / "uploads")))
UPLOAD_MAX_BYTES = env.number("UPLOAD_MAX_BYTES", 500 * 1024 * 1024, low=1)
UPLOAD_QUOTA_BYTES = env.number("UPLOAD_QUOTA_BYTES", 20 * 1024 * 1024 * 1024, low=1)
UPLOAD_LIFETIME = timedelta(hours=env.number("UPLOAD_LIFETIME_HOURS", 48, low=1))
FILE_UPLOAD_TEMP_DIR = None
DATA_UPLOAD_MAX_MEMORY_SIZE = 3 * 1024 * 1024

EMAIL_URL_HOST = env.text("EMAIL_HOST")
EMAIL_BACKEND = (
    "django.core.mail.backends.smtp.EmailBackend"
    if EMAIL_URL_HOST
    else "django.core.mail.backends.filebased.EmailBackend"
)
EMAIL_FILE_PATH = VAR_DIR / "mail"
EMAIL_HOST = EMAIL_URL_HOST or "localhost"
EMAIL_PORT = env.number("EMAIL_PORT", 587, low=1)
EMAIL_HOST_USER = env.text("EMAIL_USER")
EMAIL_HOST_PASSWORD = env.text("EMAIL_PASSWORD")
EMAIL_USE_TLS = env.flag("EMAIL_TLS", True)
DEFAULT_FROM_EMAIL = env.text("EMAIL_FROM", f"{SITE_NAME} <no-reply@localhost>")

CELERY_BROKER_URL = env.text("BROKER_URL", "filesystem://localhost")
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_TIME_LIMIT = 20 * 60
CELERY_TASK_SOFT_TIME_LIMIT = 19 * 60
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TIMEZONE = "UTC"
if CELERY_BROKER_URL.startswith("filesystem"):
    _queue = Path(env.text("BROKER_DIR", str(VAR_DIR / "broker")))
    for _folder in ("messages", "control"):
        (_queue / _folder).mkdir(parents=True, exist_ok=True)
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": str(_queue / "messages"),
        "data_folder_out": str(_queue / "messages"),
        "control_folder": str(_queue / "control"),
        "store_processed": False,
        # How often an idle worker looks for messages; the default of a second would be felt twice per clip.
        "polling_interval": 0.1,
    }
else:
    CELERY_BROKER_TRANSPORT_OPTIONS = {"visibility_timeout": CELERY_TASK_TIME_LIMIT + 60}
CELERY_BEAT_SCHEDULE = {
    "requeue-lost-work": {"task": "common.requeue_lost_work", "schedule": 20.0, "options": {"expires": 20}},
    "drop-expired-uploads": {
        "task": "videos.drop_expired_uploads",
        "schedule": 900.0,
        "options": {"expires": 900},
    },
    "drop-old-originals": {
        "task": "videos.apply_retention",
        "schedule": 3600.0,
        "options": {"expires": 3600},
    },
}
CELERY_BEAT_SCHEDULE_FILENAME = str(VAR_DIR / "beat-schedule")

# How long a claimed job may stay silent before the sweep gives it to another worker.
JOB_LEASE = timedelta(seconds=env.number("JOB_LEASE_SECONDS", 45, low=5))
JOB_MAX_ATTEMPTS = env.number("JOB_MAX_ATTEMPTS", 3, low=1)
ANALYSIS_THREADS = env.number("ANALYSIS_THREADS", 2, low=1)
ANALYSIS_WALL_SECONDS = env.number("ANALYSIS_WALL_SECONDS", 900, low=10)
INVITATION_LIFETIME = timedelta(days=env.number("INVITATION_DAYS", 14, low=1))

OTP_TOTP_ISSUER = SITE_NAME
OTP_STATIC_THROTTLE_FACTOR = OTP_TOTP_THROTTLE_FACTOR = 1
# Whether coaches and organisers must prove themselves twice; offered to them either way.
SECOND_FACTOR_REQUIRED = env.flag("COACHHUB_SECOND_FACTOR", False)
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "coachhub.web.home.form_too_old"
HTTPS_ONLY = env.flag("COACHHUB_HTTPS", False)
SESSION_COOKIE_SECURE = HTTPS_ONLY
CSRF_COOKIE_SECURE = HTTPS_ONLY
SECURE_SSL_REDIRECT = HTTPS_ONLY
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS_ONLY else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS_ONLY
SECURE_HSTS_PRELOAD = HTTPS_ONLY
if env.flag("COACHHUB_BEHIND_PROXY", False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env.text("LOG_LEVEL", "INFO")},
    # It tells each step, and addresses that may hold people's words.
    "loggers": {"weasyprint": {"level": "CRITICAL"}},
}
