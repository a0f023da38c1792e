"""Charts drawn as SVG, for the page and for paper, from one specification.

The drawing is done in a process of its own, kept while it is used and let go after five minutes,
and each drawing is kept under the hash of its specification. On a page the colours are left to
the page's style sheet (classes ``fill-ink``, ``stroke-ink``), so one drawing serves every light; on
paper they stand in the file. Each part of the drawing carries ``data-part``.
"""

from __future__ import annotations

import atexit
import hashlib
import json
import re
import subprocess
import sys
import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from rehang.trade.drawn.chart_looks import PALETTES, part_of
from rehang.trade.drawn.chart_values import Chart, Sheet
from rehang.trade.drawn.charts import spec
from rehang.trade.terms.errors import Refused

__all__ = ["NotDrawn", "chart_svg", "draw", "dressed", "forget"]

_FOLDER = Path(__file__).parent
_SVG = "http://www.w3.org/2000/svg"
# The longest chart takes a tenth of a second; starting the process takes one.
_PATIENCE_S = 20.0
_IDLE_S = 300.0
_KEPT = 512

_LONG = re.compile(r"-?\d+\.\d{3,}")
# What the page says itself, or what says nothing.
_DROPPED = frozenset({"role", "class", "pointer-events", "font-family", "stroke-miterlimit"})


class NotDrawn(Refused):
    """The chart could not be drawn; the table beside it holds the same numbers."""


class _Worker:
    """The drawing process: started when first asked, stopped when nothing was asked for long."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: subprocess.Popen[str] | None = None
        self._idle: threading.Timer | None = None

    def ask(self, text: str) -> str:
        with self._lock:
            if self._idle is not None:
                self._idle.cancel()
            try:
                return self._ask(text)
            finally:
                self._idle = threading.Timer(_IDLE_S, self.stop)
                self._idle.daemon = True
                self._idle.start()

    def _ask(self, text: str) -> str:
        process = self._process
        if process is not None and process.poll() is not None:
            self._let_go()
            process = None
        if process is None:
            process = self._process = self._start()
        assert process.stdin is not None
        assert process.stdout is not None
        watch = threading.Timer(_PATIENCE_S, process.kill)
        watch.daemon = True
        watch.start()
        try:
            process.stdin.write(text + "\n")
            process.stdin.flush()
            line = process.stdout.readline()
        except OSError as reason:
            raise NotDrawn(_SENTENCE) from reason
        finally:
            watch.cancel()
        if not line:
            raise NotDrawn(_SENTENCE)
        answer = json.loads(line)
        if "refused" in answer:
            raise NotDrawn(f"{_SENTENCE} ({answer['refused'].splitlines()[0]})")
        return str(answer["svg"])

    def _start(self) -> subprocess.Popen[str]:
        # Only our own file and fonts are named; nothing a person wrote reaches the command line.
        return subprocess.Popen(  # noqa: S603
            [sys.executable, "-I", str(_FOLDER / "chart_worker.py"), str(_FOLDER / "fonts")],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            encoding="utf-8",
        )

    def stop(self) -> None:
        with self._lock:
            if self._idle is not None:
                self._idle.cancel()
            self._let_go()

    def _let_go(self) -> None:
        """Close the process's input, which ends it, and wait until it has ended."""
        process, self._process = self._process, None
        if process is None:
            return
        assert process.stdin is not None
        assert process.stdout is not None
        # What was not written to a process that died has nowhere to go.
        with suppress(OSError):
            process.stdin.close()
        process.wait(_PATIENCE_S)
        process.stdout.close()


_SENTENCE = "The chart could not be drawn here; the table holds the same numbers."
_WORKER = _Worker()
atexit.register(_WORKER.stop)
_drawn: OrderedDict[str, str] = OrderedDict()
_drawn_lock = threading.Lock()


def forget() -> None:
    """Stop the drawing process and let go of what was drawn."""
    _WORKER.stop()
    with _drawn_lock:
        _drawn.clear()


def chart_svg(chart: Chart, sheet: Sheet) -> str:
    """The chart as an SVG element, named by its sentence, each part marked.

    Raises
    ------
    NotDrawn
        The drawing process gave nothing back.
    """
    made = spec(chart, sheet)
    key = hashlib.sha256(
        json.dumps([made, sheet.mode], sort_keys=True, ensure_ascii=True).encode()
    ).hexdigest()
    with _drawn_lock:
        if key in _drawn:
            _drawn.move_to_end(key)
            return _drawn[key]
    svg = dressed(draw(made), made, sheet, chart.sentence, key[:10])
    with _drawn_lock:
        _drawn[key] = svg
        while len(_drawn) > _KEPT:
            _drawn.popitem(last=False)
    return svg


