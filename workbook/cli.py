"""The command line.

Exit code 0: every limit that could be checked holds; 1: one is broken, or one of pack or flight could not be
checked, or a doubt is open; 2: input that cannot be used, or a failure of any other kind; 130: stopped from
the keyboard.
"""

from __future__ import annotations

import argparse
import datetime
import gc
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeAlias

from workbook import __version__
from workbook.console import BROKEN, HOLDS, guarded, print_error, print_json, print_line
from workbook.errors import LONGEST_SENTENCE, InputError, naming, shortened, visible
from workbook.quantities import NOTED
from workbook.units import FILE_UNITS, SYSTEMS, units

if TYPE_CHECKING:
    from workbook.files.design_file import DesignFile
    from workbook.flightlog.comparison import FlightComparison
    from workbook.flightlog.correction import Correction
    from workbook.flightlog.log import FlightLog
    from workbook.flightlog.slip import ChargerSlip


FEW_COLLECTIONS = 50_000
"""Objects made between looks for garbage: loading modules makes many and drops none; saves a tenth of a command."""


class _Parser(argparse.ArgumentParser):
    """A parser whose messages repeat what was typed on one line, and not at length."""

    def error(self, message: str) -> NoReturn:
        super().error(shortened(visible(message), LONGEST_SENTENCE))

    def _print_message(self, message: str, file: Any = None) -> None:
        """Help that cannot be written is a failure; argparse passes it over."""
        (file or sys.stderr).write(message)


Run: TypeAlias = Callable[[argparse.Namespace], int]
Argument: TypeAlias = tuple[tuple[str, ...], dict[str, Any]]

_PARSER = _Parser(
    prog="workbook",
    description="Size, check, build and verify lithium-ion packs for radio-controlled aircraft. "
    "'workbook COMMAND --help' says more about a command.",
    epilog=(__doc__ or "").partition("\n\n")[2],
)
_PARSER.add_argument("--version", action="version", version=f"workbook {__version__}")
_COMMANDS = _PARSER.add_subparsers(dest="command", required=True, metavar="COMMAND")


def _argument(*names: str, **settings: Any) -> Argument:
    """An argument as `add_argument` takes it."""
    return names, settings


def _command(text: str, example: str, *arguments: Argument) -> Callable[[Run], Run]:
    """Make a command of a function: its name without the underscore is the command's."""

    def listed(run: Run) -> Run:
        name = run.__name__.removeprefix("_")
        epilog = f"Example: workbook {name} {example}".rstrip()
        command = _COMMANDS.add_parser(name, help=text, description=text, epilog=epilog)
        designs = any(settings.get("metavar") == "DESIGN" for _, settings in arguments)
        for names, settings in (*arguments, *([UNITS] if designs else [])):
            command.add_argument(*names, **settings)
        command.set_defaults(run=run)
        return run

    return listed


def _design_file(options: argparse.Namespace, path: Path | None = None) -> DesignFile:
    """The design that a command is about, or another that it names."""
    from workbook.files.design_file import read_design

    return read_design(path or options.design, anywhere=getattr(options, "anywhere", False))


def _show(options: argparse.Namespace, values: Callable[[], Any], text: Callable[[], str]) -> None:
    """Print an answer, as JSON where that is asked for."""
    if options.json:
        print_json(values())
    else:
        print(text())


def _path(text: str) -> Path:
    if "\0" in text:
        raise argparse.ArgumentTypeError("no file name can hold the character \\x00.")
    return Path(text)


def _typed(read: Callable[[str], Any], needed: str) -> Callable[[str], Any]:
    """A reader of an argument, whose error message is what is needed."""

    def typed(text: str) -> Any:
        try:
            return read(text)
        except ValueError:
            raise argparse.ArgumentTypeError(f"{text!r}; {needed}") from None

    return typed


def _pair(text: str) -> tuple[str, str]:
    """`HEADING=KEY` as the two."""
    heading, sign, key = text.rpartition("=")
    if not sign:
        raise ValueError
    return heading, key


