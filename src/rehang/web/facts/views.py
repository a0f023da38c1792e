"""What is on file: all kinds, the things of one, and the form of a thing.

Each page takes a :class:`Holder`, so that the same ones serve a job and the shop's own book.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods, require_safe

from rehang.book import members
from rehang.sheets.shipped import begun, shipped_texts
from rehang.sheets.things import ONE, ThingKind, drop, put, things_in
from rehang.sheets.toml_text import where_in
from rehang.trade.declared.published import schema_of
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.wording import upper_first
from rehang.web.facts import rows
from rehang.web.facts.forms import ThingForm
from rehang.web.facts.holder import DeskHolder, Holder
from rehang.web.facts.words import KINDS, plain_words
from rehang.web.shared.desk import Desk, SeeOther, book_page, writes

__all__ = [
    "job_kind",
    "job_kinds",
    "job_new",
    "job_thing",
    "kind_page",
    "kinds_page",
    "new_page",
    "thing_page",
]

# With fewer, one look finds what a search would.
MANY = 8
NOTHING = "# Nothing is on file.\n"


def kinds_page(request: HttpRequest, holder: Holder) -> HttpResponse:
    """Every kind of thing, what there is of it, and the way to its page."""
    return holder.page(request, "facts/kinds", groups=rows.groups(holder))


def kind_page(request: HttpRequest, holder: Holder, name: str) -> HttpResponse:
    """The things of one kind; of one that is there once, its form."""
    kind = _kind(holder, name)
    offered = _offered(holder, kind)
    if offered:
        return _begin(request, holder, kind, offered)
    if not kind.is_list:
        return thing_page(request, holder, name, ONE)
    asked = request.GET.get("q", "").strip()
    columns, found = rows.thing_rows(holder, kind, asked)
    return holder.page(
        request,
        "facts/kind",
        words=KINDS[name],
        columns=columns,
        rows=found,
        asked=asked,
        searched=bool(asked) or len(found) > MANY,
        own=holder.own_page(kind),
        **_ways(holder, kind),
    )


def new_page(request: HttpRequest, holder: Holder, name: str) -> HttpResponse:
    """A thing more."""
    kind = _kind(holder, name)
    if not kind.is_list or _offered(holder, kind):
        return SeeOther(holder.address("facts_kind", name))
    return _form_page(request, holder, kind, None, {})


def thing_page(request: HttpRequest, holder: Holder, name: str, key: str) -> HttpResponse:
    """One thing: seen, changed, or taken out."""
    kind = _kind(holder, name)
    held = things_in(holder.texts().get(kind.file, ""), kind)
    thing = held.get(key, rows.brought(kind).get(key))
    if thing is None and kind.is_list:
        raise BadInput(f'There is no {KINDS[name].one} "{key}" on file.')
    return _form_page(request, holder, kind, key, thing or {}, is_own=key in held)


def _kind(holder: Holder, name: str) -> ThingKind:
    found = holder.kinds().get(name)
    if found is None:
        raise BadInput(f'Nothing on file is called "{name}".')
    return found


def _ways(holder: Holder, kind: ThingKind) -> dict[str, Any]:
    """The addresses that the pages of a kind lead to."""
    return {
        "all_url": holder.address("facts"),
        "kind_url": holder.address("facts_kind", kind.name),
        "new_url": holder.address("facts_new", kind.name) if kind.is_list else "",
    }


# ---------------------------------------------------------------- what Rehang brings


def _offered(holder: Holder, kind: ThingKind) -> Mapping[str, str]:
    """What Rehang brings of a kind, for a job that has nothing of its own; else nothing."""
    text = holder.texts().get(kind.file, "")
    if things_in(text, kind) or rows.brought(kind):
        return {}
    # A sheet of its own with no rework has none.
    return {} if text.strip() and kind.file == "checks.toml" else shipped_texts(kind)


def _begin(
    request: HttpRequest, holder: Holder, kind: ThingKind, offered: Mapping[str, str]
) -> HttpResponse:
    """Take over what Rehang brings, to change it."""
    sentence = ""
    if request.method == "POST":
        try:
            chosen = offered.get(request.POST.get("from", ""))
            if chosen is None:
                raise BadInput("Pick what to begin with.")
            text = begun(holder.texts().get(kind.file, ""), kind, chosen)
            holder.check(kind.file, text)
            asked = holder.file(request, kind.file, text)
        except Refused as reason:
            sentence = _plain(reason, kind)
        else:
            if asked is not None:
                return asked
            _say(request, f"{KINDS[kind.name].title}: yours to change now.")
            return SeeOther(holder.address("facts_kind", kind.name))
    shown = [(name, upper_first(name.replace("-", " "))) for name in offered]
    return holder.page(
        request,
        "facts/begin",
        status=422 if sentence else 200,
        words=KINDS[kind.name],
        offered=shown,
        sentence=sentence,
        **_ways(holder, kind),
    )


# ---------------------------------------------------------------- one thing


def _form_page(
    request: HttpRequest,
    holder: Holder,
    kind: ThingKind,
    key: str | None,
    thing: Mapping[str, Any],
    *,
    is_own: bool = False,
) -> HttpResponse:
    form = ThingForm(
        request,
        kind,
        thing,
        taken_names=members.keys(),
        offered=holder.offered(kind),
        today=holder.today(),
    )
    if request.method == "POST":
        with form.refusing():
            if "drop" in request.POST and key is not None:
                answer = _drop(request, holder, kind, key)
            else:
                answer = _file(request, holder, kind, key, form)
            return answer
    words = KINDS[kind.name]
    return holder.page(
        request,
        "facts/thing",
        status=form.status,
        words=words,
        title=rows.name_of(key, thing) if key else "",
        named_by=key or "" if len(kind.key) == 1 else "",
        is_new=key is None,
        may_drop=is_own and kind.is_list,
        is_brought=is_own and key in rows.brought(kind),
        **_ways(holder, kind),
        **form.shown,
    )


def _file(
    request: HttpRequest, holder: Holder, kind: ThingKind, key: str | None, form: ThingForm
) -> HttpResponse:
    """File a thing as it was typed; the page that asks for the PIN, or the list it stands in."""
    text = holder.texts().get(kind.file, "")
    thing = form.table()
    new = kind.key_of(thing)
    if kind.is_list and new != key:
        _check_new_key(holder, kind, key, new)
    changed = put(text, kind, new if key is None else key, thing)
    try:
        holder.check(kind.file, changed)
        asked = holder.file(request, kind.file, changed)
    except Refused as reason:
        place = _place(reason.where, kind, new, changed, form)
        raise BadInput(_plain(reason, kind), place) from None
    if asked is not None:
        return asked
    name = rows.name_of(new, thing) if kind.is_list else KINDS[kind.name].title
    taken = " Each job on the board takes it with one tap." if holder.is_shop else ""
    _say(request, f"{name}: on file as you wrote it.{taken}")
    return SeeOther(holder.address("facts_kind", kind.name))


def _check_new_key(holder: Holder, kind: ThingKind, key: str | None, new: str) -> None:
    """Refuse a key that another thing has, or one in the place of a key that the book names."""
    one = KINDS[kind.name].one
    if new in things_in(holder.texts().get(kind.file, ""), kind):
        raise BadInput(f'There is a {one} "{new}" already. Give this one its own.', kind.key[0])
    if key is not None and len(kind.key) == 1:
        named = holder.named(kind, key)
        if named:
            raise BadInput(f"{named}, so it goes on being called that.", kind.key[0])


def _drop(request: HttpRequest, holder: Holder, kind: ThingKind, key: str) -> HttpResponse:
    """Take a thing out, where the book does not name it."""
    named = "" if key in rows.brought(kind) else holder.named(kind, key)
    if named:
        raise BadInput(f"{named}, so it stays on file.")
    changed = drop(holder.texts().get(kind.file, ""), kind, key)
    # The book keeps no blank text.
    changed = changed if changed.strip() else NOTHING
    try:
        holder.check(kind.file, changed)
        asked = holder.file(request, kind.file, changed)
    except Refused as reason:
        raise BadInput(_plain(reason, kind)) from None
    if asked is not None:
        return asked
    _say(request, f"{key} is taken out.")
    return SeeOther(holder.address("facts_kind", kind.name))


def _plain(reason: Refused, kind: ThingKind) -> str:
    """A refusal in the words of the page, with what it is about where that is another list."""
    schema = schema_of(kind.declaration)
    file = reason.where.partition(",")[0]
    about = ""
    if file.endswith(".toml") and file != kind.file:
        about = f"{plain_words(file, schema)}: "
    return about + plain_words(reason.sentence, schema)


def _place(where: str, kind: ThingKind, key: str, text: str, form: ThingForm) -> str:
    """The field of a form that stands in the line of a file that a refusal names."""
    line = where_in(kind.file, text)
    prefix: tuple[str | int, ...] = ()
    if kind.is_list:
        prefix = (kind.table, list(things_in(text, kind)).index(key))
    if where == line(*prefix):
        return ""
    for name in form.fields:
        path = [int(one) if one.isdigit() else one for one in name.split(".")]
        if line(*prefix, *path) == where:
            return name
    return ""


def _say(request: HttpRequest, sentence: str) -> None:
    request.session["said"] = {"sentence": sentence, "undo": ""}


# ---------------------------------------------------------------- of a job


def _of_job(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    @book_page
    @writes
    @wraps(view)
    def inner(request: HttpRequest, desk: Desk, **kwargs: str) -> HttpResponse:
        return view(request, DeskHolder(desk), **kwargs)

    return inner


_PAGE = ["GET", "HEAD", "POST"]
job_kinds = require_safe(_of_job(kinds_page))
job_kind = require_http_methods(_PAGE)(_of_job(kind_page))
job_new = require_http_methods(_PAGE)(_of_job(new_page))
job_thing = require_http_methods(_PAGE)(_of_job(thing_page))
