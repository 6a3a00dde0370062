from __future__ import annotations

from collections.abc import Iterator
from typing import Any, ClassVar

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.db import models
from django.db.models.functions import Lower
from django.utils.crypto import salted_hmac

from coachhub.accounts.door_models import Door
from coachhub.accounts.enums import AgeBand, AlertGround, AttemptKind, Hand, Level, PainNow, Units
from coachhub.accounts.guardian_models import Consent, Guardianship, Minor, StandingConsent
from coachhub.accounts.notice_models import MailChoice, Notice
from coachhub.accounts.token_models import ApiToken
from coachhub.common.models import PublicModel

__all__ = [
    "AlertCleared",
    "ApiToken",
    "Attempt",
    "Consent",
    "Door",
    "Guardianship",
    "Intake",
    "MailChoice",
    "Minor",
    "Notice",
    "StandingConsent",
    "User",
    "UserManager",
]


class UserManager(BaseUserManager["User"]):
    def get_by_natural_key(self, username: str | None) -> User:
        return self.get(email=(username or "").strip().lower())

    def create_user(self, email: str, password: str | None = None, **fields: Any) -> User:
        from django.utils import timezone

        fields.setdefault("created_at", timezone.now())
        user = self.model(email=email.strip().lower(), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, password: str | None = None, **fields: Any) -> User:
        return self.create_user(email, password, is_superuser=True, may_make_camps=True, **fields)


class User(AbstractBaseUser, PermissionsMixin, PublicModel):
    email = models.EmailField(max_length=254, unique=True)
    name = models.CharField(max_length=80)
    time_zone = models.CharField(max_length=64, default="UTC")
    # Empty: as the browser asks. Letters go out in English then.
    language = models.CharField(max_length=8, blank=True, default="")
    units = models.CharField(max_length=8, choices=Units, default=Units.METRIC)
    is_active = models.BooleanField(default=True)
    may_make_camps = models.BooleanField(default=False)
    # Raised to end every session of before.
    doors_closed = models.PositiveIntegerField(default=0)

    objects: ClassVar[UserManager] = UserManager()
    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        constraints = (
            models.CheckConstraint(condition=models.Q(email=Lower("email")), name="addresses_in_lower_case"),
        )

    def __str__(self) -> str:
        return self.name or self.email

    def get_session_auth_hash(self) -> str:
        return self._door_hash()

    def get_session_auth_fallback_hash(self) -> Iterator[str]:
        for secret in settings.SECRET_KEY_FALLBACKS:
            yield self._door_hash(secret)

    def _door_hash(self, secret: str | bytes | None = None) -> str:
        """A session holds as long as the password is the same and the doors were not closed."""
        words = f"{self.password}\n{self.doors_closed}"
        return salted_hmac("accounts.doors", words, secret=secret, algorithm="sha256").hexdigest()


class IntakeQuerySet(models.QuerySet["Intake"]):
    def visible_to(self, user: User) -> IntakeQuerySet:
        """A person's own answers and the children's; staff read them through ``camps.rules`` for their students."""
        if not user.is_authenticated:
            return self.none()
        children = Guardianship.objects.read_along(user)
        return self.filter(models.Q(user_id=user.pk) | models.Q(user_id__in=children))


class Intake(PublicModel):
    """One version of a student's answers. Never changed: a new answer is a new row."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="intakes")
    age_band = models.CharField(max_length=10, choices=AgeBand.choices)
    handedness = models.CharField(max_length=5, choices=Hand.choices)
    level = models.CharField(max_length=10, choices=Level.choices)
    clubs = models.CharField(max_length=200, blank=True)
    miss_start = models.CharField(max_length=10, blank=True)
    miss_curve = models.CharField(max_length=10, blank=True)
    miss_strike = models.CharField(max_length=10, blank=True)
    miss_height = models.CharField(max_length=10, blank=True)
    intents = models.JSONField(default=list, blank=True)
    intent_words = models.TextField(max_length=1000, blank=True)
    goals = models.TextField(max_length=1000, blank=True)
    practice_hours = models.PositiveSmallIntegerField(default=2)
    pain = models.CharField(max_length=5, choices=PainNow.choices, default=PainNow.NONE)
    pain_sites = models.JSONField(default=list, blank=True)
    pain_words = models.TextField(max_length=1000, blank=True)
    red_flags = models.JSONField(default=list, blank=True)

    objects = IntakeQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-id")


class AlertClearedQuerySet(models.QuerySet["AlertCleared"]):
    def visible_to(self, user: User) -> AlertClearedQuerySet:
        """A person's own; staff read them on the page of a student whom they may see."""
        return self.filter(student_id=user.pk) if user.is_authenticated else self.none()


class AlertCleared(PublicModel):
    """A coach asked the student, and a pain alert no longer stands. What was ticked stays in the answers."""

    student = models.ForeignKey(User, on_delete=models.CASCADE, related_name="cleared_alerts")
    cleared_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    # The camp it was asked in, by its public id: each camp's coach asks for themselves.
    scope_id = models.UUIDField()
    ground = models.CharField(max_length=10, choices=AlertGround.choices)
    words = models.TextField(max_length=500)
    # Which ticks: [["intake:<public id>", "night"], ...]. The same box ticked anew is another tick.
    ticks = models.JSONField(default=list)

    objects = AlertClearedQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-id")
        indexes = (models.Index(fields=("student", "scope_id")),)
        constraints = (
            models.CheckConstraint(condition=~models.Q(words=""), name="clearing_an_alert_needs_a_reason"),
        )


class Attempt(models.Model):
    """Something that must not be tried too often; addresses are kept as keyed digests only."""

    kind = models.CharField(max_length=8, choices=AttemptKind.choices)
    key = models.CharField(max_length=64)
    at = models.DateTimeField()

    class Meta:
        indexes = (models.Index(fields=("kind", "key", "at")),)