_integer = _typed(int, "a whole number is needed.")
_column_mapping = _typed(_pair, "a heading and its key as Bus=voltage_v are needed.")

SIX = "notebooks/designs/survey_six.toml"
DESIGN = _argument("design", type=_path, metavar="DESIGN", help="design file, .toml")
ANYWHERE = _argument(
    "--anywhere",
    action="store_true",
    help="let a design take its table and cells from outside its own folders",
)
JSON = _argument("--json", action="store_true", help="print JSON")
OUTPUT = _argument(
    "-o", "--output", type=_path, required=True, metavar="FILE", help=".html or .pdf"
)
PAPER = _argument("--paper", choices=("a4", "letter"), default="a4", help="default: a4")
UNITS = _argument(
    "--units",
    choices=SYSTEMS,
    metavar="UNITS",
    help=f"print in {' or '.join(map(repr, SYSTEMS))}; default: the club's",
)
PAGES_FOLDER = _argument(
    "folder",
    type=_path,
    nargs="?",
    metavar="FOLDER",
    help="folder of the pages, made where there is none",
)
OVERWRITE = _argument("--overwrite", action="store_true", help="write over a file that is there")


@_command(
    "Size the pack of a design file and check every limit.",
    SIX,
    DESIGN,
    ANYWHERE,
    JSON,
    _argument("--short", action="store_true", help="verdict, six figures, what is broken"),
    _argument("--all", action="store_true", help="every figure, limit and note"),
    _argument("--working", action="store_true", help="print how each figure came about"),
    _argument("--tables", action="store_true", help="compare the thrust tables of its file"),
)
def _size(options: argparse.Namespace) -> int:
    from workbook.sheet.text import result_report
    from workbook.sizing.size import size

    file = _design_file(options)
    if options.tables:
        return _tables(options, file)
    with naming(file.path.name):
        answer = size(file.design, notices=file.notices)
    remedy_text = ""
    if not answer.kept:
        from workbook.sizing.remedy import remedy

        remedy_text = remedy(answer, file.cells)
    if options.short and not options.json:
        from workbook.sheet.tables import short_report

        print(short_report(answer, remedy_text))
    elif options.json:
        values = {**answer.as_dict(), "remedy": remedy_text}
        if options.working:
            values["working"] = [vars(step) for step in answer.working]
        print_json(values)
    else:
        whole = options.all or options.working
        print(result_report(answer, whole=whole, with_working=options.working, remedy=remedy_text))
    print_error(*file.cells_left_out)
    print_error(*answer.reasons)
    return HOLDS if answer.holds else BROKEN


def _tables(options: argparse.Namespace, file: DesignFile) -> int:
    from workbook.sheet.text import tables_text
    from workbook.sizing.compare import compare_tables

    rows = compare_tables(file.design, file.tables().tables)
    _show(options, lambda: [row.as_dict() for row in rows], lambda: tables_text(rows))
    broken = [name for row in rows if row.in_use for name in row.broken]
    print_error(*(f"With the design's own table, {name} does not hold." for name in broken))
    return BROKEN if broken else HOLDS


@_command(
    "Begin a design of your own, every figure assumed.",
    "heron.toml",
    _argument("name", type=Path, metavar="NAME", help="name of the craft, or path of its file"),
    _argument(
        "--kind",
        choices=("multirotor", "fixed wing"),
        default="multirotor",
        help="default: multirotor",
    ),
)
def _new(options: argparse.Namespace) -> int:
    from workbook.files.new_design import write_new_design

    for path in write_new_design(options.name, options.kind):
        print_line(f"Written: {path}")
    print_line("Every figure in it is assumed; measure them one by one, and size it as you go.")
    return HOLDS


