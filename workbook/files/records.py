"""Records in TOML (design, cell, club, budget): keys checked, faults in sentences."""

from __future__ import annotations

import difflib
import inspect
import json
import tomllib
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import MISSING, fields
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    ValidationError,
    create_model,
    model_validator,
)
from pydantic.fields import FieldInfo

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
    return parsed_by(tomllib.loads, text, where)


TOML_HINT = 'A line reads key = value: text in "quotes", decimals with a point.'


def parsed_by(
    parser: Callable[[str], Read],
    text: str,
    where: str,
    fault_type: type[Exception] = ValueError,
) -> Read:
    """The contents of a TOML text by a parser of TOML; see `parse_toml`.

    Args:
        parser: of a text.
        text, where: as `parse_toml` takes them.
        fault_type: what the parser raises.
    """
    try:
        return parser(text)
    except RecursionError:
        raise InputError("this is not TOML: it is nested too deeply.", where) from None
    except (ValueError, fault_type) as fault:
        raise InputError(f"this is not TOML: {fault}. {TOML_HINT}", where) from None


def parse_json(text: str, where: str) -> Any:
    """The contents of a JSON text; see `parse_toml`."""
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        raise InputError("it is not JSON.", where) from None


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
    def _as_needed(cls, data: Any) -> Any:
        """Texts with a figure converted, and those with a control character made what no key takes.

        One check a section: a validator on every field makes a third of the time that the models take to build.
        """
        if not isinstance(data, dict):
            return data
        return with_units(cls, {key: _refused(key, value) for key, value in data.items()})


class _Controlled:
    """A text with a control character, which no key takes."""

    def __init__(self, text: str, sign: str) -> None:
        self.text, self.sign = text, sign


def _refused(key: str, value: Any) -> Any:
    """The value of a key; of a text that obeys a terminal or has lines where one is wanted, or a list with such, what
    no key takes."""
    if isinstance(value, list):
        return [_refused(key, one) for one in value]
    allowed = "\t\r\n" if key in MULTILINE_KEYS else ""
    found = CONTROL.findall(value) if isinstance(value, str) else []
    sign = next((sign for sign in found if sign not in allowed), "")
    return _Controlled(value, sign) if sign else value


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
    if isinstance(value, _Controlled) and kind != "extra_forbidden":
        sign = visible(value.sign)
        return (
            f"{key} is {_shown(value.text)}; a text without the control character {sign} is needed."
        )
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
