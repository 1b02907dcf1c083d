"""What is at the bench where nothing is said: the usual, which bounds nothing."""

from math import inf

from workbook.bench.bench_settings import STRIPS, BenchSettings


def test_what_is_left_out_bounds_nothing():
    settings = BenchSettings()
    assert settings.bay is None
    assert settings.strip is None
    assert settings.charge_c_rate == inf
    assert settings.packs == 1


def test_strips_are_tried_from_the_one_easiest_to_weld():
    areas = [strip.width_mm * strip.thickness_mm for strip in STRIPS]
    for material in ("nickel 200", "copper"):
        of_it = [a for a, s in zip(areas, STRIPS, strict=True) if s.material == material]
        assert of_it == sorted(of_it)
    assert [s.material for s in STRIPS] == sorted((s.material for s in STRIPS), reverse=True)
