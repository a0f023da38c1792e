"""Why the engine came off: what that asks, what the book answers, and the teardown."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from rehang.trade.known.why_off import documents_read, reasons_of, teardown_of
from rehang.trade.terms.kinds.decisions import TEARDOWN
from rehang.trade.terms.wording import at_time, listed, upper_first
from rehang.web.shared.desk import Desk, job_page, page

__all__ = ["why_off"]


@require_safe
@job_page
def why_off(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The reasons, the teardown, the documents and the tasks that they open."""
    facts, state = desk.judged.facts, desk.judged.state
    reasons, read = reasons_of(facts, state), documents_read(state)
    documents = dict.fromkeys(name for one in reasons for name in one.documents)
    opened = dict.fromkeys(name for one in reasons for name in one.tasks)
    decided = teardown_of(state)
    return page(
        request,
        desk,
        "work/why_off",
        current="rest",
        words=upper_first(listed([one.id for one in reasons])),
        sources=dict.fromkeys(one.source or "no source on file" for one in reasons),
        asks_teardown=any(one.teardown for one in reasons),
        outcomes=[(one, upper_first(one)) for one in TEARDOWN],
        decided=decided,
        decider=facts.person(decided.by) if decided is not None else "",
        documents=[
            (
                f"read-{number}",
                name,
                f"{read[name].fields.revision}, {facts.person(read[name].by)}, {at_time(read[name].at)}"
                if name in read
                else "",
            )
            for number, name in enumerate(documents)
        ],
        tasks=[desk.judged.work.tasks[one] for one in opened if one in desk.judged.work.tasks],
    )
