from __future__ import annotations

from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from coachhub.accounts.models import User
from coachhub.camps.care_models import CampCare, Concern
from coachhub.camps.enums import CampState, MemberState, Role
from coachhub.camps.hello_models import Hello, HelloRecording
from coachhub.camps.plan_models import CalendarKey, CampTask
from coachhub.common.models import JobRow, PublicModel

__all__ = [
    "CalendarKey",
    "Camp",
    "CampCare",
    "CampTask",
    "Cohort",
    "Concern",
    "Hello",
    "HelloRecording",
    "Invitation",
    "InvitationMail",
    "Membership",
    "SignBands",
]


class CampQuerySet(models.QuerySet["Camp"]):
    def visible_to(self, user: User) -> CampQuerySet:
        if not user.is_authenticated:
            return self.none()
        return self.filter(pk__in=Membership.objects.present(user).values("camp_id"))

    def run_by(self, user: User) -> CampQuerySet:
        return self.filter(
            pk__in=Membership.objects.present(user).filter(role=Role.ORGANISER).values("camp_id")
        )


class Camp(PublicModel):
    name = models.CharField(max_length=120)
    starts_on = models.DateField()
    ends_on = models.DateField()
    time_zone = models.CharField(max_length=64, default="UTC")
    # ISO weekdays, 1 = Monday: the promise clock does not run on them.
    rest_days = models.JSONField(default=list, blank=True)
    promise_hours = models.PositiveSmallIntegerField(
        default=48, validators=[MinValueValidator(1), MaxValueValidator(24 * 14)]
    )
    retention_days = models.PositiveSmallIntegerField(default=90)
    students_see_trends = models.BooleanField(default=True)
    state = models.CharField(max_length=6, choices=CampState.choices, default=CampState.OPEN)

    objects = CampQuerySet.as_manager()

    class Meta:
        ordering = ("-starts_on", "name")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(ends_on__gte=models.F("starts_on")), name="camp_ends_after_start"
            ),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)


class CohortQuerySet(models.QuerySet["Cohort"]):
    def visible_to(self, user: User) -> CohortQuerySet:
        """An organiser sees every cohort of the camp, a coach and a student their own."""
        if not user.is_authenticated:
            return self.none()
        mine = Membership.objects.present(user)
        return self.filter(
            models.Q(pk__in=mine.exclude(cohort=None).values("cohort_id"))
            | models.Q(camp_id__in=mine.filter(role=Role.ORGANISER).values("camp_id"))
        )

    def staffed_by(self, user: User) -> CohortQuerySet:
        """Cohorts in which the person coaches or whose camp the person organises."""
        if not user.is_authenticated:
            return self.none()
        mine = Membership.objects.present(user)
        return self.filter(
            models.Q(pk__in=mine.filter(role=Role.COACH).values("cohort_id"))
            | models.Q(camp_id__in=mine.filter(role=Role.ORGANISER).values("camp_id"))
        )

    def coached_by(self, user: User) -> CohortQuerySet:
        if not user.is_authenticated:
            return self.none()
        return self.filter(
            pk__in=Membership.objects.present(user).filter(role=Role.COACH).values("cohort_id")
        )


class Cohort(PublicModel):
    camp = models.ForeignKey(Camp, on_delete=models.CASCADE, related_name="cohorts")
    name = models.CharField(max_length=120)

    objects = CohortQuerySet.as_manager()

    class Meta:
        ordering = ("camp_id", "name")
        constraints = (
            models.UniqueConstraint(fields=("camp", "name"), name="cohort_names_differ_in_a_camp"),
        )

    def __str__(self) -> str:
        return self.name