def draw(made: Mapping[str, Any]) -> str:
    """The bare SVG of a specification."""
    return _WORKER.ask(json.dumps(made, ensure_ascii=True))


def dressed(svg: str, made: Mapping[str, Any], sheet: Sheet, words: str, name: str) -> str:
    """A bare drawing with its parts named, its hatch laid on, and its colours given to the page.

    ``words`` are what it says to who cannot see it; ``name`` keeps its hatch apart from those of
    other drawings on the page.
    """
    ElementTree.register_namespace("", _SVG)
    # It comes from our own process out of our own specification.
    root = ElementTree.fromstring(svg)  # noqa: S314
    for ground in [child for child in root if child.tag == f"{{{_SVG}}}rect"]:
        root.remove(ground)
    keys = {layer["name"]: layer["data"]["values"] for layer in made["layer"]}
    _mark_parts(root, keys)
    _hatch(root, sheet, f"hatch-{name}")
    on_page = sheet.mode == "page"
    _clean(root, on_page=on_page)
    width, height = root.get("width", "0"), root.get("height", "0")
    for attribute in list(root.attrib):
        del root.attrib[attribute]
    root.attrib.update(
        {"viewBox": f"0 0 {width} {height}", "width": width, "height": height, "role": "img"}
    )
    root.set("aria-label", words)
    root.set("class", "chart-drawing")
    return ElementTree.tostring(root, encoding="unicode")


def _mark_parts(
    root: ElementTree.Element, values: Mapping[str, Sequence[Mapping[str, Any]]]
) -> None:
    """``data-part`` on each group, ``data-key`` on each reading's shapes."""
    for group in root.iter(f"{{{_SVG}}}g"):
        name = next(
            (
                one.removesuffix("_marks")
                for one in group.get("class", "").split()
                if one.endswith("_marks")
            ),
            "",
        )
        part = part_of(name)
        if part:
            group.set("data-part", part)
        rows = values.get(name, ())
        if part == "points" and len(rows) == len(group):
            for row, shape in zip(rows, group, strict=True):
                if row.get("key"):
                    shape.set("data-key", str(row["key"]))
                    title = ElementTree.SubElement(shape, f"{{{_SVG}}}title")
                    title.text = str(row["words"])


def _hatch(root: ElementTree.Element, sheet: Sheet, name: str) -> None:
    """Lines laid over the close-call bands: the drawing language has no hatch of its own."""
    bands = [g for g in root.iter(f"{{{_SVG}}}g") if "close_marks" in g.get("class", "").split()]
    if not bands:
        return
    step = 6 * sheet.scale
    ink = PALETTES[sheet.mode]["ink"]
    pattern = ElementTree.Element(
        f"{{{_SVG}}}pattern",
        {
            "id": name,
            "width": f"{step:g}",
            "height": f"{step:g}",
            "patternUnits": "userSpaceOnUse",
            "patternTransform": "rotate(45)",
        },
    )
    ElementTree.SubElement(
        pattern,
        f"{{{_SVG}}}path",
        {"d": f"M{step / 2:g} 0V{step:g}", "stroke": ink, "stroke-width": f"{1.6 * sheet.scale:g}"},
    )
    definitions = ElementTree.Element(f"{{{_SVG}}}defs")
    definitions.append(pattern)
    root.insert(0, definitions)
    for group in bands:
        for shape in list(group):
            over = ElementTree.SubElement(group, shape.tag, dict(shape.attrib))
            over.set("fill", f"url(#{name})")
            over.attrib.pop("stroke", None)


def _clean(root: ElementTree.Element, *, on_page: bool) -> None:
    """Leave out what says nothing; on a page, say a colour by its name."""
    names = {colour.lower(): token for token, colour in PALETTES["page"].items()}
    for parent in list(root.iter()):
        for child in list(parent):
            empty = child.get("d") in ("", "M0,0h0v0h0Z") or "background" in child.get("class", "")
            if child.tag == f"{{{_SVG}}}path" and empty:
                parent.remove(child)
    for one in root.iter():
        for attribute in list(one.attrib):
            if attribute.startswith("aria-") or (
                attribute in _DROPPED and (on_page or attribute != "font-family")
            ):
                del one.attrib[attribute]
            elif attribute in ("transform", "d", "x2", "y2", "x", "y"):
                one.attrib[attribute] = _LONG.sub(
                    lambda found: f"{float(found[0]):.2f}", one.attrib[attribute]
                )
        if on_page:
            kinds = []
            for attribute in ("fill", "stroke"):
                token = names.get(one.get(attribute, "").lower())
                if token:
                    del one.attrib[attribute]
                    kinds.append(f"{attribute}-{token}")
            if kinds:
                one.set("class", " ".join(kinds))
