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
from .bench.sampling import chance_found as chance_found
from .bench.sampling import most_bad as most_bad
from .bench.strip import Strip as Strip
from .bench.wire import choose_wire as choose_wire
from .craft.wing import level_flight as level_flight
from .errors import InputError as InputError
from .files.cell_file import catalogue as catalogue
from .files.cell_file import find_cell as find_cell
from .files.design_file import read_design as read_design
from .files.thrust_table_file import read_thrust_tables as read_thrust_tables
from .flightlog.comparison import compare_flight as compare_flight
from .flightlog.correction import correct as correct
from .flightlog.phases import find_phases as find_phases
from .flightlog.reading import read_log as read_log
from .flightlog.sensors import check_sensors as check_sensors
from .flightlog.slip import ChargerSlip as ChargerSlip
from .lessons.arriving_cells import open_arriving_cells as open_arriving_cells
from .lessons.course import course as course
from .lessons.from_pictures import cell_from_picture as cell_from_picture
from .lessons.from_pictures import table_from_picture as table_from_picture
from .lessons.learner import current_design as current_design
from .lessons.lesson_view import open_lesson as open_lesson
from .lessons.my_craft import open_my_craft as open_my_craft
from .lessons.sizing_bench import open_bench as open_bench
from .sheet.build import write_sheet as write_sheet
from .sizing.budget import budget as budget
from .sizing.calibration import TestFlight as TestFlight
from .sizing.calibration import calibrate as calibrate
from .sizing.compare import compare as compare
from .sizing.constant_power_flight import constant_power_flight as constant_power_flight
from .sizing.craft_types import operate as operate
from .sizing.size import size as size
from .sizing.spiral import spiral as spiral
from .sizing.sweep import sweep as sweep
from .sizing.wing_curve import wing_curve as wing_curve

__version__: str
