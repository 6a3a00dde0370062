from __future__ import annotations

from datetime import datetime

from coachhub.celery import app


@app.task(name="feedback.tell_student", time_limit=120, soft_time_limit=100)
def tell_student(review_id: int) -> None:
    from django.utils import timezone

    from coachhub.feedback.domain.mailing import tell_of_answer

    tell_of_answer(review_id, now=timezone.now())


def send_lost_mail(now: datetime) -> int:
    """For the sweep: answers whose mail got lost on the way."""
    from coachhub.feedback.domain.mailing import untold

    ids = untold(now)
    for review_id in ids:
        tell_student.delay(review_id)
    return len(ids)


@app.task(name="feedback.convert_voice", time_limit=200, soft_time_limit=180)
def convert_voice(note_id: int) -> None:
    from django.utils import timezone

    from coachhub.feedback.domain.voice import convert_voice_note

    convert_voice_note(note_id, clock=timezone.now)


def send_lost_notes(now: datetime) -> int:
    """For the sweep: recordings that a dead worker left."""
    from coachhub.feedback.domain.voice import requeue_lost_notes

    return requeue_lost_notes(now)


@app.task(name="feedback.join_talk", time_limit=300, soft_time_limit=280)
def join_talk(talk_id: int) -> None:
    from django.utils import timezone

    from coachhub.feedback.domain.talks import join_takes

    join_takes(talk_id, clock=timezone.now)


@app.task(name="feedback.film_talk")
def film_talk(film_id: int) -> None:
    from django.utils import timezone

    from coachhub.feedback.domain.talk_films import make_film

    make_film(film_id, clock=timezone.now)


def send_lost_talks(now: datetime) -> int:
    """For the sweep: talks and films that a dead worker left, and takes that nobody came back for."""
    from coachhub.feedback.domain.talk_films import requeue_lost_films
    from coachhub.feedback.domain.talk_takes import drop_forgotten
    from coachhub.feedback.domain.talks import requeue_lost_talks

    drop_forgotten(now)
    return requeue_lost_talks(now) + requeue_lost_films(now)


@app.task(name="feedback.cover_case")
def cover_case(case_id: int) -> None:
    from django.utils import timezone

    from coachhub.feedback.domain.case_covering import make_case

    make_case(case_id, clock=timezone.now)


def send_lost_cases(now: datetime) -> int:
    """For the sweep: cases that a dead worker left."""
    from coachhub.feedback.domain.case_covering import requeue_lost_cases

    return requeue_lost_cases(now)
