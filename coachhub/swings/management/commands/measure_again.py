from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db.models import QuerySet
from django.utils import timezone

from coachhub.swings.domain.again import Counts, measure_again
from coachhub.videos.models import Clip


class Command(BaseCommand):
    help = "Have clips measured by the present version, in the background. Coaches' corrections and judgements stay."

    def add_arguments(self, parser: CommandParser) -> None:
        which = parser.add_mutually_exclusive_group(required=True)
        which.add_argument("--all", action="store_true", help="every clip whose original is still stored")
        which.add_argument("--camp", metavar="ID", help="the clips of one camp (its public id)")
        which.add_argument("--clip", metavar="ID", nargs="+", help="these clips (public ids)")

    def handle(self, **options: Any) -> None:
        counts = measure_again(_chosen(options), now=timezone.now())
        self.stdout.write(_sentence(counts))


def _chosen(options: dict[str, Any]) -> QuerySet[Clip]:
    try:
        if options["camp"]:
            clips = Clip.objects.filter(submission__camp__public_id=options["camp"])
        elif options["clip"]:
            clips = Clip.objects.filter(public_id__in=options["clip"])
        else:
            return Clip.objects.all()
        found = clips.exists()
    except ValidationError as error:
        raise CommandError(f"That is no public id: {'; '.join(error.messages)}") from error
    if not found:
        raise CommandError("No such clips. Give the public id as it stands in the address of the page.")
    return clips


def _sentence(counts: Counts) -> str:
    return (
        f"{counts.asked} sent to be measured, {counts.retried} failed ones tried again, "
        f"{counts.current} already measured by this version, {counts.gone} without a stored original."
    )
