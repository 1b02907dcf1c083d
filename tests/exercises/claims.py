"""What the replies to slips claim of the draw they answer: words of a reply, to what must then be true.

A predicate takes what was drawn (with its `answer`), the slip's value, and the match of the words.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from workbook.exercises.exercise import Drawn

Claim = Callable[[Any, float, re.Match[str]], bool]


def about(value: float, other: float) -> bool:
    """Whether two figures are the same but for the last digits of a float, or of what the text shows."""
    return abs(value - other) <= 2e-3 * abs(other)


CLAIMS: dict[str, Claim] = {
    # which way it is off
    r"60 times too large|multiplied by 9\.81": lambda d, v, _: v > d.answer,
    r"60 times too small|divided by 9\.81": lambda d, v, _: v < d.answer,
    r"that is in newton": lambda d, v, _: about(v * 1000 / 9.80665, d.answer),
    r"is too little": lambda d, v, _: v < d.answer,
    r"is too much|one cell too many|counted twice|the 4 is missing": lambda d, v, _: v > d.answer,
    r"one group too few|left out|leaves .* out|rounded down|wrap is there on both sides": (
        lambda d, v, _: v != d.answer
    ),
    r"rounded up": lambda d, v, _: d.answer < v < d.answer + 1.5,
    r"that many may carry less": lambda d, v, _: v < d.current / d.may,
    r"enough for a series piece": lambda d, v, _: v < d.answer,
    r"each cell would carry more": lambda d, v, _: d.peak / v > d.burst,
    r"more mass asks for more power": lambda d, v, _: v < d.watts < d.answer,
    r"more thrust than hover is asked for": lambda d, v, _: v < d.hover < d.answer,
    r"that only holds the craft up": lambda d, v, _: v == d.hover < d.answer,
    r"more power shortens": lambda d, v, _: v > d.plan * d.less > d.answer,
    r"more c is less time": lambda d, v, _: (v > 60) == (d.answer < 60),
    r"less voltage, less thrust": lambda d, v, _: d.sagged < d.table and v > d.thrust > d.answer,
    r"falls faster than voltage": lambda d, v, _: v > d.answer,
    r"power goes as voltage": lambda d, v, _: v < d.answer,
    r"warmth makes it less": lambda d, v, _: v > d.cold > d.answer,
    r"it also flies faster": lambda d, v, _: v < d.answer and d.faster > 1,
    r"fewer volts need more amperes": (
        lambda d, v, _: (d.volts < d.supply) == (d.answer > d.amps) == (v < d.amps)
    ),
    r"divides? the time": lambda d, v, _: v < d.answer,
    r"nominal is 3\.6 v": lambda d, v, _: v > d.answer,
    r"upside down": lambda d, v, _: any(about(v * d.answer, k) for k in (0.5, 1, 1000)),
    # what lies where
    r"from middle to middle": lambda d, v, _: v < d.answer,
    r"what falls inside is the change": lambda d, v, _: v > d.answer,
    r"the row below|lower row's": lambda d, v, _: v < d.answer,
    r"the row above|upper row's": lambda d, v, _: v > d.answer,
    r"watts rise faster": lambda d, v, _: v < d.answer,
    r"watts fall faster": lambda d, v, _: v > d.answer,
    r"the lower curve has a current": lambda d, v, _: d.low_a > 0 and v < d.answer,
    r"at the start only|lower all the way|full and at rest": lambda d, v, _: v > d.answer,
    r"there at the end": lambda d, v, _: v < d.answer,
    r"it rises all the way": lambda d, v, _: d.flight.end_a > d.flight.start_a and v > d.answer,
    r"charge (that )?is gone|part of that fall is charge": lambda d, v, _: v > d.answer,
    r"the higher voltage counts": lambda d, v, _: v < d.answer,
    r"pulls the voltage down": lambda d, v, _: v > d.rest_v > d.answer,
    r"under load the (voltage|cell) sags|at rest was taken": lambda d, v, _: v > d.answer,
    r"reserve is long gone": lambda d, v, _: d.down > d.may and v > d.answer,
    r"flies the pack empty": lambda d, v, _: v > d.answer,
    r"reserve is taken off twice|came off the other|stacked": lambda d, v, _: v < d.answer,
    r"standard charge is gentler": lambda d, v, _: d.standard < d.rated and v > d.answer,
    r"highest current": lambda d, v, _: d.highest > d.standard and v > d.answer,
    r"burst current.*seconds": lambda d, v, _: v > d.answer,
    r"the least of the two": lambda d, v, _: d.ceiling < d.burst and v > d.answer,
    r"above hover": lambda d, v, _: about(v + 1, d.answer) and v > 0,
    r"the whole, above 1": lambda d, v, _: d.answer > 1 and about(v + 1, d.answer),
    r"spread more than each": lambda d, v, _: d.answer > max(d.wind, d.table, d.cold),
    r"the largest alone": lambda d, v, _: v == max(d.wind, d.table, d.cold) < d.answer,
    r"all three bad at once": lambda d, v, _: v > d.answer,
    r"share of the cold": lambda d, v, _: about(v + d.answer, 100),
    r"as heavy as the rest gives (\d+) %": (
        # minutes go as m / (1 + m)^1.5 with m the pack over the rest; the longest flight has m = 2
        lambda d, v, found: (
            v == d.rest and int(found[1]) == round(100 * (1 / 2**1.5) / (2 / 3**1.5))
        )
    ),
    r"into the wind it takes longer|wind from behind": lambda d, v, _: v < d.answer,
    r"no margin for a gust": lambda d, v, _: v < d.answer,
    r"charger puts back more|charger's loss": lambda d, v, _: d.share < 100 and v > d.answer,
    r"amperes that were added": lambda d, v, _: v < d.answer,
    r"beaten ones": lambda d, v, _: v + d.answer == 7,
    r"both heavier and shorter|those are beaten": lambda d, v, _: v == 7 > d.answer,
    r"both ends are on the front": lambda d, v, _: v == 1 and d.answer >= 2,
    r"strongest group|the mean of the groups": lambda d, v, _: v > d.answer,
    r"every cell of a group as weak|the weakest cell": lambda d, v, _: v < d.answer,
    # how many there are
    r"for all (\d+) motors": lambda d, v, found: int(found[1]) == d.rotors and v > d.answer,
    r"for all motors": lambda d, v, _: about(v, d.answer * d.rotors),
    r"that is one motor's; there are (\d)": lambda d, v, f: int(f[1]) == d.rotors and v < d.answer,
    r"that is for one motor; the craft has (\d)": lambda d, v, f: int(f[1]) == d.rotors,
    r"the pack feeds them all": lambda d, v, _: about(v * d.rotors, d.answer),
    r"there are (\d) cells in parallel": (
        lambda d, v, found: (
            int(found[1]) == d.parallel > 1 and about(v * d.parallel, float(d.answer))
        )
    ),
    r"(\d) (cells in parallel|pieces side by side) share it|; (\d) cells share it": (
        lambda d, v, found: (
            int(found[1] or found[3]) == d.parallel > 1 and about(v, d.answer * d.parallel)
        )
    ),
    r"pack has (\d+) times as much": lambda d, v, f: int(f[1]) == d.series > 1,
    r"one of (\d) groups": lambda d, v, f: about(v * int(f[1]), d.answer),
    r"last pin, b(\d)": lambda d, v, f: int(f[1]) == d.series > d.pin,
    r"in one row": lambda d, v, _: d.rows > 1 and v > d.answer,
    # which figure it is
    r"nominal voltage, ([\d.]+) v; here a cell has ([\d.]+) v": (
        lambda d, v, f: (
            float(f[1]) == 3.6 and (v > d.answer) == (about_power(d) * (3.6 - float(f[2])) > 0)
        )
    ),
    r"full cell's voltage, ([\d.]+) v; here a cell has ([\d.]+) v": (
        lambda d, v, f: float(f[1]) == 4.2 > float(f[2]) and (v > d.answer) == (about_power(d) > 0)
    ),
    r"takes the label's ([\d.]+) v": lambda d, v, f: float(f[1]) == d.nominal_v != d.mean_v,
    r"a full pack's ([\d.]+) v": lambda d, v, f: about(float(f[1]), 6 * 4.2) and d.loaded < 25,
}
"""Of any reply: its words in small letters, to what must be true where it is said."""


def about_power(d: Any) -> int:
    """-1 where less voltage means more of what is asked: a current at a given power."""
    return -1 if hasattr(d, "cell_w") and hasattr(d, "loaded") else 1


COMPARES = re.compile(
    r"\b(lower|higher|more|less|fewer|too (?:much|little|small|large|many|few)|above|below|rises?|falls?"
    r"|faster|longer|shorter|gentler|gone|\d+ (?:motors|cells|times|groups)|there are \d+|strongest|weakest"
    r"|largest|nominal|full (?:cell|pack))\b"
)
"""Words by which a reply says something that could be false."""


def found_false(drawn: Drawn) -> list[str]:
    """The replies to a draw's slips whose claims are false, and those that claim what no predicate looks at."""
    wrong = []
    for reply, value in drawn.slips.items():
        text = reply.lower()
        held = [
            claim(drawn.given, value, found)
            for words, claim in CLAIMS.items()
            if (found := re.search(words, text))
        ]
        if not all(held) or (COMPARES.search(text) and not held):
            wrong.append(f"{reply} [{value:.4g}; right {drawn.expected:.4g}]")
    return wrong
