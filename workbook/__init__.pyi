"""The public face: what notebooks, the README and a prompt use."""

from .battery.charge import Charger as Charger
from .battery.discharge import constant_power as constant_power
from .battery.pack import Pack as Pack
from .battery.thresholds import thresholds as thresholds
from .bench.cell_inspection import check_joining as check_joining
from .bench.current_path import current_path as current_path
from .bench.fuse import choose_fuse as choose_fuse
from .bench.layout import layouts as layouts
from .bench.matching import match as match
from .bench.sampling import sampling_plan as sampling_plan
from .bench.strip import Strip as Strip
from .bench.wire import choose_wire as choose_wire
from .craft.wing import level_flight as level_flight
from .errors import InputError as InputError
from .files.cell_file import catalogue as catalogue
from .files.cell_file import find_cell as find_cell
from .files.cell_merge import merge_cells as merge_cells
from .files.design_file import read_design as read_design
from .files.thrust_table_file import read_thrust_tables as read_thrust_tables
from .flightlog.comparison import compare_flight as compare_flight
from .flightlog.correction import correct as correct
from .flightlog.reading import read_log as read_log
from .flightlog.slip import ChargerSlip as ChargerSlip
from .lessons.course import course as course
from .lessons.learner import current_design as current_design
from .lessons.lesson_view import open_lesson as open_lesson
from .lessons.lesson_view import open_page as open_page
from .lessons.lesson_view import page_part as page_part
from .sheet.build import write_sheet as write_sheet
from .sizing.budget import budget as budget
from .sizing.compare import compare as compare
from .sizing.constant_power_flight import constant_power_flight as constant_power_flight
from .sizing.craft_types import operate as operate
from .sizing.size import size as size
from .sizing.spiral import spiral as spiral
from .sizing.sweep import sweep as sweep
from .sizing.wing_curve import wing_curve as wing_curve
from .units import use_units as use_units

__version__: str
