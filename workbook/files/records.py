"""Records in TOML (design, cell, club, budget): keys checked, faults in sentences, comments kept."""

from __future__ import annotations

import difflib
import inspect
import json
import tomllib
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import MISSING, fields
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

import tomlkit
from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    ValidationError,
    ValidationInfo,
    create_model,
    field_validator,
    model_validator,
)
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AbstractTable, AoT, Comment, Null, Trivia, Whitespace

from workbook.errors import CONTROL, InputError, Problem, refuse, shortened, visible
from workbook.parse import parse_number, read_number
from workbook.quantities import INPUTS, unit_of

Read = TypeVar("Read")
Checked = TypeVar("Checked", bound=BaseModel)

MULTILINE_KEYS = ("note", "table")
"""Keys whose text may have several lines."""
LIST_ITEM_NAMES = {"mission": "mission phase", "budget": "budget line"}
"""What one section of a list is called; the list's key and a number else."""


def parse_toml(text: str, where: str) -> dict[str, Any]:
    """The contents of a TOML text.

    Args:
        text: the text.
        where: what to call it in a message.

    Raises:
        InputError: it is not TOML.
    """
    return _parsed(tomllib.loads, text, where)


def parse_document(text: str, where: str) -> tomlkit.TOMLDocument:
    """The contents of a TOML text with its comments; see `parse_toml`."""
    return _parsed(tomlkit.parse, text, where)


TOML_HINT = 'A line reads key = value: text in "quotes", decimals with a point.'


def _parsed(parser: Callable[[str], Read], text: str, where: str) -> Read:
    try:
        return parser(text)
    except RecursionError:
        raise InputError("this is not TOML: it is nested too deeply.", where) from None
    except (ValueError, TOMLKitError) as fault:
        raise InputError(f"this is not TOML: {fault}. {TOML_HINT}", where) from None


def parse_json(text: str, where: str) -> Any:
    """The contents of a JSON text; see `parse_toml`."""
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        raise InputError("it is not JSON.", where) from None


# models -------------------------------------------------------------------------------------------


def _plain_types(annotation: Any) -> list[Any]:
    """The types that an annotation names, however deep."""
    inner = get_args(annotation)
    return [plain for part in inner for plain in _plain_types(part)] if inner else [annotation]


class Strict(BaseModel):
    """A section of a record: known keys only, and each of its own type."""

    model_config = ConfigDict(
        extra="forbid", allow_inf_nan=False, strict=True, frozen=True, defer_build=True
    )

    @model_validator(mode="before")
    @classmethod
    def _with_units(cls, data: Any) -> Any:
        return with_units(cls, data) if isinstance(data, dict) else data

    @field_validator("*")
    @classmethod
    def _one_line(cls, value: Any, info: ValidationInfo) -> Any:
        """A text has no control characters and one line; a note or a table may have several."""
        for text in value if isinstance(value, list) else [value]:
            found = CONTROL.findall(text) if isinstance(text, str) else []
            wrong = [
                sign
                for sign in found
                if info.field_name not in MULTILINE_KEYS or sign not in "\t\r\n"
            ]
            if wrong:
                raise PydanticCustomError("control", "control", {"sign": visible(wrong[0])})
        return value


class Part(Strict):
    """A section whose keys are in the table of inputs, where range and help come from."""

    def __init_subclass__(cls, record: type | None = None, **kwargs: Any) -> None:
        """Take ranges from the table of inputs, and defaults from the record that is made of it.

        Figures that the record may lack (`float | None`) are keys of the section without being declared again.
        """
        super().__init_subclass__(**kwargs)
        stated = {f.name: f.default for f in fields(record)} if record is not None else {}
        for key, annotation in (get_type_hints(record) if record is not None else {}).items():
            if annotation == float | None and key in INPUTS and key not in cls.__annotations__:
                cls.__annotations__[key] = annotation
        for key in inspect.get_annotations(cls):
            default = getattr(cls, key, stated.get(key, ...))
            default = ... if default is MISSING else default
            if key in INPUTS and not isinstance(default, FieldInfo):
                setattr(cls, key, input_field(key, default))
            elif key in stated and not isinstance(default, FieldInfo):
                setattr(cls, key, default)


