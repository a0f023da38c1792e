"""A hand at a form of a page: what it taps and what it keys, counted as on a phone.

A field costs a tap to reach it and a key for each character, and for each that has to be wiped
first; a choice and a button cost a tap. What stands in the form already costs nothing.
"""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any


class _Forms(HTMLParser):
    """The fields of the form that has a button of a given name, with what stands in them."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[dict[str, Any]] = []
        self._select = self._area = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        at = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.forms.append({"action": at.get("action", ""), "text": {}, "pick": {}, "press": []})
        if not self.forms:
            return
        form, name = self.forms[-1], at.get("name", "")
        if tag == "input" and at.get("type") in ("radio", "checkbox"):
            picks = form["pick"].setdefault(name, {})
            picks[at.get("value", "on")] = "checked" in at
        elif tag == "input" and name:
            form["text"][name] = at.get("value", "")
        elif tag == "textarea":
            self._area = name
            form["text"][name] = ""
        elif tag == "select":
            self._select = name
            form["pick"][name] = {}
        elif tag == "option" and self._select:
            picks = form["pick"][self._select]
            picks[at.get("value", "")] = "selected" in at
        elif tag == "button":
            form["press"].append((name, at.get("value", "")))

    def handle_data(self, data: str) -> None:
        if self._area:
            self.forms[-1]["text"][self._area] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            picks = self.forms[-1]["pick"][self._select]
            # A browser sends the first where none is picked.
            if picks and not any(picks.values()):
                picks[next(iter(picks))] = True
            self._select = ""
        if tag == "textarea":
            self._area = ""


class Hand:
    """One page in front of a person."""

    def __init__(self, client: Any) -> None:
        self.client = client
        self.taps = self.keys = 0
        self.at, self.page = "", None

    def open(self, path: str, *, tap: bool = True) -> None:
        """Follow a link."""
        self.taps += tap
        self._show(self.client.get(path, follow=True), path)

    def type(self, name: str, text: str) -> None:
        """Reach a field, wipe it and key."""
        before = self.form["text"][name]
        if before == text:
            return
        self.taps += 1
        self.keys += len(before) + len(text)
        self.form["text"][name] = text

    def pick(self, name: str, value: str) -> None:
        picks = self.form["pick"][name]
        assert value in picks, (name, value, picks)
        if picks[value]:
            return
        self.taps += 1
        for one in picks:
            picks[one] = one == value

    def press(self, value: str = "", **files: Any) -> None:
        """Tap a button of the form; the next page is then in front."""
        pressed = next(one for one in self.form["press"] if one[1] == value)
        self.taps += 1
        sent = dict(self.form["text"]) | files
        for name, picks in self.form["pick"].items():
            for one in (one for one, picked in picks.items() if picked):
                sent[name] = one
        if pressed[0]:
            sent[pressed[0]] = value
        to = self.form["action"] or self.at
        if to.startswith("?"):
            to = self.at.partition("?")[0] + to
        self._show(self.client.post(to, sent, follow=True), to)

    def _show(self, answer: Any, path: str) -> None:
        self.page = answer
        self.at = answer.redirect_chain[-1][0] if answer.redirect_chain else path
        read = _Forms()
        read.feed(answer.content.decode())
        # The form of the page, and not the light's or the one that only looks for something.
        asks = [f for f in read.forms if "mode" not in dict(f["press"]) and "q" not in f["text"]]
        self.form = asks[0] if asks else {}
