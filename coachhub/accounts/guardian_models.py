"""Minors, who answers for them, and who agreed to what."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from coachhub.accounts.enums import ConsentVoice, GuardianState, Purpose
from coachhub.common.models import PublicModel

if TYPE_CHECKING:
    from coachhub.accounts.models import User


class MinorQuerySet(models.QuerySet["Minor"]):
    def visible_to(self, user: User) -> MinorQuerySet:
        """One's own, and that of one's children; staff read it through ``camps.rules``."""
        if not user.is_authenticated:
            return self.none()
        children = Guardianship.objects.read_along(user)
        return self.filter(Q(person_id=user.pk) | Q(person_id__in=children))


class Minor(PublicModel):
    """Only for who said to be under 18: the month of birth, and no more of it than the day of coming of age needs."""

    person = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="minority")
    birth_year = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1900), MaxValueValidator(2100)]
    )
    birth_month = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(12)])
    # When the guardians' say ended; empty: it holds.
    grown_at = models.DateTimeField(null=True, blank=True)

    objects = MinorQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=Q(birth_month__gte=1, birth_month__lte=12), name="birth_months_are_months"
            ),
        )


class GuardianshipQuerySet(models.QuerySet["Guardianship"]):
    def visible_to(self, user: User) -> GuardianshipQuerySet:
        """The child's own, and those that the person holds or held."""
        if not user.is_authenticated:
            return self.none()
        return self.filter(Q(child_id=user.pk) | Q(guardian_id=user.pk))

    def standing(self) -> GuardianshipQuerySet:
        """Those that let the guardian read: of a minor, or of a grown-up who shares on."""
        return self.filter(state__in=(GuardianState.ACTIVE, GuardianState.SHARED))

    def reading(self, user: User) -> GuardianshipQuerySet:
        return self.standing().filter(guardian_id=user.pk) if user.is_authenticated else self.none()

    def answering(self, user: User) -> GuardianshipQuerySet:
        """Those in which the person decides for a minor; who only reads along with a grown-up decides nothing."""
        return self.filter(state=GuardianState.ACTIVE, guardian_id=user.pk)

    def read_along(self, user: User) -> models.QuerySet[Guardianship, int]:
        """Ids of those whose things the person reads as a guardian, for use inside a query."""
        return self.reading(user).values_list("child_id", flat=True)


class Guardianship(PublicModel):
    """One guardian of one child, from the invitation to its end."""

    child = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="guardianships"
    )
    guardian = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.CASCADE, related_name="wardships"
    )
    email = models.EmailField(max_length=254)
    state = models.CharField(max_length=9, choices=GuardianState.choices, default=GuardianState.INVITED)
    invited_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    # Part of the link's signature: a letter sent anew makes the links of before worthless.
    letter = models.PositiveSmallIntegerField(default=1)
    # When the letter left; empty: the sweep sends it.
    mailed_at = models.DateTimeField(null=True, blank=True)
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = GuardianshipQuerySet.as_manager()

    class Meta:
        ordering = ("created_at", "id")
        constraints = (
            models.UniqueConstraint(
                fields=("child", "email"),
                condition=Q(state__in=(GuardianState.INVITED, GuardianState.ACTIVE, GuardianState.SHARED)),
                name="a_guardian_is_named_once",
            ),
            models.UniqueConstraint(
                fields=("child", "guardian"),
                condition=Q(state__in=(GuardianState.ACTIVE, GuardianState.SHARED)),
                name="a_guardian_answers_once",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=(GuardianState.ACTIVE, GuardianState.SHARED))
                | Q(guardian__isnull=False, accepted_at__isnull=False),
                name="a_standing_guardian_accepted",
            ),
            models.CheckConstraint(
                condition=Q(guardian=None) | ~Q(guardian=models.F("child")),
                name="nobody_is_the_own_guardian",
            ),
        )


class ConsentQuerySet(models.QuerySet["Consent"]):
    def visible_to(self, user: User) -> ConsentQuerySet:
        """One's own, and those about one's children."""
        if not user.is_authenticated:
            return self.none()
        children = Guardianship.objects.read_along(user)
        return self.filter(Q(person_id=user.pk) | Q(person_id__in=children))


class Consent(PublicModel):
    """Somebody agreed to one purpose, or took it back. Never changed: the next word is another row."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="consents")
    purpose = models.CharField(max_length=8, choices=Purpose.choices)
    is_given = models.BooleanField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    voice = models.CharField(max_length=8, choices=ConsentVoice.choices)

    objects = ConsentQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-id")
        indexes = (models.Index(fields=("person", "purpose")),)


class StandingConsentQuerySet(models.QuerySet["StandingConsent"]):
    def people(self, purpose: str) -> models.QuerySet[StandingConsent, int]:
        """Ids of everybody who agreed to the purpose, for use inside a query."""
        return self.filter(purpose=Purpose(purpose)).values_list("person_id", flat=True)


class StandingConsent(models.Model):
    """What holds now of the rows above, worked out by ``accounts.domain.consent``: for queries."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    purpose = models.CharField(max_length=8, choices=Purpose.choices)
    since = models.DateTimeField()

    objects = StandingConsentQuerySet.as_manager()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("person", "purpose"), name="a_consent_stands_once"),)
