"""Which tasks of the sheet are part of this job."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from rehang.book import queries, services
from rehang.sheets.things import ONE, THINGS, put, things_in
from rehang.trade.facts.tasks import Task
from rehang.trade.job.judging import JudgedJob
from rehang.trade.work.task_states import NOT_STARTED
from rehang.web.shared.desk import Desk, SeeOther, job_page, keeper, page, writes

__all__ = ["which_tasks"]

_ENGINE = THINGS["engine"]


@dataclass(frozen=True, slots=True)
class _Row:
    """A task to tick; what was begun stays, and is stopped with its reason instead."""

    id: str
    title: str
    is_in: bool
    is_begun: bool


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def which_tasks(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every task of the sheet by its stage; a post leaves out what is not ticked."""
    judged = desk.judged
    every = sorted(
        [*judged.facts.tasks.values(), *judged.facts.left_out.values()], key=lambda one: one.order
    )
    if request.method == "POST":
        wanted = set(request.POST.getlist("task"))
        out = [one.id for one in every if one.id not in wanted and not _is_begun(one, judged)]
        text = queries.files(desk.job)[_ENGINE.file]
        table = {**things_in(text, _ENGINE)[ONE], "left_out": out}
        if not out:
            del table["left_out"]
        who, asked = keeper(request, desk, "say which tasks are part of the job")
        if asked is not None:
            return asked
        new = put(text, _ENGINE, ONE, table)
        services.file_text(job=desk.job, name=_ENGINE.file, text=new, by=who, at=timezone.now())
        said = f"{len(every) - len(out)} tasks are part of this job, {len(out)} are left out."
        request.session["said"] = {"sentence": said, "undo": ""}
        return SeeOther(reverse("web:rest", args=[desk.job.slug]))
    rows = [(one.stage, _row(one, judged)) for one in every]
    stages = [(name, [row for _, row in ones]) for name, ones in groupby(rows, lambda one: one[0])]
    return page(request, desk, "work/which", current="rest", stages=stages)


def _row(task: Task, judged: JudgedJob) -> _Row:
    return _Row(task.id, task.title, task.id in judged.facts.tasks, _is_begun(task, judged))


def _is_begun(task: Task, judged: JudgedJob) -> bool:
    one = judged.work.tasks.get(task.id)
    return one is not None and one.state != NOT_STARTED