@_command(
    "Make one file of a design with its thrust table and its cell inside, to hand on.",
    f"{SIX} -o six.toml",
    DESIGN,
    ANYWHERE,
    _argument("-o", "--output", type=_path, required=True, metavar="FILE", help="design file"),
    OVERWRITE,
)
def _pack(options: argparse.Namespace) -> int:
    from workbook.files.packed import packed_text
    from workbook.files.writing import write_text

    file = _design_file(options)
    text, over = packed_text(file), options.overwrite
    write_text(options.output, text, overwrite=over, inputs=file.inputs)
    print_line(f"{options.output}: it needs no other file; every command and page opens it.")
    return HOLDS


@_command(
    "Lay a packed design out in a new folder: design, thrust table and cell.",
    "six.toml six",
    DESIGN,
    _argument("folder", type=_path, metavar="FOLDER", help="a new folder"),
)
def _unpack(options: argparse.Namespace) -> int:
    from workbook.files.packed import unpack_design

    print_line(f"Written: {unpack_design(_design_file(options), options.folder)}")
    return HOLDS


@_command(
    "Compare another's cells with your own, figure by figure; --take writes the new ones.",
    "cells their_cells --take",
    _argument("mine", type=_path, metavar="MINE", help="folder of your own cells"),
    _argument("theirs", type=_path, metavar="THEIRS", help="a folder, a cell or a packed design"),
    _argument("--take", action="store_true", help="write the new ones into MINE"),
)
def _catalogue(options: argparse.Namespace) -> int:
    from workbook.files.cell_merge import merge_cells

    found = merge_cells(options.mine, options.theirs, take=options.take)
    print(found.text())
    apart = len(found.conflicts) + len(found.faults)
    if apart:
        print_error(f"Not one catalogue yet: {apart} of them in conflict, or left out.")
    return BROKEN if apart else HOLDS


@_command(
    "Put designs of one type of craft side by side.",
    "mine.toml other.toml",
    _argument("designs", type=_path, nargs="+", metavar="DESIGN", help="design files, .toml"),
    ANYWHERE,
    JSON,
)
def _compare(options: argparse.Namespace) -> int:
    from workbook.sheet.tables import designs_text
    from workbook.sizing.compare import compare
    from workbook.sizing.size import size

    files = [_design_file(options, path) for path in options.designs]
    answers = []
    for file in files:
        with naming(file.path.name):
            answers.append(size(file.design, notices=file.notices))
    changes = [compare(answers[0], other) for other in answers[1:]]
    change = changes[0] if len(changes) == 1 else None
    _show(
        options,
        lambda: [answer.as_dict() for answer in answers],
        lambda: designs_text(answers, change),
    )
    print_error(*(f"{one.design.name}: {reason}" for one in answers for reason in one.reasons))
    return HOLDS if all(answer.holds for answer in answers) else BROKEN


HALF_PCT = 50.0
"""Of a hundred flights, those that must last the time asked for."""


@_command(
    "How much reality may take from the plan, line by line.",
    SIX,
    DESIGN,
    ANYWHERE,
    JSON,
    _argument("--lines", type=_path, metavar="TOML", help="budget file with lines of your own"),
    _argument(
        "--draws", type=_integer, default=4096, metavar="N", help="simulated flights; default: 4096"
    ),
)
def _budget(options: argparse.Namespace) -> int:
    from workbook.files.budget_file import read_budget
    from workbook.sheet.tables import budget_text
    from workbook.sheet.text import verdict_text
    from workbook.sizing.budget import budget
    from workbook.sizing.size import size

    file = _design_file(options)
    lines = None if options.lines is None else read_budget(options.lines)
    found = budget(file.design, lines, draws=options.draws)
    sized = size(file.design, notices=file.notices)
    verdict = "" if sized.holds else f"{verdict_text(sized)}\n\n"
    _show(
        options,
        lambda: {"verdict": sized.verdict, **found.as_dict()},
        lambda: verdict + budget_text(found),
    )
    print_error(*sized.reasons)
    too_few = found.met_pct < HALF_PCT
    if too_few and sized.holds:
        print_error("Fewer than half of its flights last the time asked for.")
    return BROKEN if too_few or not sized.holds else HOLDS


