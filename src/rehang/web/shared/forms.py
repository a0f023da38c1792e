"""Forms of the pages: a field is declared once, and what is wrong with it is one sentence beside it.

A form checks no rule of its own. It takes what was typed to the trade layer and has the refusal
stand beside the field it names, the same words in the summary, with what was typed kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, ClassVar
from urllib.parse import urlencode

from django import forms
from django.forms.utils import ErrorDict
from django.http import HttpRequest

from rehang.trade.terms.errors import BadInput, Refused

__all__ = ["BenchForm", "Choose", "Pick", "Secret", "TextField"]


class TextField(forms.CharField):
    """One line that a person writes.

    ``asks`` is the sentence where nothing was written; without one it may stay empty. ``check``
    refuses what the trade layer cannot read. ``hinted`` says that its hint stands elsewhere on the
    page, under ``h-`` and its name.
    """

    def __init__(
        self,
        label: str = "",
        hint: str = "",
        *,
        asks: str = "",
        check: Callable[[str], object] | None = None,
        short: bool = False,
        hinted: bool = False,
        widget: forms.Widget | None = None,
        **attrs: str,
    ) -> None:
        super().__init__(
            label=label,
            help_text=hint,
            required=bool(asks),
            error_messages={"required": asks} if asks else None,
            widget=widget or forms.TextInput(attrs={"autocomplete": "off", **attrs}),
        )
        self.check = check
        self.short = short
        self.hinted = hinted

    def clean(self, value: Any) -> Any:
        """What was typed, without the spaces around it."""
        text = super().clean(value)
        if text and self.check is not None:
            try:
                self.check(text)
            except Refused as reason:
                raise forms.ValidationError(reason.sentence) from None
        return text


class Secret(TextField):
    """A PIN, a password or a code: never shown again, and its spaces count."""

    def __init__(
        self, label: str = "", *, asks: str = "", short: bool = False, **attrs: str
    ) -> None:
        own = {"autocomplete": "off", **attrs}
        super().__init__(label, asks=asks, short=short, widget=forms.PasswordInput(attrs=own))
        self.strip = False


class Pick(TextField):
    """One of a few, each its value and its words; what is not among them the trade layer refuses."""

    shown_as: ClassVar[type[forms.Select | forms.RadioSelect]] = forms.Select

    def __init__(
        self,
        label: str,
        choices: Sequence[tuple[str, str]],
        *,
        check: Callable[[str], object] | None = None,
    ) -> None:
        super().__init__(label, check=check, widget=self.shown_as(choices=choices))


class Choose(Pick):
    """The same, each a button to tap."""

    shown_as = forms.RadioSelect


class _Bound(forms.BoundField):
    """A field as it stands on a page."""

    @property
    def hint(self) -> str:
        return str(self.help_text)

    @property
    def short(self) -> bool:
        return isinstance(self.field, TextField) and self.field.short

    @property
    def is_buttons(self) -> bool:
        return isinstance(self.field, Choose)

    @property
    def wrong(self) -> str:
        """What is wrong with it, or nothing."""
        return str(next(iter(self.errors), ""))

    @property
    def aria_describedby(self) -> str | None:
        """The ids of the hint and of what is wrong, as ``_field.html`` writes them."""
        hinted = isinstance(self.field, TextField) and self.field.hinted
        told = [f"h-{self.name}"] if self.help_text or hinted else []
        told += [f"w-{self.name}"] if self.wrong else []
        return " ".join(told) or None

    def build_widget_attrs(
        self, attrs: dict[str, Any], widget: forms.Widget | None = None
    ) -> dict[str, Any]:
        """The first field that is wrong is where the keys go."""
        made: dict[str, Any] = super().build_widget_attrs(attrs, widget)
        is_first = bool(self.wrong) and getattr(self.form, "place", "") == self.name
        return {**made, "autofocus": True} if is_first else made


class BenchForm(forms.Form):
    """A form of a page. ``fallback`` is the field beside which a refusal stands that names none.

    ``groups`` are places of the page that a refusal may name and that are no field. One that is
    ``by_address`` shows what its address carries: what was typed before the way led elsewhere.
    """

    bound_field_class = _Bound
    use_required_attribute = False
    fallback = ""
    groups: tuple[str, ...] = ()
    by_address = False

    def __init__(self, request: HttpRequest, initial: Mapping[str, Any] | None = None) -> None:
        posted = request.POST if request.method == "POST" else None
        first = dict(initial or {})
        if self.by_address:
            first |= {k: request.GET[k] for k in self.base_fields if k in request.GET}
        super().__init__(posted, initial=first, auto_id="f-%s")
        self._elsewhere = ("", "")
        self._path = request.path

    def address(self, **more: str) -> str:
        """The page of the form with what was typed in it, to come back to."""
        typed = {name: str(self.data.get(name, "")) for name in self.fields} | more
        return f"{self._path}?{urlencode({k: v for k, v in typed.items() if v})}"

    def checked(self) -> dict[str, Any]:
        """What was typed, by name.

        Raises
        ------
        BadInput
            A field was left empty that may not be, or cannot be read.
        """
        for name, sentence in self.wrongs:
            raise BadInput(sentence, name)
        return self.cleaned_data

    @contextmanager
    def refusing(self) -> Iterator[None]:
        """Have what is refused inside said by the form."""
        try:
            yield
        except Refused as reason:
            self.refuse(reason)

    def refuse(self, reason: Refused) -> None:
        """Say beside its field, or in its place on the page, why what was typed is not taken."""
        if getattr(self, "_errors", None) is None:
            # Refused before its fields were looked at: they are not what is wrong.
            self._errors, self.cleaned_data = ErrorDict(), {}
        place = reason.where
        if place not in self.fields and place not in self.groups:
            place = self.fallback
        if place not in self.fields:
            self._elsewhere = (place, reason.sentence)
        elif place not in self.errors:
            self.add_error(place, reason.sentence)

    @property
    def wrongs(self) -> list[tuple[str, str]]:
        """All that is wrong, each with its field, in the order of the fields."""
        # Asking for them checks the fields; a form may have none.
        errors = self.errors
        found = [(name, str(errors[name][0])) for name in self.fields if name in errors]
        return found + [self._elsewhere] * bool(self._elsewhere[1])

    @property
    def place(self) -> str:
        """The field that the first sentence is about."""
        return self.wrongs[0][0] if self.wrongs else ""

    @property
    def sentence(self) -> str:
        """Why it was not taken, or nothing; where there is more than one reason, the first."""
        return self.wrongs[0][1] if self.wrongs else ""

    @property
    def status(self) -> int:
        return 422 if self.sentence else 200

    @property
    def shown(self) -> dict[str, Any]:
        """The form, and what the summary needs."""
        return {
            "form": self, "field": self.place, "sentence": self.sentence, "wrongs": self.wrongs
        }  # fmt: skip
