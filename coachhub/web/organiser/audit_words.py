"""What was recorded, said to people."""

from __future__ import annotations

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from coachhub.progress.domain.audit import Entry
from coachhub.web.words import plain

VERBS = {
    "saw": _("looked at it"),
    "submission.opened": _("began to put it together"),
    "submission.amended": _("changed what was said with it"),
    "submission.sent": _("sent it"),
    "submission.usable": _("found usable"),
    "submission.refilm": _("to be filmed again"),
    "submission.answered": _("answered it"),
    "submission.withdrawn": _("took it back"),
    "clip.received": _("sent a clip"),
    "clip.playable": _("plays"),
    "clip.usable": _("usable"),
    "clip.refused": _("refused"),
    "clip.allowed": _("allowed a refused clip"),
    "clip.original_deleted": _("original deleted when its time was over"),
    "clip.films_deleted": _("films deleted when their time was over"),
    "videos.kept": _("wants the videos kept for a year more"),
    "videos.kept_no_longer": _("no longer wants the videos kept"),
    "submission.erased": _("deleted it for good"),
    "person.erased": _("everything of a person was deleted"),
    "takeaway.ordered": _("ordered a file of all data"),
    "case.begun": _("began a lesson from a swing"),
    "case.approved": _("looked a lesson through"),
    "case.posted": _("posted a lesson"),
    "case.named": _("agreed to be named with a lesson"),
    "case.unnamed": _("took the name off a lesson"),
    "case.taken_down": _("took a lesson down"),
    "sign.judged": _("judged a sign"),
    "sign.judgement_dropped": _("took a judgement back"),
    "swing.corrected": _("moved an event"),
    "swing.correction_dropped": _("took a moved event back"),
    "review.expected": _("expects a review"),
    "review.waiting": _("waits for a coach"),
    "review.claimed": _("took the review"),
    "review.released": _("gave the review back"),
    "review.deferred": _("put the review off"),
    "review.handed_over": _("handed the review over"),
    "review.reassigned": _("gave the review to another coach"),
    "review.asked": _("asked the student"),
    "review.answer_read": _("read the student's answer"),
    "review.published": _("published the answer"),
    "review.opened": _("opened the answer"),
    "review.dropped": _("dropped with what was sent"),
    "review.reply_settled": _("needs no reply"),
    "message.posted": _("wrote in the thread"),
    "practice.done": _("practised"),
    "priority.parked": _("kept something for later"),
    "priority.taken_up": _("took up what was kept for later"),
    "priority.dropped": _("dropped what was kept for later"),
    "drill.made": _("made a drill"),
    "drill.edited": _("changed a drill"),
    "drill.retired": _("took a drill out of the library"),
    "practice.unclear": _("does not understand the drill"),
    "practice.hurts": _("said that it hurts"),
    "finding.kept": _("kept a finding"),
    "finding.spoken_of": _("said what became of a finding"),
    "talk.recorded": _("recorded a talk"),
    "talk.removed": _("removed a talk"),
    "talk.film_ordered": _("had a film made"),
    "voice.recorded": _("recorded a voice note"),
    "voice.removed": _("removed a voice note"),
    "alert.cleared": _("cleared a pain alert"),
    "member.joined": _("joined"),
    "member.paused": _("paused the part"),
    "member.resumed": _("takes part again"),
    "member.left": _("ended the part"),
    "invitation.made": _("invited"),
    "invitation.used": _("came in by an invitation"),
    "invitation.withdrawn": _("took an invitation back"),
    "invitation.sent_again": _("mailed an invitation again"),
    "camp.made": _("made the camp"),
    "camp.copied": _("made the camp after another one"),
    "camp.edited": _("changed the camp"),
    "camp.closed": _("closed the camp"),
    "camp.open": _("opened the camp again"),
    "camp.bands_set": _("set the bands of the signs"),
    "cohort.made": _("made a cohort"),
    "cohort.renamed": _("renamed a cohort"),
    "map.changed": _("changed the cause map"),
    "lesson.given": _("gave a lesson"),
    "consent.given": _("gave consent"),
    "consent.withdrawn": _("withdrew consent"),
}
THINGS = {
    "videos.submission": _("submission"),
    "videos.clip": _("clip"),
    "swings.swing": _("swing"),
    "swings.readout": _("readout"),
    "feedback.review": _("review"),
    "feedback.thread": _("thread"),
    "feedback.message": _("message"),
    "feedback.practice": _("practice"),
    "feedback.parkedpriority": _("something kept for later"),
    "feedback.drill": _("drill"),
    "feedback.case": _("lesson from a swing"),
    "camps.membership": _("part in the camp"),
    "camps.camp": _("camp"),
    "camps.cohort": _("cohort"),
    "camps.invitation": _("invitation"),
    "accounts.user": _("person"),
}


def verb_words(entry: Entry) -> str:
    return str(VERBS.get(entry.verb) or plain(entry.verb.replace(".", ": ")))


def thing_words(entry: Entry) -> str:
    return str(THINGS.get(entry.thing) or plain(entry.thing.partition(".")[2]))


def detail_words(entry: Entry) -> str:
    """Codes and names of fields only: nothing private is ever recorded there."""
    shown = {key: value for key, value in entry.detail.items() if key not in ("to", "from_camp")}
    return ", ".join(f"{plain(key)}: {_value(value)}" for key, value in sorted(shown.items()))


def _value(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(plain(str(one)) for one in value)
    return gettext("yes") if value is True else plain(str(value))
