"""The command line.

Exit code 0: every limit that could be checked holds; 1: one is broken, or one of pack or flight could not be
checked, or a doubt is open; 2: input that cannot be used, or a failure of any other kind; 130: stopped from
the keyboard.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from workbook import __version__
from workbook.console import BROKEN, HOLDS, guarded, say, say_json, tell
from workbook.errors import LONGEST_SENTENCE, shortened, visible

if TYPE_CHECKING:
    from workbook.files.design_file import DesignFile


class _Parser(argparse.ArgumentParser):
    """A parser whose messages repeat what was typed on one line, and not at length."""

    def error(self, message: str) -> NoReturn:
        super().error(shortened(visible(message), LONGEST_SENTENCE))


def _size(options: argparse.Namespace) -> int:
    from workbook.files.design_file import read_design
    from workbook.sheet.text import result_report
    from workbook.sizing.remedy import remedy
    from workbook.sizing.size import size

    file = read_design(options.design, anywhere=options.anywhere)
    if options.tables:
        return _tables(file, as_json=options.json)
    answer = size(file.design, notices=file.notices)
    way = remedy(answer, file.cells)
    if options.short and not options.json:
        from workbook.sheet.tables import short_report

        print(short_report(answer, way))
    elif options.json:
        told = {**answer.as_dict(), "remedy": way}
        if options.working:
            told["working"] = [vars(step) for step in answer.working]
        say_json(told)
    else:
        whole = options.all or options.working
        print(result_report(answer, whole=whole, with_working=options.working, remedy=way))
    tell(answer.reasons)
    return HOLDS if answer.holds else BROKEN


def _tables(file: DesignFile, *, as_json: bool) -> int:
    from workbook.files.design_file import tables_of
    from workbook.sheet.text import tables_text
    from workbook.sizing.compare import compare_tables

    rows = compare_tables(file.design, tables_of(file))
    if as_json:
        say_json([row.as_dict() for row in rows])
    else:
        print(tables_text(rows))
    return HOLDS if all(row.holds for row in rows if row.in_use) else BROKEN


def _new(options: argparse.Namespace) -> int:
    from workbook.files.new_design import write_new_design

    for path in write_new_design(options.name, options.kind):
        say(f"Written: {path}")
    say("Every figure in it is assumed; measure them one by one, and size it as you go.")
    return HOLDS


def _compare(options: argparse.Namespace) -> int:
    from workbook.files.design_file import read_design
    from workbook.sheet.tables import designs_text
    from workbook.sizing.compare import compare
    from workbook.sizing.size import size

    files = [read_design(path, anywhere=options.anywhere) for path in options.designs]
    answers = [size(file.design, notices=file.notices) for file in files]
    changes = [compare(answers[0], other) for other in answers[1:]]
    if options.json:
        say_json([answer.as_dict() for answer in answers])
    else:
        print(designs_text(answers, changes[0] if len(changes) == 1 else None))
    return HOLDS if all(answer.holds for answer in answers) else BROKEN


def _budget(options: argparse.Namespace) -> int:
    from workbook.files.budget_file import read_budget
    from workbook.files.design_file import read_design
    from workbook.sheet.tables import budget_text
    from workbook.sizing.budget import budget

    design = read_design(options.design, anywhere=options.anywhere).design
    lines = None if options.lines is None else read_budget(options.lines)
    found = budget(design, lines, draws=options.draws)
    if options.json:
        say_json(found.as_dict())
    else:
        print(budget_text(found))
    return HOLDS if not found.met_pct < HALF_PCT else BROKEN


def _conditions(options: argparse.Namespace) -> int:
    from workbook.files.design_file import read_design
    from workbook.sheet.tables import situations_text
    from workbook.sizing.situations import situations

    found = situations(read_design(options.design, anywhere=options.anywhere).design)
    if options.json:
        say_json([one.as_dict() for one in found])
    else:
        print(situations_text(found))
    return HOLDS if found[0].result.holds else BROKEN


def _sweep(options: argparse.Namespace) -> int:
    from workbook.files.design_file import read_design
    from workbook.files.writing import write_text
    from workbook.sheet.tables import sweep_text
    from workbook.sizing.sweep import sweep

    file = read_design(options.design, anywhere=options.anywhere)
    design = file.design
    found = sweep(
        design,
        file.cells,
        options.series or [int(design.pack.series)],
        options.parallel or range(1, int(design.pack.parallel) + 5),
        axes=dict(options.vary),
    )
    if options.csv is not None:
        write_text(options.csv, found.csv(), overwrite=options.overwrite, inputs=file.inputs)
        tell([f"{visible(str(options.csv))}: {len(found)} packs, {len(found.survivors())} hold."])
    if options.json:
        say_json(found.as_dict())
    elif options.csv is None:
        print(sweep_text(found))
    return HOLDS if len(found.survivors()) else BROKEN


def _whole_numbers(text: str) -> list[int]:
    """`6` or `4-8` as whole numbers."""
    first, _, last = text.partition("-")
    try:
        least, most = int(first), int(last or first)
    except ValueError:
        least = most = 0
    if not 1 <= least <= most <= MOST_CELLS:
        raise argparse.ArgumentTypeError(
            f"{text!r}; a number of cells or a range as 4-8 is needed, 1 to {MOST_CELLS}."
        )
    return list(range(least, most + 1))


def _path(text: str) -> Path:
    if "\0" in text:
        raise argparse.ArgumentTypeError("no file name can hold the character \\x00.")
    return Path(text)


def _varied(text: str) -> tuple[str, list[float]]:
    """`payload_g=0,200,400` as a key and its values."""
    key, _, values = text.partition("=")
    try:
        return key, [float(value) for value in values.split(",")]
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r}; a key and its values as payload_g=0,200,400 are needed."
        ) from None


MOST_CELLS = 100
"""In series or in parallel, tried by a sweep at the prompt."""

HALF_PCT = 50.0
"""Of a hundred flights, those that must last the time asked."""


def _sheet(options: argparse.Namespace) -> int:
    from workbook.files.design_file import read_design
    from workbook.sheet.build import write_sheet

    file = read_design(options.design, anywhere=options.anywhere)
    sheet = write_sheet(
        file, options.output, paper=options.paper, cells=options.cells, overwrite=options.overwrite
    )
    say(f"{sheet.path}: open it in a browser and print it.")
    tell(sheet.broken_texts)
    return HOLDS if sheet.holds else BROKEN


def _schema(options: argparse.Namespace) -> int:
    from workbook.files.design_file import design_schema

    say_json(design_schema())
    return HOLDS


def _open(options: argparse.Namespace) -> int:
    from workbook.opening import open_workbook

    return open_workbook(options.folder, browser=not options.no_browser)


def _editions(options: argparse.Namespace) -> int:
    from workbook.lessons.teaching.editions import write_editions

    done = write_editions(options.folder, seed=options.seed, copies=options.copies)
    for folder, seed in zip(done.learners, done.seeds, strict=True):
        say(f"{folder}: for learners, no answers in it; numbers {seed}")
    say(f"{done.instructors}: with solutions, and the answers of every copy in {done.key.name}")
    return HOLDS


def _worksheet(options: argparse.Namespace) -> int:
    from workbook.lessons.teaching.worksheet import write_worksheet

    lessons = write_worksheet(
        options.lesson,
        options.output,
        answers=options.answers,
        paper=options.paper,
        seed=options.seed,
    )
    what = "1 lesson" if len(lessons) == 1 else f"{len(lessons)} lessons"
    say(f"{options.output}: {what}; open it in a browser and print it.")
    return HOLDS


def _test(options: argparse.Namespace) -> int:
    from workbook.checking import run_checks

    return run_checks(everything=options.all)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="workbook", description=__doc__)
    parser.add_argument("--version", action="version", version=f"workbook {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def command(
        name: str, run: Callable[[argparse.Namespace], int], text: str, example: str = ""
    ) -> argparse.ArgumentParser:
        told = f"Example: workbook {name} {example}".rstrip()
        sub = commands.add_parser(name, help=text, description=text, epilog=told)
        sub.set_defaults(run=run)
        return sub

    def reaching(sub: argparse.ArgumentParser) -> None:
        about = "let a design take its table and cells from outside its own folders"
        sub.add_argument("--anywhere", action="store_true", help=about)

    def one_design(sub: argparse.ArgumentParser) -> None:
        sub.add_argument("design", type=_path, metavar="DESIGN")
        reaching(sub)

    def with_design(sub: argparse.ArgumentParser) -> None:
        one_design(sub)
        sub.add_argument("--json", action="store_true", help="print JSON")

    six = "notebooks/designs/survey_six.toml"
    sub = command("size", _size, "Size the pack of a design file and check every limit.", six)
    with_design(sub)
    sub.add_argument("--short", action="store_true", help="verdict, six figures, what is broken")
    sub.add_argument("--all", action="store_true", help="every figure, limit and note")
    sub.add_argument("--working", action="store_true", help="print how each figure came about")
    sub.add_argument("--tables", action="store_true", help="compare the thrust tables of its file")

    sub = command("new", _new, "Begin a design of your own, every figure assumed.", "heron.toml")
    sub.add_argument("name", type=Path, metavar="NAME", help="of the craft, or path of its file")
    sub.add_argument("--kind", choices=("multirotor", "fixed wing"), default="multirotor")

    sub = command(
        "compare",
        _compare,
        "Put designs of one type of craft side by side.",
        "mine.toml other.toml",
    )
    sub.add_argument("designs", type=_path, nargs="+", metavar="DESIGN")
    reaching(sub)
    sub.add_argument("--json", action="store_true", help="print JSON")

    sub = command("budget", _budget, "What reality may take from the plan, line by line.", six)
    with_design(sub)
    sub.add_argument(
        "--lines", type=_path, metavar="TOML", help="budget file with lines of one's own"
    )
    sub.add_argument("--draws", type=int, default=4096, metavar="N", help="simulated flights")

    sub = command(
        "sweep",
        _sweep,
        "Try every cell with other numbers in series and parallel.",
        f"{six} --series 5-7 --csv packs.csv",
    )
    with_design(sub)
    sub.add_argument(
        "--series", type=_whole_numbers, metavar="S", help="as 6 or 4-8; the design's own"
    )
    sub.add_argument("--parallel", type=_whole_numbers, metavar="P", help="as 3 or 1-6")
    sub.add_argument(
        "--vary",
        type=_varied,
        action="append",
        default=[],
        metavar="KEY=VALUES",
        help="another figure of the design, as payload_g=0,200,400",
    )
    sub.add_argument("--csv", type=_path, metavar="FILE", help="write every candidate to a table")
    sub.add_argument("--overwrite", action="store_true", help="write over a file that is there")

    sub = command(
        "conditions", _conditions, "One design with other payload, wind, cold, height, age.", six
    )
    with_design(sub)

    sub = command(
        "sheet", _sheet, "Write the build sheet of a design file, to print.", f"{six} -o sheet.html"
    )
    one_design(sub)
    sub.add_argument("-o", "--output", type=_path, required=True, metavar="FILE", help="HTML file")
    sub.add_argument("--paper", choices=("a4", "letter"), default="a4")
    sub.add_argument("--cells", type=_path, metavar="CSV", help="log of measured cells, to group")
    sub.add_argument("--overwrite", action="store_true", help="write over a file that is there")

    sub = command("open", _open, "Open the notebooks in JupyterLab.", "~/packs")
    sub.add_argument(
        "folder", type=_path, nargs="?", metavar="FOLDER", help="where they are, or go"
    )
    sub.add_argument("--no-browser", action="store_true", help="print the address instead")

    sub = command(
        "editions", _editions, "Write the notebooks for learners and for the instructor.", "class"
    )
    sub.add_argument("folder", type=_path, metavar="FOLDER", help="a new folder")
    sub.add_argument(
        "--copies", type=int, default=1, metavar="K", help="learners' copies that differ"
    )
    sub.add_argument("--seed", type=int, default=1, metavar="N", help="of the first copy's numbers")

    sub = command(
        "worksheet", _worksheet, "Write a lesson's worksheet, to print.", "3 -o worksheet.html"
    )
    sub.add_argument("lesson", metavar="LESSON", help="its number or short name, or all")
    sub.add_argument("-o", "--output", type=_path, required=True, metavar="FILE", help="HTML file")
    sub.add_argument("--answers", action="store_true", help="with every answer filled in")
    sub.add_argument("--paper", choices=("a4", "letter"), default="a4")
    sub.add_argument("--seed", type=int, default=1, metavar="N", help="of the exercises' numbers")

    command("schema", _schema, "Print the JSON Schema of a design file.", "")
    sub = command("test", _test, "Check a checkout: style, types, tests, notebooks, pages.", "")
    sub.add_argument("--all", action="store_true", help="the long checks too")
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command and return its exit code."""
    return guarded(lambda: _run(arguments))


def _run(arguments: Sequence[str] | None) -> int:
    options = _parser().parse_args(arguments)
    run: Callable[[argparse.Namespace], int] = options.run
    return run(options)


if __name__ == "__main__":
    sys.exit(main())