class MembershipQuerySet(models.QuerySet["Membership"]):
    def present(self, user: User) -> MembershipQuerySet:
        """The person's memberships that still give access (a paused student reads on)."""
        return self.filter(user_id=user.pk).exclude(state=MemberState.LEFT)

    def visible_to(self, user: User) -> MembershipQuerySet:
        """Own rows; for staff also everybody in the cohorts they answer for. Students never list each other."""
        if not user.is_authenticated:
            return self.none()
        staffed = Cohort.objects.staffed_by(user)
        organised = self.model._default_manager.present(user).filter(role=Role.ORGANISER).values("camp_id")
        return self.filter(
            models.Q(user_id=user.pk) | models.Q(cohort__in=staffed) | models.Q(camp_id__in=organised)
        )

    def students(self) -> MembershipQuerySet:
        return self.filter(role=Role.STUDENT)


class Membership(PublicModel):
    camp = models.ForeignKey(Camp, on_delete=models.CASCADE, related_name="memberships")
    cohort = models.ForeignKey(
        Cohort, null=True, blank=True, on_delete=models.CASCADE, related_name="memberships"
    )
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=10, choices=Role.choices)
    state = models.CharField(max_length=6, choices=MemberState.choices, default=MemberState.ACTIVE)

    objects = MembershipQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("cohort", "user", "role"), name="one_membership_of_a_kind"),
            # Of its own: SQLite takes two missing cohorts for different ones.
            models.UniqueConstraint(
                fields=("camp", "user"),
                condition=models.Q(role=Role.ORGANISER),
                name="one_organiser_membership_per_camp",
            ),
            models.CheckConstraint(
                condition=models.Q(role=Role.ORGANISER, cohort=None)
                | (~models.Q(role=Role.ORGANISER) & models.Q(cohort__isnull=False)),
                name="only_organisers_stand_above_cohorts",
            ),
            models.UniqueConstraint(
                fields=("camp", "user"),
                condition=models.Q(role=Role.STUDENT),
                name="one_cohort_per_student_and_camp",
            ),
        )


class InvitationQuerySet(models.QuerySet["Invitation"]):
    def visible_to(self, user: User) -> InvitationQuerySet:
        if not user.is_authenticated:
            return self.none()
        return self.filter(cohort__camp__in=Camp.objects.run_by(user))


class Invitation(PublicModel):
    """A way into one cohort. The link carries a signature; this row says whether it still holds."""

    cohort = models.ForeignKey(Cohort, on_delete=models.CASCADE, related_name="invitations")
    role = models.CharField(max_length=10, choices=Role.choices, default=Role.STUDENT)
    email = models.EmailField(blank=True)
    name = models.CharField(max_length=80, blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    expires_at = models.DateTimeField()
    most_uses = models.PositiveSmallIntegerField(default=1)
    uses = models.PositiveSmallIntegerField(default=0)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = InvitationQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-id")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(uses__lte=models.F("most_uses")), name="no_overused_invitation"
            ),
        )


class SignBandsQuerySet(models.QuerySet["SignBands"]):
    def visible_to(self, user: User) -> SignBandsQuerySet:
        """Those who coach or organise in the camp."""
        if not user.is_authenticated:
            return self.none()
        staff = Membership.objects.present(user).filter(role__in=(Role.COACH, Role.ORGANISER))
        return self.filter(camp_id__in=staff.values("camp_id"))


class SignBands(PublicModel):
    """From where on this camp speaks of a sign; the highest number holds, the others are its history."""

    camp = models.ForeignKey(Camp, on_delete=models.CASCADE, related_name="sign_bands")
    number = models.PositiveIntegerField()
    # Only what differs from the shipped bands; empty: back to those.
    changes = models.JSONField(default=dict, blank=True)
    why = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")

    objects = SignBandsQuerySet.as_manager()

    class Meta:
        ordering = ("camp_id", "-number")
        constraints = (
            models.UniqueConstraint(fields=("camp", "number"), name="sign_bands_are_numbered"),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="sign_bands_count_from_one"),
        )


class InvitationMail(JobRow):
    """The letter that carries an invitation to its address."""

    invitation = models.OneToOneField(Invitation, on_delete=models.CASCADE, related_name="mail")

    class Meta:
        indexes = (models.Index(fields=("job_state", "queued_at")),)
