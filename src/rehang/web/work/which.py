"""Which tasks of the sheet are part of this job."""

from __future__ import annotations

from collections.abc import Sequence
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
from rehang.trade.terms.wording import listed
from rehang.trade.work.task_states import NOT_STARTED
from rehang.web.shared.desk import Desk, SeeOther, job_page, keeper, page, writes

__all__ = ["which_tasks"]

_ENGINE = THINGS["engine"]


@dataclass(frozen=True, slots=True)
class _Row:
    """A task to tick; what was begun stays, and is stopped with its reason instead.

    ``brings`` names the kinds of part that its checks are on and that the job does not inspect yet.
    """

    id: str
    title: str
    is_in: bool
    is_begun: bool
    brings: str


@dataclass(frozen=True, slots=True)
class _Stage:
    """The tasks of a stage; one that is wholly in, or wholly out, is folded."""

    name: str
    rows: tuple[_Row, ...]

    @property
    def number_in(self) -> int:
        return sum(row.is_in for row in self.rows)

    @property
    def is_partly(self) -> bool:
        return 0 < self.number_in < len(self.rows)


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
        # Of one that was put back before, too: what its checks are on is asked for from then on.
        brought = _brought([one for one in every if one.id not in out], judged)
        if brought:
            table["inspect"] = [*judged.facts.inspect, *brought]
        who, asked = keeper(request, desk, "say which tasks are part of the job")
        if asked is not None:
            return asked
        new = put(text, _ENGINE, ONE, table)
        services.file_text(job=desk.job, name=_ENGINE.file, text=new, by=who, at=timezone.now())
        said = f"{len(every) - len(out)} tasks are part of this job, {len(out)} are left out."
        if brought:
            said += f" Inspected now too: {listed(brought)}."
        request.session["said"] = {"sentence": said, "undo": ""}
        return SeeOther(reverse("web:rest", args=[desk.job.slug]))
    rows = [(one.stage, _row(one, judged)) for one in every]
    stages = [
        _Stage(name, tuple(row for _, row in ones))
        for name, ones in groupby(rows, lambda one: one[0])
    ]
    return page(request, desk, "work/which", current="rest", stages=stages)


def _row(task: Task, judged: JudgedJob) -> _Row:
    is_in = task.id in judged.facts.tasks
    return _Row(
        task.id, task.title, is_in, _is_begun(task, judged), listed(_brought([task], judged))
    )


def _brought(tasks: Sequence[Task], judged: JudgedJob) -> list[str]:
    """The kinds of part that checks of the tasks are on and that the job does not inspect.

    Without them nothing would be read, and the task would be done by saying so.
    """
    facts = judged.facts
    kinds = dict.fromkeys(kind for one in tasks for kind, _ in one.answers)
    # A run is no part; its figures are asked for by the runs themselves.
    return [k for k in kinds if k in facts.sheets and k not in (*facts.inspect, "run")]


def _is_begun(task: Task, judged: JudgedJob) -> bool:
    one = judged.work.tasks.get(task.id)
    return one is not None and one.state != NOT_STARTED