def input_field(key: str, default: Any = ..., words: str = "") -> Any:
    """The model's field for a key of the table of inputs: its range and its help.

    Args:
        key: of the table.
        default: where it may be left out.
        words: in place of the table's help.

    Example:
        >>> input_field("payload_g").metadata, input_field("glide_ratio").metadata
        ([Ge(ge=0.0), Le(le=50000.0)], [Gt(gt=1.0), Le(le=60.0)])
    """
    quantity = INPUTS[key]
    least, over = (None, quantity.least) if quantity.above else (quantity.least, None)
    return Field(default, gt=over, ge=least, le=quantity.most, description=words or quantity.help)


def with_units(model: type[BaseModel], data: dict[str, Any]) -> dict[str, Any]:
    """A section with texts such as "4.6 lb" converted to numbers where a figure is wanted.

    What cannot be converted is left, to be refused.
    """
    typed = {}
    for key, value in data.items():
        field = model.model_fields.get(key)
        kinds = set(_plain_types(field.annotation) if field is not None else ())
        if isinstance(value, str) and kinds & {int, float}:
            with suppress(InputError):
                figure = parse_number(value, unit_of(key), whole=float not in kinds)
                typed[key] = figure if float in kinds else int(figure)
    return data | typed


def model_of(record: type, **others: Any) -> type[Strict]:
    """The model of a file that states a record's own fields, with their defaults.

    Args:
        record: a dataclass.
        others: fields that the file states otherwise, or besides: type and default.

    Example:
        >>> from workbook.battery.model import DischargeCurve
        >>> list(model_of(DischargeCurve).model_fields)
        ['current_a', 'capacity_ah', 'voltage_v', 'temperature_c']
    """
    types = get_type_hints(record)
    stated: dict[str, Any] = {
        f.name: (types[f.name], ... if f.default is MISSING else f.default) for f in fields(record)
    }
    return create_model(f"{record.__name__}Part", __base__=Strict, **(stated | others))


def check(model: type[Checked], data: Any, where: str, also: Iterable[str] = ()) -> Checked:
    """The contents of a record, checked against its model.

    Args:
        model: of the whole record.
        data: as parsed.
        where: what to call the file in a message.
        also: what else was found wrong, in sentences.

    Raises:
        InputError: every key that is missing, unknown or out of range, and `also`.
    """
    problems = [Problem(text, where) for text in also]
    try:
        checked = model.model_validate(data)
    except ValidationError as fault:
        raise InputError([*sentences(model, fault, where), *problems]) from None
    refuse(problems)
    return checked


def sentences(model: type[BaseModel], fault: ValidationError, where: str) -> list[Problem]:
    """What a checker found, one sentence each."""
    return list(dict.fromkeys(Problem(_sentence(model, e), where) for e in fault.errors()))


def _sentence(model: type[BaseModel], error: Any) -> str:
    key, wanted = _place(model, tuple(error["loc"]))
    kind, value = error["type"], error.get("input")
    shown = f"{value:g}" if isinstance(value, float) else _shown(value)
    if kind == "extra_forbidden":
        return f"{key} is not a key of {_meant(str(error['loc'][-1]), _keys(model))}"
    if kind.startswith("union_tag"):
        kinds = map(_tag, _models(model.model_fields[error["loc"][0]].annotation))
        tags = ", ".join(f'"{tag}"' for tag in kinds if tag)
        stated = "missing" if kind == "union_tag_not_found" else _shown(error["ctx"]["tag"])
        return f"{key}: kind is {stated}; one of {tags} is needed."
    if kind == "missing":
        return f"{key} is missing{f'; {wanted} is needed' if wanted else ''}."
    if kind in ("model_type", "model_attributes_type"):
        return f"{key} is {shown}; a section [{key}] is needed."
    if kind in ("float_type", "int_type") and isinstance(value, str):
        try:
            parse_number(value, unit_of(str(error["loc"][-1])))
        except InputError as fault:
            if read_number(value) is not None:
                return f"{key}: {fault}"
    if kind == "control":
        return f"{key} is {shown}; a text without the control character {error['ctx']['sign']} is needed."
    if kind == "list_type":
        return f"{key} is {shown}; sections [[{key}]] are needed."
    return f"{key} is {shown}; {wanted or 'another value'} is needed."


