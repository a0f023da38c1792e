"""A mechanic's hands: taps on the pad, counted."""

from __future__ import annotations

import itertools
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
