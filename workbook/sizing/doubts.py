"""Doubts about a design's inputs: figures that can be but are not likely, to be looked at before it flies.

The rules stand in one table, `workbook/data/doubts.toml`, which says how to add one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from workbook.battery.pack import Pack
from workbook.data.tables import data_sections
from workbook.errors import Problem
from workbook.quantities import unit_of
from workbook.sizing.design import Design
from workbook.sizing.plausibility import BenchInputs, Inputs, PhaseInputs


@dataclass(frozen=True)
class Doubt:
    """One figure that is unlikely, and what it would mean if it is a slip.

    Attributes:
        key: short name of the rule, in lower case with underscores.
        about: its subject, the word that answers it in a design's `sure`: "mass", "table", "cell".
        text: one sentence: which figure, its value, what it would mean, what is usual.
        answered: whether the builder has said to be sure of that subject.

    Example:
        >>> doubt = Doubt("craft_mass", "mass", "craft.mass_without_pack_g is 2.1 g; ...")
        >>> doubt.answer
        'if it is right, say that you are sure of "mass": in the design file sure = ["mass"]'
        >>> answered((doubt,), ["mass"])[0].answered
        True
    """

    key: str
    about: str
    text: str
    answered: bool = False

    @property
    def answer(self) -> str:
        """How to answer it, in words."""
        return (
            f'if it is right, say that you are sure of "{self.about}": in the design file '
            f'sure = ["{self.about}"]'
        )

    @property
    def line(self) -> str:
        """The doubt on one line, as answered where it is."""
        if self.answered:
            return f'answered, sure = ["{self.about}"]: {self.text}'
        return f"doubt about {self.about}: {self.text} {self.answer[0].upper()}{self.answer[1:]}."


def answered(doubts: tuple[Doubt, ...], sure: Collection[str]) -> tuple[Doubt, ...]:
    """The doubts, each marked where the builder is sure of its subject.

    Args:
        doubts: as raised.
        sure: subjects that the builder has checked, as a design's `sure` lists them.
    """
    return tuple(replace(doubt, answered=doubt.about in sure) for doubt in doubts)


@dataclass(frozen=True, eq=False)
class DoubtRule:
    """The definition of one doubt: a block of the table, which says what each field is."""

    key: str
    about: str
    figure: str
    of: str
    source: str
    over: str = ""
    percent: bool = False
    zero_is_none: bool = False
    least: float = -float("inf")
    most: float = float("inf")
    low: str = ""
    high: str = ""
    name: str = ""

    def text(self, inputs: Any, origin: Any, where: str = "") -> str:
        """What is doubted, in one sentence; empty where nothing is.

        Args:
            inputs: what the paths `of` and `over` begin at.
            origin: what the path `figure` begins at.
            where: put before the figure's name.
        """
        found = self._looked_at(inputs)
        if self.least <= found <= self.most or np.isnan(found):
            return ""
        meaning = (self.low if found < self.least else self.high).format(x=found, s=inputs)
        if not self.figure:
            return where + meaning
        value, last = _followed(origin, self.figure), self.figure.rpartition(".")[2]
        name = self.name or self.figure.removeprefix("phase.")
        return f"{where}{name} is {value:.4g} {unit_of(last)}".rstrip() + f"; {meaning}"

    def _looked_at(self, inputs: Any) -> float:
        """The figure, or its share of the other one; NaN where there is none."""
        found = _followed(inputs, self.of)
        if self.zero_is_none and found == 0.0:
            return np.nan
        if not self.over:
            return found
        whole = _followed(inputs, self.over)
        return (100.0 if self.percent else 1.0) * found / whole if whole > 0.0 else np.nan


def _followed(start: Any, path: str) -> float:
    """The figure at the end of a path; NaN where something on the way is not there."""
    for name in path.split("."):
        start = getattr(start, name, None)
        if start is None:
            return np.nan
    return float(start.max() if isinstance(start, np.ndarray) else start)


_BLOCKS = data_sections("doubts.toml")

DOUBT_RULES = tuple(DoubtRule(**block) for block in _BLOCKS["doubt"])
"""Every doubt about an input, in the order in which they are shown."""

PHASE_RULES = tuple(DoubtRule(**block) for block in _BLOCKS["phase"])
"""Every doubt about a phase of a mission."""

BENCH_RULES = tuple(DoubtRule(**block) for block in _BLOCKS["bench"])
"""Every doubt about what is at the bench."""

SUBJECTS = tuple(
    sorted(
        {"cell", "club", "table", *(r.about for r in (*DOUBT_RULES, *PHASE_RULES, *BENCH_RULES))}
    )
)
"""What there can be a doubt about, a reader's doubts about the cell, the club's rules and the table among them."""


def input_doubts(design: Design[Any], point: Any) -> tuple[Doubt, ...]:
    """Every doubt about the inputs of a single design.

    Args:
        design: the design.
        point: its operating point.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> from workbook.sizing.craft_types import operate
        >>> six = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> slip = six.changed(reserve_pct=0.2)
        >>> [doubt.about for doubt in input_doubts(slip, operate(slip))]
        ['reserve']
    """
    inputs = Inputs(design, point)
    found = [(rule, rule.text(inputs, design)) for rule in DOUBT_RULES]
    for number, phase in enumerate(design.mission, 1):
        of_phase = PhaseInputs(phase, float(design.craft.mass_without_pack_g))
        where = f"mission phase {number} ({phase.label or phase.kind}): "
        found += [(rule, rule.text(of_phase, of_phase, where)) for rule in PHASE_RULES]
    return tuple(Doubt(rule.key, rule.about, text) for rule, text in found if text)


def bench_doubts(bench: Any, pack: Pack) -> tuple[Problem, ...]:
    """Every doubt about the `[bench]` section of a design file, as notices of its reader.

    Args:
        bench: the section, its figures under their names in the file.
        pack: the pack that it is for.

    Example:
        >>> from types import SimpleNamespace
        >>> from workbook.files.cell_file import find_cell
        >>> stated = dict.fromkeys(
        ...     (
        ...         "bay_length_mm",
        ...         "bay_width_mm",
        ...         "bay_height_mm",
        ...         "strip_width_mm",
        ...         "strip_thickness_mm",
        ...         "charger_max_a",
        ...         "charger_max_w",
        ...     )
        ... )
        >>> usual = {
        ...     "holder_gap_mm": 0.0,
        ...     "holder_g": 0.0,
        ...     "padding_mm": 0.0,
        ...     "balance_lead_mm": 150.0,
        ... }
        >>> bench = SimpleNamespace(**stated, **usual, lead_mm=0.12)
        >>> print(*bench_doubts(bench, Pack(find_cell("Bittern"), 4, 2)))
        bench.lead_mm is 0.12 mm; 80 to 300 mm is usual; is it in cm, m or inches?
    """
    inputs = BenchInputs(bench, pack)
    found = ((rule, rule.text(inputs, inputs)) for rule in BENCH_RULES)
    return tuple(Problem(text, about=rule.about) for rule, text in found if text)


def doubts(design: Design[Any], point: Any, notices: Iterable[Problem] = ()) -> tuple[Doubt, ...]:
    """Every doubt about a single design, those that its `sure` names marked as answered.

    Args:
        design: the design.
        point: its operating point.
        notices: of the readers of its files; those with a subject are doubts.
    """
    read = (Doubt(f"{n.about}_file", n.about, str(n)) for n in notices if n.about)
    return answered((*read, *input_doubts(design, point)), design.sure)