def _shown(value: Any) -> str:
    try:
        text = json.dumps(value, default=str, ensure_ascii=False)
    except (ValueError, RecursionError):
        text = "a value too large to show"
    return shortened(visible(text))


def _models(annotation: Any) -> list[type[BaseModel]]:
    """The models that an annotation names, however deep."""
    plain = _plain_types(annotation)
    return [one for one in plain if isinstance(one, type) and issubclass(one, BaseModel)]


def _meant(name: str, keys: set[str]) -> str:
    """Where a key does not belong, and what may have been meant."""
    near = difflib.get_close_matches(name, keys - {name}, n=1)
    place = "this section" if name in keys else "this file"
    return f"{place}; {f'did you mean {near[0]}?' if near else 'remove it or correct its name.'}"


def _keys(model: type[BaseModel]) -> set[str]:
    """Every key of a record, however deep."""
    inner = [m for field in model.model_fields.values() for m in _models(field.annotation)]
    return set(model.model_fields).union(*map(_keys, inner))


def _tag(model: type[BaseModel]) -> str | None:
    field = model.model_fields.get("kind")
    tags = get_args(field.annotation) if field is not None else ()
    return str(tags[0]) if tags else None


def _place(model: type[BaseModel], loc: tuple[int | str, ...]) -> tuple[str, str]:
    """A key in words and what is needed there; tags of unions in the checker's path are not keys."""
    models, words, field = [model], "", None
    for step in loc:
        if isinstance(step, int):
            head, _, last = words.rpartition(".")
            words = f"{head}{'.' if head else ''}{LIST_ITEM_NAMES.get(last, last)} {step + 1}, "
            continue
        tagged = [m for m in models if _tag(m) == step]
        owners = [m for m in models if step in m.model_fields]
        if tagged:
            models = tagged
        elif owners or (models and step == loc[-1]):
            field = owners[0].model_fields[step] if owners else None
            models = _models(field.annotation) if field is not None else models
            words += step if words.endswith(", ") or not words else f".{step}"
    return words.removesuffix(", "), "" if field is None else _wanted(str(loc[-1]), field)


def _wanted(key: str, field: FieldInfo) -> str:
    """What a key needs: its range and its help, or its type and unit."""
    rules = {
        name: getattr(rule, name)
        for rule in field.metadata
        for name in ("gt", "ge", "le")
        if getattr(rule, name, None) is not None
    }
    words = {"gt": "above", "ge": "from", "le": "up to" if len(rules) > 1 else "to"}
    bounds = " ".join(
        f"{words[name]} {rules[name]:g}" for name in ("gt", "ge", "le") if name in rules
    )
    about = field.description or ""
    if bounds or not about:
        about = f"{_kind(field.annotation)} {bounds}".strip() + (f" ({about})" if about else "")
    unit = unit_of(key)
    return f"{about} in {unit}" if unit and not field.description else about


def _kind(annotation: Any) -> str:
    """A type in words; nothing for a section."""
    names = {int: "a whole number", str: "a text", float: "a number"}
    choices = [f'"{choice}"' for choice in get_args(annotation) if isinstance(choice, str)]
    if choices:
        return " or ".join([", ".join(choices[:-1]), choices[-1]] if choices[1:] else choices)
    among = [annotation, *get_args(annotation)]
    if get_origin(annotation) in (list, tuple) or _models(annotation):
        return ""
    return next((name for kind, name in names.items() if kind in among), "")


# writing ------------------------------------------------------------------------------------------


def record_text(data: dict[str, Any], document: tomlkit.TOMLDocument | None = None) -> str:
    """A record as TOML; with every comment of the document that it came from, those of removed sections too.

    Example:
        >>> print(record_text({"name": "mine"}, tomlkit.parse('name = "yours"  # whose?')))
        name = "mine"  # whose?
    """
    kept = tomlkit.document()
    if document is not None:
        kept = tomlkit.parse(tomlkit.dumps(document))
        _prune(kept, data)
        kept = tomlkit.parse(tomlkit.dumps(kept))
    _merge(kept, data)
    return tomlkit.dumps(kept)