MOST_CELLS = 100
"""In series or in parallel, tried by a sweep at the prompt."""


def _range(text: str) -> list[int]:
    """`6` or `4-8` as whole numbers."""
    first, _, last = text.partition("-")
    least, most = int(first), int(last or first)
    if not 1 <= least <= most <= MOST_CELLS:
        raise ValueError
    return list(range(least, most + 1))


_cell_counts = _typed(_range, f"a number of cells or a range as 4-8 is needed, 1 to {MOST_CELLS}.")


def _port(text: str) -> int:
    """A whole number from 1 to 65535."""
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise ValueError
    return int(text)


_count = _typed(_port, "a whole number from 1 to 65535 is needed.")


def _values(text: str) -> tuple[str, list[float]]:
    """`payload_g=0,200,400` as a key and its values."""
    key, _, values = text.partition("=")
    return key, [float(value) for value in values.split(",")]


_varied = _typed(_values, "a key and its values as payload_g=0,200,400 are needed.")


@_command(
    "Try every cell with other numbers in series and parallel.",
    f"{SIX} --series 5-7 --csv packs.csv",
    DESIGN,
    ANYWHERE,
    JSON,
    _argument(
        "--series",
        type=_cell_counts,
        metavar="S",
        help="cells in series, such as 6 or 4-8; default: the design's",
    ),
    _argument(
        "--parallel", type=_cell_counts, metavar="P", help="cells in parallel, such as 3 or 1-6"
    ),
    _argument(
        "--vary",
        type=_varied,
        action="append",
        default=[],
        metavar="KEY=VALUES",
        help="another figure of the design, such as payload_g=0,200,400",
    ),
    _argument("--csv", type=_path, metavar="FILE", help="write every candidate to a table"),
    OVERWRITE,
)
def _sweep(options: argparse.Namespace) -> int:
    from workbook.files.writing import write_text
    from workbook.sheet.tables import sweep_text
    from workbook.sizing.sweep import sweep

    file = _design_file(options)
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
        print_error(
            f"{visible(str(options.csv))}: {len(found)} packs, {len(found.survivors())} hold."
        )
    print_error(*file.cells_left_out)
    with naming(file.path.name):  # the lightest that holds is flown on its mission
        if options.json:
            print_json(found.as_dict())
        elif options.csv is None:
            print(sweep_text(found))
    if not len(found.survivors()):
        print_error(f"None of the {found.worked} packs that were tried holds.")
        return BROKEN
    return HOLDS


@_command(
    "One design under other payload, wind, cold, height and age.", SIX, DESIGN, ANYWHERE, JSON
)
def _conditions(options: argparse.Namespace) -> int:
    from workbook.sheet.tables import situations_text
    from workbook.sizing.situations import situations

    found = situations(_design_file(options).design)
    _show(options, lambda: [one.as_dict() for one in found], lambda: situations_text(found))
    print_error(*found[0].result.reasons)
    return HOLDS if found[0].result.holds else BROKEN


@_command(
    "Write the build sheet of a design file, to print.",
    f"{SIX} -o sheet.html",
    DESIGN,
    ANYWHERE,
    OUTPUT,
    PAPER,
    _argument("--cells", type=_path, metavar="CSV", help="log of measured cells, to group"),
    OVERWRITE,
)
def _sheet(options: argparse.Namespace) -> int:
    from workbook.sheet.build import write_sheet

    file = _design_file(options)
    sheet = write_sheet(
        file, options.output, paper=options.paper, cells=options.cells, overwrite=options.overwrite
    )
    print_line(f"{sheet.path}: to be printed.")
    print_error(*sheet.broken_texts)
    return HOLDS if sheet.holds else BROKEN


