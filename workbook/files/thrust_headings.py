"""What a column heading of a thrust table means: which quantity, in which unit."""

from __future__ import annotations

import re
from dataclasses import dataclass

from workbook.numbers import STANDARD_GRAVITY_M_S2
from workbook.parse import plain

GF_PER_N = 1000.0 / STANDARD_GRAVITY_M_S2
GF_PER_LB = 453.59237
"""International avoirdupois pound, exact. Source: 1959 yard and pound agreement; NIST SP 811."""


@dataclass(frozen=True)
class Quantity:
    """One quantity of a thrust table.

    Attributes:
        name: its plain name, for sentences.
        units: spelling of a unit to the factor that turns it into the workbook's unit.
        usual: the trade's usual unit, taken (and said) when none is stated.
        low, high: the range in which any table's figure lies; it separates 1.250 from 1250.
    """

    name: str
    units: dict[str, float]
    usual: str
    low: float = 0.0
    high: float = 0.0


def _units(*groups: tuple[str, float]) -> dict[str, float]:
    return {unit: factor for names, factor in groups for unit in names.split("|")}


_MASS = (
    ("g|gf|gr|grs|gms|gram|grams|gramm|gram-force|grams-force|gram force|grammes|克", 1.0),
    ("kg|kgf|kgs|kilo|kilos|kilogram|kilograms|kilogram-force|kp", 1000.0),
    ("n|newton|newtons", GF_PER_N),
    ("oz|ozf|ounce|ounces|oz-f|oz.", GF_PER_LB / 16),
    ("lb|lbf|lbs|pound|pounds|lb-f|lb.", GF_PER_LB),
)

QUANTITIES: dict[str, Quantity] = {
    "thrust_gf": Quantity("thrust", _units(*_MASS), "g", 1.0, 200_000.0),
    "current_a": Quantity(
        "current",
        _units(("a|amp|amps|ampere|amperes", 1.0), ("ma|milliamps", 0.001)),
        "A",
        0.005,
        1000.0,
    ),
    "voltage_v": Quantity(
        "voltage", _units(("v|volt|volts|vdc|v dc", 1.0), ("mv|millivolts", 0.001)), "V", 1.5, 130.0
    ),
    "power_w": Quantity(
        "power", _units(("w|watt|watts", 1.0), ("kw", 1000.0), ("mw", 0.001)), "W", 0.05, 50_000.0
    ),
    "throttle_pct": Quantity(
        "throttle",
        _units(("%|pct|percent|per cent", 1.0), ("us|μs|usec|μsec|microseconds", 0.1)),
        "%",
        0.0,
        2500.0,
    ),
    "speed_rpm": Quantity(
        "speed",
        _units(
            ("rpm|r/min|rev/min|1/min|min-1|min^-1|u/min|tr/min|revs/min|r.p.m.|r.p.m|转/分", 1.0),
            ("krpm|rpm x1000|x1000 rpm|1000 rpm|rpm*1000", 1000.0),
            ("hz|rps|rev/s|r/s|1/s", 60.0),
            ("rad/s", 9.549296585513721),
        ),
        "rpm",
        100.0,
        200_000.0,
    ),
    "efficiency_gf_w": Quantity(
        "efficiency",
        {
            f"{unit}{slash}{watt}": factor
            for unit, factor in _units(*_MASS).items()
            for slash in ("/", " / ", " per ")
            for watt in ("w", "watt")
        },
        "g/W",
        0.1,
        100.0,
    ),
    "motor_efficiency_pct": Quantity("motor efficiency", {"%": 1.0}, "%", 0.0, 1000.0),
    "motor": Quantity("motor", {}, ""),
    "propeller": Quantity("propeller", {"inch": 1.0, "in": 1.0, '"': 1.0}, ""),
}
NUMERIC = tuple(key for key, quantity in QUANTITIES.items() if quantity.usual)

