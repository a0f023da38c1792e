"""Turns Vega-Lite specifications into SVG, one line in and one line out, in a process of its own.

Run by path, so that nothing of ours is loaded: the renderer holds its interpreter while it
draws, and the pages must go on. A line is ``{"spec": ..., "png": scale or null}``; the answer is
``{"svg": text}`` or ``{"refused": why}``. It ends when its input does.
"""

from __future__ import annotations

import json
import sys

import vl_convert

VERSION = "6.4"


def main() -> None:
    """Draw until there is nothing more to draw. The argument is the folder of the fonts."""
    vl_convert.register_font_directory(sys.argv[1])
    for line in sys.stdin:
        try:
            # No address may be fetched from: a chart holds all of its values.
            svg = vl_convert.vegalite_to_svg(
                json.loads(line), vl_version=VERSION, allowed_base_urls=[]
            )
            answer = {"svg": svg}
        except ValueError as reason:
            answer = {"refused": str(reason)}
        sys.stdout.write(json.dumps(answer) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