@_command(
    "Make a page to send: the answer with sliders, live without Python, the design inside.",
    f"{SIX} -o six.html",
    DESIGN,
    ANYWHERE,
    _argument(
        "-o", "--output", type=_path, metavar="FILE", help="HTML file; default: beside the design"
    ),
    OVERWRITE,
)
def _page(options: argparse.Namespace) -> int:
    from workbook.console import progress_bar
    from workbook.sheet.live_page import write_live_page

    file = _design_file(options)
    path = options.output or file.path.with_suffix(".html")
    bar = progress_bar("places of the sliders")
    answer = write_live_page(file, path, progress=bar, overwrite=options.overwrite)
    print_line(f"{path}: open it in a browser, or send it.")
    print_error(*answer.reasons)
    return HOLDS if answer.holds else BROKEN


_day = _typed(datetime.date.fromisoformat, "a day as 2026-05-03 is needed.")


HAPPENED = {
    "flown": ("TIME", "a flight, such as 14min"),
    "charged": ("CHARGE", "a charge that followed no flight, such as 2100mAh"),
    "stored": ("VOLTAGE", "looked at in storage: voltage at rest, such as 22.2V"),
    "tested": ("DESIGN", "measured; with a design, held against its sheet's acceptance table"),
    "built": ("DESIGN", "the pack was made; with a design, its cells, capacity and price"),
    "knocked": ("WORDS", "a crash, a drop, a dent, water: what happened"),
    "retired": ("WORDS", "taken out of use: why"),
    "struck": ("MARK", "a line was wrong: strike it, by its mark"),
    "merge": ("OTHER", "add the lines of another copy of the book"),
}
"""What can be done to a pack's book at the prompt, one at a time, and the value that each takes."""


@_command(
    "The book of a pack: add a line to it, or see how the pack wears.",
    "heron_1.txt --flown 14min --charge 6100mAh",
    _argument("book", type=_path, metavar="PACK", help="the book: one text file per pack"),
    JSON,
    *(
        _argument(f"--{kind}", nargs="?", const="", metavar=metavar, help=text)
        for kind, (metavar, text) in HAPPENED.items()
    ),
    *(
        _argument(
            f"--{quantity.label.replace(' ', '-')}",
            dest=quantity.key,
            metavar=quantity.unit or "N",
            help=quantity.help,
        )
        for quantity in NOTED.values()
    ),
    _argument("--log", type=_path, metavar="CSV", help="of a proof discharge or a charge"),
    _argument("--note", default="", metavar="WORDS", help="whatever else to remember"),
    _argument("--on", type=_day, metavar="DAY", help="such as 2026-05-03; default: today"),
)
def _book(options: argparse.Namespace) -> int:
    from workbook.flightlog.book import read_book
    from workbook.flightlog.wear import life
    from workbook.sheet.pack_book import book_text

    happened = [kind for kind in HAPPENED if getattr(options, kind) is not None]
    figures = any(getattr(options, key) is not None for key in NOTED)
    more = figures or options.note or options.on or options.log
    if len(happened) > 1 or (more and not happened):
        raise InputError(f"say what happened, one at a time: one of --{', --'.join(HAPPENED)}.")
    if happened and options.json:
        raise InputError(
            "--json tells what stands in the book; write the line first, then ask for it."
        )
    code = _write_into_book(options, happened[0]) if happened else HOLDS
    found = life(read_book(options.book))
    if happened:
        print_error(*found.stops)
        return code
    _show(options, found.as_dict, lambda: book_text(found))
    print_error(*found.stops)
    return BROKEN if found.stops else HOLDS


