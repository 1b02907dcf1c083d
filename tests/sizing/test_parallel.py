"""Slices of rows worked side by side."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.sizing.parallel import parallel_map, slices


@pytest.mark.parametrize("threads", [1, 3])
def test_the_parts_are_those_of_a_plain_loop(threads: int) -> None:
    values = np.random.default_rng(1).normal(size=1000)
    parts = parallel_map(lambda rows: values[rows] ** 2, slices(1000, 37), threads=threads)
    np.testing.assert_array_equal(np.concatenate(list(parts)), values**2)


def test_slices_cover_every_row_once_and_no_group_is_crossed() -> None:
    cut = slices(60, 7, every=20)
    assert [k for rows in cut for k in range(rows.start, rows.stop)] == list(range(60))
    assert all(rows.start // 20 == (rows.stop - 1) // 20 for rows in cut)
    assert max(rows.stop - rows.start for rows in cut) == 7


def test_progress_counts_up_and_may_stop() -> None:
    seen = []

    def until_forty(done: int, total: int) -> bool:
        seen.append((done, total))
        return done < 40

    parts = parallel_map(lambda rows: rows.start, slices(100, 10), progress=until_forty)
    assert list(parts) == [0, 10, 20, 30]
    assert seen == [(10, 100), (20, 100), (30, 100), (40, 100)]


def test_a_fault_in_the_work_comes_out() -> None:
    def fails(rows: slice) -> None:
        raise ValueError(f"row {rows.start}")

    with pytest.raises(ValueError, match="row 0"):
        list(parallel_map(fails, slices(10, 2)))
