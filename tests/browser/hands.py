"""A mechanic's hands: taps on the pad and on the pages, counted."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from time import monotonic
from typing import Any

# NEXT and the words are dead for 250 ms after they acted; a hand is slower than that.
REST_MS = 270
# The same key again within 60 ms of its release is a bounce; a hand is slower than that too.
SAME_KEY_MS = 70


_rests = itertools.count(1)


def rest(page: Any, ms: int = REST_MS) -> None:
    """Wait by the page's own clock, which starts once what was tapped has been acted on.

    A tap may lead to another page: the rest is then taken there, from its start.
    """
    page.wait_for_function(
        """([rest, ms]) => {
          if (window.restAt?.rest !== rest) window.restAt = {rest, from: performance.now()};
          return performance.now() - window.restAt.from >= ms;
        }""",
        arg=[next(_rests), ms],
        polling=10,
    )


class Hands:
    """Taps one control after another and counts them."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.taps = 0

    def tap(self, name: str) -> None:
        self.page.locator(name).tap()
        self.taps += 1

    def key(self, digits: str) -> None:
        before = ""
        for digit in digits:
            if digit == before:
                rest(self.page, SAME_KEY_MS)
            before = digit
            self.tap(f'[data-face="number"] [data-key="{digit}"]')

    def next(self) -> None:
        """NEXT, and wait until it has been kept on the device."""
        self.tap('[data-key="next"]')
        rest(self.page)

    def read(self, digits: str) -> None:
        self.key(digits)
        self.next()

    def word(self, face: str, word: str) -> None:
        kind = "look" if face == "look" else "word"
        self.tap(f'[data-face="{face}"] [data-{kind}="{word}"]')
        rest(self.page)

    def next_test(self) -> None:
        self.tap('[data-face="done"] [data-act="next-test"]')
        rest(self.page)

    def meter(self, name: str) -> None:
        self.tap(f'[data-face="no-meter"] [data-meter="{name}"] >> nth=0')


def settled(page: Any) -> None:
    """Wait until what was keyed is on the device, sent and shown."""
    rest(page, 120)
    page.evaluate("async () => (await import('/static/shared/outtray.js')).flush()")
    page.wait_for_selector('body[data-waiting="0"]:not([data-fetching="1"])')


class Walk:
    """One person's taps and keys, counted for each leg of the walk, with the machine's seconds."""

    def __init__(self, page: Any, pins: Mapping[str, str]) -> None:
        self.page = page
        self.pins = pins
        self.legs: dict[str, list[int]] = {}
        self.seconds: dict[str, float] = {}
        self._leg = [0, 0]

    @contextmanager
    def leg(self, name: str) -> Iterator[None]:
        self._leg = self.legs.setdefault(name, [0, 0])
        began = monotonic()
        yield
        self.seconds[name] = self.seconds.get(name, 0.0) + monotonic() - began

    def count(self, taps: int, keys: int = 0) -> None:
        """Count what was tapped and keyed by other hands."""
        self._leg[0] += taps
        self._leg[1] += keys

    def go(self, what: Any) -> None:
        """Tap what leads to another page, or to this one anew, and wait for it."""
        with self.page.expect_navigation() as came:
            what.tap()
        self._leg[0] += 1
        # The database of a test lies in memory, where a reader beside a writer is turned away at once
        # and told to try again: once, as a person would.
        if came.value is not None and came.value.status == 503:
            self.page.reload()

    def tap(
        self, name: str | re.Pattern[str], role: str = "button", *, exact: bool = False
    ) -> None:
        self.on(self.page.get_by_role(role, name=name, exact=exact).first)

    def link(self, name: str | re.Pattern[str]) -> None:
        self.tap(name, "link")

    def on(self, what: Any) -> None:
        """Tap it, and wait until a page it leads to is there."""
        what.tap()
        self._leg[0] += 1
        self.page.wait_for_load_state()

    def word(self, text: str) -> None:
        """Tap one of the words to pick from."""
        self.on(self.page.locator(".pick label, .word-set label").filter(has_text=text).first)

    def key(self, label: str | re.Pattern[str], text: str) -> None:
        self.key_into(self.page.locator("main").get_by_label(label).first, text)

    def key_into(self, field: Any, text: str) -> None:
        """Tap into a field and key what goes into it."""
        field.fill(text)
        self._leg[0] += 1
        self._leg[1] += len(text)

    def pin(self, who: str, button: str = "CONFIRM") -> None:
        self.key("Your PIN", self.pins[who])
        self.tap(button)

    def sees(self, text: str | re.Pattern[str]) -> None:
        self.page.get_by_text(text).locator("visible=true").first.wait_for()

    def says(self) -> str:
        """All that the page says, in one line."""
        return " ".join(str(self.page.locator("main").inner_text()).split())

    def counted(self) -> tuple[int, int]:
        """Taps and keys of all legs."""
        taps, keys = (sum(one[n] for one in self.legs.values()) for n in (0, 1))
        return taps, keys

    def told(self) -> str:
        taps, keys = self.counted()
        each = "; ".join(f"{name} {t} taps, {k} keys" for name, (t, k) in self.legs.items())
        return f"{taps} taps and {keys} keys: {each}"