def _write_into_book(options: argparse.Namespace, kind: str) -> int:
    """Write into a book; the exit code."""
    from workbook.flightlog.book import merge, strike
    from workbook.sheet.pack_book import note_event

    first = getattr(options, kind)
    if kind == "merge":
        added, notices = merge(options.book, _path(first))
        lines = "1 line" if added == 1 else f"{added} lines"
        print_line(f"{options.book}: {lines} added from {first}.")
        print_error(*notices)
        return HOLDS
    if kind == "struck":
        print_line(strike(options.book, first, options.note, options.on).line)
        return HOLDS
    given = {key: text for key in NOTED if (text := getattr(options, key)) is not None}
    if options.log is not None:
        from workbook.flightlog.proof import bench_figures
        from workbook.flightlog.reading import read_log

        log = read_log(options.log)
        figures, remarks = bench_figures(log)
        given = figures | given
        print_error(*log.sentences, *remarks)
    event, judged = note_event(options.book, kind, first, given, options.note, options.on)
    print_line(event.line)
    if judged is None:
        return HOLDS
    print_error(*(line.text() for line in judged.lines))
    return BROKEN if judged.failed else HOLDS


BATCH = _argument("--batch", type=_integer, metavar="N", help="cells delivered")


@_command(
    "Judge cells that arrived against their datasheet, and each against the others.",
    f"{SIX} cells.csv --batch 24",
    DESIGN,
    _argument("cells", type=_path, metavar="CSV", help="log of measured cells"),
    ANYWHERE,
    BATCH,
    JSON,
)
def _cells(options: argparse.Namespace) -> int:
    from workbook.bench.arrival import judge_arrival
    from workbook.files.cell_log import read_cell_log
    from workbook.sheet.arrival import arrival_text

    file = _design_file(options)
    log, pack = read_cell_log(options.cells), file.design.pack
    arrived = judge_arrival(log.cells, file.datasheet_cell, options.batch)
    dealt = arrived.deal(int(pack.series), int(pack.parallel))
    if not options.json:
        print_error(*log.notes)
    _show(options, lambda: arrived.as_dict(dealt), lambda: arrival_text(arrived, dealt))
    if arrived.holds:
        return HOLDS
    print_error(arrived.verdict)
    return BROKEN


@_command(
    "Write the form for cells that arrive, to fill in at the bench.",
    f"{SIX} --batch 24 -o form.html",
    DESIGN,
    ANYWHERE,
    BATCH,
    OUTPUT,
    PAPER,
    OVERWRITE,
)
def _arrival(options: argparse.Namespace) -> int:
    from workbook.sheet.arrival import write_arrival_form

    file = _design_file(options)
    batch = int(file.design.pack.cells) if options.batch is None else options.batch
    write_arrival_form(
        file.datasheet_cell,
        batch,
        options.output,
        paper=options.paper,
        overwrite=options.overwrite,
        inputs=file.inputs,
    )
    print_line(f"{options.output}: to be printed.")
    return HOLDS


