from pathlib import Path

from workbook import checking
from workbook.checking import lanes, run_checks


def test_every_change_needs_tests_style_types_notebooks_and_pages(tmp_path: Path) -> None:
    plan = [check for lane in lanes(tmp_path, everything=False) for check in lane]
    assert {check.command[0] for check in plan} == {"pytest", "ruff", "mypy"}
    long = [check for lane in lanes(tmp_path, everything=True) for check in lane]
    assert sum("--nbval" in check.command for check in plan) == 1
    assert [check.name for check in long] == [check.name for check in plan]
    assert sum("not long" in " ".join(check.command) for check in plan) == 2
    assert not any("not long" in " ".join(check.command) for check in long)
    assert ["change" in check.command for check in plan] == [
        "all" in check.command for check in long
    ]
    assert sum("change" in check.command for check in plan) == 1


def test_notebooks_are_run_in_a_copy_without_what_a_learner_keeps(tmp_path, monkeypatch, capsys):
    for name in ("tests", "notebooks/designs", "notebooks/cells"):
        (tmp_path / name).mkdir(parents=True)
    for name in ("01.ipynb", "designs/demo.toml", "designs/mine.toml", "cells/own.toml"):
        (tmp_path / "notebooks" / name).write_text("")
    seen: list[str] = []

    def ran(check: checking.Check) -> None:
        if check.name == "notebooks":
            folder = Path(check.command[-1])
            seen.extend(sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*.*")))

    monkeypatch.setattr(checking, "PROJECT", tmp_path)
    monkeypatch.setattr(checking, "_run", ran)
    assert run_checks() == 0
    assert seen == ["01.ipynb", "designs/demo.toml"]
    assert "All checks passed." in capsys.readouterr().out


def test_without_a_checkout_there_is_nothing_to_run(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(checking, "PROJECT", tmp_path)
    assert run_checks() == 2
    assert "no tests here" in capsys.readouterr().err
