"""A drawing of what a dial read round a turn: each figure, and the wave of one turn through them."""

from __future__ import annotations

from math import cos, radians

from rehang.trade.drawn.svg import short, svg, words_at
from rehang.trade.verdicts.round_turn import RoundTurn

__all__ = ["turn_svg"]

_WIDTH, _HEIGHT = 342.0, 210.0
# The plot within it.
_LEFT, _RIGHT, _TOP, _FOOT = 46.0, 330.0, 20.0, 164.0


def turn_svg(turn: RoundTurn, words: str) -> str:
    """Figures by degrees from the first, the last of a full turn being the first again."""
    fit, number = turn.fit, len(turn.points)
    reach = max(
        *(abs(one - fit.mean) for one in turn.points), fit.amplitude, 0.5
    )  # of a dial that never moved a line is drawn, half a step high
    middle = (_TOP + _FOOT) / 2

    def place(degrees: float, value: float) -> tuple[float, float]:
        x = _LEFT + (_RIGHT - _LEFT) * degrees / 360
        return x, middle - (value - fit.mean) / reach * (middle - _TOP - 8)

    def wave(degrees: float) -> float:
        return fit.mean + fit.amplitude * cos(radians(degrees) - fit.high_at)

    line = "L".join(
        f"{short(x)} {short(y)}" for x, y in (place(one, wave(one)) for one in range(0, 361, 5))
    )
    parts = [
        f'<path d="M{short(_LEFT)} {short(middle)}H{short(_RIGHT)}" class="turn-middle"/>',
        f'<path d="M{short(_LEFT)} {short(_FOOT)}H{short(_RIGHT)}" class="axis"/>',
        f'<path d="M{line}" class="turn-curve"/>',
    ]
    for degrees in range(0, 361, 90):
        x, _ = place(degrees, 0)
        parts.append(f'<path d="M{short(x)} {short(_FOOT)}v6" class="axis"/>')
        side = "end" if degrees == 360 else "middle"
        parts.append(words_at(x, _FOOT + 24, f"{degrees}°", "label-text", side))
    for at in range(number + 1):
        value = turn.points[at % number]
        x, y = place(at * 360 / number, value)
        _, onto = place(0, wave(at * 360 / number))
        parts.append(f'<path d="M{short(x)} {short(y)}V{short(onto)}" class="turn-apart"/>')
        again = " again" if at == number else ""
        parts.append(f'<circle cx="{short(x)}" cy="{short(y)}" r="6" class="turn-point{again}"/>')
    for value in (fit.mean + reach, fit.mean - reach):
        _, y = place(0, value)
        parts.append(words_at(_LEFT - 8, y + 5, f"{value:.1f}", "label-text", "end"))
    said = f"once a turn ±{fit.amplitude:.1f}, {fit.left_span:.1f} left, {turn.unit}"
    parts.append(words_at((_LEFT + _RIGHT) / 2, _HEIGHT - 4, said, "label-text"))
    return svg(_WIDTH, _HEIGHT, "turn-picture", words, parts)