@_command(
    "Check flights against the plan of a design, by their logs or by what the charger put back.",
    f'{SIX} --slip "21 min; 7200 mAh; after 22.6 V"',
    DESIGN,
    ANYWHERE,
    JSON,
    _argument(
        "logs", type=_path, nargs="*", metavar="LOG", help="tables of time, voltage, current"
    ),
    _argument(
        "--slip",
        action="append",
        default=[],
        metavar="TEXT",
        help='a flight without a log, as "21 min; 7200 mAh; after 22.6 V; felt 38 C"',
    ),
    _argument(
        "--column",
        type=_column_mapping,
        action="append",
        default=[],
        metavar="HEADING=KEY",
        help='what a heading means that is not known, such as "Bus=voltage_v in mV"',
    ),
    _argument("--mass", metavar="MASS", help="all-up mass as flown, if not the plan's"),
    _argument(
        "--pack-temp", metavar="TEMP", help="temperature of the pack at take-off, if not the plan's"
    ),
    _argument(
        "--save",
        action="store_true",
        help="write what the flights say into the design, as its [measured]",
    ),
    _argument(
        "--accept-doubts",
        action="store_true",
        help="with --save: write it even if flights disagree, or say what is impossible",
    ),
    _argument(
        "--undo", action="store_true", help="take [measured] out of the design again; nothing else"
    ),
    _argument(
        "--report",
        type=_path,
        metavar="FILE",
        help="write one flight's page to print, .html or .pdf",
    ),
    _argument(
        "--book", type=_path, metavar="PACK", help="write one flight into the book of its pack"
    ),
    PAPER,
    OVERWRITE,
)
def _flight(options: argparse.Namespace) -> int:
    from workbook.files.design_file import with_measured, write_design
    from workbook.flightlog.comparison import compare_flight
    from workbook.flightlog.correction import correct_file
    from workbook.parse import parse_number

    file = _design_file(options)
    if options.undo:
        return _undo_measured(options, file)
    flights = _flights_named(options)
    stated = {"mass_g": (options.mass, "g"), "pack_temperature_c": (options.pack_temp, "°C")}
    conditions: dict[str, Any] = {
        key: None if text is None else parse_number(text, unit)
        for key, (text, unit) in stated.items()
    }
    comparisons = [compare_flight(file.design, one, **conditions) for one in flights]
    correction = correct_file(file, flights, **conditions)
    _show(
        options,
        lambda: {
            "flights": [one.as_dict() for one in comparisons],
            "correction": correction.as_dict(),
        },
        lambda: "\n\n".join([*(one.report() for one in comparisons), correction.text()]),
    )
    if options.save and correction.doubts and not options.accept_doubts:
        raise InputError(
            f"{' '.join(correction.doubts)} [measured] is not written; --accept-doubts writes it all the same."
        )
    _write_flight_files(options, file, comparisons, correction)
    if options.save:
        write_design(
            with_measured(file.part, correction.part), file.path, file.document, overwrite=True
        )
        print_error(f"{visible(str(file.path))}: [measured] is written; --undo takes it out.")
    for one in comparisons:
        worse = (f"{line.label}: {line.judgement}" for line in one.worse_lines)
        print_error(*worse, *one.doubts)
    return HOLDS if all(one.holds for one in comparisons) else BROKEN


def _undo_measured(options: argparse.Namespace, file: DesignFile) -> int:
    """Take [measured] out of a design; the exit code."""
    from workbook.files.design_file import without_measured, write_design

    others = ("logs", "slip", "save", "report", "book", "json")
    if any(getattr(options, name) for name in others):
        raise InputError(
            "--undo takes [measured] out of the design and does nothing else; give it alone."
        )
    write_design(without_measured(file.part), file.path, file.document, overwrite=True)
    print_line(f"{file.path}: [measured] is taken out.")
    return HOLDS


def _flights_named(options: argparse.Namespace) -> list[FlightLog | ChargerSlip]:
    """The flights that are named."""
    from workbook.flightlog.reading import read_log
    from workbook.flightlog.slip import parse_slip

    logs = [read_log(path, columns=dict(options.column)) for path in options.logs]
    flights: list[FlightLog | ChargerSlip] = [*logs, *map(parse_slip, options.slip)]
    if not flights:
        raise InputError("no flight is given; a LOG, or --slip as in the example, is needed.")
    return flights


def _write_flight_files(
    options: argparse.Namespace,
    file: DesignFile,
    comparisons: list[FlightComparison],
    correction: Correction,
) -> None:
    """Write one flight's report and its line in the pack's book, where they are asked for."""
    from workbook.sheet.flight_report import note_flight, write_flight_report

    if (options.report or options.book) and len(comparisons) != 1:
        raise InputError("a report and a line of a book are of one flight; name one at a time.")
    if options.report is not None:
        write_flight_report(
            comparisons[0],
            options.report,
            correction=correction,
            paper=options.paper,
            overwrite=options.overwrite,
            inputs=(*file.inputs, *options.logs, *filter(None, [options.book])),
        )
        print_error(f"{visible(str(options.report))}: to be printed.")
    if options.book is not None:
        event = note_flight(options.book, comparisons[0])
        print_error(f"Written into {visible(str(options.book))}: {event.line}")