_NAMES: dict[str, str] = {
    name: key
    for key, names in {
        "thrust_gf": "thrust|pull|static thrust|lift|pulling force|pull force|thrust force|"
        "static pull|propeller thrust|prop thrust|schub|standschub|poussee|poussée|empuje|spinta|"
        "推力|拉力|thrust per motor|thrust one motor|thrust measured",
        "current_a": "current|amps|amp|ampere|amperes|amperage|curr|amp draw|current draw|strom|"
        "courant|corriente|corrente|电流|i|motor current|load current|draw",
        "voltage_v": "voltage|volts|volt|u|spannung|tension|tensión|tensione|voltaje|电压|"
        "terminal voltage|bus voltage|pack voltage|motor voltage|volt.",
        "power_w": "power|watts|watt|wattage|p|pin|p in|power in|leistung|puissance|potencia|"
        "potenza|功率|consumption|power consumption|power draw",
        "throttle_pct": "throttle|throttle position|throttle level|throttle setting|signal|"
        "throttle signal|throttle input|pwm|pwm signal|duty|duty cycle|gas|stick|esc|esc signal|esc pwm|油门|command",
        "speed_rpm": "rpm|speed|motor speed|rotational speed|rotation speed|rotor speed|revs|"
        "propeller speed|prop speed|drehzahl|regime|régime|转速|r/min|rev/min|motor optical speed|"
        "motor rpm|prop rpm|n",
        "efficiency_gf_w": "efficiency|eff|specific thrust|thrust efficiency|system efficiency|"
        "overall efficiency|power loading|wirkungsgrad|力效|效率|effizienz|thrust/power|"
        "thrust per watt",
        "motor_efficiency_pct": "motor efficiency|motor eff|efficiency motor",
        "motor": "motor|motor type|type|model|motor model|item|item no|item no.|motor name|型号",
        "propeller": "propeller|prop|props|prop size|propeller size|propeller type|prop type|"
        "prop model|propeller model|prop.|luftschraube|helice|hélice|elica|螺旋桨|blade|blades",
    }.items()
    for name in names.split("|")
}
_FILLERS = re.compile(
    r"\b(input|total|load|supply|battery|electric|electrical|elec|avg|average|mean|measured|dc|"
    r"nominal|test|static|actual)\b"
)
_KNOWN_UNUSED = re.compile(
    r"torque|moment|vibration|temp|time|mechanical|shaft|output|remark|note|comment|message|resistance|"
    r"weight|°c|扭矩|温度|drehmoment|airspeed|pressure|humidity|density|date|index|figure of merit"
)
_BRACKET = re.compile(r"[(\[{<]([^()\[\]{}<>]*)[)\]}>]")
_ALL_UNITS = frozenset(u for q in QUANTITIES.values() for u in q.units)


@dataclass(frozen=True)
class Heading:
    """One column heading.

    Attributes:
        text: as printed.
        quantity: a key of `QUANTITIES`, or empty when the column is not used.
        unit: the unit stated, plain lower case; empty when not stated.
        known: whether an unused column is of a known kind (torque, temperature, ...).
    """

    text: str
    quantity: str = ""
    unit: str = ""
    known: bool = False

    @property
    def numeric(self) -> bool:
        """Whether the column holds figures that are read."""
        return self.quantity in NUMERIC


def clean_unit(text: str) -> str:
    """A unit's text made plain: brackets, odd signs and capitals off.

    Example:
        >>> clean_unit("（Ｇ／Ｗ）")
        'g/w'
    """
    return plain(text).casefold().strip(" ()[]{}<>:;*").replace("µ", "μ")


def is_unit(text: str) -> bool:
    """Whether a text is a unit that a thrust table may print.

    Example:
        >>> is_unit("(gf)"), is_unit("14x4.8")
        (True, False)
    """
    unit = clean_unit(text)
    return unit in _ALL_UNITS or unit in (
        "n.m",
        "n*m",
        "nm",
        "°c",
        "℃",
        "degc",
        "c",
        "s",
        "ms",
        "inch",
    )


def _quantity(name: str) -> str:
    name = " ".join(name.replace("_", " ").replace(":", " ").strip(" .,-/*#").split())
    for candidate in (name, " ".join(_FILLERS.sub(" ", name).split())):
        if candidate in _NAMES:
            return _NAMES[candidate]
    return ""


def _unit_names(text: str) -> tuple[str, str]:
    """A heading that is itself a unit: (quantity, unit)."""
    for key in ("efficiency_gf_w", "speed_rpm", "current_a", "voltage_v", "power_w"):
        if text in QUANTITIES[key].units:
            return key, text
    if text in QUANTITIES["thrust_gf"].units and len(text) > 2 and text not in ("克",):
        return "thrust_gf", text
    return "", ""


def read_heading(text: str) -> Heading:
    """What a column heading means.

    Args:
        text: the heading as printed, with its unit or without.

    Example:
        >>> read_heading("Thrust (kgf)").quantity, read_heading("Thrust (kgf)").unit
        ('thrust_gf', 'kgf')
        >>> read_heading("Vibration (g)").quantity
        ''
    """
    shown = plain(text)
    words = shown.casefold().replace("µ", "μ").strip(" *:#")
    unit, rest = "", words
    for inside in _BRACKET.findall(words):
        bare = clean_unit(inside)
        if bare in _ALL_UNITS and not unit:
            unit = bare
            rest = re.sub(r"[(\[{<]" + re.escape(inside) + r"[)\]}>]", " ", rest)
    rest = " ".join(re.sub(r"[()\[\]{}<>]", " ", rest).split())
    known = bool(_KNOWN_UNUSED.search(rest))
    key = _quantity(rest)
    if key and not unit:
        alone, alone_unit = _unit_names(rest)
        unit = alone_unit if alone == key else ""
    if not key and not unit:
        key, unit = _unit_names(rest)
        if not key:
            split = re.fullmatch(r"(.*?)(?:\s*[/,_\-;|]\s*|\s+in\s+|\s+)(\S+(?: force)?)", rest)
            if split and (found := _quantity(split[1])) and clean_unit(split[2]):
                key, unit = found, clean_unit(split[2])
                if unit not in QUANTITIES[key].units:
                    key = ""
    if not key:
        return Heading(shown, known=known)
    if key == "efficiency_gf_w" and unit == "%":
        key = ""
        known = True
    elif key in NUMERIC and unit and unit not in QUANTITIES[key].units:
        return Heading(shown, known=known)
    return Heading(shown, key, unit if key in NUMERIC else "", known)