def _prune(old: Any, new: dict[str, Any]) -> None:
    """Take out of a parsed section what is not in the new one; its comments stay in its place."""
    body = (old.value if isinstance(old, AbstractTable) else old).body
    for key in [k for k in old if k not in new or _all_gone(old[k], new[k])]:
        places = [place for place, (k, _) in enumerate(body) if k is not None and k.key == key]
        comments = [line for place in places for line in _comments(body[place][1])]
        del old[key]
        if comments:
            body[places[0]] = (None, _remark(comments))
    for key, value in new.items():
        if isinstance(value, dict) and isinstance(old.get(key), AbstractTable):
            _prune(old[key], value)
        elif isinstance(old.get(key), AoT) and isinstance(value, list):
            _prune_list(old[key], value)


def _all_gone(old: Any, new: Any) -> bool:
    """Whether nothing is left of a list of sections."""
    if not isinstance(old, AoT) or not isinstance(new, list):
        return False
    return all(section is None for section, _ in _pairs(old, new))


def _prune_list(sections: AoT, new: list[dict[str, Any]]) -> None:
    """Take out of a list of sections those that are not in the new one; comments go to the one before."""
    pairs = _pairs(sections, new)
    kept = [section for section, _ in pairs if section is not None]
    for number in reversed(range(len(sections))):
        if not any(sections[number] is section for section in kept):
            comments = _comments(sections[number])
            if comments:
                sections[number - 1 if number else 1].value.body.append((None, _remark(comments)))
            del sections[number]
    for section, value in pairs:
        if section is not None:
            _prune(section, value)


def _pairs(sections: Iterable[Any], new: list[dict[str, Any]]) -> list[tuple[Any, dict[str, Any]]]:
    """New sections of a list, each with the old one that it came from: of the same `key`, else in the same place."""
    old = list(sections)
    if all("key" in section for section in (*old, *new)):
        known = {str(section["key"]): section for section in old}
        return [(known.get(value["key"]), value) for value in new]
    return list(zip([*old, *([None] * len(new))], new, strict=False))


def _comments(item: Any) -> list[str]:
    """The comments of a part of a document, in order, blank lines between them kept."""
    if isinstance(item, Whitespace | Null):
        return [""] * item.as_string().count("\n") if isinstance(item, Whitespace) else []
    comments = [item.trivia.comment] if item.trivia.comment else []
    inner = []
    if isinstance(item, AbstractTable):
        inner = [part for _, part in item.value.body]
    elif isinstance(item, AoT):
        inner = list(item.body)
    comments += [line for part in inner for line in _comments(part)]
    return comments if any(comments) else []


def _remark(lines: list[str]) -> Comment:
    return Comment(Trivia(comment="\n".join(lines).strip("\n"), trail="\n"))


def _merge(old: Any, new: dict[str, Any]) -> None:
    """Put new values into a parsed section in place, so that comments beside the others stay."""
    for key, value in new.items():
        if isinstance(value, dict):
            if not isinstance(old.get(key), dict):
                old[key] = tomlkit.table()
            _merge(old[key], value)
        elif isinstance(value, list) and value and all(isinstance(v, dict) for v in value):
            _merge_list(old, key, value)
        elif key not in old or old[key] != value:
            old[key] = _in_lines(value) if isinstance(value, str) and "\n" in value else value


def _in_lines(text: str) -> Any:
    """A text of several lines, to be read as such in the file; its first begins below the three quotes."""
    written = tomlkit.string("." + text, multiline=True).as_string()
    return tomlkit.parse(f'lines = """\n{written.removeprefix(chr(34) * 3 + ".")}')["lines"]


def _merge_list(old: Any, key: str, new: list[dict[str, Any]]) -> None:
    """A list of sections ([[mission]]): each merged into the one that it came from, in the new order."""
    existing = old.get(key)
    pairs = _pairs(existing if isinstance(existing, AoT) else [], new)
    if isinstance(existing, AoT) and [section for section, _ in pairs[: len(existing)]] == list(
        existing
    ):
        sections = existing
        for section, value in pairs[: len(existing)]:
            _merge(section, value)
        pairs = pairs[len(existing) :]
    else:
        sections = old[key] = tomlkit.aot()
    for section, value in pairs:
        made = tomlkit.table() if section is None else section
        _merge(made, value)
        sections.append(made)