@_command(
    "Open the workbook's pages.",
    "~/packs",
    PAGES_FOLDER,
    _argument("--code", action="store_true", help="the notebooks in JupyterLab instead"),
    _argument("--no-browser", action="store_true", help="print the address instead"),
)
def _open(options: argparse.Namespace) -> int:
    from workbook.opening import open_workbook

    return open_workbook(options.folder, browser=not options.no_browser, code=options.code)


@_command(
    "Share the pages with a club: visitors get pages, and what they keep is their own.",
    "~/packs --network --board",
    PAGES_FOLDER,
    _argument("--network", action="store_true", help="for other machines on your network too"),
    _argument(
        "--visitors",
        type=_count,
        metavar="N",
        help="most visitors at once; default: 30, or what memory allows",
    ),
    _argument(
        "--board", action="store_true", help="count answers for the projector, without names"
    ),
    _argument("--port", type=_count, default=8877, metavar="PORT", help="default: 8877"),
    _argument("--no-browser", action="store_true", help="print the addresses only"),
)
def _share(options: argparse.Namespace) -> int:
    from workbook.pages.share import share

    return share(
        options.folder,
        network=options.network,
        visitors=options.visitors,
        board=options.board,
        port=options.port,
        browser=not options.no_browser,
    )


@_command(
    "Write the notebooks for learners and for the instructor.",
    "class",
    _argument("folder", type=_path, metavar="FOLDER", help="a new folder"),
    _argument(
        "--copies",
        type=_integer,
        default=1,
        metavar="K",
        help="learners' copies, each with numbers of its own",
    ),
    _argument(
        "--seed", type=_integer, default=1, metavar="N", help="draws the first copy's numbers"
    ),
)
def _editions(options: argparse.Namespace) -> int:
    from workbook.lessons.teaching.editions import write_editions

    done = write_editions(options.folder, seed=options.seed, copies=options.copies)
    for folder, seed in zip(done.learners, done.seeds, strict=True):
        print_line(f"{folder}: for learners, no answers in it; numbers {seed}")
    print_line(
        f"{done.instructors}: with solutions, and the answers of every copy in {done.key.name}"
    )
    return HOLDS


@_command(
    "Write a lesson's worksheet, to print.",
    "3 -o worksheet.pdf",
    _argument("lesson", metavar="LESSON", help="its number or short name, or all"),
    OUTPUT,
    _argument("--answers", action="store_true", help="the key for whoever teaches"),
    PAPER,
    _argument("--seed", type=_integer, default=1, metavar="N", help="draws the exercises' numbers"),
)
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
    print_line(f"{options.output}: {what}, to be printed.")
    return HOLDS


@_command("Print the JSON Schema of a design file.", "")
def _schema(options: argparse.Namespace) -> int:
    from workbook.files.design_file import design_schema

    print_json(design_schema())
    return HOLDS


@_command(
    "Check a checkout: style, types, tests, notebooks, pages.",
    "",
    _argument("--all", action="store_true", help="the long checks too"),
)
def _test(options: argparse.Namespace) -> int:
    from workbook.checking import run_checks

    return run_checks(everything=options.all)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command and return its exit code."""
    gc.set_threshold(FEW_COLLECTIONS)
    os.environ.setdefault(
        "PYDANTIC_DISABLE_PLUGINS", "__all__"
    )  # looking for them reads every package's metadata
    return guarded(lambda: _run(arguments))


def _run(arguments: Sequence[str] | None) -> int:
    options = _PARSER.parse_args(arguments)
    run: Run = options.run
    with units(_units_of(options)):
        return run(options)


def _units_of(options: argparse.Namespace) -> str:
    """The units to print in: those of files in JSON, else those asked for, else the club's."""
    if getattr(options, "json", False) or not hasattr(options, "units"):
        return FILE_UNITS
    if options.units is not None:
        return str(options.units)
    from workbook.files.club_file import club_rules

    club = club_rules()
    if club.problem:
        print_error(club.problem)
    return club.rules.units


if __name__ == "__main__":
    sys.exit(main())
